// The bay page: who may, what reaches the disk, and a whole job by its forms, against a server of
// its own on a loopback port.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/x509.h>

#include <atomic>
#include <chrono>
#include <filesystem>
#include <list>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include "bay/confined.h"
#include "bay/form.h"
#include "bay/guard.h"
#include "bay/job_store.h"
#include "bay/messages.h"
#include "bay/page_templates.h"
#include "bay/pages.h"
#include "bay/phrases.h"
#include "bay/server.h"
#include "bay/sheet_forms.h"
#include "job/sheet.h"
#include "job/sheet_text.h"
#include "support/bay_phone.h"
#include "support/command.h"
#include "support/exif_block.h"
#include "support/scratch.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

using testing::AllOf;
using testing::ContainsRegex;
using testing::HasSubstr;
using testing::Not;
using testing::StartsWith;
using Fields = Phone::Fields;
namespace fs = std::filesystem;

const fs::path samples = fs::path(SQUARESIGHT_SOURCE_DIR) / "samples";

/// A certificate that its own key signed, and that key.
void write_certificate(const fs::path& certificate, const fs::path& key_file) {
    const std::unique_ptr<EVP_PKEY, decltype(&EVP_PKEY_free)> key(EVP_EC_gen("P-256"),
                                                                  EVP_PKEY_free);
    const std::unique_ptr<X509, decltype(&X509_free)> one(X509_new(), X509_free);
    ASN1_INTEGER_set(X509_get_serialNumber(one.get()), 1);
    X509_gmtime_adj(X509_getm_notBefore(one.get()), 0);
    X509_gmtime_adj(X509_getm_notAfter(one.get()), 3600);
    X509_set_pubkey(one.get(), key.get());
    X509_sign(one.get(), key.get(), EVP_sha256());
    FILE* out = std::fopen(certificate.c_str(), "w");
    PEM_write_X509(out, one.get());
    std::fclose(out);
    out = std::fopen(key_file.c_str(), "w");
    PEM_write_PrivateKey(out, key.get(), nullptr, nullptr, 0, nullptr, nullptr);
    std::fclose(out);
}

/// A server over an empty folder of jobs, with the sample shop.
class RunningBay {
  public:
    explicit RunningBay(FrontLimits limits = {}, Confines confines = {}, bool tls = false,
                        const std::vector<std::string>& names = {}) {
        fs::create_directory(jobs());
        ServerSettings settings;
        settings.jobs = jobs();
        settings.shop_file = samples / "shop.yaml";
        settings.program = SQUARESIGHT_BINARY;
        settings.limits = limits;
        settings.names = names;
        settings.records = scratch_.folder() / "records.sqlite";
        if (tls) {
            settings.certificate = scratch_.folder() / "certificate.pem";
            settings.key = scratch_.folder() / "key.pem";
            write_certificate(settings.certificate, settings.key);
        }
        settings.confines = confines;
        settings.log = [this](const std::string& line) {
            const std::lock_guard lock(mutex_);
            log_ += line + "\n";
        };
        server_ = std::make_unique<BayServer>(settings);
        thread_ = std::thread([this] { server_->run(); });
    }
    ~RunningBay() {
        server_->stop();
        thread_.join();
    }

    fs::path jobs() const { return scratch_.folder() / "jobs"; }
    int port() const { return server_->port(); }
    std::string code(Role role) { return server_->new_code(role); }
    Phone stranger() const { return Phone(port()); }
    Phone paired(Role role) { return {port(), code(role)}; }
    std::string log() {
        const std::lock_guard lock(mutex_);
        return log_;
    }
    /// Copies a sample job in.
    void add_sample(const std::string& name) const {
        fs::create_directory(jobs() / name);
        std::string text = read_file(samples / "jobs" / name / "job.yaml", 1 << 20);
        for (const auto* part : {"../../../", "../../"}) {
            const auto root = part == std::string("../../") ? samples : samples.parent_path();
            for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at)) {
                text.replace(at, std::string(part).size(), root.string() + "/");
            }
        }
        write_file(jobs() / name / "job.yaml", text);
        fs::copy(samples / "jobs" / name / "photos", jobs() / name / "photos");
    }

  private:
    Scratch scratch_;
    std::mutex mutex_;
    std::string log_;
    std::unique_ptr<BayServer> server_;
    std::thread thread_;
};

Fields new_job() {
    return {{"job", "2001"},
            {"vehicle", "unit 9"},
            {"technician", "T3"},
            {"distance.mm", "4995"},
            {"bay", "main bay"}};
}

Fields board_of_1042() {
    return {{"distance.mm", "4995"},
            {"line_base.mm", "6000"},
            {"target_left.mm", "2"},
            {"target_left.side", "minus"},
            {"mount_left.mm", "4"},
            {"mount_left.side", "plus"},
            {"target_height.mm", "905"},
            {"mount_height.mm", "848"},
            {"floor_rise.deg", "0.4"},
            {"floor_rise.side", "plus"},
            {"target_lean_back.deg", "0,6"},
            {"target_lean_back.side", "plus"},
            {"target_roll_clockwise.deg", "0.1"},
            {"target_roll_clockwise.side", "plus"},
            {"tape_from.0.mm", "5249"},
            {"tape_from.1.mm", "5222"}};
}

// --- who may

class TestClock {
  public:
    Guard::Clock clock() {
        return [this] { return now; };
    }
    std::chrono::system_clock::time_point now{std::chrono::hours(500000)};
};

TEST(Pairing, ACodeWorksOnce) {
    const Scratch scratch;
    Guard guard(scratch.folder() / "sessions.json");
    const std::string code = guard.new_code(Role::technician);
    const Paired first = guard.pair(code, "10.0.0.1");
    EXPECT_EQ(first.outcome, Pairing::done);
    EXPECT_EQ(guard.session(first.token)->role, Role::technician);
    EXPECT_EQ(guard.pair(code, "10.0.0.1").outcome, Pairing::wrong_code);
}

TEST(Pairing, ACodeExpires) {
    const Scratch scratch;
    TestClock time;
    Guard guard(scratch.folder() / "sessions.json", time.clock());
    const std::string code = guard.new_code(Role::technician);
    time.now += Guard::code_life;
    EXPECT_EQ(guard.pair(code, "10.0.0.1").outcome, Pairing::wrong_code);
}

TEST(Pairing, GuessingIsSlowedForOneAddressAndForAllTogether) {
    const Scratch scratch;
    TestClock time;
    Guard guard(scratch.folder() / "sessions.json", time.clock());
    for (std::size_t i = 0; i < Guard::tries_of_one; ++i) {
        EXPECT_EQ(guard.pair("AAAA-AAAA", "10.0.0.1").outcome, Pairing::wrong_code);
    }
    const std::string code = guard.new_code(Role::shop);
    EXPECT_EQ(guard.pair(code, "10.0.0.1").outcome, Pairing::too_many_tries);
    EXPECT_EQ(guard.pair("AAAA-AAAA", "10.0.0.2").outcome, Pairing::wrong_code);
    for (std::size_t i = 0; i < Guard::tries_of_all; ++i) {
        guard.pair("AAAA-AAAA", "10.0.1." + std::to_string(i));
    }
    EXPECT_EQ(guard.pair(code, "10.0.0.9").outcome, Pairing::too_many_tries);
    time.now += std::chrono::minutes(1);
    EXPECT_EQ(guard.pair(code, "10.0.0.1").outcome, Pairing::done);
}

