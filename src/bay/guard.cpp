#include "bay/guard.h"

#include <arpa/inet.h>
#include <sys/random.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <utility>
#include <vector>

#include "photo/photo.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

constexpr std::size_t most_codes = 32;
constexpr std::size_t most_sessions = 500;
constexpr std::size_t code_letters = 8;
/// Without letters and digits that look alike.
const std::string code_alphabet = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789";
const std::string token_alphabet =
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
constexpr std::array<std::pair<Role, const char*>, 3> role_names{
    {{Role::technician, "technician"}, {Role::reviewer, "reviewer"}, {Role::shop, "shop"}}};

/// As it was shown, whatever case, blanks and dashes it was typed with.
std::string plain_code(const std::string& typed) {
    std::string code;
    for (const char c : typed.substr(0, 64)) {
        if (std::isalnum(static_cast<unsigned char>(c)) != 0) {
            code += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
        }
    }
    return code;
}

template <class Map>
void forget_expired(Map& map, std::chrono::system_clock::time_point now) {
    std::erase_if(map, [&](const auto& entry) { return entry.second.until <= now; });
}

template <class Map>
void keep_newest(Map& map, std::size_t most) {
    while (map.size() >= most) {
        map.erase(std::min_element(map.begin(), map.end(), [](const auto& a, const auto& b) {
            return a.second.until < b.second.until;
        }));
    }
}

long long seconds_of(std::chrono::system_clock::time_point time) {
    return std::chrono::duration_cast<std::chrono::seconds>(time.time_since_epoch()).count();
}

/// The host without its port; an IPv6 address without its brackets.
std::string bare_host(const std::string& host) {
    if (!host.empty() && host[0] == '[') {
        const auto end = host.find(']');
        return end == std::string::npos ? "" : host.substr(1, end - 1);
    }
    return host.substr(0, host.find(':'));
}

bool is_address(const std::string& text) {
    std::array<unsigned char, sizeof(in6_addr)> ignored{};
    return ::inet_pton(AF_INET, text.c_str(), ignored.data()) == 1 ||
           ::inet_pton(AF_INET6, text.c_str(), ignored.data()) == 1;
}

}  // namespace

const char* role_name(Role role) { return role_names.at(static_cast<std::size_t>(role)).second; }

std::optional<Role> role_of(const std::string& name) {
    for (const auto& [role, text] : role_names) {
        if (name == text) {
            return role;
        }
    }
    return std::nullopt;
}

std::string random_text(std::size_t count, const std::string& alphabet) {
    std::string text;
    const std::size_t fair = 256 - 256 % alphabet.size();
    while (text.size() < count) {
        unsigned char byte = 0;
        if (::getrandom(&byte, 1, 0) != 1) {
            throw std::runtime_error("the system gives no random numbers");
        }
        if (byte < fair) {
            text += alphabet[byte % alphabet.size()];
        }
    }
    return text;
}

Guard::Guard(std::filesystem::path sessions_file, Clock clock)
    : file_(std::move(sessions_file)), clock_(std::move(clock)) {
    load();
}

void Guard::forget_old() {
    const auto now = clock_();
    forget_expired(codes_, now);
    forget_expired(sessions_, now);
    while (!wrong_.empty() && wrong_.front().first + std::chrono::minutes(1) <= now) {
        wrong_.pop_front();
    }
}

std::string Guard::new_code(Role role) {
    const std::lock_guard lock(mutex_);
    forget_old();
    keep_newest(codes_, most_codes);
    const std::string code = random_text(code_letters, code_alphabet);
    codes_[code] = {role, clock_() + code_life};
    return code.substr(0, code_letters / 2) + "-" + code.substr(code_letters / 2);
}

bool Guard::too_many(const std::string& address) const {
    const auto own = std::count_if(wrong_.begin(), wrong_.end(),
                                   [&](const auto& one) { return one.second == address; });
    return static_cast<std::size_t>(own) >= tries_of_one || wrong_.size() >= tries_of_all;
}

Paired Guard::pair(const std::string& code, const std::string& address) {
    const std::lock_guard lock(mutex_);
    forget_old();
    if (too_many(address)) {
        return {Pairing::too_many_tries, ""};
    }
    const auto found = codes_.find(plain_code(code));
    if (found == codes_.end()) {
        wrong_.emplace_back(clock_(), address);
        return {Pairing::wrong_code, ""};
    }
    const std::string token = random_text(43, token_alphabet);
    auto sessions = sessions_;
    keep_newest(sessions, most_sessions);
    sessions[sha256_hex(token)] = {found->second.role, clock_() + session_life};
    save(sessions);
    sessions_ = std::move(sessions);
    codes_.erase(found);
    return {Pairing::done, token};
}

std::optional<Session> Guard::session(const std::string& token) const {
    const std::lock_guard lock(mutex_);
    const auto found = token.empty() ? sessions_.end() : sessions_.find(sha256_hex(token));
    if (found == sessions_.end() || found->second.until <= clock_()) {
        return std::nullopt;
    }
    return Session{found->second.role, sha256_hex("form " + token).substr(0, 40)};
}

void Guard::end(const std::string& token) {
    const std::lock_guard lock(mutex_);
    if (sessions_.erase(sha256_hex(token)) > 0) {
        save(sessions_);
    }
}

void Guard::save(const std::map<std::string, Kept>& sessions) const {
    nlohmann::json list = nlohmann::json::array();
    for (const auto& [hash, kept] : sessions) {
        list.push_back(
            {{"sha256", hash}, {"role", role_name(kept.role)}, {"until", seconds_of(kept.until)}});
    }
    write_file(file_, list.dump(1) + "\n");
}

/// A file that cannot be read lets nobody in.
void Guard::load() {
    if (!std::filesystem::exists(file_)) {
        return;
    }
    const auto list = nlohmann::json::parse(read_file(file_, 1 << 20), nullptr, false);
    for (const auto& one : list.is_array() ? list : nlohmann::json::array()) {
        const auto role = role_of(one.value("role", ""));
        if (role) {
            sessions_[one.value("sha256", "")] = {
                *role, std::chrono::system_clock::time_point(
                           std::chrono::seconds(one.value("until", 0LL)))};
        }
    }
}

bool is_known_host(const std::string& host, const std::vector<std::string>& names) {
    const std::string bare = bare_host(host);
    return is_address(bare) || bare == "localhost" ||
           std::find(names.begin(), names.end(), bare) != names.end();
}

}  // namespace squaresight::bay
