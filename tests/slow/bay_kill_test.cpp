// The server is killed again and again while phones write readings and send photos in pieces.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <filesystem>
#include <iostream>
#include <mutex>
#include <random>

#include "job/sheet.h"
#include "support/bay_phone.h"
#include "support/bay_process.h"
#include "support/record_kills.h"
#include "support/scratch.h"

namespace squaresight::bay {
namespace {

namespace fs = std::filesystem;
using std::chrono::milliseconds;

JobSheet sheet_of(const fs::path& folder) {
    const auto file = folder / "job.yaml";
    return parse_begun_job_sheet(read_file(file, 1 << 20), file);
}

/// What a phone does over and over until told to stop; every call of the server may fail.
class Worker {
  public:
    Worker(Phone phone, fs::path jobs) : phone_(std::move(phone)), jobs_(std::move(jobs)) {}
    virtual ~Worker() = default;  // of one that was stopped
    Worker(const Worker&) = delete;
    Worker& operator=(const Worker&) = delete;

    void start() {
        thread_ = std::thread([this] {
            while (!stopping_) {
                step();
            }
        });
    }
    void stop() {
        stopping_ = true;
        if (thread_.joinable()) {
            thread_.join();
        }
    }
    /// With the server dead: whatever was acknowledged is on disk, and all that is there is whole.
    virtual void check() = 0;
    int acknowledged() const { return acknowledged_; }

  protected:
    virtual void step() = 0;
    /// What may be gone with the server is tried again.
    bool stopping() const { return stopping_; }
    static void pause() { std::this_thread::sleep_for(milliseconds(5)); }

    Phone phone_;
    fs::path jobs_;
    std::atomic<int> acknowledged_{0};

  private:
    std::atomic<bool> stopping_{false};
    std::thread thread_;
};

/// Writes one reading of its own job, a higher number each time.
class ReadingWriter : public Worker {
  public:
    ReadingWriter(const Phone& phone, const fs::path& jobs, const std::string& order)
        : Worker(phone, jobs), id_(phone_.begin_job(order)) {}
    ~ReadingWriter() override { stop(); }

    void check() override {
        const int acknowledged = last_acknowledged_;
        int kept = 0;
        for (const auto& [key, answer] : sheet_of(jobs_ / id_).closing) {
            kept = key == entry ? std::stoi(answer.substr(answer.find(' '))) : kept;
        }
        EXPECT_GE(kept, acknowledged) << "acknowledged, and lost";
        EXPECT_LE(kept, sent_);
    }

  protected:
    void step() override {
        const std::string path = "/job/" + id_ + "/finish";
        const auto shown = phone_.get(path + "?question=first");
        if (!shown || shown->status != 200) {
            pause();
            return;
        }
        EXPECT_THAT(shown->body, testing::HasSubstr("</html>"));
        const int number = ++sent_;
        const auto saved = phone_.post(path, {{entry, "number " + std::to_string(number)},
                                              {"version", Phone::hidden(shown->body, "version")}});
        if (saved && saved->status == 303) {
            last_acknowledged_ = number;
            ++acknowledged_;
        }
    }

  private:
    static constexpr const char* entry = "codes_after";
    std::string id_;
    std::atomic<int> sent_{0}, last_acknowledged_{0};
};

/// Sends photos in pieces, each carried on after every death of the server.
class PhotoSender : public Worker {
  public:
    PhotoSender(const Phone& phone, const fs::path& jobs, const std::string& order)
        : Worker(phone, jobs), order_(order), random_(std::hash<std::string>()(order)) {}
    ~PhotoSender() override { stop(); }

    void check() override {
        std::vector<std::pair<std::string, std::string>> photos;
        {
            const std::lock_guard lock(mutex_);
            photos.swap(whole_);
        }
        for (const auto& [id, bytes] : photos) {
            const auto sheet = sheet_of(jobs_ / id);
            const auto& kept = sheet.sightings.back().photos;
            EXPECT_TRUE(std::any_of(kept.begin(), kept.end(), [&, &sent = bytes](const auto& one) {
                return read_file(one.path, 1 << 26) == sent;
            })) << "acknowledged, and lost";
        }
        for (const auto& job : fs::directory_iterator(jobs_)) {
            if (job.path().filename().string().rfind(order_, 0) == 0 &&
                fs::exists(job.path() / "job.yaml")) {
                const auto sheet = sheet_of(job.path());
                for (const auto& photo : sheet.sightings.back().photos) {
                    EXPECT_EQ(fs::file_size(photo.path), photo_bytes) << "half a photo";
                }
            }
        }
    }
    int carried_on() const { return carried_on_; }