TEST(Pairing, ASessionEndsAfterTheDayAndOutlivesTheProgramUntilThen) {
    const Scratch scratch;
    TestClock time;
    const fs::path file = scratch.folder() / "sessions.json";
    std::string token;
    {
        Guard guard(file, time.clock());
        token = guard.pair(guard.new_code(Role::reviewer), "10.0.0.1").token;
    }
    EXPECT_THAT(read_file(file, 1 << 20), Not(HasSubstr(token)));
    const Guard again(file, time.clock());
    EXPECT_EQ(again.session(token)->role, Role::reviewer);
    time.now += Guard::session_life;
    EXPECT_FALSE(again.session(token));
}

TEST(Pairing, AnyTokenThatWasNotGivenIsNobody) {
    const Scratch scratch;
    const Guard guard(scratch.folder() / "sessions.json");
    EXPECT_FALSE(guard.session(""));
    EXPECT_FALSE(guard.session("aaaa"));
}

TEST(BayDoor, NobodyWithoutASessionSeesAnything) {
    RunningBay bay;
    bay.add_sample("1042-full");
    const Phone stranger = bay.stranger();
    for (const auto* path : {"/", "/new", "/job/1042-full", "/job/1042-full/report", "/shop",
                             "/job/1042-full/state", "/nothing"}) {
        const auto got = stranger.get(path);
        EXPECT_EQ(got->status, 303) << path;
        EXPECT_EQ(got->get_header_value("Location"), "/pair") << path;
        EXPECT_EQ(got->body, "") << path;
    }
    EXPECT_EQ(stranger.post("/new", new_job())->status, 403);
}

TEST(BayDoor, ASessionsCookieIsKeptFromScriptsAndOtherSites) {
    RunningBay bay;
    const Phone stranger = bay.stranger();
    const auto paired = stranger.post("/pair", {{"code", bay.code(Role::technician)}}, false);
    EXPECT_EQ(paired->status, 303);
    EXPECT_THAT(paired->get_header_value("Set-Cookie"),
                AllOf(HasSubstr("HttpOnly"), HasSubstr("SameSite=Strict"), HasSubstr("Path=/")));
}

TEST(BayDoor, UnderTlsTheCookieNeverTravelsInTheOpen) {
    RunningBay bay({}, {}, true);
    httplib::SSLClient client("127.0.0.1", bay.port());
    client.enable_server_certificate_verification(false);
    const std::string host = "127.0.0.1:" + std::to_string(bay.port());
    const httplib::Headers headers{{"Host", host}, {"Origin", "https://" + host}};
    const auto paired = client.Post("/pair", headers, Fields{{"code", bay.code(Role::technician)}});
    ASSERT_TRUE(paired);
    EXPECT_EQ(paired->status, 303);
    EXPECT_THAT(paired->get_header_value("Set-Cookie"), HasSubstr("; Secure"));
    EXPECT_FALSE(paired->get_header_value("Strict-Transport-Security").empty());
    EXPECT_THAT(raw_answer(bay.port(), "GET /pair HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"),
                Not(HasSubstr("200 OK")));
}

TEST(BayDoor, ACertificateWithoutItsKeyIsRefused) {
    const Scratch scratch;
    const fs::path certificate = scratch.folder() / "a.pem", key = scratch.folder() / "b.pem";
    write_certificate(certificate, scratch.folder() / "unused.pem");
    write_certificate(scratch.folder() / "unused.pem", key);
    ServerSettings settings;
    settings.jobs = scratch.folder();
    settings.shop_file = samples / "shop.yaml";
    settings.program = SQUARESIGHT_BINARY;
    settings.certificate = certificate;
    settings.key = key;
    EXPECT_THROW(BayServer{settings}, InputError);
    settings.certificate = scratch.folder() / "none.pem";
    EXPECT_THROW(BayServer{settings}, InputError);
}

TEST(BayDoor, WrongCodesAreSlowedThere) {
    RunningBay bay;
    const Phone stranger = bay.stranger();
    for (std::size_t i = 0; i < Guard::tries_of_one; ++i) {
        EXPECT_EQ(stranger.post("/pair", {{"code", "WRONG"}}, false)->status, 403);
    }
    EXPECT_EQ(stranger.post("/pair", {{"code", "WRONG"}}, false)->status, 429);
}

TEST(BayDoor, ShowingACodeByItsAddressDoesNotUseIt) {
    RunningBay bay;
    const Phone stranger = bay.stranger();
    const std::string code = bay.code(Role::technician);
    EXPECT_THAT(stranger.page("/pair?code=" + code), HasSubstr(code));
    EXPECT_EQ(stranger.post("/pair", {{"code", code}}, false)->status, 303);
}

TEST(BayDoor, ANameThatIsNotOursIsNotServed) {
    EXPECT_TRUE(is_known_host("192.168.1.20:8080", {}));
    EXPECT_TRUE(is_known_host("[fe80::1]:8080", {}));
    EXPECT_TRUE(is_known_host("localhost", {}));
    EXPECT_TRUE(is_known_host("bay.shop:8080", {"bay.shop"}));
    EXPECT_FALSE(is_known_host("evil.example", {}));
    EXPECT_FALSE(is_known_host("127.0.0.1.evil.example", {}));
    EXPECT_FALSE(is_known_host("", {}));
    RunningBay bay;
    EXPECT_THAT(raw_answer(bay.port(), "GET /pair HTTP/1.1\r\nHost: evil.example\r\n\r\n"),
                HasSubstr("421"));
}

TEST(BayDoor, AFormThatComesFromElsewhereChangesNothing) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    auto foreign = browser.headers();
    foreign.erase("Origin");
    auto fields = new_job();
    fields.emplace("token", browser.token());
    EXPECT_EQ(browser.client().Post("/new", foreign, fields)->status, 403);
    foreign.emplace("Origin", "http://evil.example");
    EXPECT_EQ(browser.client().Post("/new", foreign, fields)->status, 403);
    EXPECT_EQ(browser.post("/new", new_job(), false)->status, 403);
    fields.erase("token");
    fields.emplace("token", "guess");
    EXPECT_EQ(browser.client().Post("/new", browser.headers(), fields)->status, 403);
    const Phone other = bay.paired(Role::technician);
    fields.erase("token");
    fields.emplace("token", other.token());
    EXPECT_EQ(browser.client().Post("/new", browser.headers(), fields)->status, 403);
    EXPECT_EQ(std::distance(fs::directory_iterator(bay.jobs()), {}), 1);  // only .bay
}

TEST(BayDoor, EachMayDoWhatTheirCodeWasFor) {
    RunningBay bay;
    bay.add_sample("1042-full");
    const Phone reviewer = bay.paired(Role::reviewer);
    EXPECT_EQ(reviewer.get("/job/1042-full/board")->status, 200);
    EXPECT_EQ(reviewer.post("/new", new_job())->status, 403);
    EXPECT_EQ(reviewer.post("/job/1042-full/lock", {{"version", "x"}})->status, 403);
    EXPECT_EQ(reviewer.get("/shop")->status, 403);
    const Phone technician = bay.paired(Role::technician);
    EXPECT_EQ(technician.get("/shop")->status, 403);
    EXPECT_EQ(technician.post("/shop/code", {{"role", "shop"}})->status, 403);
    const Phone lead = bay.paired(Role::shop);
    const auto shown = lead.post("/shop/code", {{"role", "technician"}});
    EXPECT_EQ(shown->status, 200);
    EXPECT_THAT(shown->body, HasSubstr("Start it with --listen"))
        << "no other device reaches an address of this computer alone";
}

