#pragma once
#include <chrono>
#include <filesystem>
#include <stop_token>
#include <string>
#include <vector>

namespace squaresight::bay {

/// What a process of its own may take.
struct Confines {
    std::size_t memory_bytes = std::size_t{3} << 30;  ///< of address space
    std::chrono::seconds processor{60};
    std::chrono::seconds wall{90};
    std::size_t output_bytes = 4 << 20;
    std::size_t file_bytes = 64 << 20;  ///< of each file that it writes
};

/// What became of it.
struct ConfinedRun {
    bool finished = false;  ///< ended by itself with exit 0
    std::string output;     ///< its standard output
};

/// Runs a program with these arguments, no shell between: no input, no other open files, no core
/// file, low priority. It is killed when it takes more than it may, when `stop` is requested, and
/// when this process ends.
ConfinedRun run_confined(const std::filesystem::path& program,
                         const std::vector<std::string>& arguments, const Confines& confines,
                         const std::stop_token& stop = {});

}  // namespace squaresight::bay
