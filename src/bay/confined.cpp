#include "bay/confined.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <system_error>

namespace squaresight::bay {
namespace {

void set_limit(__rlimit_resource resource, rlim_t value) {
    const rlimit limit{value, value};
    ::setrlimit(resource, &limit);
}

/// Between fork and exec only calls that are safe in a child of a process with threads.
[[noreturn]] void become(const char* program, char* const* arguments, int output,
                         const Confines& confines, pid_t parent) {
    ::prctl(PR_SET_PDEATHSIG, SIGKILL);
    if (::getppid() != parent) {
        ::_exit(127);
    }
    ::prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0);
    set_limit(RLIMIT_AS, confines.memory_bytes);
    set_limit(RLIMIT_CPU, static_cast<rlim_t>(confines.processor.count()));
    set_limit(RLIMIT_FSIZE, confines.file_bytes);
    set_limit(RLIMIT_NOFILE, 256);
    set_limit(RLIMIT_CORE, 0);
    ::setpriority(PRIO_PROCESS, 0, 10);
    const int nowhere = ::open("/dev/null", O_RDWR);
    ::dup2(nowhere, STDIN_FILENO);
    ::dup2(output, STDOUT_FILENO);
    ::dup2(nowhere, STDERR_FILENO);
    ::close_range(3, ~0U, 0);
    ::execv(program, arguments);
    ::_exit(127);
}

constexpr std::chrono::milliseconds stop_is_seen_within{100};

/// Reads until the end of the stream; false where time or size run out, or it is to stop.
bool read_output(int pipe, const Confines& confines, const std::stop_token& stop,
                 std::string& output) {
    const auto end = std::chrono::steady_clock::now() + confines.wall;
    std::array<char, 65536> buffer{};
    for (;;) {
        const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(
            end - std::chrono::steady_clock::now());
        if (left.count() <= 0 || stop.stop_requested()) {
            return false;
        }
        pollfd waiting{pipe, POLLIN, 0};
        const int ready =
            ::poll(&waiting, 1, static_cast<int>(std::min(left, stop_is_seen_within).count()));
        if (ready < 0) {
            return false;
        }
        if (ready == 0) {
            continue;
        }
        const auto got = ::read(pipe, buffer.data(), buffer.size());
        if (got <= 0) {
            return got == 0;
        }
        output.append(buffer.data(), static_cast<std::size_t>(got));
        if (output.size() > confines.output_bytes) {
            return false;
        }
    }
}

int wait_for(pid_t child) {
    int status = 0;
    while (::waitpid(child, &status, 0) < 0 && errno == EINTR) {
    }
    return status;
}

}  // namespace

ConfinedRun run_confined(const std::filesystem::path& program,
                         const std::vector<std::string>& arguments, const Confines& confines,
                         const std::stop_token& stop) {
    const std::string name = program.string();
    std::vector<std::string> texts{name};
    texts.insert(texts.end(), arguments.begin(), arguments.end());
    std::vector<char*> pointers;
    for (auto& text : texts) {
        pointers.push_back(text.data());
    }
    pointers.push_back(nullptr);
    std::array<int, 2> ends{};
    if (::pipe2(ends.data(), O_CLOEXEC) != 0) {
        throw std::system_error(errno, std::generic_category(), "pipe");
    }
    const pid_t parent = ::getpid();
    const pid_t child = ::fork();
    if (child == 0) {
        become(name.c_str(), pointers.data(), ends[1], confines, parent);
    }
    ::close(ends[1]);
    ConfinedRun run;
    const bool ended = child > 0 && read_output(ends[0], confines, stop, run.output);
    ::close(ends[0]);
    if (child < 0) {
        throw std::system_error(errno, std::generic_category(), "fork");
    }
    if (!ended) {
        ::kill(child, SIGKILL);
    }
    const int status = wait_for(child);
    run.finished = ended && WIFEXITED(status) && WEXITSTATUS(status) == 0;
    return run;
}

}  // namespace squaresight::bay
