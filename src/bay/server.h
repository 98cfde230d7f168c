#pragma once
#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "bay/confined.h"
#include "bay/front_limits.h"
#include "bay/guard.h"

namespace squaresight::bay {

struct ServerSettings {
    std::filesystem::path jobs;       ///< folder of job folders
    std::filesystem::path shop_file;  ///< bay/shop.h
    std::filesystem::path program;    ///< of this project; run for measuring
    /// The store that reviewed jobs go to, an SQLite file; empty: beside the shop's file.
    std::filesystem::path records = {};
    std::string listen = "127.0.0.1";
    int port = 0;                         ///< 0: any that is free
    std::vector<std::string> names = {};  ///< under which browsers may ask for it, beside addresses
    std::filesystem::path certificate = {}, key = {};  ///< PEM; both or none
    FrontLimits limits = {};
    Confines confines = {};
    Guard::Clock clock = std::chrono::system_clock::now;
    std::function<void(const std::string&)> log = [](const std::string&) {};
};

struct Site;

/// The bay page (docs/bay-page.md). It keeps what is its own in `.bay` inside the folder of jobs.
class BayServer {
  public:
    /// InputError for settings that cannot be used.
    explicit BayServer(ServerSettings settings);
    ~BayServer();

    /// The port that it listens on from now on.
    int port() const;
    /// Address for a browser on this computer: "http://127.0.0.1:8080".
    std::string address() const;
    /// Address for another device; empty where none reaches this page.
    std::string address_for_others() const;
    std::string new_code(Role role);

    /// Serves until `stop` is called, from any thread.
    void run();
    void stop();

  private:
    std::unique_ptr<Site> site_;
};

/// A request as one line that no sender can forge: control characters and what is no ASCII are
/// written as \xNN, long texts cut.
std::string log_line(const std::string& address, const std::string& method,
                     const std::string& target, int status);

}  // namespace squaresight::bay
