#pragma once
#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <functional>
#include <regex>
#include <stdexcept>
#include <string>
#include <vector>

namespace squaresight::bay {

/// `squaresight serve` as a process of its own, over a folder of jobs, with the sample shop or
/// another, and a store of records of its own beside the log.
class BayProcess {
  public:
    /// `before` runs in the child before it becomes the server: limits, rights. Its standard error
    /// goes to `log`. Port 0: any that is free.
    BayProcess(const std::filesystem::path& jobs, const std::filesystem::path& log, int port = 0,
               const std::function<void()>& before = {},
               const std::filesystem::path& shop_file =
                   std::filesystem::path(SQUARESIGHT_SOURCE_DIR) / "samples/shop.yaml") {
        int ends[2];
        if (::pipe2(ends, O_CLOEXEC) != 0) {
            throw std::runtime_error("no pipe");
        }
        const std::string shop = shop_file.string();
        const std::string records = (log.parent_path() / "records.sqlite").string();
        const std::string asked = std::to_string(port);
        process_ = ::fork();
        if (process_ == 0) {
            ::dup2(ends[1], STDOUT_FILENO);
            ::dup2(::open(log.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644),
                   STDERR_FILENO);
            if (before) {
                before();
            }
            ::execl(SQUARESIGHT_BINARY, SQUARESIGHT_BINARY, "serve", "--jobs", jobs.c_str(),
                    "--shop", shop.c_str(), "--records", records.c_str(), "--port", asked.c_str(),
                    nullptr);
            ::_exit(127);
        }
        ::close(ends[1]);
        read_address(ends[0]);
        ::close(ends[0]);
    }
    ~BayProcess() { kill(); }
    BayProcess(const BayProcess&) = delete;
    BayProcess& operator=(const BayProcess&) = delete;

    int port() const { return port_; }
    /// The shop lead's code.
    const std::string& code() const { return code_; }

    bool is_alive() const {
        siginfo_t ended{};
        return ::waitid(P_PID, static_cast<id_t>(process_), &ended, WEXITED | WNOHANG | WNOWAIT) ==
                   0 &&
               ended.si_pid == 0;
    }

    void kill() {
        if (process_ > 0) {
            ::kill(process_, SIGKILL);
            ::waitpid(process_, nullptr, 0);
            process_ = 0;
        }
    }

    /// Ends it as Ctrl-C does; returns the most memory that it or any process which it started
    /// held. An exit that is none of its own fails.
    double end_mib() {
        ::kill(process_, SIGTERM);
        int status = 0;
        rusage usage{};
        ::wait4(process_, &status, 0, &usage);
        process_ = 0;
        if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
            throw std::runtime_error("the server did not end by itself");
        }
        return static_cast<double>(usage.ru_maxrss) / 1024;
    }

    /// The most memory that the server itself held so far.
    double peak_mib() const {
        std::ifstream status("/proc/" + std::to_string(process_) + "/status");
        std::string word;
        while (status >> word) {
            if (word == "VmHWM:") {
                double kib = 0;
                status >> kib;
                return kib / 1024;
            }
        }
        throw std::runtime_error("the server is gone");
    }

  private:
    void read_address(int pipe) {
        const std::regex line("http://[^:]+:(\\d+)/pair\\?code=([A-Z0-9-]+)");
        std::string said;
        std::smatch found;
        char buffer[512];
        while (!std::regex_search(said, found, line)) {
            const auto got = ::read(pipe, buffer, sizeof buffer);
            if (got <= 0) {
                throw std::runtime_error("the server did not start: " + said);
            }
            said.append(buffer, static_cast<std::size_t>(got));
        }
        port_ = std::stoi(found[1]);
        code_ = found[2];
    }

    pid_t process_ = 0;
    int port_ = 0;
    std::string code_;
};

}  // namespace squaresight::bay
