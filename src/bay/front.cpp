#include "bay/front.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <openssl/err.h>
#include <openssl/ssl.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <cstdint>
#include <functional>
#include <utility>

#include "bay/head.h"
#include "units/error.h"

namespace squaresight::bay {
namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

/// Threads beyond the places, for connections that are just giving way.
constexpr std::size_t spare_threads = 16;

constexpr std::string_view head_end = "\r\n\r\n";
/// Answers to a head that is never read further.
constexpr std::string_view refused_head =
    "HTTP/1.1 400 Bad Request\r\nConnection: close\r\nContent-Length: 0\r\n\r\n";
constexpr std::string_view large_head =
    "HTTP/1.1 431 Request Header Fields Too Large\r\nConnection: close\r\n"
    "Content-Length: 0\r\n\r\n";

thread_local Front::Connection* current = nullptr;
/// Of the connection that this thread serves: how many were accepted before it.
thread_local std::uint64_t arrival = 0;

/// Threads that know in which order their connections were accepted, whichever runs first.
class InOrder : public httplib::ThreadPool {
  public:
    using ThreadPool::ThreadPool;
    void enqueue(std::function<void()> serve) override {
        ThreadPool::enqueue([number = accepted_++, serve = std::move(serve)] {
            arrival = number;
            serve();
        });
    }

  private:
    std::uint64_t accepted_ = 0;
};

void remote_of(int socket, std::string& address, int& port) {
    sockaddr_storage name{};
    socklen_t size = sizeof(name);
    std::array<char, INET6_ADDRSTRLEN> text{};
    if (::getpeername(socket, reinterpret_cast<sockaddr*>(&name), &size) != 0) {
        return;
    }
    if (name.ss_family == AF_INET) {
        const auto& v4 = reinterpret_cast<const sockaddr_in&>(name);
        ::inet_ntop(AF_INET, &v4.sin_addr, text.data(), text.size());
        port = ntohs(v4.sin_port);
    } else if (name.ss_family == AF_INET6) {
        const auto& v6 = reinterpret_cast<const sockaddr_in6&>(name);
        ::inet_ntop(AF_INET6, &v6.sin6_addr, text.data(), text.size());
        port = ntohs(v6.sin6_port);
    }
    address = text.data();
}

}  // namespace

/// One accepted socket as httplib's stream, in clear or under TLS.
class Front::Connection : public httplib::Stream {
  public:
    Connection(int socket, const FrontLimits& limits, SSL_CTX* tls)
        : limits_(limits), socket_(socket), deadline_(Clock::now() + limits.head) {
        ::fcntl(socket_, F_SETFL, ::fcntl(socket_, F_GETFL) | O_NONBLOCK);
        if (tls != nullptr) {
            ssl_.reset(SSL_new(tls));
            SSL_set_fd(ssl_.get(), socket_);
        }
    }

    ~Connection() override {
        if (ssl_) {
            SSL_shutdown(ssl_.get());
        }
        ::shutdown(socket_, SHUT_WR);
        drain();
        ::close(socket_);
    }

    /// True without TLS, else whether the handshake succeeded.
    bool greet() {
        return !ssl_ || attempt([this] { return SSL_accept(ssl_.get()); }) > 0;
    }

    /// May be called by another thread: makes the owner's next read or write fail.
    void give_way() {
        gave_way_ = true;
        ::shutdown(socket_, SHUT_RDWR);
    }

    void keep(milliseconds time) {
        kept_ = true;
        deadline_ = Clock::now() + time;
    }