TEST(BayDoor, TheCodesAddressIsOneThatAPhoneReaches) {
    RunningBay bay({}, {}, false, {"bay.shop"});
    const auto shown = bay.paired(Role::shop).post("/shop/code", {{"role", "technician"}});
    EXPECT_THAT(shown->body, AllOf(HasSubstr("http://bay.shop:"), HasSubstr("<svg")));
}

TEST(BayDoor, NothingOfTheDiskIsTold) {
    EXPECT_EQ(without_folders("/srv/shop/jobs/1042/job.yaml:3: 'unit' in /srv/a/b.yaml is no key"),
              "job.yaml:3: 'unit' in b.yaml is no key");
    EXPECT_EQ(without_folders("1/8 in, 3 m/s and http://localhost:8080/pair"),
              "1/8 in, 3 m/s and http://localhost:8080/pair");
    RunningBay bay;
    fs::create_directory(bay.jobs() / "broken");
    write_file(bay.jobs() / "broken/job.yaml", "schema: squaresight/job/1\njob: x\nunit: 3\n");
    const Phone browser = bay.paired(Role::technician);
    for (const auto* path : {"/", "/job/broken", "/job/broken/board"}) {
        EXPECT_THAT(browser.page(path),
                    AllOf(HasSubstr("unit"), Not(HasSubstr(bay.jobs().string()))))
            << path;
    }
}

TEST(BayDoor, EveryIconIsThere) {
    RunningBay bay;
    const Phone stranger = bay.stranger();
    EXPECT_EQ(stranger.get("/icon.svg")->status, 200);
    EXPECT_EQ(stranger.get("/favicon.ico")->status, 200);
}

TEST(BayDoor, WhoSignsOutIsOut) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    EXPECT_EQ(browser.get("/")->status, 200);
    browser.post("/leave", {});
    EXPECT_EQ(browser.get("/")->status, 303);
}

TEST(BayDoor, EveryPageForbidsWhatItDoesNotNeed) {
    RunningBay bay;
    bay.add_sample("1042-full");
    const Phone browser = bay.paired(Role::shop);
    const std::regex inline_code("<style|\\sstyle=|\\son[a-z]+=|<script>|javascript:");
    for (const auto* path :
         {"/", "/new", "/pair", "/shop", "/nothing", "/job/1042-full", "/job/1042-full/ready",
          "/job/1042-full/board", "/job/1042-full/tape", "/job/1042-full/photos",
          "/job/1042-full/answer", "/job/1042-full/finish"}) {
        const auto got = browser.get(path);
        EXPECT_THAT(got->get_header_value("Content-Security-Policy"),
                    AllOf(HasSubstr("default-src 'none'"), HasSubstr("frame-ancestors 'none'"),
                          Not(HasSubstr("unsafe"))))
            << path;
        EXPECT_EQ(got->get_header_value("X-Content-Type-Options"), "nosniff") << path;
        EXPECT_EQ(got->get_header_value("Cache-Control"), "no-store") << path;
        EXPECT_FALSE(std::regex_search(got->body, inline_code)) << path;
        EXPECT_LT(got->body.size(), 150u * 1024) << path;
    }
}

TEST(BayDoor, NoPathOfAClientReachesTheDisk) {
    RunningBay bay;
    bay.add_sample("1042-full");
    write_file(bay.jobs().parent_path() / "job.yaml", "outside");
    const Phone browser = bay.paired(Role::shop);
    for (const auto* path :
         {"/job/..", "/job/../job.yaml", "/job/%2e%2e", "/job/..%2f..%2fetc", "/job/.bay",
          "/job/1042-full/picture/..%2f..%2fjob.yaml", "/job/1042-full/picture/job.yaml",
          "/job/1042-full/photos/..%2fjob.yaml", "/job/1042-full%00/board",
          "/.bay/sessions.json"}) {
        const auto got = browser.get(path);
        EXPECT_EQ(got->status, 404) << path;
        EXPECT_THAT(got->body, Not(HasSubstr(bay.jobs().string()))) << path;
    }
    for (const auto* id : {"", ".", "..", ".bay", "a/b", "a\\b", "-x", "a b"}) {
        EXPECT_FALSE(is_job_id(id)) << id;
    }
    EXPECT_FALSE(is_job_id(std::string(65, 'a')));
    EXPECT_TRUE(is_job_id("1042-full"));
}

TEST(BayDoor, ARequestWithTwoReadingsIsNotServed) {
    RunningBay bay;
    const std::string head =
        "POST /pair HTTP/1.1\r\nHost: 127.0.0.1\r\nOrigin: http://127.0.0.1\r\n";
    EXPECT_THAT(raw_answer(bay.port(), head + "Content-Length: 3\r\nContent-Length: 30\r\n\r\nabc"),
                HasSubstr("HTTP/1.1 411"));
    EXPECT_THAT(
        raw_answer(bay.port(), head + "Transfer-Encoding: chunked\r\nContent-Length: 3\r\n\r\nabc"),
        HasSubstr("HTTP/1.1 400"));
    EXPECT_THAT(
        raw_answer(bay.port(), head + "Content-Encoding: gzip\r\nContent-Length: 3\r\n\r\nabc"),
        HasSubstr("HTTP/1.1 400"));
    EXPECT_THAT(raw_answer(bay.port(), head + "\r\n"), HasSubstr("HTTP/1.1 411"));
    EXPECT_THAT(
        raw_answer(bay.port(), "GET /pair HTTP/1.1\r\nHost: 127.0.0.1\r\nHost: evil\r\n\r\n"),
        HasSubstr("HTTP/1.1 400"));
    EXPECT_THAT(raw_answer(bay.port(), "DELETE /pair HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"),
                HasSubstr("HTTP/1.1 405"));
}

TEST(BayDoor, ASecondRequestHiddenInTheFirstIsNeverRead) {
    RunningBay bay;
    const std::string answer =
        raw_answer(bay.port(),
                   "POST /pair HTTP/1.1\r\nHost: 127.0.0.1\r\nOrigin: http://127.0.0.1\r\n"
                   "Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 6\r\n\r\n"
                   "code=AGET /style.css HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n");
    EXPECT_THAT(answer, HasSubstr("HTTP/1.1 403"));
    EXPECT_THAT(answer, Not(HasSubstr("text/css")));
    EXPECT_THAT(bay.log(), Not(HasSubstr("/style.css")));
}

TEST(BayDoor, AHeadThatDoesNotEndIsCutOff) {
    RunningBay bay;
    std::string head = "GET /pair HTTP/1.1\r\nHost: 127.0.0.1\r\n";
    for (int i = 0; i < 1000; ++i) {
        head += "X-" + std::to_string(i) + ": " + std::string(40, 'a') + "\r\n";
    }
    EXPECT_THAT(raw_answer(bay.port(), head + "\r\n"), Not(HasSubstr("200 OK")));
    EXPECT_THAT(raw_answer(bay.port(), "GET /" + std::string(1000, 'a') +
                                           " HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"),
                HasSubstr("414"));
    EXPECT_EQ(bay.stranger().get("/pair")->status, 200);
}

TEST(BayDoor, TooMuchIsRefusedBeforeItIsRead) {
    RunningBay bay;
    const std::string head =
        "POST /pair HTTP/1.1\r\nHost: 127.0.0.1\r\nOrigin: http://127.0.0.1\r\n";
    EXPECT_THAT(raw_answer(bay.port(), head + "Content-Length: 100000\r\n\r\n"),
                HasSubstr("HTTP/1.1 413"));
    EXPECT_THAT(raw_answer(bay.port(), head + "Content-Length: 99999999999999999999\r\n\r\n"),
                HasSubstr("HTTP/1.1 411"));
}

