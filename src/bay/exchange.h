#pragma once
#include <filesystem>
#include <functional>
#include <nlohmann/json.hpp>
#include <string>

#include "bay/form.h"
#include "bay/http.h"
#include "bay/pages.h"
#include "bay/phrases.h"
#include "units/error.h"

/// What the pages share of a request and its answer.
namespace squaresight::bay {

using httplib::Request;
using httplib::Response;

/// A request of someone who may ask.
struct Call {
    const Request& request;
    Response& response;
    Viewer viewer;
    std::string job;  ///< id, checked by the store
    Form form;
};
using Handler = std::function<void(Call&)>;

inline constexpr const char* session_cookie = "squaresight";
/// The report and the floor layout are pages of their own, with a style inside and without script.
inline constexpr const char* report_policy =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; "
    "base-uri 'none'";
/// Of a photo that comes in pieces.
inline constexpr std::uint64_t largest_piece_bytes = 1 << 20;

bool begins_with(const std::string& text, const std::string& start);
bool ends_with(const std::string& text, const std::string& end);

Language language_of(const Request& request);
/// Empty where the request has none of this name.
std::string cookie_of(const Request& request, const char* name);

void send_page(Response& response, int status, const std::string& html);
void send_json(Response& response, int status, const nlohmann::json& json);
void go_to(Response& response, const std::string& address);
/// Where someone goes on whose request failed: the job's page, else the list of jobs.
std::string way_back(const Request& request);
/// A page that says why not, by the key of its words.
void refuse(const Request& request, Response& response, int status, const char* message_key);

/// What an error says, without what it tells of the disk.
Phrase told(const InputError& error, Language language);
/// The same file where it is there, else NoSuchJob: nothing is told of the disk where it is not.
std::filesystem::path existing(const std::filesystem::path& file);

/// A pattern of addresses whose first group is a job's id.
std::string job_pattern(const std::string& rest);

/// Whether a form was made for this session.
bool is_own_form(const Session& session, const std::string& token);

}  // namespace squaresight::bay