    /// Waits for the whole head. Where it may not go on its sender is told, if there is still one.
    /// Ranges are not served: pages are short, and many ranges of one picture would be long.
    bool take_head() {
        for (;;) {
            const auto end = waiting_.find(head_end);
            const auto head = std::string_view(waiting_).substr(
                0, end == std::string::npos ? end : end + head_end.size());
            if (head.size() > limits_.head_bytes) {
                return refuse(large_head);
            }
            if (has_bare_line_end(head)) {
                return refuse(refused_head);
            }
            if (end != std::string::npos) {
                return is_plain_head(head) ? begin_body(head) : refuse(refused_head);
            }
            if (receive_more() <= 0) {
                return false;
            }
        }
    }
    std::uint64_t arrived() const { return arrived_; }
    bool kept() const { return kept_; }
    bool gave_way() const { return gave_way_; }

    bool is_readable() const override { return begin_ < waiting_.size() || wait(POLLIN); }
    bool is_writable() const override { return wait(POLLOUT); }

    ssize_t read(char* bytes, std::size_t size) override {
        if (begin_ == waiting_.size()) {
            waiting_.clear();
            begin_ = 0;
            const ssize_t got = receive_more();
            if (got <= 0) {
                return got;
            }
        }
        const std::size_t count = std::min(size, waiting_.size() - begin_);
        std::copy_n(waiting_.data() + begin_, count, bytes);
        begin_ += count;
        return static_cast<ssize_t>(count);
    }

    ssize_t write(const char* bytes, std::size_t size) override {
        if (ssl_) {
            return attempt([&] {
                return SSL_write(ssl_.get(), bytes,
                                 static_cast<int>(std::min<std::size_t>(size, 1 << 20)));
            });
        }
        for (;;) {
            const ssize_t sent = ::send(socket_, bytes, size, MSG_NOSIGNAL);
            if (sent >= 0 || !is_pause() || !wait(POLLOUT)) {
                return sent;
            }
        }
    }

    void get_remote_ip_and_port(std::string& address, int& port) const override {
        remote_of(socket_, address, port);
    }
    void get_local_ip_and_port(std::string&, int&) const override {}
    socket_t socket() const override { return socket_; }

  private:
    struct FreeSsl {
        void operator()(SSL* ssl) const { SSL_free(ssl); }
    };

    static bool is_pause() { return errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR; }

    bool wait(short what) const {
        const auto left = std::min(
            std::chrono::duration_cast<milliseconds>(deadline_ - Clock::now()), limits_.idle);
        pollfd one{socket_, what, 0};
        return left.count() > 0 && ::poll(&one, 1, static_cast<int>(left.count())) > 0 &&
               !gave_way_;
    }

    ssize_t receive(char* bytes, std::size_t size) {
        if (ssl_) {
            return attempt([&] { return SSL_read(ssl_.get(), bytes, static_cast<int>(size)); });
        }
        for (;;) {
            const ssize_t got = ::recv(socket_, bytes, size, 0);
            if (got >= 0 || !is_pause() || !wait(POLLIN)) {
                return got;
            }
        }
    }

    /// Adds what arrives to what waits; as `receive` returns.
    ssize_t receive_more() {
        std::array<char, 16384> buffer;
        const ssize_t got = receive(buffer.data(), buffer.size());
        if (got > 0) {
            waiting_.append(buffer.data(), static_cast<std::size_t>(got));
        }
        return got;
    }

    bool begin_body(std::string_view head) {
        waiting_ = without_field(head, "range") + waiting_.substr(head.size());
        deadline_ = Clock::now() + limits_.body;
        return true;
    }

    bool refuse(std::string_view answer) {
        write(answer.data(), answer.size());
        return false;
    }

    template <class Action>
    ssize_t attempt(const Action& action) {
        for (;;) {
            ERR_clear_error();
            const int done = action();
            if (done > 0) {
                return done;
            }
            const int why = SSL_get_error(ssl_.get(), done);
            const bool readable = why == SSL_ERROR_WANT_READ;
            if ((!readable && why != SSL_ERROR_WANT_WRITE) || !wait(readable ? POLLIN : POLLOUT)) {
                return why == SSL_ERROR_ZERO_RETURN ? 0 : -1;
            }
        }
    }

