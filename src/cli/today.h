#pragma once
#include <fmt/chrono.h>

#include <ctime>
#include <string>

namespace squaresight::cli {

/// As 2026-03-05, by the clock of this computer.
inline std::string today() {
    return fmt::format("{:%Y-%m-%d}", fmt::localtime(std::time(nullptr)));
}

}  // namespace squaresight::cli