TEST(BayDoor, ASlowSenderIsClosed) {
    FrontLimits limits;
    limits.head = std::chrono::milliseconds(300);
    limits.body = std::chrono::milliseconds(300);
    RunningBay bay(limits);
    // Neither of the two is ever complete: an answer or the end comes from the other side.
    raw_answer(bay.port(), "GET /pair HT");
    raw_answer(bay.port(),
               "POST /pair HTTP/1.1\r\nHost: 127.0.0.1\r\nOrigin: http://127.0.0.1\r\n"
               "Content-Length: 50\r\n\r\ncode");
    EXPECT_EQ(bay.stranger().get("/pair")->status, 200);
}

TEST(BayDoor, ManySilentConnectionsDoNotKeepOthersOut) {
    FrontLimits limits;
    limits.connections = 8;
    limits.head = std::chrono::minutes(10);  // they would sit there for all of the test
    limits.idle = std::chrono::minutes(10);
    RunningBay bay(limits);
    const Phone browser = bay.paired(Role::technician);
    std::list<RawConnection> silent;
    for (int i = 0; i < 500; ++i) {
        silent.emplace_back(bay.port()).send("GET / HT");
    }
    for (int i = 0; i < 5; ++i) {
        EXPECT_EQ(browser.get("/")->status, 200);
    }
}

TEST(BayDoor, ALogLineCannotBeForged) {
    EXPECT_EQ(log_line("10.0.0.1", "GET", "/a\r\n10.0.0.2 GET /b 200\x1b[2J\\", 404),
              "10.0.0.1 GET /a\\x0d\\x0a10.0.0.2\\x20GET\\x20/b\\x20200\\x1b[2J\\x5c 404");
    EXPECT_LT(log_line("10.0.0.1", "GET", std::string(5000, 'a'), 200).size(), 300u);
}

// --- what is run for a photo

TEST(Confined, ARunThatTakesTooLongIsEnded) {
    Confines confines;
    confines.wall = std::chrono::seconds(1);
    EXPECT_FALSE(run_confined("/bin/sleep", {"600"}, confines).finished);
}

TEST(Confined, ARunThatTakesTooMuchMemoryOrSaysTooMuchIsEnded) {
    Confines confines;
    confines.memory_bytes = 64 << 20;
    EXPECT_FALSE(
        run_confined("/bin/dd", {"if=/dev/zero", "of=/dev/null", "bs=256M", "count=1"}, confines)
            .finished);
    confines.output_bytes = 1000;
    EXPECT_FALSE(run_confined("/bin/cat", {"/dev/zero"}, confines).finished);
}

TEST(Confined, ARunEndsWhenItIsToStop) {
    std::stop_source stop;
    std::thread later([&] { stop.request_stop(); });
    EXPECT_FALSE(run_confined("/bin/sleep", {"600"}, {}, stop.get_token()).finished);
    later.join();
}

TEST(Confined, ItsOutputComesBack) {
    const auto run = run_confined("/bin/echo", {"$HOME; a b"}, {});
    EXPECT_TRUE(run.finished);
    EXPECT_EQ(run.output, "$HOME; a b\n");
    EXPECT_FALSE(run_confined("/no/such/program", {}, {}).finished);
}

// --- words and forms

TEST(Messages, EachIsThereInBothLanguages) {
    std::set<std::string> keys;
    for (const auto& one : messages()) {
        EXPECT_TRUE(keys.insert(one.key).second) << one.key;
        EXPECT_FALSE(one.english.empty()) << one.key;
        EXPECT_FALSE(one.spanish.empty()) << one.key;
    }
    const std::regex used("\\{\\{t\\.([^}]+)\\}\\}");
    std::string parts;
    for (const auto& [name, text] : templates::parts()) {
        parts += text;
    }
    for (const std::string text :
         {parts.c_str(), templates::frame, templates::pair, templates::jobs, templates::question,
          templates::entries, templates::job, templates::photos, templates::answer,
          templates::handover, templates::review_list, templates::review, templates::shop,
          templates::notice, templates::stale}) {
        for (std::sregex_iterator at(text.begin(), text.end(), used), end; at != end; ++at) {
            EXPECT_TRUE(keys.count((*at)[1].str())) << (*at)[1].str();
        }
    }
}

// RFC 9110, 12.5.4 and 12.4.2 (weights).
TEST(Messages, TheBrowsersLanguageIsChosen) {
    EXPECT_EQ(chosen_language(""), Language::english);
    EXPECT_EQ(chosen_language("es"), Language::spanish);
    EXPECT_EQ(chosen_language("es-MX,es;q=0.9,en;q=0.8"), Language::spanish);
    EXPECT_EQ(chosen_language("en-US,en;q=0.9,es;q=0.8"), Language::english);
    EXPECT_EQ(chosen_language("fr, es;q=0.5, en;q=0.4"), Language::spanish);
    EXPECT_EQ(chosen_language("es;q=0, de"), Language::english);
    EXPECT_EQ(chosen_language("es;q=., en;q=x,,;;"), Language::english);
}

TEST(BayForm, ALengthIsReadAsTheTapeShowsIt) {
    Form form;
    form.set("a.ft", "16");
    form.set("a.in", "4");
    form.set("a.16", "14");
    EXPECT_NEAR(*form.length_mm("a"), 25.4 * (16 * 12 + 4.875), 1e-9);
    form.set("b.mm", "4995,5");
    EXPECT_DOUBLE_EQ(*form.length_mm("b"), 4995.5);
    EXPECT_FALSE(form.length_mm("c"));
}

std::string problem_of(const std::function<void()>& action) {
    try {
        action();
    } catch (const FormError& error) {
        return error.what();
    }
    return "";
}

TEST(BayForm, AUnitASideOrAThousandIsNeverGuessed) {
    Form form;
    form.set("a.mm", "5000");
    form.set("a.in", "3");
    form.set("b.mm", "5,000");
    form.set("c.mm", "3");
    form.set("d.mm", "nan");
    form.set("e.mm", "-4");
    form.set("f.mm", "1e3");
    form.set("g.mm", "99999999");
    EXPECT_EQ(problem_of([&] { form.length_mm("a"); }), "two_units");
    EXPECT_EQ(problem_of([&] { form.length_mm("b"); }), "thousands");
    EXPECT_EQ(problem_of([&] { form.sided_length_mm("c"); }), "side_missing");
    EXPECT_EQ(problem_of([&] { form.length_mm("d"); }), "no_number");
    EXPECT_EQ(problem_of([&] { form.length_mm("e"); }), "out_of_range");
    EXPECT_EQ(problem_of([&] { form.length_mm("f"); }), "no_number");
    EXPECT_EQ(problem_of([&] { form.length_mm("g"); }), "out_of_range");
}

TEST(BayForm, AReadingThatIsShownAndSentBackStaysAsItWas) {
    Form form;
    form.put_length("a", 4998, LengthUnit::in);  // no whole number of sixteenths
    EXPECT_DOUBLE_EQ(*form.length_mm("a"), 4998);
    form.put_sided_length("b", -25.4 * 7.3125, LengthUnit::in);
    EXPECT_NEAR(*form.sided_length_mm("b"), -25.4 * 7.3125, 1e-9);
    form.put_sided_angle("c", -0.4);
    EXPECT_DOUBLE_EQ(*form.sided_angle_deg("c"), -0.4);
}

