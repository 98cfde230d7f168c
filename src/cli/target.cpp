#include "cli/commands.h"

namespace squaresight::cli {

void add_target(CLI::App&, int&) {}

}  // namespace squaresight::cli
