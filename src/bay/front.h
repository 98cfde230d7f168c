#pragma once

#include <chrono>
#include <filesystem>
#include <list>
#include <memory>
#include <mutex>

#include "bay/front_limits.h"
#include "bay/http.h"

struct ssl_ctx_st;

namespace squaresight::bay {

/// Certificate and key (PEM files) of a TLS server; InputError where they do not fit.
std::shared_ptr<ssl_ctx_st> load_tls(const std::filesystem::path& certificate,
                                     const std::filesystem::path& key);

/// A server whose connections carry one request each (a second one hidden in the first is never
/// read), with a head that has a single reading (bay/head.h), within limits of time and size. When
/// all places are taken the oldest connection that is not yet known to belong gives way to a new
/// one.
class Front : public httplib::Server {
  public:
    /// Without TLS where `tls` is null.
    explicit Front(FrontLimits limits, std::shared_ptr<ssl_ctx_st> tls = nullptr);

    /// Lets this many connections wait to be accepted; once bound.
    void widen_queue(int connections);

    /// Of the request that this thread serves: its sender belongs, so it is no longer in the way,
    /// and has this long from now on.
    static void keep_connection(std::chrono::milliseconds time);

    class Connection;

  private:
    bool process_and_close_socket(socket_t socket) override;
    /// Takes a place; false where the newcomer itself has to give way.
    bool enter(Connection& connection);
    void leave(Connection& connection);

    FrontLimits limits_;
    std::shared_ptr<ssl_ctx_st> tls_;
    std::mutex mutex_;
    std::list<Connection*> connections_;  ///< in the order they were accepted
};

}  // namespace squaresight::bay
