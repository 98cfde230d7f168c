#include "cli/commands.h"

namespace squaresight::cli {

void add_measure(CLI::App&, int&) {}

}  // namespace squaresight::cli
