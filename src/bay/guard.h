#pragma once
#include <chrono>
#include <deque>
#include <filesystem>
#include <functional>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

namespace squaresight::bay {

/// technician: works on jobs. reviewer: reads. shop: works on jobs, and pairs devices.
enum class Role { technician, reviewer, shop };

const char* role_name(Role role);
std::optional<Role> role_of(const std::string& name);

/// A device that was let in.
struct Session {
    Role role = Role::reviewer;
    std::string form_token;  ///< every form carries it (against forged requests)

    bool may_work() const { return role != Role::reviewer; }
    bool may_pair() const { return role == Role::shop; }
};

enum class Pairing { done, wrong_code, too_many_tries };

struct Paired {
    Pairing outcome = Pairing::wrong_code;
    std::string token;  ///< for the device's cookie
};

/// Knows who may: pairing codes that are used once and expire, and the sessions that came of them.
/// Sessions outlive the program in a file that holds no token, only its hash.
class Guard {
  public:
    using Clock = std::function<std::chrono::system_clock::time_point()>;
    static constexpr std::chrono::minutes code_life{10};
    static constexpr std::chrono::hours session_life{16};
    /// Wrong codes within a minute: from one address, from all together.
    static constexpr std::size_t tries_of_one = 5;
    static constexpr std::size_t tries_of_all = 30;

    explicit Guard(std::filesystem::path sessions_file,
                   Clock clock = std::chrono::system_clock::now);

    /// A new code such as "K7QM-2XHD".
    std::string new_code(Role role);
    /// InputError where the session cannot be kept on disk; the code then stays.
    Paired pair(const std::string& code, const std::string& address);
    std::optional<Session> session(const std::string& token) const;
    void end(const std::string& token);

  private:
    struct Code {
        Role role;
        std::chrono::system_clock::time_point until;
    };
    struct Kept {
        Role role;
        std::chrono::system_clock::time_point until;
    };
    void forget_old();
    bool too_many(const std::string& address) const;
    void save(const std::map<std::string, Kept>& sessions) const;
    void load();

    std::filesystem::path file_;
    Clock clock_;
    mutable std::mutex mutex_;
    std::map<std::string, Code> codes_;
    std::map<std::string, Kept> sessions_;  ///< by the token's hash
    std::deque<std::pair<std::chrono::system_clock::time_point, std::string>> wrong_;
};

/// So many random bytes from the system, as letters and digits of `alphabet` (up to 256 of them).
std::string random_text(std::size_t count, const std::string& alphabet);

/// Whether a request's Host may be served: an address in numbers, localhost, or one of the names
/// that were given (a page elsewhere can point a name of its own here, but no number).
bool is_known_host(const std::string& host, const std::vector<std::string>& names);

}  // namespace squaresight::bay
