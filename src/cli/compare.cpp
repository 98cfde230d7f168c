#include "cli/commands.h"

namespace squaresight::cli {

void add_compare(CLI::App&, int&) {}

}  // namespace squaresight::cli
