#include <fmt/format.h>
#include <sys/socket.h>

#include <optional>

#include "bay/site.h"

namespace squaresight::bay {
namespace {

constexpr std::size_t longest_target = 400;
constexpr std::uint64_t largest_form_bytes = 64 << 10;
constexpr std::uint64_t largest_upload_bytes = largest_photo_bytes + (64 << 10);
constexpr const char* page_policy =
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

/// The announced length of a body; nothing where the head leaves it open to more than one reading.
std::optional<std::uint64_t> body_length(const Request& request) {
    const std::string text = request.get_header_value("Content-Length");
    const bool plain = !text.empty() && text.size() < 12 &&
                       text.find_first_not_of("0123456789") == std::string::npos;
    if (!plain || request.get_header_value_count("Content-Length") != 1) {
        return std::nullopt;
    }
    return std::stoull(text);
}

std::uint64_t largest_body(const Request& request) {
    if (begins_with(request.path, "/job/") && ends_with(request.path, "/photos")) {
        return largest_upload_bytes;
    }
    return request.path.find("/upload/") != std::string::npos ? largest_piece_bytes
                                                              : largest_form_bytes;
}

/// A status where the head of a request is not one that this page is asked with; else 0.
int refused_head(const Request& request) {
    if (request.method != "GET" && request.method != "POST") {
        return 405;
    }
    if (request.target.size() > longest_target) {
        return 414;
    }
    if (request.has_header("Transfer-Encoding") || request.has_header("Content-Encoding") ||
        request.get_header_value_count("Host") != 1) {
        return 400;
    }
    if (request.method == "GET") {
        return request.has_header("Content-Length") && body_length(request) != 0u ? 400 : 0;
    }
    const auto length = body_length(request);
    return !length ? 411 : *length > largest_body(request) ? 413 : 0;
}

/// What every page links to: the same bytes for everybody.
bool is_part_of_every_page(const std::string& path) {
    return path == "/style.css" || path == "/bay.js" || path == "/icon.svg" ||
           path == "/favicon.ico";
}

bool is_open(const std::string& path) { return path == "/pair" || is_part_of_every_page(path); }

bool may_go_on(Site& site, const Request& request, Response& response) {
    const auto session = site.guard.session(cookie_of(request, session_cookie));
    if (!session) {
        if (request.method == "GET") {
            go_to(response, "/pair");
        } else {
            refuse(request, response, 403, "forged");
        }
        return false;
    }
    Front::keep_connection(ends_with(request.path, "/photos") ? site.settings.limits.upload
                                                              : site.settings.limits.page);
    const bool shop_only = begins_with(request.path, "/shop");
    const bool changes = request.method == "POST" && request.path != "/leave";
    const bool signs = ends_with(request.path, "/review");
    const bool may_change = signs ? session->role == Role::reviewer : session->may_work();
    if ((shop_only && !session->may_pair()) || (changes && !may_change) ||
        (signs && session->role == Role::technician)) {
        refuse(request, response, 403, "forbidden");
        return false;
    }
    return true;
}

/// Whether a request goes on to its page; otherwise it is answered here, before its body is
/// read.
bool at_the_door(Site& site, const Request& request, Response& response) {
    const int wrong = refused_head(request);
    if (wrong != 0) {
        refuse(request, response, wrong, wrong == 413 ? "too_large" : "not_understood");
        return false;
    }
    if (request.method == "GET" && is_part_of_every_page(request.path)) {
        return true;  // under any name: the page that refuses a name has its style, too
    }
    const std::string host = request.get_header_value("Host");
    if (!is_known_host(host, site.settings.names)) {
        refuse(request, response, 421, "wrong_name");
        return false;
    }
    if (request.method == "POST" && (request.get_header_value_count("Origin") != 1 ||
                                     request.get_header_value("Origin") != site.scheme() + host)) {
        refuse(request, response, 403, "forged");
        return false;
    }
    return is_open(request.path) || may_go_on(site, request, response);
}

void add_headers(const Site& site, Response& response) {
    if (!response.has_header("Content-Security-Policy")) {
        response.set_header("Content-Security-Policy", page_policy);
    }
    response.set_header("X-Content-Type-Options", "nosniff");
    response.set_header("X-Frame-Options", "DENY");
    response.set_header("Referrer-Policy", "same-origin");
    response.set_header("Cross-Origin-Opener-Policy", "same-origin");
    response.set_header("Cross-Origin-Resource-Policy", "same-origin");
    response.set_header("Cache-Control", "no-store");
    if (site.is_tls()) {
        response.set_header("Strict-Transport-Security", "max-age=31536000");
    }
}

void refuse_stale(const Request& request, Response& response) {
    const Language language = language_of(request);
    send_page(response, 409,
              notice_page(language,
                          {"stale_title", message(language, "stale_look"), "", way_back(request)}));
}

void refuse_entry(const Request& request, Response& response, const std::string& words) {
    send_page(response, 422,
              notice_page(language_of(request), {"refused_title", words, "", way_back(request)}));
}

/// Back to all jobs: that of this one may show the same.
void tell_of_file(const Request& request, Response& response, const InputError& error) {
    const Language language = language_of(request);
    send_page(response, 422,
              notice_page(language,
                          {"refused_title", message(language, "file_trouble"), error.what(), "/"}));
}

/// What went wrong, as a page: nothing of the inside is told where nobody can use it.
void tell(const Site& site, const Request& request, Response& response,
          const std::exception_ptr& error) {
    const Language language = language_of(request);
    try {
        std::rethrow_exception(error);
    } catch (const NoSuchJob&) {
        refuse(request, response, 404, "not_found");
    } catch (const StaleSheet&) {
        refuse_stale(request, response);
    } catch (const FormError& wrong) {
        refuse_entry(request, response, problem_words(language, wrong));
    } catch (const PhotoRefused& refused) {
        refuse_entry(request, response, message(language, refused.what()));
    } catch (const InputError& unusable) {
        if (is_open(request.path)) {  // a stranger is told nothing of the disk
            site.settings.log(log_line("failed:", request.method, unusable.what(), 500));
            refuse(request, response, 500, "broken");
            return;
        }
        tell_of_file(request, response, unusable);
    } catch (const std::exception& failed) {
        site.settings.log(log_line("failed:", request.method, failed.what(), 500));
        refuse(request, response, 500, "broken");
    }
}

}  // namespace

std::string log_line(const std::string& address, const std::string& method,
                     const std::string& target, int status) {
    constexpr std::size_t longest = 200;
    std::string line;
    for (const auto* text : {&address, &method, &target}) {
        for (const char c : text->substr(0, longest)) {
            const auto byte = static_cast<unsigned char>(c);
            line += byte > 32 && byte < 127 && c != '\\' ? std::string(1, c)
                                                         : fmt::format("\\x{:02x}", byte);
        }
        line += ' ';
    }
    return line + fmt::format("{}", status);
}

void set_up_door(Site& site) {
    site.front.set_socket_options([](socket_t socket) {
        const int yes = 1;
        ::setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof(yes));
    });
    site.front.set_payload_max_length(largest_upload_bytes);
    site.front.set_pre_routing_handler([&site](const Request& request, Response& response) {
        return at_the_door(site, request, response) ? httplib::Server::HandlerResponse::Unhandled
                                                    : httplib::Server::HandlerResponse::Handled;
    });
    site.front.set_post_routing_handler(
        [&site](const Request&, Response& response) { add_headers(site, response); });
    site.front.set_error_handler([](const Request& request, Response& response) {
        if (response.body.empty()) {
            refuse(request, response, response.status,
                   response.status == 404 ? "not_found" : "not_understood");
        }
    });
    site.front.set_exception_handler(
        [&site](const Request& request, Response& response, const std::exception_ptr& error) {
            tell(site, request, response, error);
        });
    site.front.set_logger([&site](const Request& request, const Response& response) {
        site.settings.log(
            log_line(request.remote_addr, request.method, request.target, response.status));
    });
}

}  // namespace squaresight::bay