TEST(BayForm, TheWholeBoardOfASampleSurvivesItsForm) {
    const Shop shop = load_shop(samples / "shop.yaml");
    const JobSheet before = load_job_sheet(samples / "jobs/1042-full/job.yaml");
    JobSheet after = before;
    take_board(after, &shop.bays[0], board_form(before, &shop.bays[0], LengthUnit::in));
    take_tape(after, &shop.bays[0], tape_form(before, &shop.bays[0], LengthUnit::in));
    EXPECT_EQ(job_sheet_yaml(before, LengthUnit::in), job_sheet_yaml(after, LengthUnit::in));
}

TEST(BayForm, ASetupThatWasMovedIsMeasuredAnew) {
    JobSheet sheet = load_job_sheet(samples / "jobs/1042-full/job.yaml");
    sheet.sightings.resize(2);
    sheet.sightings[1].photos.clear();
    take_moved(sheet);
    EXPECT_FALSE(sheet.sightings[1].same_setup);
    EXPECT_FALSE(current_setup(sheet)->has_distance);
    EXPECT_TRUE(sheet.sightings[0].setup->has_distance);
}

TEST(BayForm, AJobThatIsTurnedAfterItWasLockedWasNotLeftSo) {
    JobSheet sheet = load_job_sheet(samples / "jobs/1042-full/job.yaml");
    Form form;
    form.set("turns.1", "3");
    form.set("way.1", "clockwise");
    take_turned(sheet, load_mount(sheet.mount_file), form);
    ASSERT_EQ(sheet.sightings.size(), 4u);
    EXPECT_EQ(sheet.sightings[2].stage, "adjusted");
    EXPECT_EQ(sheet.sightings[2].turned_clockwise,
              (std::vector<std::pair<std::string, double>>{{"side", 3 / 8.0}}));
    EXPECT_EQ(sheet.sightings[3].stage, "adjusted");
    EXPECT_EQ(problem_of([&] { take_turned(sheet, load_mount(sheet.mount_file), {}); }), "needed");
}

// --- one writer a job

TEST(JobStoreTest, NothingThatWasSavedIsLostAmongManyWriters) {
    RunningBay bay;
    bay.add_sample("1042-full");
    JobStore store(bay.jobs());
    std::atomic<int> saved = 0;
    const auto work = [&] {
        for (int i = 0; i < 20;) {
            try {
                const auto job = store.open("1042-full");
                store.change("1042-full", job.version, LengthUnit::in,
                             [](JobSheet& sheet) { sheet.technician += "x"; });
                ++saved;
                ++i;
            } catch (const StaleSheet&) {
            }
        }
    };
    std::thread first(work), second(work);
    first.join();
    second.join();
    EXPECT_EQ(store.open("1042-full").sheet.technician, "T3" + std::string(saved, 'x'));
}

TEST(BayPage, AStaleFormIsRefusedAndBothVersionsShown) {
    RunningBay bay;
    const Phone one = bay.paired(Role::technician), two = bay.paired(Role::technician);
    const std::string id = one.begin_job("2001");
    const std::string path = "/job/" + id + "/finish";
    const std::string version = Phone::hidden(two.page(path), "version");
    EXPECT_EQ(one.fill_in(path, {{"drive", "2026-03-05"}})->status, 303);
    const auto refused = two.post(path, {{"drive", "not yet"}, {"version", version}});
    EXPECT_EQ(refused->status, 409);
    EXPECT_THAT(refused->body, AllOf(HasSubstr("5 Mar 2026"), HasSubstr("not yet")));
    EXPECT_EQ(two.post(path, {{"drive", "not yet"}})->status, 409) << "no version at all";
    EXPECT_THAT(read_file(bay.jobs() / id / "job.yaml", 1 << 20),
                AllOf(HasSubstr("2026-03-05"), Not(HasSubstr("not yet"))));
}

TEST(BayPage, AWrongEntryComesBackWithWhatWasTyped) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    auto fields = new_job();
    fields.erase("distance.mm");
    fields.emplace("distance.mm", "5,000");
    const auto refused = browser.post("/new", fields);
    EXPECT_EQ(refused->status, 422);
    EXPECT_THAT(refused->body, AllOf(HasSubstr("can be read in two ways"), HasSubstr("5,000"),
                                     HasSubstr("unit 9")));
    fields.erase("bay");
    fields.emplace("bay", "../../etc");
    EXPECT_EQ(browser.post("/new", fields)->status, 422);
}

TEST(BayPage, WhatPeopleTypeIsNeverMarkup) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    auto fields = new_job();
    fields.erase("vehicle");
    fields.emplace("vehicle", "<script>alert(1)</script>\"'");
    const std::string id = browser.post("/new", fields)->get_header_value("Location");
    for (const auto& page : {browser.page("/"), browser.page(id), browser.page(id + "/photos")}) {
        EXPECT_THAT(page, AllOf(Not(HasSubstr("<script>alert")), HasSubstr("&lt;script&gt;")));
    }
}

TEST(BayPage, ItSpeaksSpanish) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    EXPECT_THAT(browser.page("/job/" + id + "/board", "es-MX"),
                AllOf(HasSubstr("lang=\"es\""), HasSubstr("Colocar el tablero")));
    EXPECT_THAT(browser.page("/job/" + id + "/board"), HasSubstr("Set up the board"));
}

// --- one thing on a screen

TEST(BayPage, OfANewJobTwoThingsAreTyped) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    EXPECT_THAT(browser.page("/new"), AllOf(HasSubstr("1 of 3"), HasSubstr("Vehicle unit number")));
    EXPECT_THAT(browser.page("/new?question=distance"), HasSubstr("is needed"));
    EXPECT_THAT(browser.page("/new?question=distance&vehicle=unit%209"),
                AllOf(HasSubstr("2 of 3"), HasSubstr("unit 9")));
    const std::string answers = "&vehicle=unit%209&distance.ft=16&distance.in=4&distance.16=14";
    const std::string last = browser.page("/new?question=rest" + answers);
    EXPECT_THAT(last, AllOf(HasSubstr("3 of 3"), HasSubstr("main bay")));
    const auto begun = browser.post("/new", {{"vehicle", Phone::hidden(last, "vehicle")},
                                             {"distance.ft", Phone::hidden(last, "distance.ft")},
                                             {"distance.in", Phone::hidden(last, "distance.in")},
                                             {"distance.16", Phone::hidden(last, "distance.16")},
                                             {"bay", "main bay"},
                                             {"job", "2002"}});
    ASSERT_EQ(begun->status, 303);
    const JobSheet sheet = JobStore(bay.jobs()).open("2002").sheet;
    EXPECT_EQ(sheet.vehicle, "unit 9");
    EXPECT_NEAR(current_setup(sheet)->readings.distance_mm.value, 25.4 * 196.875, 1e-9);
}

TEST(BayPage, ALengthThatIsUnusualIsAskedAboutOnce) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    EXPECT_THAT(browser.page("/new?question=rest&vehicle=9&distance.mm=600"),
                AllOf(HasSubstr("is usually between"), HasSubstr("I looked again")));
    EXPECT_THAT(browser.page("/new?question=rest&vehicle=9&distance.mm=600&sure=1"),
                Not(HasSubstr("I looked again")));
    const std::string id = browser.begin_job("2001");
    const std::string path = "/job/" + id + "/board";
    const Fields odd{
        {"question", "mount_left"}, {"mount_left.mm", "900"}, {"mount_left.side", "plus"}};
    EXPECT_EQ(browser.fill_in(path, odd)->status, 422);
    EXPECT_FALSE(
        current_setup(JobStore(bay.jobs()).open(id).sheet)->readings.mount_left_mm.measured);
    Fields sure = odd;
    sure.emplace("sure", "1");
    EXPECT_EQ(browser.fill_in(path, sure)->status, 303);
    EXPECT_EQ(current_setup(JobStore(bay.jobs()).open(id).sheet)->readings.mount_left_mm.value,
              900);
}

