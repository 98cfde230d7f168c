#include "bay/server.h"

#include <fmt/format.h>

#include <utility>

#include "bay/site.h"
#include "units/error.h"

namespace squaresight::bay {
namespace {

constexpr int waiting_connections = 256;

void bind(Site& site) {
    if (site.settings.port == 0) {
        site.port = site.front.bind_to_any_port(site.settings.listen);
    } else {
        site.port = site.front.bind_to_port(site.settings.listen, site.settings.port)
                        ? site.settings.port
                        : -1;
    }
    if (site.port <= 0) {
        throw InputError(fmt::format("{}:{}", site.settings.listen, site.settings.port),
                         "cannot be listened on",
                         "is it taken by another program, or no address of this computer?");
    }
    site.front.widen_queue(waiting_connections);
}

}  // namespace

BayServer::BayServer(ServerSettings settings) : site_(std::make_unique<Site>(std::move(settings))) {
    set_up_door(*site_);
    add_pairing_pages(*site_);
    add_job_pages(*site_);
    add_notes_pages(*site_);
    add_new_job_pages(*site_);
    add_step_pages(*site_);
    add_photo_pages(*site_);
    add_review_pages(*site_);
    bind(*site_);
}
BayServer::~BayServer() = default;

int BayServer::port() const { return site_->port; }

std::string BayServer::address() const {
    const bool any = site_->settings.listen == "0.0.0.0" || site_->settings.listen == "::";
    const std::string host = any ? "localhost" : site_->settings.listen;
    const bool v6 = host.find(':') != std::string::npos;
    return site_->scheme() + (v6 ? "[" + host + "]" : host) + fmt::format(":{}", site_->port);
}

std::string BayServer::address_for_others() const { return reachable_address(*site_, "localhost"); }

std::string BayServer::new_code(Role role) { return site_->guard.new_code(role); }
void BayServer::run() { site_->front.listen_after_bind(); }
void BayServer::stop() { site_->front.stop(); }

}  // namespace squaresight::bay
