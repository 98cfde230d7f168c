#include "bay/folder_lock.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <string>
#include <thread>

#include "units/error.h"

namespace squaresight::bay {
namespace {

/// What a server that was killed had begun may hold its files for a moment longer.
constexpr int most_tries = 10;
constexpr std::chrono::milliseconds between_tries{100};

bool is_locked(int file) {
    for (int i = 0; i < most_tries; ++i) {
        if (::flock(file, LOCK_EX | LOCK_NB) == 0) {
            return true;
        }
        if (errno != EWOULDBLOCK && errno != EINTR) {
            return false;
        }
        std::this_thread::sleep_for(between_tries);
    }
    return false;
}

/// "process 4711"; what the holder wrote of itself.
std::string holder_words(int file) {
    std::array<char, 16> text{};
    const auto size = ::pread(file, text.data(), text.size() - 1, 0);
    return size > 0 ? fmt::format(" (process {})", text.data()) : "";
}

}  // namespace

FolderLock::FolderLock(const std::filesystem::path& jobs) {
    std::error_code ignored;
    std::filesystem::create_directories(jobs / ".bay", ignored);
    const auto name = jobs / ".bay" / "lock";
    file_ = ::open(name.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644);
    if (file_ < 0) {
        throw InputError(name.string(), fmt::format("cannot be written ({})", std::strerror(errno)),
                         "check the permissions of the folder of jobs, and that its disk has room");
    }
    if (!is_locked(file_)) {
        const std::string holder = holder_words(file_);
        ::close(file_);
        throw InputError(jobs.string(), "is served by another squaresight already" + holder,
                         "use that one, or end it first; two at once would lose answers");
    }
    const std::string own = std::to_string(::getpid());
    if (::ftruncate(file_, 0) != 0 ||
        ::pwrite(file_, own.data(), own.size(), 0) != static_cast<ssize_t>(own.size())) {
        // It only says who holds the folder: the lock holds without.
    }
}

FolderLock::~FolderLock() { ::close(file_); }

}  // namespace squaresight::bay
