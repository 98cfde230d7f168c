// What the bay page does with those who do not belong and with files that are none: against the
// program as a process of its own, or in this process where a test sets limits of its own.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <stdlib.h>
#include <sys/prctl.h>

#include <atomic>
#include <filesystem>
#include <fstream>
#include <opencv2/imgcodecs.hpp>
#include <random>
#include <set>

#include "bay/head.h"
#include "bay/server.h"
#include "bay/uploads.h"
#include "photo/photo.h"
#include "support/bay_phone.h"
#include "support/bay_process.h"
#include "support/exif_block.h"
#include "support/heif_file.h"
#include "support/scratch.h"

namespace squaresight::bay {
namespace {

using namespace std::string_literals;
using testing::HasSubstr;
using testing::Not;
using testing::StartsWith;
namespace fs = std::filesystem;
using std::chrono::milliseconds;

const fs::path samples = fs::path(SQUARESIGHT_SOURCE_DIR) / "samples";

class BayHostile : public testing::Test {
  protected:
    BayHostile() { fs::create_directory(jobs()); }
    fs::path jobs() const { return scratch.folder() / "jobs"; }
    fs::path log_file() const { return scratch.folder() / "log"; }
    std::string log() const { return read_file(log_file(), 1 << 26); }

    /// A job that tape and level fill, without photos so far.
    void add_measured_job(const std::string& id) const {
        std::istringstream lines(read_file(samples / "jobs/1042-full/job.yaml", 1 << 20));
        std::string text;
        for (std::string line; std::getline(lines, line) && line != "  - stage: adjusted";) {
            const bool is_photo = line.find("photos") != std::string::npos;
            text += is_photo ? "" : line + "\n";
        }
        const auto set_root = [&](const std::string& part, const fs::path& root) {
            for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at)) {
                text.replace(at, part.size(), root.string() + "/");
            }
        };
        set_root("../../../", samples.parent_path());
        set_root("../../", samples);
        write_file(jobs() / id / "job.yaml", text);
    }

    Scratch scratch;
};

// --- one reading of each request

std::string head_of(const std::string& line, const std::string& fields) {
    return line + "\r\n" + fields + "\r\n";
}

TEST(BayHead, WhatBrowsersSendIsPlain) {
    EXPECT_TRUE(is_plain_head(head_of("GET / HTTP/1.1", "Host: 127.0.0.1:8080\r\n")));
    EXPECT_TRUE(is_plain_head(
        head_of("POST /job/1042/board?x=%20 HTTP/1.1",
                "Host: [::1]:8080\r\nAccept:text/html\r\nX-Empty:\r\nA-Tab: a\tb\r\n")));
    EXPECT_TRUE(is_plain_head(head_of("GET /a HTTP/1.0", "")));
}

