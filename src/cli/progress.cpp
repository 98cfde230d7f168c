#include "cli/progress.h"

#include <unistd.h>

#include <cmath>
#include <cstdio>

namespace squaresight::cli {

void show_progress(const std::string& what, double share) {
    if (isatty(STDERR_FILENO) != 0) {
        std::fprintf(stderr, "\r\033[K%3.0f %%  %s", 100 * share, what.c_str());
        std::fflush(stderr);
    }
}

void end_progress() {
    if (isatty(STDERR_FILENO) != 0) {
        std::fprintf(stderr, "\r\033[K");
    }
}

}  // namespace squaresight::cli
