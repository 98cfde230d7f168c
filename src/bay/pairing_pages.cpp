#include <fmt/format.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netdb.h>

#include <array>

#include "bay/assets.h"
#include "bay/site.h"

namespace squaresight::bay {
namespace {

/// This computer's first address in a network (IPv4); empty where it has none.
std::string network_address() {
    ifaddrs* all = nullptr;
    std::string found;
    if (::getifaddrs(&all) != 0) {
        return found;
    }
    for (const ifaddrs* one = all; one != nullptr && found.empty(); one = one->ifa_next) {
        const bool in_use = (one->ifa_flags & IFF_UP) != 0 && (one->ifa_flags & IFF_LOOPBACK) == 0;
        if (in_use && one->ifa_addr != nullptr && one->ifa_addr->sa_family == AF_INET) {
            std::array<char, NI_MAXHOST> text{};
            if (::getnameinfo(one->ifa_addr, sizeof(sockaddr_in), text.data(), text.size(), nullptr,
                              0, NI_NUMERICHOST) == 0) {
                found = text.data();
            }
        }
    }
    ::freeifaddrs(all);
    return found;
}

void pair(Site& site, const Request& request, Response& response) {
    const auto paired = site.guard.pair(request.get_param_value("code"), request.remote_addr);
    if (paired.outcome == Pairing::done) {
        site.set_cookie(response, session_cookie, paired.token);
        go_to(response, "/");
        return;
    }
    const bool many = paired.outcome == Pairing::too_many_tries;
    send_page(response, many ? 429 : 403,
              pair_page(language_of(request), "", many ? "too_many_tries" : "wrong_code"));
}

void add_open_pages(Site& site) {
    site.front.Get("/style.css", [](const Request&, Response& response) {
        response.set_content(style_sheet(), "text/css; charset=utf-8");
    });
    site.front.Get("/bay.js", [](const Request&, Response& response) {
        response.set_content(page_script, "text/javascript; charset=utf-8");
    });
    for (const auto* icon : {"/icon.svg", "/favicon.ico"}) {
        site.front.Get(icon, [](const Request&, Response& response) {
            response.set_content(page_icon, "image/svg+xml");
        });
    }
    site.front.Get("/pair", [](const Request& request, Response& response) {
        send_page(response, 200,
                  pair_page(language_of(request), request.get_param_value("code"), ""));
    });
    site.front.Post("/pair", [&site](const Request& request, Response& response) {
        pair(site, request, response);
    });
    site.post("/leave", [&site](Call& call) {
        site.guard.end(cookie_of(call.request, session_cookie));
        go_to(call.response, "/pair");
    });
}

void add_shop_pages(Site& site) {
    site.get("/shop", [&site](Call& call) {
        send_page(call.response, 200,
                  shop_page(call.viewer, site.shop(), std::nullopt, site.today(),
                            site.live_shop.problem()));
    });
    site.post("/shop/code", [&site](Call& call) {
        const auto role = role_of(call.form.get("role"));
        if (!role) {
            throw FormError("role", "not_offered");
        }
        const std::string address = reachable_address(site, call.request.get_header_value("Host"));
        const ShownCode code{site.guard.new_code(*role), address.empty() ? "" : address + "/pair",
                             *role};
        send_page(
            call.response, 200,
            shop_page(call.viewer, site.shop(), code, site.today(), site.live_shop.problem()));
    });
}

}  // namespace

std::string reachable_address(const Site& site, const std::string& host) {
    const auto is_loopback = [](const std::string& name) {
        return begins_with(name, "127.") || begins_with(name, "localhost") ||
               begins_with(name, "[::1]") || name == "::1";
    };
    if (!site.settings.names.empty()) {
        return site.scheme() + site.settings.names.front() + fmt::format(":{}", site.port);
    }
    if (!is_loopback(host)) {
        return site.scheme() + host;
    }
    const bool any = site.settings.listen == "0.0.0.0" || site.settings.listen == "::";
    const std::string own = any ? network_address() : site.settings.listen;
    return own.empty() || is_loopback(own) ? ""
                                           : site.scheme() + own + fmt::format(":{}", site.port);
}

void add_pairing_pages(Site& site) {
    add_open_pages(site);
    add_shop_pages(site);
}

}  // namespace squaresight::bay
