#include "cli/commands.h"

namespace squaresight::cli {

void add_turns(CLI::App&, int&) {}

}  // namespace squaresight::cli
