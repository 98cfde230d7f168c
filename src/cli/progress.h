#pragma once
#include <string>

namespace squaresight::cli {

/// One line on a terminal that says what goes on; silent where standard error is no terminal.
void show_progress(const std::string& what, double share);

/// Clears that line.
void end_progress();

}  // namespace squaresight::cli