// RFC 9112: 2.2 (line ends), 3 (request line), 5.1 (no blank before the colon), 5.2 (no folding);
// RFC 9110: 5.5 (no control characters in a value).
const std::vector<std::string> heads_with_two_readings{
    "GET /style.css HTTP/1.1\nHost: 127.0.0.1\n\n",
    "GET /style.css HTTP/1.1\r\nHost: 127.0.0.1\nX: y\r\n\r\n",
    "GET /style.css HTTP/1.1\r\nHost: 127.0.0.1\r\nX: a\rY: b\r\n\r\n",
    "GET /style.css HTTP/1.1\r\nHost: 127.0.0.1\r\nX: a\r\n b\r\n\r\n",
    "GET /style.css HTTP/1.1\r\n Host: 127.0.0.1\r\n\r\n",
    "GET /style.css HTTP/1.1\r\nHost : 127.0.0.1\r\n\r\n",
    "GET /style.css HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding : chunked\r\n\r\n",
    "GET /style.css HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length\t: 3\r\n\r\nabc",
    "GET /style.css HTTP/1.1\r\nHost: 127.0.0.1\r\nno colon\r\n\r\n",
    "GET /style.css HTTP/1.1\r\nHost: 127.0.0.1\r\nX: a\0b\r\n\r\n"s,
    "GET /style.css HTTP/1.1\r\nHost: 127.0.0.1\r\nX: \x1b[2J\r\n\r\n",
    "GET /style.css\0 HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"s,
    "GET http://evil.example/style.css HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    "GET  /style.css HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    "GET /style.css x HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    "GET /style.css HTTP/1.1 \r\nHost: 127.0.0.1\r\n\r\n",
    "GET /style.css HTTP/2.0\r\nHost: 127.0.0.1\r\n\r\n",
    "GET /style.css\r\n\r\n",
    "\r\nGET /style.css HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    "\x16\x03\x01 hello of TLS\r\n\r\n"s};

TEST(BayHead, OneThatCanBeReadInTwoWaysIsNotPlain) {
    for (const auto& head : heads_with_two_readings) {
        EXPECT_FALSE(is_plain_head(head)) << head;
    }
}

TEST_F(BayHostile, ARequestWhoseHeadHasTwoReadingsReachesNoPage) {
    const BayProcess server(jobs(), log_file());
    for (const auto& head : heads_with_two_readings) {
        EXPECT_THAT(raw_answer(server.port(), head), StartsWith("HTTP/1.1 400 ")) << head;
    }
    EXPECT_THAT(
        raw_answer(server.port(), head_of("GET /style.css HTTP/1.1", "Host: 127.0.0.1\r\n")),
        StartsWith("HTTP/1.1 200 "));
}

TEST_F(BayHostile, AHeadLargerThanAllowedIsToldSo) {
    const BayProcess server(jobs(), log_file());
    std::string fields = "Host: 127.0.0.1\r\n";
    for (int i = 0; i < 400; ++i) {
        fields += "X-" + std::to_string(i) + ": " + std::string(40, 'a') + "\r\n";
    }
    EXPECT_THAT(raw_answer(server.port(), head_of("GET /pair HTTP/1.1", fields)),
                StartsWith("HTTP/1.1 431 "));
}

// A few kilobytes that ask for one page thousands of times over.
TEST_F(BayHostile, RangesOfAPageAreNotServed) {
    const BayProcess server(jobs(), log_file());
    const std::string plain =
        raw_answer(server.port(), head_of("GET /style.css HTTP/1.1", "Host: 127.0.0.1\r\n"));
    std::string many = "bytes=0-";
    while (many.size() < 8000) {
        many += ",0-";
    }
    for (const auto& ranges : {"bytes=0-,0-"s, many, "bytes=" + std::string(8000, '0') + "-",
                               "bytes=0-99999999999999999999999"s}) {
        for (const auto* name : {"Range: ", "rAnGe: "}) {
            EXPECT_EQ(raw_answer(server.port(),
                                 head_of("GET /style.css HTTP/1.1",
                                         "Host: 127.0.0.1\r\n" + (name + ranges) + "\r\n")),
                      plain);
        }
    }
}

// Texts that backtracking matchers and recursive readers choke on.
TEST_F(BayHostile, LongTextsInEveryPlaceAreReadOrRefused) {
    BayProcess server(jobs(), log_file());
    const Phone stranger(server.port());
    const std::string long_text(8000, 'a');
    for (const auto& field :
         {"Cookie: squaresight=" + long_text, "Cookie: " + std::string(4000, ';'),
          "Accept-Language: " + std::string(8000, ','), "Accept-Language: es;q=" + long_text,
          "Content-Type: multipart/form-data; boundary=" + long_text, "Expect: " + long_text}) {
        EXPECT_THAT(raw_answer(server.port(), head_of("GET /pair HTTP/1.1",
                                                      "Host: 127.0.0.1\r\n" + field + "\r\n")),
                    StartsWith("HTTP/1.1 "))
            << field.substr(0, 40);
    }
    const auto post = [&](const std::string& type, const std::string& body) {
        const auto got = stranger.client().Post("/pair", stranger.headers(), body, type);
        return got ? got->status : 0;
    };
    const std::string multipart = "multipart/form-data; boundary=x";
    const std::string disposition = "--x\r\nContent-Disposition: form-data; name=\"";
    EXPECT_GE(post(multipart, disposition + long_text + "\"\r\n\r\nA\r\n--x--\r\n"), 400);
    EXPECT_GE(post(multipart, disposition + std::string(60000, ';')), 400);
    std::string parts;
    while (parts.size() < 60000) {
        parts += disposition + "a\"\r\n\r\n\r\n";
    }
    EXPECT_GE(post(multipart, parts + "--x--\r\n"), 400);
    const std::string form = "application/x-www-form-urlencoded";
    EXPECT_GE(post(form, std::string(60000, '&')), 400);
    EXPECT_GE(post(form, "code=" + std::string(60000, '%')), 400);
    EXPECT_GE(post("application/json", std::string(60000, '[')), 400);
    EXPECT_TRUE(server.is_alive());
    EXPECT_EQ(stranger.get("/style.css")->status, 200);
}

// --- who may

/// Local addresses that listen on a port, as the kernel lists them (proc(5), /proc/net/tcp and
/// tcp6: hexadecimal, state 0A is LISTEN).
std::set<std::string> listening_on(int port) {
    std::set<std::string> addresses;
    for (const char* const table : {"/proc/net/tcp", "/proc/net/tcp6"}) {
        std::ifstream lines(table);
        std::string line, number, local, remote, state;
        while (std::getline(lines, line)) {
            std::istringstream(line) >> number >> local >> remote >> state;
            const auto colon = local.find(':');
            if (state == "0A" && std::stoi(local.substr(colon + 1), nullptr, 16) == port) {
                addresses.insert(local.substr(0, colon));
            }
        }
    }
    return addresses;
}

TEST_F(BayHostile, WithoutBeingToldToListenItHearsThisComputerAlone) {
    const BayProcess server(jobs(), log_file());
    EXPECT_THAT(listening_on(server.port()), testing::ElementsAre("0100007F"));
}

TEST_F(BayHostile, ACodeThatManySendAtOnceLetsOneIn) {
    const BayProcess server(jobs(), log_file());
    std::atomic<int> in = 0;
    std::vector<std::thread> all;
    for (int i = 0; i < 4; ++i) {  // one address may try five times
        all.emplace_back([&] {
            const Phone phone(server.port());
            const auto got = phone.post("/pair", {{"code", server.code()}}, false);
            in += got && got->status == 303 ? 1 : 0;
        });
    }
    for (auto& one : all) {
        one.join();
    }
    EXPECT_EQ(in, 1);
}

TEST_F(BayHostile, WhatASenderSaysOfItsAddressBuysNoFurtherTry) {
    const BayProcess server(jobs(), log_file());
    const Phone stranger(server.port());
    for (int i = 0; i < 7; ++i) {
        auto headers = stranger.headers();
        const std::string address = "10.0.0." + std::to_string(i);
        for (const auto* name : {"X-Forwarded-For", "Forwarded", "X-Real-IP", "REMOTE_ADDR"}) {
            headers.emplace(name, address);
        }
        const auto got = stranger.client().Post("/pair", headers, Phone::Fields{{"code", "WRONG"}});
        EXPECT_EQ(got->status, i < 5 ? 403 : 429) << i;
    }
    EXPECT_EQ(stranger.post("/pair", {{"code", server.code()}}, false)->status, 429);
}

TEST_F(BayHostile, ACodeThatCouldNotBeKeptStaysGood) {
    BayProcess server(jobs(), log_file());
    fs::remove_all(jobs() / ".bay");
    write_file(jobs() / ".bay", "no folder");
    const Phone stranger(server.port());
    const auto refused = stranger.post("/pair", {{"code", server.code()}}, false);
    EXPECT_EQ(refused->status, 500);
    EXPECT_THAT(refused->body, Not(HasSubstr(jobs().string())));
    fs::remove(jobs() / ".bay");
    EXPECT_NO_THROW(Phone(server.port(), server.code()));
}

// --- the disk

TEST_F(BayHostile, ALinkInAJobsFolderLeadsNowhere) {
    const BayProcess server(jobs(), log_file());
    const Phone phone(server.port(), server.code());
    const std::string id = phone.begin_job("2001");
    const auto secret = scratch.write("secret.jpg", "secret");
    fs::create_directory(jobs() / id / "job.photos");
    fs::create_symlink(secret, jobs() / id / "job.photos/1.jpg");
    fs::create_symlink(secret, jobs() / id / "job.report.html");
    EXPECT_EQ(phone.get("/job/" + id + "/picture/1.jpg")->status, 404);
    EXPECT_EQ(phone.get("/job/" + id + "/report")->status, 404);
}

TEST_F(BayHostile, NoWayOfWritingAPathLeavesTheJobs) {
    const BayProcess server(jobs(), log_file());
    const Phone phone(server.port(), server.code());
    const std::string id = phone.begin_job("2001");
    scratch.write("job.report.html", "secret");
    scratch.write("job.yaml", "secret");
    for (const auto* way :
         {"..", "%2e%2e", "%252e%252e", "..%00", "..%5c", "....", "%c0%ae%c0%ae", "%u002e%u002e",
          "%2fetc", "//etc", "2001/..%2f..", ".%2e", "%2e%2e%2f%2e%2e"}) {
        for (const auto* page : {"/job/%/report", "/job/%/state", "/job/2001/picture/%/job.yaml",
                                 "/job/2001/upload/%", "/%/job.yaml", "/job/%"}) {
            std::string path = page;
            path.replace(path.find('%'), 1, way);
            const std::string got = raw_answer(
                server.port(), head_of("GET " + path + " HTTP/1.1",
                                       "Host: 127.0.0.1\r\nCookie: " + phone.cookie() + "\r\n"));
            EXPECT_THAT(got, StartsWith("HTTP/1.1 404 ")) << path;
            EXPECT_THAT(got, Not(HasSubstr("secret"))) << path;
        }
    }
}

// --- the log

TEST_F(BayHostile, EveryLineOfTheLogIsTheServersOwn) {
    BayProcess server(jobs(), log_file());
    const Phone phone(server.port(), server.code());
    const std::string forged = "%0d%0a2026-01-01 00:00:00 10.0.0.9 GET /shop 200%1b%5b2J";
    for (const auto& target : {"/job/a" + forged, "/pair?code=" + forged, "/job/a\x1b[2J"s}) {
        raw_answer(server.port(), head_of("GET " + target + " HTTP/1.1",
                                          "Host: 127.0.0.1\r\nUser-Agent: a\x1b[2J\r\nCookie: " +
                                              phone.cookie() + "\r\n"));
    }
    for (const auto* target : {"/job/a%0d%0aforged", "/job/a%1b[2Jforged"}) {
        EXPECT_EQ(phone.get(target)->status, 404);
    }
    raw_answer(server.port(), head_of("GE\x1bT /forged HTTP/1.1", "Host: a\r\n"));
    phone.begin_job("forged\r\n2026-01-01 00:00:00 10.0.0.9 GET /shop 200\x1b[2J");
    server.end_mib();
    const std::regex line(R"(\d{4}-\d\d-\d\d \d\d:\d\d:\d\d [0-9.]+ (GET|POST) /[!-~]* \d{3})");
    std::istringstream lines(log());
    int count = 0;
    for (std::string one; std::getline(lines, one); ++count) {
        EXPECT_TRUE(std::regex_match(one, line)) << one;
        EXPECT_THAT(one, Not(HasSubstr("10.0.0.9 GET"))) << one;
    }
    EXPECT_GT(count, 3);
}

// --- slow and many

/// A server of this process, with limits of its own.
class LimitedBay {
  public:
    LimitedBay(const fs::path& jobs, const FrontLimits& limits) {
        ServerSettings settings;
        settings.jobs = jobs;
        settings.shop_file = samples / "shop.yaml";
        settings.program = SQUARESIGHT_BINARY;
        settings.limits = limits;
        settings.records = jobs.parent_path() / "records.sqlite";
        server_ = std::make_unique<BayServer>(settings);
        thread_ = std::thread([this] { server_->run(); });
    }
    ~LimitedBay() {
        server_->stop();
        thread_.join();
    }
    int port() const { return server_->port(); }
    std::string code() { return server_->new_code(Role::shop); }

  private:
    std::unique_ptr<BayServer> server_;
    std::thread thread_;
};

/// Sends a byte now and then, never longer apart than the server allows a pause, until it is cut
/// off; false where it never is.
bool is_cut_off(int port, const std::string& start) {
    const RawConnection one(port);
    one.send(start);
    for (int i = 0; i < 2000; ++i) {
        char ignored[4096];
        const auto got = ::recv(one.socket(), ignored, sizeof ignored, MSG_DONTWAIT);
        if (got == 0 || (got < 0 && errno != EAGAIN) || !one.send("a")) {
            return true;
        }
        std::this_thread::sleep_for(milliseconds(10));
    }
    return false;
}

TEST_F(BayHostile, ASenderWhoNeverPausesAndNeverEndsIsCutOffWhateverIsSent) {
    FrontLimits limits;
    limits.head = limits.body = limits.page = limits.upload = milliseconds(300);
    LimitedBay server(jobs(), limits);
    const Phone phone(server.port(), server.code());
    const std::string id = phone.begin_job("2001");
    const std::string own = "Host: " + phone.host() + "\r\nOrigin: http://" + phone.host() +
                            "\r\nCookie: " + phone.cookie() + "\r\nX-Form-Token: " + phone.token() +
                            "\r\n";
    const std::string upload = phone.begin_upload(id, 1000, "upright");
    const std::string form = "Content-Type: application/x-www-form-urlencoded\r\n";
    EXPECT_TRUE(is_cut_off(server.port(), "GET /pair HTTP/1.1\r\nX: "));
    EXPECT_TRUE(is_cut_off(server.port(), head_of("POST /pair HTTP/1.1",
                                                  "Host: 127.0.0.1\r\nOrigin: http://127.0.0.1"
                                                  "\r\n" +
                                                      form + "Content-Length: 5000\r\n")));
    EXPECT_TRUE(is_cut_off(server.port(),
                           head_of("POST /new HTTP/1.1", own + form + "Content-Length: 5000\r\n")));
    EXPECT_TRUE(is_cut_off(server.port(), head_of("POST " + upload + "?offset=0 HTTP/1.1",
                                                  own + "Content-Length: 1000\r\n")));
    EXPECT_TRUE(is_cut_off(
        server.port(),
        head_of(
            "POST /job/" + id + "/photos HTTP/1.1",
            own + "Content-Type: multipart/form-data; boundary=x\r\nContent-Length: 90000\r\n") +
            "--x\r\nContent-Disposition: form-data; name=\"token\"\r\n\r\n" + phone.token() +
            "\r\n--x\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a\"\r\n\r\n"));
    EXPECT_FALSE(fs::exists(jobs() / id / "photos")) << "half a photo was taken";
    EXPECT_EQ(phone.get("/job/" + id)->status, 200);
}

TEST_F(BayHostile, AReaderWhoDoesNotReadGivesItsPlaceBack) {
    FrontLimits limits;
    limits.connections = 1;
    limits.idle = milliseconds(300);
    LimitedBay server(jobs(), limits);
    const Phone phone(server.port(), server.code());
    const auto happens = [](const auto& what) {
        int tries = 0;
        while (!what() && ++tries < 200) {
            std::this_thread::sleep_for(milliseconds(50));
        }
        return tries < 200;
    };
    std::string id;  // the only place is free again a moment after an answer
    ASSERT_TRUE(happens([&] {
        id = phone.begin_job("2001");
        return !id.empty();
    }));
    write_file(jobs() / id / "job.report.html", std::string(30 << 20, 'a'));
    const RawConnection deaf(server.port());
    deaf.send(head_of("GET /job/" + id + "/report HTTP/1.1",
                      "Host: " + phone.host() + "\r\nCookie: " + phone.cookie() + "\r\n"));
    EXPECT_TRUE(happens([&] {
        const auto got = phone.get("/job/" + id);
        return got && got->status == 200;
    }));
}

TEST_F(BayHostile, FiveHundredHostileConnectionsLeaveThePageUsableAndTheServerSmall) {
    BayProcess server(jobs(), log_file());
    const Phone phone(server.port(), server.code());
    const std::string id = phone.begin_job("2001");
    const std::string host = "Host: 127.0.0.1\r\nOrigin: http://127.0.0.1\r\n";
    const std::vector<std::string> starts{
        "",
        "GET /pair HT",
        "GET /pair HTTP/1.1\r\nX: " + std::string(12000, 'a'),
        head_of("POST /pair HTTP/1.1", host + "Content-Length: 60000\r\n") + "code=",
        head_of(
            "POST /pair HTTP/1.1",
            host + "Content-Type: multipart/form-data; boundary=x\r\nContent-Length: 60000\r\n") +
            "--x\r\n" + std::string(50000, 'a'),
        "\x16\x03\x01\x02"};
    std::vector<std::unique_ptr<RawConnection>> hostile;
    for (std::size_t i = 0; i < 500; ++i) {
        hostile.push_back(std::make_unique<RawConnection>(server.port()));
        hostile.back()->send(starts[i % starts.size()]);
        if (i % 5 == 0) {
            hostile.back()->half_close();
        }
    }
    for (int i = 0; i < 10; ++i) {
        const auto got = phone.get("/job/" + id);
        ASSERT_TRUE(got) << i;
        EXPECT_EQ(got->status, 200);
        for (std::size_t k = i; k < hostile.size(); k += 10) {
            hostile[k] = std::make_unique<RawConnection>(server.port());
            hostile[k]->send(starts[k % starts.size()]);
        }
    }
    EXPECT_NE(phone.begin_job("2002"), "");
    EXPECT_LT(server.peak_mib(), 200);
}

// --- photos that are none

TEST_F(BayHostile, MorePhotosThanAJobMayHoldAreRefused) {
    const BayProcess server(jobs(), log_file());
    const Phone phone(server.port(), server.code());
    const std::string id = phone.begin_job("2001");
    for (std::size_t i = 0; i <= most_photos_of_job; ++i) {
        const std::string bytes = "\xff\xd8\xff\xe0 no photo, number " + std::to_string(i);
        const std::string upload = phone.begin_upload(id, bytes.size(), "upright");
        EXPECT_EQ(phone.post_piece(upload, 0, bytes)->status, i < most_photos_of_job ? 200 : 422);
    }
    EXPECT_EQ(std::distance(fs::directory_iterator(jobs() / id / "photos"), {}),
              static_cast<std::ptrdiff_t>(most_photos_of_job));
}

TEST_F(BayHostile, UploadsThatAreBegunAndNeverEndedAreForgotten) {
    const BayProcess server(jobs(), log_file());
    const Phone phone(server.port(), server.code());
    const std::string id = phone.begin_job("2001");
    const std::string first = phone.begin_upload(id, 1000, "upright");
    std::string last;
    for (std::size_t i = 0; i < most_uploads + 20; ++i) {
        last = phone.begin_upload(id, 1000, "upright");
        ASSERT_NE(last, "");
    }
    EXPECT_EQ(phone.get(first)->status, 404);
    EXPECT_EQ(phone.post_piece(last, 0, "\xff\xd8\xff")->status, 200);
    EXPECT_LE(std::distance(fs::directory_iterator(jobs() / ".bay/incoming"), {}),
              static_cast<std::ptrdiff_t>(2 * most_uploads));
}

/// Bytes flipped, runs overwritten, ends cut off, parts repeated; the first bytes stay, so that
/// every file is taken for a photo.
std::string mutated(std::string bytes, std::mt19937& random) {
    const auto below = [&](std::size_t count) {
        return std::uniform_int_distribution<std::size_t>(0, count - 1)(random);
    };
    constexpr std::size_t kept = 12;
    const auto place = [&] { return kept + below(bytes.size() - kept); };
    for (std::size_t n = 1 + below(20); n > 0; --n) {
        bytes[place()] = static_cast<char>(below(256));
    }
    switch (below(5)) {
        case 0:
            bytes.resize(place() + 1);
            break;
        case 1: {
            const std::size_t at = place();
            bytes.replace(at, 4, std::string(4, below(2) == 0 ? '\xff' : '\0'));
            break;
        }
        case 2:
            bytes.insert(place(), bytes.substr(place(), 1 + below(2000)));
            break;
        default:
            break;
    }
    return bytes;
}

/// A small photo of each kind, with EXIF.
std::vector<std::string> small_photos() {
    cv::Mat picture(240, 320, CV_8UC3);
    cv::RNG(20260307).fill(picture, cv::RNG::UNIFORM, 0, 255);
    cv::GaussianBlur(picture, picture, {}, 3);
    std::vector<std::string> photos;
    for (const auto* kind : {".jpg", ".png"}) {
        std::vector<unsigned char> bytes;
        cv::imencode(kind, picture, bytes);
        photos.emplace_back(bytes.begin(), bytes.end());
    }
    const std::string sample =
        read_file(samples / "jobs/1042-full/photos/found-upright-1.jpg", 1 << 26);
    photos[0].insert(2, sample.substr(2, 4 + big_endian(sample, 4, 2) - 2));
    photos.push_back(heif::file_of(heif::coded(picture)));
    return photos;
}

TEST_F(BayHostile, TwoHundredAndTenDamagedPhotosAreEachToldOf) {
    constexpr unsigned seed = 20260307;
    std::mt19937 random(seed);
    BayProcess server(jobs(), log_file());
    const Phone phone(server.port(), server.code());
    const auto photos = small_photos();
    const int each = 42;
    for (int job = 0; job < 5; ++job) {
        const std::string id = "damaged-" + std::to_string(job);
        add_measured_job(id);
        std::set<std::string> sent;
        for (int i = 0; i < each; ++i) {
            const auto bytes = mutated(photos[static_cast<std::size_t>(i) % 3], random);
            const std::string upload = phone.begin_upload(id, bytes.size(), "upright");
            const auto answer = phone.post_piece(upload, 0, bytes);
            ASSERT_TRUE(answer) << "seed " << seed;
            ASSERT_EQ(answer->status, 200) << answer->body;
        }
        phone.wait_until_measured(id);
        const auto result = nlohmann::json::parse(
            read_file(jobs() / id / "job.result.json", 1 << 26), nullptr, false);
        ASSERT_TRUE(result.is_object()) << "seed " << seed;
        const std::string told = result.dump();
        for (const auto& file : fs::directory_iterator(jobs() / id / "photos")) {
            const std::string name = file.path().filename().string();
            EXPECT_THAT(told, HasSubstr(name)) << "seed " << seed;
        }
        EXPECT_EQ(phone.get("/job/" + id + "/photos")->status, 200);
    }
    EXPECT_LT(server.peak_mib(), 200);
    EXPECT_LT(server.end_mib(), 1024) << "a process that reads photos";
}

/// A JPEG whose header says 65,500 x 65,500 pixels.
std::string jpeg_of_a_giant() {
    std::string bytes = small_photos()[0];
    const auto frame = bytes.find("\xff\xc0\x00\x11"s);
    return bytes.replace(frame + 5, 4, "\xff\xdc\xff\xdc");
}

/// 8,000 x 8,000 pixels of black in some kilobytes.
std::string png_of_zeros() {
    const cv::Mat black = cv::Mat::zeros(8000, 8000, CV_8UC1);
    std::vector<unsigned char> bytes;
    cv::imencode(".png", black, bytes, {cv::IMWRITE_PNG_COMPRESSION, 9});
    return {bytes.begin(), bytes.end()};
}

TEST_F(BayHostile, PhotosThatUnpackToFarMoreThanTheirSizeStopNothing) {
    const std::string zeros = png_of_zeros();
    ASSERT_LT(zeros.size(), 200u << 10);
    BayProcess server(jobs(), log_file());
    const Phone phone(server.port(), server.code());
    add_measured_job("bombs");
    for (const auto& bytes : {zeros, jpeg_of_a_giant(),
                              heif::file_of(heif::coded(cv::Mat::zeros(64, 64, CV_8UC3)),
                                            {heif::ispe(60000, 60000)})}) {
        EXPECT_EQ(phone.send_photo("bombs", bytes, "upright")->status, 303);
    }
    phone.wait_until_measured("bombs");
    const std::string told = read_file(jobs() / "bombs/job.result.json", 1 << 26);
    for (const auto* name : {"1-as-found-1.png", "1-as-found-2.jpg", "1-as-found-3.heic"}) {
        EXPECT_THAT(told, HasSubstr(name));
    }
    EXPECT_LT(server.peak_mib(), 200);
    EXPECT_LT(server.end_mib(), 1500) << "a process that reads photos";
}

// --- two phones on one job

TEST_F(BayHostile, OfTwoPhonesThatSaveAtOnceOneIsToldOfTheOther) {
    const BayProcess server(jobs(), log_file());
    const Phone phone(server.port(), server.code());
    const std::string id = phone.begin_job("2001"), step = "/job/" + id + "/finish";
    phone.token();
    for (int i = 0; i < 20; ++i) {
        const std::string version = phone.version(step);
        std::array<int, 2> status{};
        std::vector<std::thread> both;
        for (std::size_t k = 0; k < 2; ++k) {
            both.emplace_back([&, k] {
                const std::string own = "phone " + std::to_string(k) + " " + std::to_string(i);
                status[k] = phone.post(step, {{"codes_after", own}, {"version", version}})->status;
            });
        }
        both[0].join();
        both[1].join();
        EXPECT_EQ(std::min(status[0], status[1]), 303);
        EXPECT_EQ(std::max(status[0], status[1]), 409);
        const auto saved = "phone " + std::to_string(status[0] == 303 ? 0 : 1) + " ";
        EXPECT_THAT(read_file(jobs() / id / "job.yaml", 1 << 20),
                    HasSubstr(saved + std::to_string(i)));
    }
}

TEST_F(BayHostile, PhotosThatTwoPhonesSendAtOnceAreAllKept) {
    const BayProcess server(jobs(), log_file());
    const Phone phone(server.port(), server.code());
    const std::string id = phone.begin_job("2001");
    phone.token();
    std::vector<std::thread> both;
    for (const std::string name : {"a", "b"}) {
        both.emplace_back([&, name] {
            for (int i = 0; i < 10; ++i) {
                const auto sent =
                    phone.send_photo(id, "\xff\xd8\xff\xe0" + name + std::to_string(i), "upright");
                EXPECT_EQ(sent->status, 303);
            }
        });
    }
    both[0].join();
    both[1].join();
    std::set<std::string> kept;
    for (const auto& file : fs::directory_iterator(jobs() / id / "photos")) {
        kept.insert(read_file(file.path(), 1 << 20));
        EXPECT_THAT(read_file(jobs() / id / "job.yaml", 1 << 20),
                    HasSubstr(file.path().filename().string()));
    }
    EXPECT_EQ(kept.size(), 20u);
}

// --- a disk that takes nothing

/// What is refused is told in a sentence, and everything that was saved is still there.
void expect_refused_and_kept(const Phone& phone, const std::string& id, const std::string& photo,
                             const fs::path& sheet) {
    const std::string before = read_file(sheet, 1 << 20);
    const auto refused = phone.fill_in("/job/" + id + "/finish", {{"codes_cleared", "yes"}});
    ASSERT_TRUE(refused);
    EXPECT_EQ(refused->status, 422);
    EXPECT_THAT(refused->body, HasSubstr("cannot be written"));
    const auto whole = phone.send_photo(id, photo, "upright");
    ASSERT_TRUE(whole);
    EXPECT_EQ(whole->status, 422);
    EXPECT_THAT(whole->body, HasSubstr("cannot save"));
    EXPECT_EQ(read_file(sheet, 1 << 20), before);
    EXPECT_EQ(phone.get("/job/" + id)->status, 200);
}

const fs::path sample_photo = samples / "jobs/1042-full/photos/found-upright-1.jpg";

// Files that may not grow are the disk full that an ordinary user can make (EFBIG for ENOSPC).
TEST_F(BayHostile, AFullDiskIsToldAndLosesNothing) {
    const std::string photo = read_file(sample_photo, 1 << 26);
    std::string id, cookie;
    {
        BayProcess server(jobs(), log_file());
        const Phone phone(server.port(), server.code());
        id = phone.begin_job("2001");
        ASSERT_EQ(phone.fill_in("/job/" + id + "/finish", {{"codes_after", "none"}})->status, 303);
    }
    const fs::path sheet = jobs() / id / "job.yaml";
    const auto room = fs::file_size(sheet) - 10;
    const BayProcess full(jobs(), log_file(), 0, [&] {
        const rlimit limit{room, RLIM_INFINITY};
        ::setrlimit(RLIMIT_FSIZE, &limit);
    });
    const Phone phone(full.port(), full.code());
    expect_refused_and_kept(phone, id, photo, sheet);
    const auto jobs_before = std::distance(fs::directory_iterator(jobs()), {});
    EXPECT_EQ(phone.begin_job(std::string(100, '2')), "");
    EXPECT_EQ(std::distance(fs::directory_iterator(jobs()), {}), jobs_before);
    const std::string upload = phone.begin_upload(id, photo.size(), "upright");
    const auto piece = phone.post_piece(upload, 0, photo.substr(0, 1 << 19));
    EXPECT_EQ(piece->status, 422);
    EXPECT_THAT(nlohmann::json::parse(piece->body).at("problem").get<std::string>(),
                HasSubstr("cannot save"));
}

TEST_F(BayHostile, AFolderThatTakesNothingIsToldAndLosesNothing) {
    const std::string photo = read_file(sample_photo, 1 << 26);
    std::string id;
    BayProcess server(jobs(), log_file(), 0, [] {
        ::prctl(PR_CAPBSET_DROP, 1);  // CAP_DAC_OVERRIDE: root asks for leave as others do
    });
    const Phone phone(server.port(), server.code());
    id = phone.begin_job("2001");
    const auto set_all = [&](fs::perms perms) {
        for (const auto& folder :
             {jobs(), jobs() / id, jobs() / ".bay", jobs() / ".bay/incoming"}) {
            fs::permissions(folder, perms);
        }
    };
    set_all(fs::perms::owner_read | fs::perms::owner_exec);
    expect_refused_and_kept(phone, id, photo, jobs() / id / "job.yaml");
    EXPECT_EQ(phone.begin_upload(id, photo.size(), "upright"), "");
    EXPECT_EQ(phone.begin_job("2002"), "");
    set_all(fs::perms::owner_all);
    EXPECT_EQ(phone.send_photo(id, photo, "upright")->status, 303) << "as soon as there is room";
}

}  // namespace
}  // namespace squaresight::bay
