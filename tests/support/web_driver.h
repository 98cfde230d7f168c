#pragma once
#include <httplib.h>
#undef _res
#include <fcntl.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <filesystem>
#include <functional>
#include <nlohmann/json.hpp>
#include <regex>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

/// A real browser, driven by the W3C's WebDriver protocol (www.w3.org/TR/webdriver2).
namespace squaresight::test {

using Json = nlohmann::json;

/// Debian's chromedriver, as long as this stands.
class BrowserDriver {
  public:
    BrowserDriver() {
        int ends[2];
        if (::pipe2(ends, O_CLOEXEC) != 0) {
            throw std::runtime_error("no pipe");
        }
        process_ = ::fork();
        if (process_ == 0) {
            ::prctl(PR_SET_PDEATHSIG, SIGTERM);
            ::dup2(ends[1], STDOUT_FILENO);
            ::dup2(::open("/dev/null", O_WRONLY), STDERR_FILENO);
            ::execlp("chromedriver", "chromedriver", "--port=0", nullptr);
            ::_exit(127);
        }
        ::close(ends[1]);
        const std::regex line("successfully on port (\\d+)");
        std::smatch found;
        std::string said;
        char buffer[512];
        while (!std::regex_search(said, found, line)) {
            const auto got = ::read(ends[0], buffer, sizeof buffer);
            if (got <= 0) {
                throw std::runtime_error(
                    "no chromedriver: install Debian's packages chromium and chromium-driver");
            }
            said.append(buffer, static_cast<std::size_t>(got));
        }
        output_ = ends[0];
        port_ = std::stoi(found[1]);
    }
    ~BrowserDriver() {
        ::kill(process_, SIGTERM);
        ::waitpid(process_, nullptr, 0);
        ::close(output_);
    }
    BrowserDriver(const BrowserDriver&) = delete;
    BrowserDriver& operator=(const BrowserDriver&) = delete;
    int port() const { return port_; }

  private:
    pid_t process_ = 0;
    int port_ = 0, output_ = -1;
};

/// A window of a browser of its own: its cookies, its language, the size of a phone.
class Window {
  public:
    Window(const BrowserDriver& driver, const std::string& language, int width_px = 390)
        : client_("127.0.0.1", driver.port()) {
        client_.set_read_timeout(120);
        client_.set_keep_alive(true);
        client_.set_tcp_nodelay(true);  // else each command waits 40 ms for the one before
        const Json options{
            {"args",
             {"--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
              "--hide-scrollbars", "--no-first-run", "--lang=" + language,
              "--accept-lang=" + language}},
            {"prefs", {{"intl.accept_languages", language}}},
            {"mobileEmulation",
             {{"deviceMetrics",
               {{"width", width_px}, {"height", 844}, {"pixelRatio", 1}, {"touch", true}}}}}};
        const Json made = post("/session", {{"capabilities",
                                             {{"alwaysMatch",
                                               {{"browserName", "chrome"},
                                                {"goog:chromeOptions", options},
                                                {"goog:loggingPrefs", {{"browser", "ALL"}}}}}}}});
        session_ = "/session/" + made.at("sessionId").get<std::string>();
    }
    ~Window() {
        if (!session_.empty()) {
            client_.Delete(session_);
        }
    }
    Window(const Window&) = delete;
    Window& operator=(const Window&) = delete;

    void go(const std::string& address) { call("/url", {{"url", address}}); }
    std::string address() { return get("/url"); }

    /// Runs a function's body; its arguments are `arguments`.
    template <class... Arguments>
    Json run(const std::string& script, const Arguments&... arguments) {
        return call("/execute/sync", {{"script", script}, {"args", Json::array({arguments...})}});
    }
    /// A script that from now on runs in every page before its own.
    void run_in_every_page(const std::string& script) {
        browser_command("Page.addScriptToEvaluateOnNewDocument", {{"source", script}});
    }
    /// As `run`; the last argument is the function that takes the result.
    template <class... Arguments>
    Json run_later(const std::string& script, const Arguments&... arguments) {
        return call("/execute/async", {{"script", script}, {"args", Json::array({arguments...})}});
    }

    /// The first element that a CSS selector finds; waits for it for a while.
    std::string find(const std::string& selector) {
        for (int i = 0;; ++i) {
            const Json found = call("/elements", {{"using", "css selector"}, {"value", selector}});
            if (!found.empty()) {
                return found[0].begin().value();
            }
            if (i == 100) {
                throw std::runtime_error("nothing fits " + selector + " on " + address());
            }
            std::this_thread::sleep_for(std::chrono::milliseconds(50));
        }
    }
    bool has(const std::string& selector) {
        return run("return document.querySelector(arguments[0]) !== null", selector);
    }
    void click(const std::string& selector) {
        call("/element/" + find(selector) + "/click", Json::object());
    }
    /// Types as a keyboard does, into a file's field its path.
    void type(const std::string& selector, const std::string& text) {
        call("/element/" + find(selector) + "/value", {{"text", text}});
    }
    /// Keys for whatever has the focus, one after the other; shift is held to the end.
    void press_keys(const std::string& keys) {
        Json moves = Json::array();
        std::string held;
        for (std::size_t at = 0; at < keys.size();) {
            const auto first = static_cast<unsigned char>(keys[at]);
            const std::string one = keys.substr(at, first < 0x80 ? 1 : first < 0xE0 ? 2 : 3);
            at += one.size();
            moves.push_back({{"type", "keyDown"}, {"value", one}});
            if (one == "\uE008") {
                held = one;
            } else {
                moves.push_back({{"type", "keyUp"}, {"value", one}});
            }
        }
        if (!held.empty()) {
            moves.push_back({{"type", "keyUp"}, {"value", held}});
        }
        call("/actions",
             {{"actions", {{{"type", "key"}, {"id", "keyboard"}, {"actions", moves}}}}});
    }
    void back() { call("/back", Json::object()); }
    std::string text() { return run("return document.body.innerText"); }

    /// Latency in ms, throughput in bytes a second.
    void set_network(bool offline, double latency_ms, double throughput) {
        call("/chromium/network_conditions", {{"network_conditions",
                                               {{"offline", offline},
                                                {"latency", latency_ms},
                                                {"download_throughput", throughput},
                                                {"upload_throughput", throughput}}}});
    }
    /// A command of the browser's own protocol.
    Json browser_command(const std::string& name, const Json& parameters) {
        return call("/goog/cdp/execute", {{"cmd", name}, {"params", parameters}});
    }
    /// What the browser complained of since the last call.
    Json complaints() { return call("/se/log", {{"type", "browser"}}); }

  private:
    static Json value_of(const httplib::Result& answer, const std::string& asked) {
        if (!answer) {
            throw std::runtime_error("the browser's driver does not answer: " + asked);
        }
        const Json value = Json::parse(answer->body).at("value");
        if (answer->status != 200) {
            throw std::runtime_error(asked + ": " + value.value("message", "").substr(0, 400));
        }
        return value;
    }
    Json post(const std::string& path, const Json& body) {
        return value_of(client_.Post(path, body.dump(), "application/json"),
                        path + " " + body.dump().substr(0, 200));
    }
    Json call(const std::string& command, const Json& body) {
        return post(session_ + command, body);
    }
    Json get(const std::string& command) {
        return value_of(client_.Get(session_ + command), command);
    }

    httplib::Client client_;
    std::string session_;
};

}  // namespace squaresight::test
