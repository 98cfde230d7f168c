#pragma once
#include <arpa/inet.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <cstdint>
#include <limits>
#include <list>
#include <stdexcept>
#include <thread>

namespace squaresight::test {

/// A way to a server of this computer, by a port of its own, that can be made to break.
class BreakableNetwork {
  public:
    explicit BreakableNetwork(int to_port) : to_port_(to_port), listening_(new_socket()) {
        sockaddr_in own = address(0);
        socklen_t size = sizeof own;
        if (::bind(listening_, reinterpret_cast<sockaddr*>(&own), size) != 0 ||
            ::listen(listening_, 64) != 0 ||
            ::getsockname(listening_, reinterpret_cast<sockaddr*>(&own), &size) != 0) {
            throw std::runtime_error("no port to listen on");
        }
        port_ = ntohs(own.sin_port);
        accepting_ = std::thread([this] { accept_all(); });
    }
    ~BreakableNetwork() {
        ending_ = true;
        ::shutdown(listening_, SHUT_RDWR);
        accepting_.join();
        for (auto& one : relays_) {
            one.join();
        }
        ::close(listening_);
    }
    BreakableNetwork(const BreakableNetwork&) = delete;
    BreakableNetwork& operator=(const BreakableNetwork&) = delete;

    int port() const { return port_; }
    /// From now on: after this many bytes to the server every connection ends, and none is made.
    void break_after(std::int64_t bytes) { left_bytes_ = bytes; }
    bool is_broken() const { return left_bytes_ <= 0; }
    void mend() { left_bytes_ = std::numeric_limits<std::int64_t>::max(); }

  private:
    static int new_socket() { return ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0); }
    static sockaddr_in address(int port) {
        sockaddr_in one{};
        one.sin_family = AF_INET;
        one.sin_port = htons(static_cast<std::uint16_t>(port));
        one.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        return one;
    }
    void accept_all() {
        while (!ending_) {
            const int one = ::accept4(listening_, nullptr, nullptr, SOCK_CLOEXEC);
            if (one >= 0 && is_broken()) {
                ::close(one);
            } else if (one >= 0) {
                relays_.emplace_back([this, one] { relay(one); });
            }
        }
    }
    void relay(int client) {
        const int server = new_socket();
        const sockaddr_in to = address(to_port_);
        if (::connect(server, reinterpret_cast<const sockaddr*>(&to), sizeof to) == 0) {
            pass(client, server);
        }
        ::close(server);
        ::close(client);
    }
    /// Until either side ends.
    void pass(int client, int server) {
        std::array<pollfd, 2> both{{{client, POLLIN, 0}, {server, POLLIN, 0}}};
        std::array<char, 16384> buffer{};
        while (!ending_ && !is_broken()) {
            if (::poll(both.data(), both.size(), 50) <= 0) {
                continue;
            }
            for (const auto& from : both) {
                if (from.revents == 0) {
                    continue;
                }
                const int to = from.fd == client ? server : client;
                const auto got = ::recv(from.fd, buffer.data(), buffer.size(), 0);
                if (got <= 0 ||
                    ::send(to, buffer.data(), static_cast<std::size_t>(got), MSG_NOSIGNAL) != got) {
                    return;
                }
                if (to == server) {
                    left_bytes_ -= got;
                }
            }
        }
    }

    int to_port_, listening_, port_ = 0;
    std::atomic<std::int64_t> left_bytes_{std::numeric_limits<std::int64_t>::max()};
    std::atomic<bool> ending_{false};
    std::list<std::thread> relays_;
    std::thread accepting_;
};

}  // namespace squaresight::test
