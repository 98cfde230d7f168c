#include "cli/commands.h"

namespace squaresight::cli {

void add_tape(CLI::App&, int&) {}

}  // namespace squaresight::cli
