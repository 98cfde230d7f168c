// The bay page's door: who may, what a request may be, what is run for a photo, against a server of
// its own on a loopback port.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <filesystem>
#include <list>
#include <regex>
#include <string>
#include <thread>

#include "bay/confined.h"
#include "bay/guard.h"
#include "bay/job_store.h"
#include "bay/pages.h"
#include "bay/shop.h"
#include "support/command.h"
#include "support/running_bay.h"
#include "support/scratch.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;
namespace fs = std::filesystem;

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
    const auto paired =
        client.Post("/pair", headers, Phone::Fields{{"code", bay.code(Role::technician)}});
    ASSERT_TRUE(paired);
    EXPECT_EQ(paired->status, 303);
    EXPECT_THAT(paired->get_header_value("Set-Cookie"), HasSubstr("; Secure"));
    EXPECT_FALSE(paired->get_header_value("Strict-Transport-Security").empty());
    EXPECT_THAT(raw_answer(bay.port(), "GET /pair HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"),
                Not(HasSubstr("200 OK")));
}

/// The commands of the documentation's recipe, for this computer's own address.
std::string certificate_recipe() {
    const std::string page =
        read_file(fs::path(SQUARESIGHT_SOURCE_DIR) / "docs/bay-page.md", 1 << 20);
    const auto begin = page.find("```sh\n", page.find("### A certificate of the shop's own")) + 6;
    std::string recipe = page.substr(begin, page.find("```", begin) - begin);
    const std::string there = "192.168.1.20";
    recipe.replace(recipe.find(there), there.size(), "127.0.0.1");
    return recipe.substr(0, recipe.find_last_not_of('\n') + 1);
}

