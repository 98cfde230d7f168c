#pragma once
#include <cstdint>
#include <filesystem>
#include <map>
#include <mutex>
#include <string>

#include "job/inputs.h"

namespace squaresight::bay {

/// What the files of a job are now, without reading anew what lies there unchanged. Any thread.
class InputDigests {
  public:
    /// The files of a job as `input_files` gives them, texts left out; the digest of a file that
    /// cannot be read is empty.
    std::vector<InputFile> of(const JobSheet& sheet);

  private:
    /// What the disk says of a file: another after every change, unless the change came within the
    /// tick of its clock.
    struct Stamp {
        std::uint64_t device = 0, number = 0, bytes = 0;
        std::int64_t written_ns = 0, changed_ns = 0;
        bool operator==(const Stamp&) const = default;
    };
    struct Known {
        Stamp stamp;
        std::string sha256;
    };
    static Stamp stamp_of(const std::filesystem::path& file);
    std::string digest_of(const std::filesystem::path& file);

    std::mutex mutex_;
    std::map<std::filesystem::path, Known> known_;
};

}  // namespace squaresight::bay
