#include "bay/input_digests.h"

#include <sys/stat.h>

#include <chrono>

#include "photo/photo.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

constexpr std::uintmax_t largest_input_bytes = std::uintmax_t{1} << 30;
constexpr std::size_t most_files_known = 20000;
/// A file that changed so short a time ago may change again within the same tick of the disk's
/// clock.
constexpr std::int64_t settled_after_ns = 2'000'000'000;

std::int64_t nanoseconds(const timespec& time) {
    return time.tv_sec * 1'000'000'000 + time.tv_nsec;
}

std::int64_t now_ns() {
    return std::chrono::duration_cast<std::chrono::nanoseconds>(
               std::chrono::system_clock::now().time_since_epoch())
        .count();
}

}  // namespace

InputDigests::Stamp InputDigests::stamp_of(const std::filesystem::path& file) {
    struct stat found {};
    if (::stat(file.c_str(), &found) != 0 || !S_ISREG(found.st_mode)) {
        return {};
    }
    return {found.st_dev, found.st_ino, static_cast<std::uint64_t>(found.st_size),
            nanoseconds(found.st_mtim), nanoseconds(found.st_ctim)};
}

std::string InputDigests::digest_of(const std::filesystem::path& file) {
    const Stamp before = stamp_of(file);
    if (before == Stamp{}) {
        return "";
    }
    {
        const std::lock_guard lock(mutex_);
        const auto known = known_.find(file);
        if (known != known_.end() && known->second.stamp == before) {
            return known->second.sha256;
        }
    }
    std::string digest;
    try {
        digest = sha256_hex(read_file(file, largest_input_bytes));
    } catch (const InputError&) {
        return "";
    }
    if (stamp_of(file) == before && now_ns() - before.changed_ns > settled_after_ns) {
        const std::lock_guard lock(mutex_);
        if (known_.size() >= most_files_known) {
            known_.clear();
        }
        known_[file] = {before, digest};
    }
    return digest;
}

std::vector<InputFile> InputDigests::of(const JobSheet& sheet) {
    auto inputs = named_inputs(sheet);
    for (auto& input : inputs) {
        input.sha256 = digest_of(input.path);
    }
    return inputs;
}

}  // namespace squaresight::bay