TEST(BayDoor, ByTheRecipeAPhoneThatKnowsTheShopBelievesThePageAndNoOtherDoes) {
    const Scratch scratch;
    const std::string in_folder = "cd '" + scratch.folder().string() + "' && set -e\n";
    const auto made = run_command(in_folder + certificate_recipe());
    ASSERT_EQ(made.exit_code, 0) << made.output;
    RunningBay bay({}, {}, false, {}, [&](ServerSettings& settings) {
        settings.certificate = scratch.folder() / "bay.pem";
        settings.key = scratch.folder() / "bay.key";
    });
    httplib::SSLClient knows("127.0.0.1", bay.port());
    knows.set_ca_cert_path((scratch.folder() / "shop-ca.pem").string());
    knows.enable_server_certificate_verification(true);
    const auto page = knows.Get("/pair");
    ASSERT_TRUE(page) << httplib::to_string(page.error());
    EXPECT_EQ(page->status, 200);
    httplib::SSLClient stranger("127.0.0.1", bay.port());
    stranger.enable_server_certificate_verification(true);
    EXPECT_EQ(stranger.Get("/pair").error(), httplib::Error::SSLServerVerification);
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
    const auto under_another_name = [&](const std::string& request) {
        return raw_answer(bay.port(), request + " HTTP/1.1\r\nHost: evil.example\r\n" +
                                          "Content-Length: 0\r\n\r\n");
    };
    for (const auto* request : {"GET /pair", "GET /", "GET /style.css/..", "GET /nothing",
                                "POST /pair", "POST /style.css"}) {
        EXPECT_THAT(under_another_name(request), HasSubstr("421")) << request;
    }
    // What the page that says so links to holds nothing of the shop.
    for (const auto* request : {"GET /style.css", "GET /bay.js", "GET /icon.svg"}) {
        EXPECT_THAT(
            under_another_name(request),
            AllOf(HasSubstr("200 OK"), HasSubstr("same-origin"), Not(HasSubstr("Set-Cookie"))))
            << request;
    }
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

TEST(BayDoor, WhatIsRefusedSaysWhatWasWrongAndWhereToGoOn) {
    RunningBay bay;
    bay.add_sample("1042-full");
    const Phone phone = bay.paired(Role::technician);
    EXPECT_THAT(phone.page("/nothing"),
                AllOf(HasSubstr("Choose the job from the list"), HasSubstr("href=\"/\">All jobs")));
    EXPECT_THAT(phone.page("/nothing", "es"), HasSubstr("Elija el trabajo en la lista"));
    EXPECT_THAT(raw_answer(bay.port(), "GET /pair HTTP/1.1\r\nHost: evil.example\r\n\r\n"),
                HasSubstr("Type the address that the shop"));
    EXPECT_THAT(phone.post("/new", {{"job", std::string(70000, 'a')}})->body,
                HasSubstr("larger than this page takes"));
    EXPECT_THAT(phone.post("/job/1042-full/photos/stands", {{"version", "old"}})->body,
                AllOf(HasSubstr("Someone else changed this job"), Not(HasSubstr("Compare")),
                      HasSubstr("href=\"/job/1042-full\">Back to the job")));
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

// --- what the shop has set up

/// A message as it stands in a page.
std::string on_page(const char* key, Language language = Language::english) {
    return std::regex_replace(message(language, key), std::regex("'"), "&apos;");
}

/// A shop that nobody has set up yet, in a folder of its own.
struct NewShop {
    explicit NewShop(const std::string& lists = "") { write(lists); }
    void write(const std::string& lists) const {
        write_file(file, "schema: squaresight/shop/1\nname: Our shop\n" + lists);
    }
    /// A phone file named so, beside the shop's.
    void write_phone(const std::string& name) const {
        std::string text =
            read_file(fs::path(SQUARESIGHT_SOURCE_DIR) / "calib/bay-phone.yaml", 1 << 20);
        const auto at = text.find("\nname:") + 1;
        text.replace(at, text.find('\n', at) - at, "name: " + name);
        write_file(scratch.folder() / "phone.yaml", text);
    }
    RunningBay served() const {
        return RunningBay({}, {}, false, {},
                          [this](ServerSettings& settings) { settings.shop_file = file; });
    }
    Scratch scratch;
    fs::path file = scratch.folder() / "shop.yaml";
};

TEST(BayShop, AMissingShopFileSaysHowToMakeOneAndThatOneIsServed) {
    const Scratch scratch;
    const std::string jobs = (scratch.folder() / "jobs").string();
    fs::create_directory(jobs);
    const auto refused = run_squaresight("serve --jobs '" + jobs + "' --port 0");
    EXPECT_EQ(refused.exit_code, 3) << refused.output;
    EXPECT_THAT(refused.output, HasSubstr("shop.yaml: there is no file"));
    std::string file;
    const std::regex quoted("'([a-z]+: [^']*)'");
    for (std::sregex_iterator line(refused.output.begin(), refused.output.end(), quoted), end;
         line != end; ++line) {
        file += (*line)[1].str() + "\n";
    }
    write_file(scratch.folder() / "shop.yaml", file);
    const Shop shop = load_shop(scratch.folder() / "shop.yaml");
    EXPECT_EQ(shop.name, "Our shop");
    EXPECT_TRUE(shop.bays.empty());
}

TEST(BayShop, EmptyListsAreServedAndANewJobSaysThatABayIsMissing) {
    const NewShop shop("bays: []\nmounts: []\ncameras: []\ntargets: []\ncradles: []\n");
    RunningBay bay = shop.served();
    const Phone lead = bay.paired(Role::shop);
    EXPECT_THAT(lead.page("/shop"), HasSubstr(on_page("none_yet")));
    EXPECT_THAT(lead.page("/new"), HasSubstr(on_page("no_bay_words")));
    EXPECT_THAT(lead.page("/new", "es"), HasSubstr(on_page("no_bay_words", Language::spanish)));
    EXPECT_EQ(lead.begin_job("2001"), "");
    shop.write("bays: ['" + (samples / "bays/main-bay.yaml").string() + "']\n");
    EXPECT_THAT(lead.page("/new"), HasSubstr("name=\"vehicle\""));
    EXPECT_NE(lead.begin_job("2001"), "");
}

TEST(BayShop, NewEquipmentShowsWithoutARestart) {
    const NewShop shop;
    RunningBay bay = shop.served();
    const Phone lead = bay.paired(Role::shop);
    EXPECT_THAT(lead.page("/shop"), Not(HasSubstr("first phone")));
    shop.write_phone("first phone");
    shop.write("cameras: [phone.yaml]\n");
    EXPECT_THAT(lead.page("/shop"), HasSubstr("first phone"));
    shop.write_phone("phone two");
    EXPECT_THAT(lead.page("/shop"), AllOf(HasSubstr("phone two"), Not(HasSubstr("first phone"))))
        << "a file that the shop's names was changed";
}

TEST(BayShop, AChangeThatCannotBeReadIsToldAndWhatStoodBeforeIsUsed) {
    const NewShop shop;
    shop.write_phone("first phone");
    shop.write("cameras: [phone.yaml]\n");
    RunningBay bay = shop.served();
    const Phone lead = bay.paired(Role::shop);
    EXPECT_THAT(lead.page("/shop"), Not(HasSubstr(on_page("shop_trouble"))));
    shop.write("cameras: [phone.yaml, none.yaml]\n");
    EXPECT_THAT(lead.page("/shop"), AllOf(HasSubstr("first phone"), HasSubstr("none.yaml"),
                                          HasSubstr(on_page("shop_trouble")),
                                          Not(HasSubstr(shop.scratch.folder().string()))));
    shop.write("cameras: [phone.yaml]\n");
    EXPECT_THAT(lead.page("/shop"),
                AllOf(HasSubstr("first phone"), Not(HasSubstr(on_page("shop_trouble")))));
}

}  // namespace
}  // namespace squaresight::bay
