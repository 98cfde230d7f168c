#pragma once
#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <stdexcept>
#include <string>

namespace squaresight {

/// What a finished command left behind.
struct Finished {
    int exit_code = -1;
    std::string output;  ///< standard output and standard error, as they came
};

/// Runs a shell command.
inline Finished run_command(const std::string& command) {
    FILE* pipe = ::popen(("{ " + command + " ; } 2>&1").c_str(), "r");
    if (pipe == nullptr) {
        throw std::runtime_error("cannot run: " + command);
    }
    Finished finished;
    std::array<char, 4096> buffer{};
    while (const auto got = std::fread(buffer.data(), 1, buffer.size(), pipe)) {
        finished.output.append(buffer.data(), got);
    }
    const int status = ::pclose(pipe);
    finished.exit_code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    return finished;
}

/// Runs the program itself with these arguments.
inline Finished run_squaresight(const std::string& arguments) {
    return run_command(std::string("'") + SQUARESIGHT_BINARY + "' " + arguments);
}

}  // namespace squaresight
