#include "bay/exchange.h"

#include "bay/job_store.h"
#include "bay/phrases.h"

namespace squaresight::bay {

Language language_of(const Request& request) {
    return chosen_language(request.get_header_value("Accept-Language"));
}

std::string cookie_of(const Request& request, const char* name) {
    const std::string all = "; " + request.get_header_value("Cookie");
    const std::string start = std::string("; ") + name + "=";
    const auto at = all.find(start);
    if (at == std::string::npos) {
        return "";
    }
    const auto begin = at + start.size();
    return all.substr(begin, all.find(';', begin) - begin);
}

bool begins_with(const std::string& text, const std::string& start) {
    return text.compare(0, start.size(), start) == 0;
}

bool ends_with(const std::string& text, const std::string& end) {
    return text.size() >= end.size() &&
           text.compare(text.size() - end.size(), end.size(), end) == 0;
}

void send_page(Response& response, int status, const std::string& html) {
    response.status = status;
    response.set_content(html, "text/html; charset=utf-8");
}

void send_json(Response& response, int status, const nlohmann::json& json) {
    response.status = status;
    response.set_content(json.dump(), "application/json");
}

void go_to(Response& response, const std::string& address) { response.set_redirect(address, 303); }

Phrase told(const InputError& error, Language language) {
    return translated(without_folders(error.what()), language);
}

std::string way_back(const Request& request) {
    const std::string job = "/job/";
    return begins_with(request.path, job)
               ? request.path.substr(0, request.path.find('/', job.size()))
               : "/";
}

void refuse(const Request& request, Response& response, int status, const char* message_key) {
    const Language language = language_of(request);
    Notice notice;
    notice.words = message(language, message_key);
    notice.address = status == 421 ? "" : status == 404 ? "/" : way_back(request);
    send_page(response, status, notice_page(language, notice));
}

std::string job_pattern(const std::string& rest) { return "/job/([A-Za-z0-9._-]+)" + rest; }

std::filesystem::path existing(const std::filesystem::path& file) {
    if (!std::filesystem::is_regular_file(std::filesystem::symlink_status(file))) {
        throw NoSuchJob();
    }
    return file;
}

bool is_own_form(const Session& session, const std::string& token) {
    return !session.form_token.empty() && token == session.form_token;
}

}  // namespace squaresight::bay
