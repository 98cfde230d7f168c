#pragma once
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/x509.h>

#include <chrono>
#include <cstdio>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "bay/server.h"
#include "support/bay_phone.h"
#include "support/scratch.h"
#include "units/files.h"

/// A server of the bay page inside a test.
namespace squaresight::bay {

inline const std::filesystem::path samples =
    std::filesystem::path(SQUARESIGHT_SOURCE_DIR) / "samples";

/// A certificate that its own key signed, and that key.
inline void write_certificate(const std::filesystem::path& certificate,
                              const std::filesystem::path& key_file) {
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

/// A day on which the sample photos are new.
inline constexpr const char* day_of_samples = "2026-03-05";

/// A server over an empty folder of jobs, with the sample shop; its clock began at noon of
/// `day_of_samples`.
class RunningBay {
  public:
    explicit RunningBay(FrontLimits limits = {}, Confines confines = {}, bool tls = false,
                        const std::vector<std::string>& names = {},
                        const std::function<void(ServerSettings&)>& adapt = {}) {
        std::filesystem::create_directory(jobs());
        ServerSettings settings;
        settings.clock = [start = std::chrono::system_clock::now()] {
            using namespace std::chrono;
            constexpr sys_days day = 2026y / March / 5;
            return day + 12h + (system_clock::now() - start);
        };
        settings.jobs = jobs();
        settings.shop_file = samples / "shop.yaml";
        settings.program = SQUARESIGHT_BINARY;
        settings.limits = limits;
        settings.names = names;
        settings.records = records();
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
        if (adapt) {
            adapt(settings);
        }
        server_ = std::make_unique<BayServer>(settings);
        thread_ = std::thread([this] { server_->run(); });
    }
    ~RunningBay() {
        server_->stop();
        thread_.join();
    }

    std::filesystem::path records() const { return scratch_.folder() / "records.sqlite"; }
    std::filesystem::path jobs() const { return scratch_.folder() / "jobs"; }
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
        std::filesystem::create_directory(jobs() / name);
        std::string text = read_file(samples / "jobs" / name / "job.yaml", 1 << 20);
        for (const auto* part : {"../../../", "../../"}) {
            const auto root = part == std::string("../../") ? samples : samples.parent_path();
            for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at)) {
                text.replace(at, std::string(part).size(), root.string() + "/");
            }
        }
        write_file(jobs() / name / "job.yaml", text);
        std::filesystem::copy(samples / "jobs" / name / "photos", jobs() / name / "photos");
    }

  private:
    Scratch scratch_;
    std::mutex mutex_;
    std::string log_;
    std::unique_ptr<BayServer> server_;
    std::thread thread_;
};

/// Entries of a form that begins a job.
inline Phone::Fields new_job() {
    return {{"job", "2001"},
            {"vehicle", "unit 9"},
            {"technician", "T3"},
            {"distance.mm", "4995"},
            {"bay", "main bay"}};
}

}  // namespace squaresight::bay
