#pragma once
#include <arpa/inet.h>
#include <netinet/in.h>
#include <pwd.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "support/command.h"

namespace squaresight::test {

/// A PostgreSQL server of its own on a free port of the loopback, run by an ordinary user in a
/// scratch folder, stopped by its process id. Users come with passwords (SCRAM).
class PostgresqlServer {
  public:
    static constexpr const char* password = "only-for-this-test";

    PostgresqlServer() {
        std::string name =
            (std::filesystem::temp_directory_path() / "squaresight-pg-XXXXXX").string();
        if (::mkdtemp(name.data()) == nullptr) {
            throw std::runtime_error("no scratch folder for the server");
        }
        folder_ = name;
        own(folder_);
        std::ofstream(folder_ / "password") << password << '\n';
        own(folder_ / "password");
        run_as_user(
            {program("initdb"), "-D", data(), "-U", "keeper", "-E", "UTF8", "--locale=C",
             "--no-sync", "--auth=scram-sha-256", "--pwfile=" + (folder_ / "password").string()},
            true);
        start();
    }
    ~PostgresqlServer() {
        stop(SIGINT);
        std::error_code ignored;
        std::filesystem::remove_all(folder_, ignored);
    }
    PostgresqlServer(const PostgresqlServer&) = delete;
    PostgresqlServer& operator=(const PostgresqlServer&) = delete;

    void start() {
        port_ = port_ == 0 ? free_port() : port_;
        pid_ = run_as_user({program("postgres"), "-D", data(), "-p", std::to_string(port_), "-k",
                            folder_.string(), "-c", "listen_addresses=127.0.0.1"},
                           false);
        for (int wait = 0; wait < 600; ++wait) {
            if (run_command("PGPASSWORD=" + std::string(password) + " psql -qAt '" +
                            address("postgres") + "' -c 'SELECT 1'")
                    .exit_code == 0) {
                return;
            }
            ::usleep(100000);
        }
        throw std::runtime_error("the server did not start: " + folder_.string());
    }
    /// SIGINT ends it in order; SIGQUIT at once, as a failing machine would; SIGKILL too.
    void stop(int signal) {
        if (pid_ > 0) {
            ::kill(pid_, signal);
            ::waitpid(pid_, nullptr, 0);
            pid_ = 0;
        }
    }

    std::string address(const std::string& database) const {
        return "postgresql://keeper@127.0.0.1:" + std::to_string(port_) + "/" + database;
    }
    /// A new database; returns its address.
    std::string make_database(const std::string& encoding = "UTF8") {
        const std::string name = "shop" + std::to_string(++databases_);
        const auto made = sql("postgres", "CREATE DATABASE " + name + " ENCODING '" + encoding +
                                              "' LOCALE 'C' TEMPLATE template0");
        if (made.exit_code != 0) {
            throw std::runtime_error(made.output);
        }
        return address(name);
    }
    Finished sql(const std::string& database, const std::string& statement) const {
        return run_command("PGPASSWORD=" + std::string(password) + " psql -qAt '" +
                           address(database) + "' -c \"" + statement + "\"");
    }
    const std::filesystem::path& folder() const { return folder_; }

  private:
    std::string data() const { return (folder_ / "data").string(); }

    /// Debian keeps the server's programs in a folder for each version.
    static std::string program(const std::string& name) {
        for (const auto& version : std::filesystem::directory_iterator("/usr/lib/postgresql")) {
            const auto file = version.path() / "bin" / name;
            if (std::filesystem::exists(file)) {
                return file.string();
            }
        }
        throw std::runtime_error("PostgreSQL's " + name + " is not installed");
    }
    /// The server refuses to run as root.
    static const passwd* other_user() {
        return ::geteuid() == 0 ? ::getpwnam("postgres") : nullptr;
    }
    static void own(const std::filesystem::path& path) {
        if (const auto* user = other_user()) {
            if (::chown(path.c_str(), user->pw_uid, user->pw_gid) != 0) {
                throw std::runtime_error("cannot give away " + path.string());
            }
        }
    }
    static int free_port() {
        const int socket = ::socket(AF_INET, SOCK_STREAM, 0);
        sockaddr_in place{};
        place.sin_family = AF_INET;
        place.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        socklen_t size = sizeof place;
        ::bind(socket, reinterpret_cast<const sockaddr*>(&place), size);
        ::getsockname(socket, reinterpret_cast<sockaddr*>(&place), &size);
        ::close(socket);
        return ntohs(place.sin_port);
    }
    pid_t run_as_user(std::vector<std::string> words, bool wait) const {
        const auto* user = other_user();
        const pid_t child = ::fork();
        if (child == 0) {
            const std::string log = (folder_ / "log").string();
            if (user != nullptr && (::setgid(user->pw_gid) != 0 || ::setuid(user->pw_uid) != 0)) {
                ::_exit(126);
            }
            if (::freopen(log.c_str(), "a", stdout) == nullptr ||
                ::freopen(log.c_str(), "a", stderr) == nullptr || ::chdir(folder_.c_str()) != 0) {
                ::_exit(126);
            }
            std::vector<char*> arguments;
            for (auto& word : words) {
                arguments.push_back(word.data());
            }
            arguments.push_back(nullptr);
            ::execv(arguments[0], arguments.data());
            ::_exit(127);
        }
        int status = 0;
        if (wait && (::waitpid(child, &status, 0) != child || status != 0)) {
            throw std::runtime_error(words[0] + " failed: see " + folder_.string() + "/log");
        }
        return child;
    }

    std::filesystem::path folder_;
    int port_ = 0;
    pid_t pid_ = 0;
    int databases_ = 0;
};

}  // namespace squaresight::test