    /// What was sent beyond the answer is read for a moment, so that closing does not take the
    /// answer away from its reader.
    void drain() const {
        std::array<char, 16384> ignored{};
        const auto end = Clock::now() + milliseconds(gave_way_ ? 0 : 500);
        while (Clock::now() < end) {
            const ssize_t got = ::recv(socket_, ignored.data(), ignored.size(), 0);
            if (got == 0 || (got < 0 && !is_pause())) {
                return;
            }
            pollfd one{socket_, POLLIN, 0};
            if (got < 0 && ::poll(&one, 1, 100) <= 0) {
                return;
            }
        }
    }

    const FrontLimits& limits_;
    int socket_;
    std::uint64_t arrived_ = arrival;
    std::unique_ptr<SSL, FreeSsl> ssl_;
    Clock::time_point deadline_;
    std::string waiting_;  ///< received; read from begin_ on
    std::size_t begin_ = 0;
    std::atomic<bool> kept_{false};
    std::atomic<bool> gave_way_{false};
};

std::shared_ptr<ssl_ctx_st> load_tls(const std::filesystem::path& certificate,
                                     const std::filesystem::path& key) {
    std::shared_ptr<SSL_CTX> tls(SSL_CTX_new(TLS_server_method()), SSL_CTX_free);
    SSL_CTX_set_min_proto_version(tls.get(), TLS1_2_VERSION);
    SSL_CTX_set_mode(tls.get(),
                     SSL_MODE_ENABLE_PARTIAL_WRITE | SSL_MODE_ACCEPT_MOVING_WRITE_BUFFER);
    if (SSL_CTX_use_certificate_chain_file(tls.get(), certificate.c_str()) != 1) {
        throw InputError(certificate.string(), "holds no certificate that can be used",
                         "give a PEM file");
    }
    if (SSL_CTX_use_PrivateKey_file(tls.get(), key.c_str(), SSL_FILETYPE_PEM) != 1 ||
        SSL_CTX_check_private_key(tls.get()) != 1) {
        throw InputError(key.string(), "holds no key that fits the certificate",
                         "give the PEM file of its private key");
    }
    return tls;
}

Front::Front(FrontLimits limits, std::shared_ptr<ssl_ctx_st> tls)
    : limits_(limits), tls_(std::move(tls)) {
    set_keep_alive_max_count(1);
    new_task_queue = [threads = limits.connections + spare_threads] {
        return new InOrder(threads);
    };
}

void Front::widen_queue(int connections) { ::listen(svr_sock_, connections); }

void Front::keep_connection(milliseconds time) {
    if (current != nullptr) {
        current->keep(time);
    }
}

bool Front::enter(Connection& connection) {
    const std::lock_guard lock(mutex_);
    connections_.insert(std::upper_bound(connections_.begin(), connections_.end(), &connection,
                                         [](const Connection* one, const Connection* other) {
                                             return one->arrived() < other->arrived();
                                         }),
                        &connection);
    const auto serving = std::count_if(connections_.begin(), connections_.end(),
                                       [](const Connection* one) { return !one->gave_way(); });
    if (static_cast<std::size_t>(serving) > limits_.connections) {
        // The newcomer is one of these.
        (*std::find_if(connections_.begin(), connections_.end(), [](const Connection* one) {
            return !one->kept() && !one->gave_way();
        }))->give_way();
    }
    return !connection.gave_way();
}

void Front::leave(Connection& connection) {
    const std::lock_guard lock(mutex_);
    connections_.remove(&connection);
}

bool Front::process_and_close_socket(socket_t socket) {
    Connection connection(socket, limits_, tls_.get());
    current = &connection;
    bool closed = false;
    const bool served = enter(connection) && connection.greet() && connection.take_head() &&
                        process_request(connection, true, closed, nullptr);
    current = nullptr;
    leave(connection);
    return served;
}

}  // namespace squaresight::bay
