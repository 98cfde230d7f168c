#include "units/files.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <fstream>
#include <system_error>

#include "units/error.h"

namespace squaresight {

std::string read_file(const std::filesystem::path& file, std::uintmax_t largest_bytes) {
    const std::string name = file.string();
    std::error_code error;
    const auto status = std::filesystem::status(file, error);
    if (!std::filesystem::exists(status)) {
        throw InputError(name, "there is no such file", "check the path and the spelling");
    }
    if (!std::filesystem::is_regular_file(status)) {
        throw InputError(name, "is a folder or a device", "name a file");
    }
    const auto size = std::filesystem::file_size(file, error);
    if (error || size == 0) {
        throw InputError(name, "is empty", "was it copied completely?");
    }
    if (size > largest_bytes) {
        throw InputError(name, fmt::format("is too large ({} MiB)", size >> 20),
                         fmt::format("files of this kind stay under {} MiB", largest_bytes >> 20));
    }
    std::ifstream stream(file, std::ios::binary);
    std::string bytes(size, '\0');
    if (!stream.read(bytes.data(), static_cast<std::streamsize>(size))) {
        throw InputError(name, "cannot be read", "check its permissions");
    }
    return bytes;
}

namespace {

/// A file descriptor that closes itself.
class Descriptor {
  public:
    explicit Descriptor(int number) : number_(number) {}
    ~Descriptor() {
        if (number_ >= 0) {
            ::close(number_);
        }
    }
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    int number() const { return number_; }

  private:
    int number_;
};

bool write_all(int descriptor, std::string_view bytes) {
    while (!bytes.empty()) {
        const auto written = ::write(descriptor, bytes.data(), bytes.size());
        if (written < 0) {
            if (errno == EINTR) {
                continue;
            }
            return false;
        }
        bytes.remove_prefix(static_cast<std::size_t>(written));
    }
    return ::fsync(descriptor) == 0;
}

}  // namespace

void write_file(const std::filesystem::path& file, std::string_view bytes) {
    const auto folder = file.has_parent_path() ? file.parent_path() : std::filesystem::path(".");
    std::error_code ignored;
    std::filesystem::create_directories(folder, ignored);
    const std::string temporary = fmt::format("{}.{}.tmp", file.string(), ::getpid());
    const auto fail = [&] {
        const std::string reason = std::strerror(errno);
        ::unlink(temporary.c_str());
        throw InputError(file.string(), fmt::format("cannot be written ({})", reason),
                         "check the folder, its permissions and free space");
    };
    {
        const Descriptor out(
            ::open(temporary.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644));
        if (out.number() < 0 || !write_all(out.number(), bytes)) {
            fail();
        }
    }
    if (::rename(temporary.c_str(), file.c_str()) != 0) {
        fail();
    }
    const Descriptor directory(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    if (directory.number() >= 0) {
        ::fsync(directory.number());
    }
}

void append_line(const std::filesystem::path& file, std::string_view line) {
    const Descriptor out(::open(file.c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0644));
    const auto end = out.number() < 0 ? -1 : ::lseek(out.number(), 0, SEEK_END);
    char last = '\n';
    const bool cut_off = end > 0 && ::pread(out.number(), &last, 1, end - 1) == 1 && last != '\n';
    const std::string text = (cut_off ? "\n" : "") + std::string(line) + "\n";
    if (end < 0 || !write_all(out.number(), text)) {
        throw InputError(file.string(), fmt::format("cannot be written ({})", std::strerror(errno)),
                         "check the folder, its permissions and free space");
    }
}

}  // namespace squaresight