TEST(BayPage, EachQuestionIsSavedByItselfAndLeadsToTheNext) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const std::string path = "/job/" + id + "/board";
    EXPECT_THAT(browser.page(path), AllOf(HasSubstr("1 of 10"), HasSubstr("/floor.svg")));
    EXPECT_EQ(browser.fill_in(path, {{"question", "place"}})->get_header_value("Location"),
              path + "?question=line_base")
        << "the distance was typed before";
    EXPECT_THAT(browser.get("/job/" + id + "/floor.svg")->get_header_value("Content-Type"),
                HasSubstr("svg"));
    const auto saved = browser.fill_in(
        path, {{"question", "heights"}, {"target_height.mm", "905"}, {"mount_height.mm", "848"}});
    EXPECT_EQ(saved->get_header_value("Location"), path + "?question=floor_rise");
    EXPECT_EQ(browser.fill_in(path, {{"question", "line_base"}, {"skip", "1"}})
                  ->get_header_value("Location"),
              path + "?question=target_left");
    const auto readings = current_setup(JobStore(bay.jobs()).open(id).sheet)->readings;
    EXPECT_EQ(readings.target_height_mm.value, 905);
    EXPECT_EQ(readings.distance_mm.value, 4995) << "what was not asked stays";
    EXPECT_FALSE(readings.target_left_mm.measured);
    EXPECT_THAT(browser.page(path), AllOf(HasSubstr("905 mm"), HasSubstr("not measured")))
        << "once something is answered, all entries are shown";
}

TEST(BayPage, HowTheBoardStoodLastIsConfirmedNotTyped) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string earlier = browser.begin_job("2001"), id = browser.begin_job("2001");
    ASSERT_EQ(browser.fill_in("/job/" + earlier + "/board", board_of_1042())->status, 303);
    const std::string path = "/job/" + id + "/board";
    EXPECT_THAT(browser.page(path + "?question=as_before"),
                AllOf(HasSubstr("2001"), HasSubstr("Check each line"), HasSubstr("905")));
    ASSERT_EQ(browser.fill_in(path, {{"as_before", "1"}})->status, 303);
    const SheetSetup now = *current_setup(JobStore(bay.jobs()).open(id).sheet);
    const SheetSetup before = *current_setup(JobStore(bay.jobs()).open(earlier).sheet);
    EXPECT_EQ(now.readings.target_height_mm.value, before.readings.target_height_mm.value);
    EXPECT_EQ(now.readings.distance_mm.value, 4995) << "measured at every truck";
    EXPECT_TRUE(now.tapes.empty()) << "what checks the rest is never taken from memory";
}

TEST(BayPage, WhatComesLaterIsAskedOneByOne) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const std::string path = "/job/" + id + "/finish";
    const auto step = [&](const std::string& question, const std::string& name,
                          const std::string& value) {
        EXPECT_EQ(browser.fill_in(path, {{"question", question}, {name, value}})->status, 303);
    };
    step("drive", "drive", "today");
    step("codes_after", "codes_after.text", "C1A67");
    step("reading_after", "reading_after.deg", "0");
    std::map<std::string, std::string> closing;
    for (const auto& [key, answer] : JobStore(bay.jobs()).open(id).sheet.closing) {
        closing[key] = answer;
    }
    EXPECT_EQ(closing["drive"], today_text());
    EXPECT_EQ(closing["codes_after"], "C1A67");
    EXPECT_EQ(closing["reading_after.yaw"], "0 deg");
    step("codes_after", "codes_after", "");
    EXPECT_EQ(finish_form(JobStore(bay.jobs()).open(id).sheet).get("codes_after"), "");
}

// --- the phrase book

TEST(Phrases, NamesAndNumbersStandInTheirPlaces) {
    const auto spanish = [](const std::string& text) {
        const Phrase phrase = translated(text, Language::spanish);
        EXPECT_EQ(phrase.language, Language::spanish) << text;
        return phrase.text;
    };
    EXPECT_EQ(
        spanish("Turn the side screw 2 1/4 turns counter-clockwise, then the upper screw 1 turn "
                "clockwise. Then measure again."),
        "Gire el tornillo side 2 1/4 vueltas en sentido antihorario, después el tornillo upper 1 "
        "vuelta en sentido horario. Después mida otra vez.");
    EXPECT_EQ(
        spanish("photos/1-as-found-1.jpg: taken with a digital zoom of 2. Take it again without "
                "zoom."),
        "photos/1-as-found-1.jpg: tomada con zoom digital de 2. Tómela otra vez sin zoom.");
    EXPECT_EQ(spanish("0.70 deg to the left"), "0.70 deg a la izquierda");
    EXPECT_EQ(spanish("After these turns it should point 0.06 deg to the left, nose 0.10 deg down "
                      "(side to side give or take 0.54 deg, up-down give or take 0.45 deg)."),
              "Después de estas vueltas debe apuntar 0.06 deg a la izquierda, nariz 0.10 deg hacia "
              "abajo (lateral con margen de 0.54 deg, vertical con margen de 0.45 deg).");
    EXPECT_EQ(translated("A sentence that nobody wrote.", Language::spanish).language,
              Language::english);
    EXPECT_EQ(translated("straight ahead", Language::english).text, "straight ahead");
}

TEST(Phrases, EachHasTheSamePlacesInBothLanguages) {
    const auto places = [](const std::string& text) {
        const std::regex place("\\{=?\\}");
        return std::distance(std::sregex_iterator(text.begin(), text.end(), place), {});
    };
    for (const auto* book : {&book_sentences(), &book_fragments()}) {
        for (const auto& phrase : *book) {
            EXPECT_EQ(places(phrase.english), places(phrase.spanish)) << phrase.english;
        }
    }
}

// --- photos

TEST(BayPhotos, WhatIsWrongIsToldAsSoonAsThePhotoIsThere) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const fs::path photos = samples / "jobs/1042-full/photos";
    ASSERT_EQ(browser.send_photo(id, photos / "found-upright-1.jpg", "upright")->status, 303);
    ASSERT_EQ(browser.send_photo(id, photos / "found-inverted-1.jpg", "upright")->status, 303);
    const std::string path = "/job/" + id + "/photos";
    browser.page(path);
    browser.wait_until_measured(id, "?of=photos");
    const std::string told = browser.page(path);
    EXPECT_THAT(told, AllOf(HasSubstr("BOARD FOUND, BUT LOOK HERE <small>1-as-found-2.jpg"),
                            HasSubstr("The photo shows it</b> upside down"),
                            HasSubstr("BOARD FOUND <small>1-as-found-1.jpg")));
    std::smatch picture;
    ASSERT_TRUE(
        std::regex_search(told, picture, std::regex("/job/[^\"]*/look/[0-9a-f]{64}\\.jpg")));
    EXPECT_THAT(browser.page(picture[0].str()), StartsWith("\xff\xd8"));
    ASSERT_EQ(browser
                  .fill_in(path, {{"file", "photos/1-as-found-2.jpg"}, {"cradle", "inverted"}},
                           path + "/stands")
                  ->status,
              303);
    browser.page(path);
    browser.wait_until_measured(id, "?of=photos");
    EXPECT_THAT(browser.page(path), HasSubstr("BOARD FOUND <small>1-as-found-2.jpg"));
}

