#pragma once
#include <arpa/inet.h>
#include <httplib.h>
#undef _res
#include <sys/socket.h>
#include <unistd.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <regex>
#include <stdexcept>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include "units/files.h"

/// A phone's side of the bay page, without a browser.
namespace squaresight::bay {

/// A connection that sends what it likes.
class RawConnection {
  public:
    explicit RawConnection(int port) : socket_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
        sockaddr_in to{};
        to.sin_family = AF_INET;
        to.sin_port = htons(static_cast<std::uint16_t>(port));
        ::inet_pton(AF_INET, "127.0.0.1", &to.sin_addr);
        connected_ = ::connect(socket_, reinterpret_cast<sockaddr*>(&to), sizeof to) == 0;
    }
    ~RawConnection() { ::close(socket_); }
    RawConnection(const RawConnection&) = delete;
    RawConnection& operator=(const RawConnection&) = delete;

    bool connected() const { return connected_; }
    int socket() const { return socket_; }
    /// False where the other side is gone.
    bool send(const std::string& bytes) const {
        return ::send(socket_, bytes.data(), bytes.size(), MSG_NOSIGNAL) ==
               static_cast<ssize_t>(bytes.size());
    }
    void half_close() const { ::shutdown(socket_, SHUT_WR); }
    /// All that comes back until the other side closes.
    std::string answer() const {
        std::string all;
        char buffer[65536];
        for (ssize_t got = 0; (got = ::recv(socket_, buffer, sizeof buffer, 0)) > 0;) {
            all.append(buffer, static_cast<std::size_t>(got));
        }
        return all;
    }

  private:
    int socket_;
    bool connected_ = false;
};

inline std::string raw_answer(int port, const std::string& bytes) {
    const RawConnection one(port);
    one.send(bytes);
    return one.answer();
}

/// What the server answered. Where no answer came, whatever wants one ends the test with the
/// reason.
class Answer {
  public:
    explicit Answer(httplib::Result result) : result_(std::move(result)) {}
    explicit operator bool() const { return static_cast<bool>(result_); }
    const httplib::Response* operator->() const {
        if (!result_) {
            throw std::runtime_error("no answer: " + httplib::to_string(result_.error()));
        }
        return &*result_;
    }

  private:
    httplib::Result result_;
};

/// A phone that is paired, or a stranger's; sends what a browser sends.
class Phone {
  public:
    using Fields = httplib::Params;

    explicit Phone(int port) : port_(port) {}
    Phone(int port, const std::string& code) : port_(port) {
        const auto paired = post("/pair", {{"code", code}}, false);
        if (paired->status != 303) {
            throw std::runtime_error("the code does not let this phone in");
        }
        const std::string cookie = paired->get_header_value("Set-Cookie");
        cookie_ = cookie.substr(0, cookie.find(';'));
    }