  protected:
    void step() override {
        if (id_.empty() || in_job_ >= 20) {
            id_ = phone_.begin_job(order_ + "-" + std::to_string(++begun_));
            in_job_ = 0;
        }
        if (id_.empty()) {
            pause();
            return;
        }
        std::string photo = "\xff\xd8\xff\xe0";
        while (photo.size() < photo_bytes) {
            photo += static_cast<char>(random_());
        }
        if (send(photo)) {
            ++in_job_;
            ++acknowledged_;
            const std::lock_guard lock(mutex_);
            whole_.emplace_back(id_, std::move(photo));
        }
    }

  private:
    static constexpr std::size_t photo_bytes = 200000;
    static constexpr std::size_t piece_bytes = 30000;

    /// False where it was stopped, or was never begun.
    bool send(const std::string& photo) {
        const std::string upload = phone_.begin_upload(id_, photo.size(), "upright");
        std::size_t offset = 0;
        while (!upload.empty() && offset < photo.size() && !stopping()) {
            const auto answer =
                phone_.post_piece(upload, offset, photo.substr(offset, piece_bytes));
            if (!answer) {
                pause();
                continue;
            }
            EXPECT_THAT(answer->status, testing::AnyOf(200, 409)) << answer->body;
            const auto json = nlohmann::json::parse(answer->body, nullptr, false);
            const auto received = json.is_object() ? json.value("received", std::size_t{0}) : 0;
            EXPECT_GE(received, offset) << "an acknowledged piece was lost";
            carried_on_ += answer->status == 409 ? 1 : 0;
            offset = received;
        }
        return !upload.empty() && offset == photo.size();
    }

    std::string order_, id_;
    int in_job_ = 0, begun_ = 0;
    std::minstd_rand random_;
    std::mutex mutex_;
    std::vector<std::pair<std::string, std::string>> whole_;
    std::atomic<int> carried_on_{0};
};

TEST(BayKillTest, NothingAcknowledgedIsLostHoweverOftenTheServerIsKilled) {
    constexpr unsigned seed = 20260308;
    const int kills = test::kills_asked(200);
    std::mt19937 random(seed);
    std::uniform_int_distribution<int> moment_ms(20, 110);
    const Scratch scratch;
    const fs::path jobs = scratch.folder() / "jobs", log = scratch.folder() / "log";
    fs::create_directory(jobs);
    auto server = std::make_unique<BayProcess>(jobs, log);
    const Phone phone(server->port(), server->code());
    phone.token();
    std::vector<std::unique_ptr<Worker>> workers;
    for (const auto* order : {"3001", "3002"}) {
        workers.push_back(std::make_unique<ReadingWriter>(phone, jobs, order));
    }
    for (const auto* order : {"4001", "4002"}) {
        workers.push_back(std::make_unique<PhotoSender>(phone, jobs, order));
    }
    for (auto& worker : workers) {
        worker->start();
    }
    for (int kill = 0; kill < kills && !testing::Test::HasFailure(); ++kill) {
        std::this_thread::sleep_for(milliseconds(moment_ms(random)));
        server->kill();
        for (auto& worker : workers) {
            worker->check();
        }
        server = std::make_unique<BayProcess>(jobs, log, phone.port());
    }
    for (auto& worker : workers) {
        worker->stop();
        worker->check();
    }
    std::cout << "seed " << seed << ": " << kills << " kills; acknowledged";
    for (const auto& worker : workers) {
        std::cout << ' ' << worker->acknowledged();
        EXPECT_GT(worker->acknowledged(), kills / 20) << "hardly worked: shows little";
    }
    std::cout << " (two with readings, two with photos)\n";
}

// The moment between a photo's last byte and its entry in the sheet, which a kill seldom hits.
TEST(BayKillTest, APhotoThatHadArrivedBeforeTheServerEndedIsTakenIntoItsJobAfterwards) {
    const Scratch scratch;
    const fs::path jobs = scratch.folder() / "jobs", log = scratch.folder() / "log";
    fs::create_directory(jobs);
    const BayProcess server(jobs, log);
    const Phone phone(server.port(), server.code());
    for (const bool asked_first : {false, true}) {
        const std::string id = phone.begin_job(asked_first ? "5002" : "5001");
        const std::string photo = "\xff\xd8\xff\xe0 a photo by its first bytes, of " + id;
        const std::string upload = phone.begin_upload(id, photo.size(), "upright");
        const std::string part = upload.substr(upload.rfind('/') + 1) + ".part";
        write_file(jobs / ".bay/incoming" / part, photo);
        const auto told = asked_first ? phone.get(upload) : phone.post_piece(upload, 0, photo);
        EXPECT_EQ(nlohmann::json::parse(told->body).at("received"), photo.size());
        ASSERT_EQ(sheet_of(jobs / id).sightings.back().photos.size(), 1u);
        EXPECT_EQ(read_file(jobs / id / "photos/1-as-found-1.jpg", 1 << 20), photo);
        EXPECT_EQ(phone.post_piece(upload, 0, photo)->status, 409);
        EXPECT_EQ(sheet_of(jobs / id).sightings.back().photos.size(), 1u);
    }
}

}  // namespace
}  // namespace squaresight::bay