/// A sample photo of 12 megapixels with other words of the phone in it; without any where `exif` is
/// empty.
std::string relabelled(const char* name, const std::string& exif) {
    std::string jpeg = read_file(samples / "jobs/1042-full/photos" / name, 1 << 26);
    const auto high = static_cast<unsigned char>(jpeg[4]),
               low = static_cast<unsigned char>(jpeg[5]);
    jpeg.erase(2, 2 + 256u * high + low);
    return exif.empty() ? jpeg : with_exif(jpeg, exif);
}

std::string exif_of(const char* time, const char* lens, unsigned zoom, unsigned orientation = 1) {
    ExifBlock block;
    block.text(false, 0x010f, "Quillfern");
    block.text(false, 0x0110, "QF Bay 2");
    block.short_number(false, 0x0112, orientation);
    block.text(true, 0x9003, time);
    block.ratio(true, 0x920a, 54, 10);
    block.ratio(true, 0xa404, zoom, 1);
    block.text(true, 0xa434, lens);
    return block.bytes();
}

TEST(BayPhotos, ZoomAnotherLensARepeatACopyAndAPhoneTurnedOverAreEachToldAtOnce) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001"), path = "/job/" + id + "/photos";
    const auto told = [&](const std::string& bytes, const char* cradle) {
        EXPECT_EQ(browser.send_photo(id, bytes, cradle)->status, 303);
        browser.page(path);
        browser.wait_until_measured(id, "?of=photos");
        const std::string page = browser.page(path);
        return page.substr(0, page.find("</section>"));  // the newest photo stands first
    };
    const auto good =
        relabelled("found-upright-1.jpg", exif_of("2026:03:04 09:12:00", "QF main", 1));
    EXPECT_THAT(told(good, "upright"), AllOf(HasSubstr("BOARD FOUND <"), Not(HasSubstr("STOP"))));
    EXPECT_THAT(
        told(relabelled("found-upright-2.jpg", exif_of("2026:03:04 09:12:10", "QF main", 2)),
             "upright"),
        HasSubstr("digital zoom of 2. Take it again without zoom"));
    EXPECT_THAT(told(relabelled("left-upright-1.jpg", exif_of("2026:03:04 09:12:20", "QF wide", 1)),
                     "upright"),
                AllOf(HasSubstr("QF wide"), HasSubstr("Use the calibrated phone and lens")));
    EXPECT_THAT(told(relabelled("left-upright-2.jpg", ""), "upright"),
                AllOf(HasSubstr("STOP"), HasSubstr("a messenger or an editor took that out"),
                      HasSubstr("Bring the original, by cable or sent as a file")));
    EXPECT_THAT(
        told(relabelled("found-upright-1.jpg", exif_of("2026:03:04 09:12:30", "QF main", 1)),
             "upright"),
        HasSubstr("is the same picture as photos/1-as-found-1.jpg, saved again"));
    EXPECT_THAT(
        told(relabelled("found-inverted-1.jpg", exif_of("2026:03:04 09:12:40", "QF main", 1, 3)),
             "upright"),
        HasSubstr("The phone stood the other way than you said"));
    EXPECT_THAT(
        told(relabelled("found-inverted-2.jpg", exif_of("2026:03:04 09:12:50", "QF main", 1, 3)),
             "inverted"),
        AllOf(HasSubstr("BOARD FOUND <"), Not(HasSubstr("STOP"))))
        << "what is wrong with another photo is not said of this one";
    EXPECT_THAT(browser.page(path), HasSubstr("3 of 4"))
        << "of the seven those that serve count, as they really stood";
    const auto again = browser.send_photo(id, good, "upright");
    EXPECT_EQ(again->status, 422);
    EXPECT_THAT(again->body, HasSubstr("already here"));
}

TEST(BayPhotos, OnlyAPhotoByItsContentIsTaken) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    for (const std::string bytes : {"<svg xmlns='http://www.w3.org/2000/svg'/>", "%PDF-1.7", "MZ",
                                    "schema: squaresight/corners/1\n"}) {
        const auto refused = browser.send_photo(id, bytes, "upright");
        EXPECT_EQ(refused->status, 422) << bytes;
    }
    EXPECT_EQ(browser.send_photo(id, std::string(), "upright")->status, 422);
    EXPECT_FALSE(fs::exists(bay.jobs() / id / "photos"));
}

TEST(BayPhotos, AForgedFormBringsNoPhoto) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const std::string photo =
        read_file(samples / "jobs/1042-full/photos/found-upright-1.jpg", 1 << 26);
    EXPECT_EQ(browser.send_photo(id, photo, "upright", "guess")->status, 403);
    EXPECT_FALSE(fs::exists(bay.jobs() / id / "photos"));
}

TEST(BayPhotos, NamesAreTheServersOwnAndAPhotoIsTakenOnce) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const fs::path photo = samples / "jobs/1042-full/photos/found-upright-1.jpg";
    EXPECT_EQ(browser.send_photo(id, photo, "upright")->status, 303);
    EXPECT_EQ(browser.send_photo(id, photo, "inverted")->status, 422);
    const fs::path taken = bay.jobs() / id / "photos";
    EXPECT_EQ(std::distance(fs::directory_iterator(taken), {}), 1);
    EXPECT_EQ(read_file(taken / "1-as-found-1.jpg", 1 << 26), read_file(photo, 1 << 26));
    EXPECT_THAT(read_file(bay.jobs() / id / "job.yaml", 1 << 20),
                HasSubstr("{file: 'photos/1-as-found-1.jpg', cradle: upright}"));
    EXPECT_EQ(browser
                  .fill_in("/job/" + id + "/photos", {{"file", "photos/1-as-found-1.jpg"}},
                           "/job/" + id + "/photos/out")
                  ->status,
              303);
    EXPECT_THAT(read_file(bay.jobs() / id / "job.yaml", 1 << 20), Not(HasSubstr("as-found-1.jpg")));
}

TEST(BayPhotos, APhotoInPiecesGoesOnWhereItStopped) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const fs::path file = samples / "jobs/1042-full/photos/found-upright-1.jpg";
    const std::string photo = read_file(file, 1 << 26);
    const std::string size = std::to_string(photo.size());
    const auto begun =
        browser.post("/job/" + id + "/upload", {{"size", size}, {"cradle", "upright"}});
    const std::string upload = "/job/" + id + "/upload/" +
                               nlohmann::json::parse(begun->body).at("upload").get<std::string>();
    const std::size_t half = photo.size() / 2;
    EXPECT_EQ(browser.post_piece(upload, 0, photo.substr(0, half))->status, 200);
    // The answer was lost: the same piece again is not taken twice, and where to go on is told.
    const auto again = browser.post_piece(upload, 0, photo.substr(0, half));
    EXPECT_EQ(again->status, 409);
    EXPECT_EQ(nlohmann::json::parse(again->body).at("received"), half);
    EXPECT_EQ(nlohmann::json::parse(browser.page(upload)).at("received"), half);
    EXPECT_EQ(browser.post_piece(upload, half, photo.substr(half))->status, 200);
    EXPECT_EQ(read_file(bay.jobs() / id / "photos/1-as-found-1.jpg", 1 << 26), photo);
    // That answer was lost too.
    const auto last = browser.post_piece(upload, half, photo.substr(half));
    EXPECT_EQ(nlohmann::json::parse(last->body).at("received"), photo.size());
    EXPECT_EQ(std::distance(fs::directory_iterator(bay.jobs() / id / "photos"), {}), 1);
}