    int port() const { return port_; }
    const std::string& cookie() const { return cookie_; }
    std::string host() const { return "127.0.0.1:" + std::to_string(port_); }
    httplib::Headers headers() const {
        httplib::Headers headers{{"Host", host()}, {"Origin", "http://" + host()}};
        if (!cookie_.empty()) {
            headers.emplace("Cookie", cookie_);
        }
        return headers;
    }
    httplib::Client client() const {
        httplib::Client one("127.0.0.1", port_);
        one.set_connection_timeout(30);
        one.set_read_timeout(60);
        return one;
    }
    Answer get(const std::string& path, const std::string& language = "en") const {
        auto all = headers();
        all.emplace("Accept-Language", language);
        return Answer(client().Get(path, all));
    }
    std::string page(const std::string& path, const std::string& language = "en") const {
        return get(path, language)->body;
    }
    static std::string hidden(const std::string& page, const std::string& name) {
        std::smatch found;
        const std::regex field("name=\"" + name + "\" value=\"([^\"]*)\"");
        return std::regex_search(page, found, field) ? found[1].str() : "";
    }
    /// It stands on every page and stays the same for a session.
    const std::string& token() const {
        if (token_.empty()) {
            token_ = hidden(page("/"), "token");
        }
        return token_;
    }
    Answer post(const std::string& path, Fields fields, bool with_token = true) const {
        if (with_token) {
            fields.emplace("token", token());
        }
        return Answer(client().Post(path, headers(), fields));
    }
    /// The version of the sheet that a page with a form shows.
    std::string version(const std::string& path, const std::string& question = "first") const {
        return hidden(page(path + "?question=" + question), "version");
    }
    /// Opens a page and sends its form back with these entries, to `action` where it is another
    /// address.
    Answer fill_in(const std::string& path, Fields fields, const std::string& action = "") const {
        const auto question = fields.find("question");
        fields.emplace("version",
                       question == fields.end() ? version(path) : version(path, question->second));
        return post(action.empty() ? path : action, fields);
    }
    /// Id of a new job; empty where it was refused.
    std::string begin_job(const std::string& order) const {
        const auto begun = post("/new", {{"job", order},
                                         {"vehicle", "unit 9"},
                                         {"technician", "T3"},
                                         {"distance.mm", "4995"},
                                         {"bay", "main bay"}});
        const std::string place = begun ? begun->get_header_value("Location") : "";
        return place.rfind("/job/", 0) == 0 ? place.substr(5, place.find('/', 5) - 5) : "";
    }
    Answer send_photo(const std::string& job, const std::string& bytes, const std::string& cradle,
                      const std::string& form_token) const {
        const httplib::MultipartFormDataItems items{{"token", form_token, "", ""},
                                                    {"cradle", cradle, "", ""},
                                                    {"photo", bytes, "../../x.jpg", "image/jpeg"}};
        return Answer(client().Post("/job/" + job + "/photos", headers(), items));
    }
    /// Several in one form, as a browser sends what was chosen together.
    Answer send_photos(const std::string& job, const std::vector<std::string>& photos,
                       const std::string& cradle) const {
        httplib::MultipartFormDataItems items{{"token", token(), "", ""},
                                              {"cradle", cradle, "", ""}};
        for (const auto& bytes : photos) {
            items.push_back({"photo", bytes, "x.jpg", "image/jpeg"});
        }
        return Answer(client().Post("/job/" + job + "/photos", headers(), items));
    }
    Answer send_photo(const std::string& job, const std::string& bytes,
                      const std::string& cradle) const {
        return send_photo(job, bytes, cradle, token());
    }
    Answer send_photo(const std::string& job, const std::filesystem::path& file,
                      const std::string& cradle) const {
        return send_photo(job, read_file(file, 1 << 26), cradle);
    }
    /// Address of an upload in pieces; empty where it was refused.
    std::string begin_upload(const std::string& job, std::size_t size,
                             const std::string& cradle) const {
        const auto begun =
            post("/job/" + job + "/upload", {{"size", std::to_string(size)}, {"cradle", cradle}});
        if (!begun || begun->status != 200) {
            return "";
        }
        return "/job/" + job + "/upload/" +
               nlohmann::json::parse(begun->body).at("upload").get<std::string>();
    }
    Answer post_piece(const std::string& upload, std::size_t offset,
                      const std::string& bytes) const {
        auto all = headers();
        all.emplace("X-Form-Token", token());
        return Answer(client().Post(upload + "?offset=" + std::to_string(offset), all, bytes,
                                    "application/octet-stream"));
    }
    /// Waits until nothing of a job is being measured; "?of=photos" that none is looked at.
    void wait_until_measured(const std::string& job, const std::string& what = "") const {
        for (int i = 0; i < 3000; ++i) {
            if (!nlohmann::json::parse(page("/job/" + job + "/state" + what)).at("working")) {
                return;
            }
            std::this_thread::sleep_for(std::chrono::milliseconds(40));
        }
        throw std::runtime_error("never measured: " + job);
    }

  private:
    int port_;
    std::string cookie_;
    mutable std::string token_;
};

}  // namespace squaresight::bay