TEST(BayPhotos, APieceBeyondTheAnnouncedSizeOrOfAnotherJobIsRefused) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001"), other = browser.begin_job("2001");
    ASSERT_NE(id, other);
    const auto begun = browser.post("/job/" + id + "/upload", {{"size", "10"}});
    const std::string upload = nlohmann::json::parse(begun->body).at("upload").get<std::string>();
    EXPECT_EQ(browser.post_piece("/job/" + other + "/upload/" + upload, 0, "12345")->status, 404);
    EXPECT_EQ(browser.post_piece("/job/" + id + "/upload/" + upload, 0, "12345678901")->status,
              422);
    for (const auto* size : {"0", "", "-1", "99999999999", "1e6"}) {
        EXPECT_EQ(browser.post("/job/" + id + "/upload", {{"size", size}})->status, 422) << size;
    }
}

TEST(BayPhotos, AHostilePhotoStopsNothingButItself) {
    Confines confines;
    confines.memory_bytes = std::size_t{1} << 30;
    RunningBay bay({}, confines);
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const std::string broken =
        read_file(samples / "jobs/1042-full/photos/found-upright-1.jpg", 1 << 26).substr(0, 5000);
    EXPECT_EQ(browser.send_photo(id, broken, "upright")->status, 303);
    browser.wait_until_measured(id);
    EXPECT_THAT(browser.page("/job/" + id + "/answer"), HasSubstr("No answer yet"));
    EXPECT_EQ(browser.get("/")->status, 200);
}

// --- a whole job

class WalkedJob {
  public:
    WalkedJob() : browser(bay.paired(Role::technician)), id(browser.begin_job("2001")) {}

    std::string path(const std::string& rest = "") const { return "/job/" + id + rest; }
    fs::path file(const std::string& name) const { return bay.jobs() / id / name; }
    void send(const std::string& stage, int pairs, bool inverted) const {
        const fs::path photos = samples / "jobs/1042-full/photos";
        for (int i = 1; i <= pairs; ++i) {
            const std::string number = "-" + std::to_string(i) + ".jpg";
            ASSERT_EQ(
                browser.send_photo(id, photos / (stage + "-upright" + number), "upright")->status,
                303);
            if (inverted) {
                ASSERT_EQ(
                    browser.send_photo(id, photos / (stage + "-inverted" + number), "inverted")
                        ->status,
                    303);
            }
        }
    }
    std::string answer() const {
        browser.page(path("/answer"));
        browser.wait_until_measured(id);
        return browser.page(path("/answer"));
    }

    /// The page's result file, and what the command line makes of the same sheet.
    void expect_same_as_measure() const {
        const std::string by_page = read_file(file("job.result.json"), 1 << 24);
        const auto measured =
            run_squaresight("measure --json '" + file("job.yaml").string() + "' 2>/dev/null");
        EXPECT_EQ(measured.exit_code, 0);
        EXPECT_EQ(by_page, measured.output);
    }

    RunningBay bay;
    Phone browser;
    std::string id;
};

TEST(BayPage, AWholeJobByItsFormsGivesWhatTheCommandLineGives) {
    WalkedJob job;
    const Phone& browser = job.browser;
    EXPECT_THAT(browser.page(job.path()), HasSubstr("Next: Get ready"));
    Fields ready;
    for (const auto* key :
         {"level_ground", "tyres", "ride_height", "bracket_sound", "face_clean", "codes_saved"}) {
        ready.emplace(key, "yes");
    }
    ASSERT_EQ(browser.fill_in(job.path("/ready"), ready)->status, 303);
    ASSERT_EQ(browser.fill_in(job.path("/board"), board_of_1042())->status, 303);
    job.send("found", 2, true);
    ASSERT_EQ(browser
                  .fill_in(job.path("/tape"), {{"left_point.ft", "1"},
                                               {"left_point.in", "8"},
                                               {"right_point.mm", "508"},
                                               {"pass_left.1.in", "6"},
                                               {"pass_left.1.16", "15"},
                                               {"pass_right.1.in", "7"},
                                               {"pass_right.1.16", "12"},
                                               {"face_level.1.deg", "0.8"},
                                               {"face_level.1.side", "minus"}})
                  ->status,
              303);
    const std::string told = job.answer();
    EXPECT_THAT(told, AllOf(HasSubstr("DO THIS"),
                            HasSubstr("screw side</b><br>2 1/4 turns counter-clockwise")));
    EXPECT_THAT(browser.page(job.path("/answer"), "es"),
                AllOf(HasSubstr("izq. del camión"), HasSubstr("side: 2 1/4 vueltas"),
                      Not(ContainsRegex("truck|turns? "))));
    job.expect_same_as_measure();
    const Fields turned{{"turns.0", "11"},
                        {"way.0", "clockwise"},
                        {"turns.1", "18"},
                        {"way.1", "counter-clockwise"}};
    ASSERT_EQ(browser.fill_in(job.path("/answer"), turned, job.path("/turned"))->status, 303);
    job.send("adjusted", 2, false);
    EXPECT_THAT(job.answer(), HasSubstr("They are locked"));
    ASSERT_EQ(browser.fill_in(job.path("/answer"), {}, job.path("/lock"))->status, 303);
    job.send("left", 2, true);
    EXPECT_THAT(job.answer(), HasSubstr("NOT READY"));
    EXPECT_THAT(browser.page(job.path("/handover")), HasSubstr(">NOT READY<"));
    ASSERT_EQ(browser
                  .fill_in(job.path("/finish"), {{"codes_cleared", "yes"},
                                                 {"electronic_calibration", "not asked for"},
                                                 {"drive", "2026-03-05"},
                                                 {"codes_after", "none"}})
                  ->status,
              303);
    EXPECT_THAT(job.answer(), HasSubstr("in tolerance"));
    job.expect_same_as_measure();
    EXPECT_THAT(browser.page(job.path("/report")), HasSubstr("<title>Mount aim, job 2001"));
    EXPECT_THAT(browser.page(job.path("/handover")),
                AllOf(HasSubstr("after turn 1"), HasSubstr("as left"), HasSubstr("5 Mar 2026"),
                      HasSubstr("4 Mar 2026"), Not(HasSubstr("2026-03-0"))));
    for (const auto* page : {"/answer", "/handover", "/photos", "/finish"}) {
        EXPECT_THAT(browser.page(job.path(page), "es"),
                    AllOf(Not(ContainsRegex("<(p|li|span)[^>]*lang=.en")),
                          Not(ContainsRegex("truck|screw:|turns? ")), Not(HasSubstr("not yet"))))
            << page;
    }
    const Phone reviewer = job.bay.paired(Role::reviewer);
    reviewer.page(job.path("/review"));
    reviewer.wait_until_measured(job.id, "?of=review");
    const auto sign = [&](const char* code, const char* decision, const char* reason) {
        return reviewer.fill_in(job.path("/review"),
                                {{"reviewer", code}, {"decision", decision}, {"reason", reason}});
    };
    EXPECT_EQ(sign("t3", "accepted", "")->status, 422) << "who measured it";
    EXPECT_EQ(sign("R1", "returned", "")->status, 422) << "without a reason";
    EXPECT_EQ(sign("R1", "accepted", "")->status, 303);
    EXPECT_THAT(reviewer.page("/review"), HasSubstr("accepted"));
    const Phone technician = job.bay.paired(Role::technician);
    EXPECT_EQ(technician.get(job.path("/review"))->status, 403);
    browser.page(job.path("/photos"));
    browser.wait_until_measured(job.id, "?of=photos");
    EXPECT_THAT(browser.page(job.path("/photos")), HasSubstr("BOARD FOUND"));
}

}  // namespace
}  // namespace squaresight::bay
