#include "bay/server.h"

#include <fmt/format.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netdb.h>
#include <sys/socket.h>

#include <algorithm>
#include <array>
#include <functional>
#include <mutex>
#include <utility>

#include "bay/assets.h"
#include "bay/floor_picture.h"
#include "bay/front.h"
#include "bay/job_store.h"
#include "bay/measuring.h"
#include "bay/messages.h"
#include "bay/pages.h"
#include "bay/phrases.h"
#include "bay/sheet_forms.h"
#include "bay/shop.h"
#include "bay/uploads.h"
#include "job/words.h"
#include "records/store.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

using httplib::Request;
using httplib::Response;
using Json = nlohmann::json;

constexpr const char* session_cookie = "squaresight";
constexpr const char* technician_cookie = "technician";
constexpr std::size_t listed_jobs = 200;
constexpr int waiting_connections = 256;
constexpr std::size_t longest_target = 400;
constexpr std::uint64_t largest_form_bytes = 64 << 10;
constexpr std::uint64_t largest_piece_bytes = 1 << 20;
constexpr std::uint64_t largest_upload_bytes = largest_photo_bytes + (64 << 10);
constexpr std::uintmax_t largest_report_bytes = 64 << 20;

constexpr const char* page_policy =
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'";
/// The report is a page of its own, whole in one file and without script.
constexpr const char* report_policy =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; "
    "base-uri 'none'";

Language language_of(const Request& request) {
    return chosen_language(request.get_header_value("Accept-Language"));
}

std::string cookie_of(const Request& request, const char* name = session_cookie) {
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

Form form_of(const Request& request) {
    Form form;
    for (const auto& [name, value] : request.params) {
        form.set(name, value);
    }
    return form;
}

void send_page(Response& response, int status, const std::string& html) {
    response.status = status;
    response.set_content(html, "text/html; charset=utf-8");
}

void send_json(Response& response, int status, const Json& json) {
    response.status = status;
    response.set_content(json.dump(), "application/json");
}

void go_to(Response& response, const std::string& address) { response.set_redirect(address, 303); }

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

/// A step of a job that asks: what it asks, how the sheet answers, what an answer changes.
struct Step {
    const char* name;
    const char* after;  ///< the page to go to once it is done
    bool listed;        ///< its entries are shown before it goes on
    std::function<std::vector<Question>(const JobSheet&)> questions;
    std::function<Form(const JobSheet&)> form;
    std::function<void(JobSheet&, const Form&)> take;
    std::function<bool(const JobSheet&)> is_answered;
    const char* title;  ///< key
};

/// The place of a question; the first one where none has the name.
std::size_t place_of(const std::vector<Question>& questions, const std::string& name) {
    const auto found = std::find_if(questions.begin(), questions.end(),
                                    [&](const Question& one) { return one.name == name; });
    return found == questions.end() ? 0 : static_cast<std::size_t>(found - questions.begin());
}

/// The next question on the way behind a place; nothing where the way ends.
std::optional<std::size_t> asked_after(const std::vector<Question>& questions, std::size_t place) {
    while (++place < questions.size()) {
        if (!questions[place].known) {
            return place;
        }
    }
    return std::nullopt;
}

std::optional<std::size_t> asked_before(const std::vector<Question>& questions, std::size_t place) {
    while (place-- > 0) {
        if (!questions[place].known) {
            return place;
        }
    }
    return std::nullopt;
}

bool asks_for(const Question& question, const std::string& label) {
    return std::any_of(question.fields.begin(), question.fields.end(),
                       [&](const Field& field) { return field.label == label; });
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

class BayServer::Site {
  public:
    explicit Site(ServerSettings settings)
        : settings_(std::move(settings)),
          shop_(load_shop(settings_.shop_file)),
          store_(settings_.jobs),
          guard_(settings_.jobs / ".bay" / "sessions.json", settings_.clock),
          uploads_(settings_.jobs / ".bay" / "incoming"),
          measuring_(settings_.program, settings_.confines, settings_.jobs / ".bay" / "seen"),
          front_(settings_.limits, settings_.certificate.empty()
                                       ? nullptr
                                       : load_tls(settings_.certificate, settings_.key)) {
        set_up_front();
        add_open_pages();
        add_job_pages();
        add_steps();
        add_photo_pages();
        add_review_pages();
        add_shop_pages();
        bind();
    }

    int port() const { return port_; }
    bool is_tls() const { return !settings_.certificate.empty(); }
    std::string scheme() const { return is_tls() ? "https://" : "http://"; }
    std::string address() const {
        const bool any = settings_.listen == "0.0.0.0" || settings_.listen == "::";
        const std::string host = any ? "localhost" : settings_.listen;
        const bool v6 = host.find(':') != std::string::npos;
        return scheme() + (v6 ? "[" + host + "]" : host) + fmt::format(":{}", port_);
    }
    std::string new_code(Role role) { return guard_.new_code(role); }
    void run() { front_.listen_after_bind(); }
    void stop() { front_.stop(); }

  private:
    /// A request of someone who may ask.
    struct Call {
        const Request& request;
        Response& response;
        Viewer viewer;
        std::string job;  ///< id, checked by the store
        Form form;
    };
    using Handler = std::function<void(Call&)>;

    // --- requests at the door

    void set_up_front() {
        front_.set_socket_options([](socket_t socket) {
            const int yes = 1;
            ::setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof(yes));
        });
        front_.set_payload_max_length(largest_upload_bytes);
        front_.set_pre_routing_handler([this](const Request& request, Response& response) {
            return at_the_door(request, response) ? httplib::Server::HandlerResponse::Unhandled
                                                  : httplib::Server::HandlerResponse::Handled;
        });
        front_.set_post_routing_handler(
            [this](const Request&, Response& response) { add_headers(response); });
        front_.set_error_handler([](const Request& request, Response& response) {
            if (response.body.empty()) {
                send_page(response, response.status,
                          notice_page(language_of(request), "refused_title",
                                      message(language_of(request), "not_found"), "/"));
            }
        });
        front_.set_exception_handler(
            [this](const Request& request, Response& response, std::exception_ptr error) {
                tell(request, response, error);
            });
        front_.set_logger([this](const Request& request, const Response& response) {
            settings_.log(
                log_line(request.remote_addr, request.method, request.target, response.status));
        });
    }

    void add_headers(Response& response) const {
        if (!response.has_header("Content-Security-Policy")) {
            response.set_header("Content-Security-Policy", page_policy);
        }
        response.set_header("X-Content-Type-Options", "nosniff");
        response.set_header("X-Frame-Options", "DENY");
        response.set_header("Referrer-Policy", "same-origin");
        response.set_header("Cross-Origin-Opener-Policy", "same-origin");
        response.set_header("Cross-Origin-Resource-Policy", "same-origin");
        response.set_header("Cache-Control", "no-store");
        if (is_tls()) {
            response.set_header("Strict-Transport-Security", "max-age=31536000");
        }
    }

    void refuse(const Request& request, Response& response, int status,
                const char* message_key) const {
        const Language language = language_of(request);
        send_page(response, status,
                  notice_page(language, "refused_title", message(language, message_key), "/"));
    }

    /// Whether a request goes on to its page; otherwise it is answered here, before its body is
    /// read.
    bool at_the_door(const Request& request, Response& response) {
        const int wrong = refused_head(request);
        if (wrong != 0) {
            refuse(request, response, wrong, "not_found");
            return false;
        }
        const std::string host = request.get_header_value("Host");
        if (!is_known_host(host, settings_.names)) {
            refuse(request, response, 421, "not_found");
            return false;
        }
        if (request.method == "POST" && (request.get_header_value_count("Origin") != 1 ||
                                         request.get_header_value("Origin") != scheme() + host)) {
            refuse(request, response, 403, "forged");
            return false;
        }
        return is_open(request.path) || may_go_on(request, response);
    }

    static bool is_open(const std::string& path) {
        return path == "/pair" || path == "/style.css" || path == "/bay.js" ||
               path == "/icon.svg" || path == "/favicon.ico";
    }

    bool may_go_on(const Request& request, Response& response) {
        const auto session = guard_.session(cookie_of(request));
        if (!session) {
            if (request.method == "GET") {
                go_to(response, "/pair");
            } else {
                refuse(request, response, 403, "forged");
            }
            return false;
        }
        Front::keep_connection(ends_with(request.path, "/photos") ? settings_.limits.upload
                                                                  : settings_.limits.page);
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

    /// What went wrong, as a page: nothing of the inside is told where nobody can use it.
    void tell(const Request& request, Response& response, const std::exception_ptr& error) const {
        const Language language = language_of(request);
        try {
            std::rethrow_exception(error);
        } catch (const NoSuchJob&) {
            refuse(request, response, 404, "not_found");
        } catch (const StaleSheet&) {
            refuse_stale(request, response);
        } catch (const FormError& wrong) {
            send_page(response, 422,
                      notice_page(language, "refused_title", problem_words(language, wrong), "/"));
        } catch (const PhotoRefused& refused) {
            send_page(
                response, 422,
                notice_page(language, "refused_title", message(language, refused.what()), "/"));
        } catch (const InputError& unusable) {
            if (is_open(request.path)) {  // a stranger is told nothing of the disk
                settings_.log(log_line("failed:", request.method, unusable.what(), 500));
                refuse(request, response, 500, "broken");
                return;
            }
            send_page(response, 422,
                      notice_page(language, "refused_title", told(unusable, language), "/"));
        } catch (const std::exception& failed) {
            settings_.log(log_line("failed:", request.method, failed.what(), 500));
            refuse(request, response, 500, "broken");
        }
    }

    /// What an error says, without what it tells of the disk.
    static std::string told(const InputError& error, Language language) {
        return translated(without_folders(error.what()), language).text;
    }

    void refuse_stale(const Request& request, Response& response) const {
        const Language language = language_of(request);
        const std::string page = request.path.substr(0, request.path.find('/', 5));
        send_page(response, 409,
                  notice_page(language, "stale_title", message(language, "stale_words"), page));
    }

    Call call_of(const Request& request, Response& response) {
        const Session session = guard_.session(cookie_of(request)).value_or(Session());
        return {request,
                response,
                {language_of(request), session},
                request.matches.size() > 1 ? request.matches[1].str() : "",
                form_of(request)};
    }

    void get(const std::string& pattern, Handler handler) {
        front_.Get(pattern, [this, handler](const Request& request, Response& response) {
            Call call = call_of(request, response);
            handler(call);
        });
    }

    static bool is_own_form(const Session& session, const std::string& token) {
        return !session.form_token.empty() && token == session.form_token;
    }

    void post(const std::string& pattern, Handler handler) {
        front_.Post(pattern, [this, handler](const Request& request, Response& response) {
            Call call = call_of(request, response);
            if (!is_own_form(call.viewer.session, call.form.get("token"))) {
                refuse(request, response, 403, "forged");
                return;
            }
            handler(call);
        });
    }

    // --- pages

    void add_open_pages() {
        front_.Get("/style.css", [](const Request&, Response& response) {
            response.set_content(style_sheet(), "text/css; charset=utf-8");
        });
        front_.Get("/bay.js", [](const Request&, Response& response) {
            response.set_content(page_script, "text/javascript; charset=utf-8");
        });
        for (const auto* icon : {"/icon.svg", "/favicon.ico"}) {
            front_.Get(icon, [](const Request&, Response& response) {
                response.set_content(page_icon, "image/svg+xml");
            });
        }
        front_.Get("/pair", [](const Request& request, Response& response) {
            send_page(response, 200,
                      pair_page(language_of(request), request.get_param_value("code"), ""));
        });
        front_.Post("/pair", [this](const Request& request, Response& response) {
            pair(request, response);
        });
        post("/leave", [this](Call& call) {
            guard_.end(cookie_of(call.request));
            go_to(call.response, "/pair");
        });
    }

    void set_cookie(Response& response, const char* name, const std::string& value) const {
        response.set_header(
            "Set-Cookie",
            fmt::format("{}={}; Path=/; Max-Age={}; HttpOnly; SameSite=Strict{}", name, value,
                        std::chrono::seconds(Guard::session_life).count(),
                        is_tls() ? "; Secure" : ""));
    }

    void pair(const Request& request, Response& response) {
        const auto paired = guard_.pair(request.get_param_value("code"), request.remote_addr);
        if (paired.outcome == Pairing::done) {
            set_cookie(response, session_cookie, paired.token);
            go_to(response, "/");
            return;
        }
        const bool many = paired.outcome == Pairing::too_many_tries;
        send_page(response, many ? 429 : 403,
                  pair_page(language_of(request), "", many ? "too_many_tries" : "wrong_code"));
    }

    static std::string job_pattern(const std::string& rest) {
        return "/job/([A-Za-z0-9._-]+)" + rest;
    }

    const Bay* bay_of(const JobSheet& sheet) const { return find_bay(shop_, sheet.bay); }

    LengthUnit unit_of(const JobSheet& sheet) const {
        const Bay* bay = bay_of(sheet);
        return bay != nullptr ? bay->unit : shop_.bays.front().unit;
    }

    MeasuringState measuring_of(const StoredJob& job) {
        const bool begun = job.sheet.sightings.size() == 1 &&
                           job.sheet.sightings.back().photos.empty() &&
                           !job.sheet.sightings.back().tape_and_level;
        return begun ? MeasuringState() : measuring_.job(job.id, job.sheet.file, job.version);
    }

    void add_job_pages() {
        get("/", [this](Call& call) {
            send_page(call.response, 200, jobs_page(call.viewer, store_.list(listed_jobs)));
        });
        get("/new", [this](Call& call) { ask_new(call); });
        post("/new", [this](Call& call) { begin_job(call); });
        get(job_pattern(""), [this](Call& call) {
            const StoredJob job = store_.open(call.job);
            send_page(call.response, 200, job_page(call.viewer, job, measuring_of(job)));
        });
        get(job_pattern("/state"), [this](Call& call) {
            const StoredJob job = store_.open(call.job);
            const std::string of = call.form.get("of");
            const bool working = of == "photos" ? looks_of(job).working
                                 : of == "review"
                                     ? kept(call, job).working || measuring_of(job).working
                                     : measuring_of(job).working;
            send_json(call.response, 200, {{"working", working}});
        });
        get(job_pattern("/answer"), [this](Call& call) {
            const StoredJob job = store_.open(call.job);
            send_page(call.response, 200,
                      answer_page(call.viewer, job, load_mount(job.sheet.mount_file),
                                  measuring_of(job), ""));
        });
        get(job_pattern("/floor.svg"), [this](Call& call) {
            const StoredJob job = store_.open(call.job);
            const Bay* bay = bay_of(job.sheet);
            if (bay == nullptr) {
                throw NoSuchJob();
            }
            call.response.set_header("Content-Security-Policy", report_policy);
            call.response.set_content(
                floor_svg(job_floor(*bay, job.sheet), settings_.jobs / ".bay" / "floors"),
                "image/svg+xml");
        });
        get(job_pattern("/handover"), [this](Call& call) {
            const StoredJob job = store_.open(call.job);
            send_page(call.response, 200,
                      handover_page(call.viewer, job, measuring_of(job), shop_.name));
        });
        get(job_pattern("/report"), [this](Call& call) {
            const auto file = existing(store_.folder_of(call.job) / "job.report.html");
            call.response.set_header("Content-Security-Policy", report_policy);
            call.response.set_content(read_file(file, largest_report_bytes),
                                      "text/html; charset=utf-8");
        });
        post(job_pattern("/turned"), [this](Call& call) {
            change(call, [&](JobSheet& sheet) {
                take_turned(sheet, load_mount(sheet.mount_file), call.form);
            });
            go_to(call.response, "/job/" + call.job + "/photos");
        });
        post(job_pattern("/moved"), [this](Call& call) {
            change(call, take_moved);
            go_to(call.response, "/job/" + call.job + "/board");
        });
        post(job_pattern("/lock"), [this](Call& call) {
            change(call, [](JobSheet& sheet) { take_lock(sheet); });
            go_to(call.response, "/job/" + call.job + "/photos");
        });
    }

    /// The same file where it is there; nothing is told of the disk where it is not.
    static std::filesystem::path existing(const std::filesystem::path& file) {
        if (!std::filesystem::is_regular_file(std::filesystem::symlink_status(file))) {
            throw NoSuchJob();
        }
        return file;
    }

    /// Changes the sheet that the form was made for; a form without its version changes nothing.
    StoredJob change(const Call& call, const JobStore::Change& change) {
        const std::string version = call.form.get("version");
        if (version.empty()) {
            throw StaleSheet();
        }
        return store_.change(call.job, version, unit_of(store_.open(call.job).sheet), change);
    }

    // --- a new job: nothing is saved before its last question, so answers go on in the address

    /// What is asked of every new job, as it is usual here.
    Form usual_new_job(const Call& call) {
        Form form = new_job_form(shop_);
        form.set("technician", cookie_of(call.request, technician_cookie));
        const auto jobs = store_.list(listed_jobs);
        for (int number = 1; number <= static_cast<int>(jobs.size()) + 1; ++number) {
            const std::string name = fmt::format("{}-{}", today_text(), number);
            if (std::none_of(jobs.begin(), jobs.end(),
                             [&](const ListedJob& job) { return job.job == name; })) {
                form.set("job", name);
                break;
            }
        }
        return form;
    }

    /// The mount that this vehicle had last time.
    void remember_mount(Form& form) {
        for (const auto& job : store_.list(listed_jobs)) {
            if (job.problem.empty() && !job.vehicle.empty() && job.vehicle == form.get("vehicle")) {
                const auto file = store_.open(job.id).sheet.mount_file;
                for (const auto& mount : shop_.mounts) {
                    if (mount.file == file) {
                        form.set("mount", mount.name);
                    }
                }
                return;
            }
        }
    }

    void ask_new(Call& call) {
        const auto questions = new_job_questions(shop_);
        const std::size_t asked = place_of(questions, call.form.get("question"));
        for (std::size_t i = 0; i < asked; ++i) {
            try {
                check_new_job(questions[i].name, call.form);
                if (const Field* odd = unusual(questions[i].fields, call.form);
                    odd != nullptr && !call.form.has("sure")) {
                    show_new(call, i, 422, doubt_words(call.viewer.language, *odd, first_unit()),
                             true);
                    return;
                }
            } catch (const FormError& error) {
                show_new(call, i, 422, problem_words(call.viewer.language, error));
                return;
            }
        }
        show_new(call, asked, 200, "");
    }

    LengthUnit first_unit() const { return shop_.bays.front().unit; }

    void show_new(Call& call, std::size_t place, int status, const std::string& problem,
                  bool doubted = false) {
        const auto questions = new_job_questions(shop_);
        QuestionScreen screen;
        screen.step = "new_job";
        screen.question = questions[place];
        screen.number = place + 1;
        screen.count = questions.size();
        screen.action = "/new";
        screen.by_address = place + 1 < questions.size();
        screen.doubted = doubted;
        screen.button = screen.by_address ? "go_on" : "begin";
        Form answers = merged({}, call.form, fields_of(questions));
        httplib::Params address{{"question", questions[place > 0 ? place - 1 : 0].name}};
        for (const auto& [name, value] : answers.values()) {
            if (!value.empty()) {
                address.emplace(name, value);
            }
        }
        if (place > 0) {
            screen.back = httplib::append_query_params("/new", address);
        }
        Form form = merged(usual_new_job(call), answers, fields_of(questions));
        if (!screen.by_address && !answers.has("mount")) {
            remember_mount(form);
        }
        if (screen.by_address) {
            // The page asks for the one behind it.
            screen.question.name = questions[place + 1].name;
        }
        const Form others = without(answers, questions[place].fields);
        for (const auto& [name, value] : others.values()) {
            if (!value.empty()) {
                screen.carried.set(name, value);
            }
        }
        send_page(call.response, status,
                  question_page(call.viewer, screen, form, nullptr, first_unit(), problem));
    }

    void begin_job(Call& call) {
        try {
            const JobSheet sheet = begun_sheet(shop_, call.form);
            const std::string id = store_.create(sheet, unit_of(sheet));
            if (is_job_id(sheet.technician)) {  // plain enough for a cookie
                set_cookie(call.response, technician_cookie, sheet.technician);
            }
            go_to(call.response, "/job/" + id);
        } catch (const FormError& error) {
            const auto questions = new_job_questions(shop_);
            const auto at = std::find_if(
                questions.begin(), questions.end(),
                [&](const Question& question) { return asks_for(question, error.label); });
            const auto place = at == questions.end()
                                   ? questions.size() - 1
                                   : static_cast<std::size_t>(at - questions.begin());
            show_new(call, place, 422, problem_words(call.viewer.language, error));
        }
    }

    // --- steps that ask

    static std::string step_address(const std::string& job, const Step& step) {
        return "/job/" + job + "/" + step.name;
    }

    static Step ready_step() {
        return {"ready",
                "/board",
                false,
                [](const JobSheet&) { return ready_questions(); },
                ready_form,
                take_ready,
                [](const JobSheet& sheet) { return !sheet.ready.empty(); },
                "step_ready"};
    }

    Step board_step() const {
        return {
            "board",
            "/photos",
            true,
            [this](const JobSheet& sheet) {
                return board_questions(sheet, bay_of(sheet), !earlier_of(sheet).empty());
            },
            [this](const JobSheet& sheet) {
                return board_form(sheet, bay_of(sheet), unit_of(sheet));
            },
            [this](JobSheet& sheet, const Form& form) { take_board(sheet, bay_of(sheet), form); },
            is_board_answered,
            "step_board"};
    }

    Step tape_step() const {
        return {
            "tape",
            "",
            true,
            [this](const JobSheet& sheet) { return tape_questions(sheet, bay_of(sheet)); },
            [this](const JobSheet& sheet) {
                return tape_form(sheet, bay_of(sheet), unit_of(sheet));
            },
            [this](JobSheet& sheet, const Form& form) { take_tape(sheet, bay_of(sheet), form); },
            [](const JobSheet& sheet) { return sheet.sightings.back().tape_and_level.has_value(); },
            "step_tape"};
    }

    static Step finish_step() {
        return {"finish",
                "/answer",
                true,
                [](const JobSheet&) { return finish_questions(); },
                finish_form,
                take_finish,
                [](const JobSheet& sheet) { return !sheet.closing.empty(); },
                "step_finish"};
    }

    void add_steps() {
        for (const Step& step : {ready_step(), board_step(), tape_step(), finish_step()}) {
            const std::string pattern = job_pattern(std::string("/") + step.name);
            get(pattern, [this, step](Call& call) {
                const StoredJob job = store_.open(call.job);
                const std::string asked = call.form.get("question");
                if (asked == "all" ||
                    (asked.empty() && step.listed && step.is_answered(job.sheet))) {
                    show_entries(call, step, job);
                } else {
                    show_question(call, step, job, asked, step.form(job.sheet), 200, "");
                }
            });
            post(pattern, [this, step](Call& call) { take_step(call, step); });
        }
    }

    std::vector<std::string> notes_of(const Call& call, const Step& step,
                                      const StoredJob& job) const {
        const auto spread_mm = pass_spread_mm(job.sheet);
        if (std::string(step.name) != "tape" || !spread_mm) {
            return {};
        }
        return {message(call.viewer.language, "passes_differ") + " " +
                length_words(*spread_mm, unit_of(job.sheet)) + "."};
    }

    void show_entries(Call& call, const Step& step, const StoredJob& job) {
        EntriesScreen screen;
        screen.step = step.title;
        screen.address = step_address(job.id, step);
        screen.questions = step.questions(job.sheet);
        screen.next = "/job/" + job.id + step.after;
        screen.notes = notes_of(call, step, job);
        send_page(call.response, 200, entries_page(call.viewer, screen, step.form(job.sheet), job));
    }

    /// The newest other job of the same bay whose board was measured; empty where there is none.
    std::string earlier_of(const JobSheet& sheet) const {
        const std::string own = sheet.file.parent_path().filename().string();
        for (const auto& listed : store_.list(listed_jobs)) {
            if (listed.id != own && listed.board_measured && listed.bay == sheet.bay) {
                return listed.id;
            }
        }
        return "";
    }

    /// What an earlier job's board would bring, in words.
    void remember(QuestionScreen& screen, const Call& call, const Step& step,
                  const JobSheet& sheet) const {
        const JobSheet earlier = store_.open(earlier_of(sheet)).sheet;
        JobSheet as_before = sheet;
        take_board_as_before(as_before, earlier);
        const Form form = step.form(as_before);
        for (const auto& field : fields_of(step.questions(as_before))) {
            const bool anew = field.label == "distance" || field.label == "tape_from";
            if (!anew) {
                screen.remembered.emplace_back(label_words(call.viewer.language, field),
                                               entry_words(field, form, call.viewer.language));
            }
        }
        screen.remembered_from = earlier.job;
    }

    void show_question(Call& call, const Step& step, const StoredJob& job, const std::string& asked,
                       const Form& form, int status, const std::string& problem,
                       bool doubted = false) {
        const auto questions = step.questions(job.sheet);
        const std::size_t place = place_of(questions, asked);
        const std::string address = step_address(job.id, step);
        QuestionScreen screen;
        screen.step = step.title;
        screen.question = questions[place];
        const auto is_asked = [](const Question& one) { return !one.known; };
        const auto end = questions.begin() + static_cast<std::ptrdiff_t>(place) + 1;
        screen.number = static_cast<std::size_t>(std::count_if(questions.begin(), end, is_asked));
        screen.count =
            static_cast<std::size_t>(std::count_if(questions.begin(), questions.end(), is_asked));
        screen.action = address;
        screen.then = call.form.get("then") == "all" ? "all" : "";
        const auto before = asked_before(questions, place);
        screen.back = before ? address + "?question=" + questions[*before].name : "/job/" + job.id;
        screen.all = step.listed ? address + "?question=all" : "";
        screen.notes = notes_of(call, step, job);
        screen.doubted = doubted;
        if (screen.question.fields.empty()) {
            screen.button = "go_on";
        }
        if (screen.question.picture == "floor") {
            if (const Bay* bay = bay_of(job.sheet)) {
                for (const auto& [key, words] : floor_lengths(job_floor(*bay, job.sheet))) {
                    screen.lengths.emplace_back(message(call.viewer.language, key), words);
                }
            } else {
                screen.question.picture.clear();
            }
        }
        if (screen.question.name == "as_before") {
            remember(screen, call, step, job.sheet);
        }
        send_page(call.response, status,
                  question_page(call.viewer, screen, form, &job, unit_of(job.sheet), problem));
    }

    /// Where it goes on behind a question; behind none, it is the whole step that was sent.
    std::string behind(const Call& call, const Step& step, const JobSheet& sheet) const {
        const auto questions = step.questions(sheet);
        const std::string asked = call.form.get("question");
        const std::string address = step_address(call.job, step) + "?question=";
        const std::size_t place = place_of(questions, asked);
        if (asked.empty()) {
            return "/job/" + call.job + step.after;
        }
        if (call.form.get("then") == "all") {
            return address + "all";
        }
        if (const auto next = asked_after(questions, place)) {
            return address + questions[*next].name;
        }
        return step.listed ? address + "all" : "/job/" + call.job + step.after;
    }

    /// What is changed by an answer, or by a whole step at once.
    void take_answer(Call& call, const Step& step, JobSheet& sheet) const {
        const auto questions = step.questions(sheet);
        const std::string asked = call.form.get("question");
        const auto fields =
            asked.empty() ? fields_of(questions) : questions[place_of(questions, asked)].fields;
        Form form = merged(step.form(sheet), call.form, fields);
        if (call.form.has("skip")) {
            form = without(form, fields);
        }
        step.take(sheet, form);
    }

    void take_as_before(Call& call, const StoredJob& before) {
        const std::string earlier = earlier_of(before.sheet);
        if (!earlier.empty()) {
            const JobSheet sheet = store_.open(earlier).sheet;
            change(call, [&](JobSheet& now) { take_board_as_before(now, sheet); });
        }
        go_to(call.response, "/job/" + call.job + "/board?question=all");
    }

    void take_step(Call& call, const Step& step) {
        const StoredJob before = store_.open(call.job);
        const Language language = call.viewer.language;
        const auto questions = step.questions(before.sheet);
        const std::string asked = call.form.get("question");
        const auto fields = questions[place_of(questions, asked)].fields;
        const auto again = [&](const std::string& problem, bool doubted) {
            show_question(call, step, before, asked,
                          merged(step.form(before.sheet), call.form, fields_of(questions)), 422,
                          problem, doubted);
        };
        try {
            if (call.form.has("as_before")) {
                take_as_before(call, before);
                return;
            }
            const bool sure = asked.empty() || call.form.has("sure") || call.form.has("skip");
            if (const Field* odd = sure ? nullptr : unusual(fields, call.form)) {
                again(doubt_words(language, *odd, unit_of(before.sheet)), true);
                return;
            }
            const bool nothing = !asked.empty() && fields.empty();
            const JobSheet sheet =
                nothing ? before.sheet
                        : change(call, [&](JobSheet& now) { take_answer(call, step, now); }).sheet;
            go_to(call.response, behind(call, step, sheet));
        } catch (const FormError& error) {
            again(problem_words(language, error), false);
        } catch (const StaleSheet&) {
            const StoredJob now = store_.open(call.job);
            const auto shown = asked.empty() ? fields_of(questions) : fields;
            send_page(call.response, 409,
                      stale_page(call.viewer, now, shown, step.form(now.sheet), call.form,
                                 step_address(now.id, step) + "?question=" + asked));
        }
    }

    // --- photos

    void add_photo_pages() {
        get(job_pattern("/photos"), [this](Call& call) { show_photos(call, 200, ""); });
        front_.Post(job_pattern("/photos"), [this](const Request& request, Response& response,
                                                   const httplib::ContentReader& reader) {
            Call call = call_of(request, response);
            take_whole_photo(call, reader);
        });
        post(job_pattern("/photos/out"), [this](Call& call) {
            change(call, [&](JobSheet& sheet) {
                std::erase_if(sheet.sightings.back().photos, [&](const SheetPhoto& photo) {
                    return photo.file == call.form.get("file");
                });
            });
            go_to(call.response, "/job/" + call.job + "/photos");
        });
        post(job_pattern("/upload"), [this](Call& call) { begin_upload(call); });
        get(job_pattern("/upload/([A-Za-z0-9]+)"), [this](Call& call) { show_part(call); });
        front_.Post(job_pattern("/upload/([A-Za-z0-9]+)"),
                    [this](const Request& request, Response& response,
                           const httplib::ContentReader& reader) {
                        Call call = call_of(request, response);
                        take_piece(call, reader);
                    });
        post(job_pattern("/photos/stands"), [this](Call& call) {
            change(call, [&](JobSheet& sheet) {
                take_label(sheet, call.form.get("file"), call.form.get("cradle"));
            });
            go_to(call.response, "/job/" + call.job + "/photos");
        });
        get(job_pattern("/look/([0-9a-f]{64})\\.jpg"), [this](Call& call) {
            const auto file =
                existing(measuring_.seen_folder() / (call.request.matches[2].str() + ".jpg"));
            call.response.set_content(read_file(file, largest_photo_bytes), "image/jpeg");
        });
    }

    /// What the photos of the last stage say, each as far as it was looked at.
    PhotoLooks looks_of(const StoredJob& job) {
        PhotoLooks looks;
        for (const auto& photo : job.sheet.sightings.back().photos) {
            const std::string cradle = !photo.label                           ? ""
                                       : *photo.label == CradleLabel::upright ? "upright"
                                                                              : "inverted";
            const auto look = measuring_.photo(job.sheet.file, photo.file, photo.path, cradle);
            looks.working = looks.working || (look.working && !look.crowded);
            looks.crowded = looks.crowded || look.crowded;
            looks.by_file[photo.file] = look.answer;
        }
        return looks;
    }

    void show_photos(Call& call, int status, const std::string& problem) {
        const StoredJob job = store_.open(call.job);
        const PhotoLooks looks = looks_of(job);
        const Bay* bay = bay_of(job.sheet);
        const PhotosWanted wanted =
            photos_wanted(with_good_photos(job.sheet.sightings.back(), looks), bay);
        if (wanted.next.empty() && !looks.working) {
            measuring_of(job);  // all photos are there: begin before the answer is asked for
        }
        send_page(call.response, status, photos_page(call.viewer, job, looks, wanted, problem));
    }

    /// A photo as a plain form sends it: the fields before it, then its bytes.
    class WholePhoto {
      public:
        WholePhoto(Uploads& uploads, std::string job, std::function<bool(const std::string&)> may)
            : uploads_(uploads), job_(std::move(job)), may_(std::move(may)) {}

        bool begin_entry(const std::string& name) {
            entry_ = name;
            if (name != "photo") {
                return true;
            }
            if (!id_.empty() || !may_(fields_["token"])) {
                return false;
            }
            id_ = uploads_.begin(job_, fields_["cradle"], largest_photo_bytes);
            return true;
        }
        bool take(const char* bytes, std::size_t size) {
            if (entry_ == "photo") {
                waiting_.append(bytes, size);
                return waiting_.size() < largest_piece_bytes || flush();
            }
            std::string& field = fields_[entry_];
            field.append(bytes, size);
            return fields_.size() < 10 && field.size() < 200;
        }
        bool flush() {
            uploads_.append(id_, waiting_);
            waiting_.clear();
            return true;
        }
        const std::string& id() const { return id_; }
        std::string cradle() { return fields_["cradle"]; }

      private:
        Uploads& uploads_;
        std::string job_;
        std::function<bool(const std::string&)> may_;
        std::string entry_, id_, waiting_;
        std::map<std::string, std::string> fields_;
    };

    void take_whole_photo(Call& call, const httplib::ContentReader& reader) {
        store_.folder_of(call.job);
        bool forged = true;
        WholePhoto photo(uploads_, call.job, [&](const std::string& token) {
            forged = !is_own_form(call.viewer.session, token);
            return !forged;
        });
        std::string problem = "photo_lost";
        try {
            const bool whole =
                call.request.is_multipart_form_data() &&
                reader(
                    [&](const httplib::MultipartFormData& entry) {
                        return photo.begin_entry(entry.name);
                    },
                    [&](const char* bytes, std::size_t size) { return photo.take(bytes, size); });
            if (whole && !photo.id().empty()) {
                photo.flush();
                problem = uploads_.keep(photo.id()) == 0 ? "photo_large" : "";
            }
            if (problem.empty()) {
                const std::lock_guard lock(uploads_mutex_);  // one photo in memory at a time
                take_photo(store_, call.job, uploads_.file(photo.id()), photo.cradle(),
                           unit_of(store_.open(call.job).sheet));
            }
            problem = problem.empty() ? "" : message(call.viewer.language, problem);
        } catch (const PhotoRefused& refused) {
            problem = message(call.viewer.language, refused.what());
        } catch (const InputError& unusable) {
            problem = unusable.what();
        }
        uploads_.end(photo.id());
        if (forged) {
            refuse(call.request, call.response, 403, "forged");
        } else if (problem.empty()) {
            go_to(call.response, "/job/" + call.job + "/photos");
        } else {
            show_photos(call, 422, problem);
        }
    }

    static void refuse_piece(Call& call, int status, const std::string& key) {
        send_json(call.response, status, {{"problem", message(call.viewer.language, key)}});
    }

    /// Answers for a photo in pieces; what it is refused for is told as JSON.
    static void answer_piece(Call& call, const std::function<void()>& action) {
        try {
            action();
        } catch (const PhotoRefused& refused) {
            refuse_piece(call, 422, refused.what());
        } catch (const InputError& unusable) {
            send_json(call.response, 422, {{"problem", unusable.what()}});
        }
    }

    void begin_upload(Call& call) {
        store_.folder_of(call.job);
        const std::string size = call.form.get("size");
        const bool plain = !size.empty() && size.size() < 12 &&
                           size.find_first_not_of("0123456789") == std::string::npos;
        answer_piece(call, [&] {
            const std::string id =
                uploads_.begin(call.job, call.form.get("cradle"), plain ? std::stoull(size) : 0);
            send_json(call.response, 200, {{"upload", id}, {"received", 0}});
        });
    }

    static std::string upload_of(const Call& call) { return call.request.matches[2].str(); }

    void take_in(const std::string& id, const Uploads::Part& part) {
        take_photo(store_, part.job, uploads_.file(id), part.cradle,
                   unit_of(store_.open(part.job).sheet));
        uploads_.end(id);
    }

    /// A photo that had arrived whole when the server was ended, before it was in its job.
    void take_in_late(const std::string& id, const Uploads::Part& part) {
        try {
            take_in(id, part);
        } catch (const PhotoRefused& refused) {
            uploads_.end(id);
            if (refused.what() != std::string("photo_again")) {
                throw;
            }
        }
    }

    /// What was received so far of a call's photo, none of it lost by an end of the server.
    std::optional<Uploads::Part> part_of(const Call& call) {
        const auto part = uploads_.find(upload_of(call));
        if (!part || part->job != call.job) {
            return std::nullopt;
        }
        if (part->received == part->size && !part->ended) {
            take_in_late(upload_of(call), *part);
        }
        return part;
    }

    void show_part(Call& call) {
        const std::lock_guard lock(uploads_mutex_);
        answer_piece(call, [&] {
            const auto part = part_of(call);
            send_json(call.response, part ? 200 : 404, {{"received", part ? part->received : 0}});
        });
    }

    void take_piece(Call& call, const httplib::ContentReader& reader) {
        if (!is_own_form(call.viewer.session, call.request.get_header_value("X-Form-Token"))) {
            refuse_piece(call, 403, "forged");
            return;
        }
        std::string bytes;
        const bool whole = reader([&](const char* more, std::size_t size) {
            bytes.append(more, size);
            return bytes.size() <= largest_piece_bytes;
        });
        if (!whole) {
            refuse_piece(call, 400, "photo_lost");
            return;
        }
        const std::lock_guard lock(uploads_mutex_);
        answer_piece(call, [&] { add_piece(call, bytes); });
    }

    void add_piece(Call& call, const std::string& bytes) {
        auto part = part_of(call);
        if (!part) {
            refuse_piece(call, 404, "photo_lost");
            return;
        }
        if (call.request.get_param_value("offset") != std::to_string(part->received)) {
            send_json(call.response, 409, {{"received", part->received}});
            return;
        }
        const std::string id = upload_of(call);
        try {
            uploads_.append(id, bytes);
            part->received = uploads_.keep(id);
            if (part->received == part->size) {
                take_in(id, *part);
            }
        } catch (const PhotoRefused&) {
            uploads_.end(id);
            throw;
        }
        send_json(call.response, 200, {{"received", part->received}});
    }

    // --- review

    std::filesystem::path records() const {
        return settings_.records.empty() ? settings_.shop_file.parent_path() / usual_store
                                         : settings_.records;
    }

    /// The job, stored with the records where a reviewer looks at it.
    MeasuringState kept(const Call& call, const StoredJob& job) {
        return call.viewer.session.role == Role::reviewer
                   ? measuring_.keep(job.id, job.sheet.file, job.version, records())
                   : MeasuringState();
    }

    /// Where the review of a job stands by the records.
    static ReviewedJob reviewed(Store* store, const ReviewStates& states, const ListedJob& job) {
        ReviewedJob one{job, "", "", ""};
        try {
            if (store != nullptr) {
                const auto& state =
                    review_state(states, job.job, store->job_entry(job.job).revision);
                one.decision = state.decision;
                one.reviewer = state.reviewer;
                one.reason = state.reason;
            }
        } catch (const InputError&) {  // never stored
        }
        return one;
    }

    std::vector<ReviewedJob> reviewed(const std::vector<ListedJob>& jobs) const {
        std::unique_ptr<Store> store;
        ReviewStates states;
        if (std::filesystem::exists(records())) {
            store = std::make_unique<Store>(parse_store_address(records().string()), usual_shop,
                                            Access::read);
            states = store->review_states();
        }
        std::vector<ReviewedJob> all;
        for (const auto& job : jobs) {
            all.push_back(reviewed(store.get(), states, job));
        }
        return all;
    }

    void add_review_pages() {
        get("/review", [this](Call& call) {
            send_page(call.response, 200,
                      review_list_page(call.viewer, reviewed(store_.list(listed_jobs)), ""));
        });
        get(job_pattern("/review"), [this](Call& call) { show_review(call, 200, ""); });
        post(job_pattern("/review"), [this](Call& call) { sign(call); });
    }

    void show_review(Call& call, int status, const std::string& problem) {
        const StoredJob job = store_.open(call.job);
        const auto measuring = measuring_of(job);
        const auto stored =
            measuring.working ? MeasuringState{true, false, nullptr} : kept(call, job);
        std::optional<ReviewedJob> state;
        if (!stored.working) {
            ListedJob listed;
            listed.id = job.id;
            listed.job = job.sheet.job;
            state = reviewed({listed}).front();
        }
        send_page(call.response, status,
                  review_page(call.viewer, job, measuring, stored, state, call.form, problem));
    }

    void sign(Call& call) {
        const StoredJob job = store_.open(call.job);
        if (call.form.get("version") != job.version || kept(call, job).working) {
            throw StaleSheet();
        }
        try {
            Store(parse_store_address(records().string()), usual_shop, Access::write)
                .sign({job.sheet.job, call.form.get("decision"), call.form.get("reviewer"),
                       call.form.get("reason")});
            go_to(call.response, "/job/" + call.job + "/review");
        } catch (const InputError& error) {
            show_review(call, 422, told(error, call.viewer.language));
        }
    }

    // --- the shop

    /// Under which address another device reaches this page; empty where none does.
    std::string reachable_address(const std::string& host) const {
        const auto is_loopback = [](const std::string& name) {
            return begins_with(name, "127.") || begins_with(name, "localhost") ||
                   begins_with(name, "[::1]") || name == "::1";
        };
        if (!settings_.names.empty()) {
            return scheme() + settings_.names.front() + fmt::format(":{}", port_);
        }
        if (!is_loopback(host)) {
            return scheme() + host;
        }
        const bool any = settings_.listen == "0.0.0.0" || settings_.listen == "::";
        const std::string own = any ? network_address() : settings_.listen;
        return own.empty() || is_loopback(own) ? "" : scheme() + own + fmt::format(":{}", port_);
    }

    void add_shop_pages() {
        get("/shop", [this](Call& call) {
            send_page(call.response, 200,
                      shop_page(call.viewer, shop_, std::nullopt, today_text()));
        });
        post("/shop/code", [this](Call& call) {
            const auto role = role_of(call.form.get("role"));
            if (!role) {
                throw FormError("role", "not_offered");
            }
            const std::string address = reachable_address(call.request.get_header_value("Host"));
            const ShownCode code{guard_.new_code(*role), address.empty() ? "" : address + "/pair",
                                 *role};
            send_page(call.response, 200, shop_page(call.viewer, shop_, code, today_text()));
        });
    }

    void bind() {
        if (settings_.port == 0) {
            port_ = front_.bind_to_any_port(settings_.listen);
        } else {
            port_ = front_.bind_to_port(settings_.listen, settings_.port) ? settings_.port : -1;
        }
        if (port_ <= 0) {
            throw InputError(fmt::format("{}:{}", settings_.listen, settings_.port),
                             "cannot be listened on",
                             "is it taken by another program, or no address of this computer?");
        }
        front_.widen_queue(waiting_connections);
    }

    ServerSettings settings_;
    Shop shop_;
    JobStore store_;
    Guard guard_;
    Uploads uploads_;
    std::mutex uploads_mutex_;
    Measuring measuring_;
    Front front_;
    int port_ = -1;
};

BayServer::BayServer(ServerSettings settings)
    : site_(std::make_unique<Site>(std::move(settings))) {}
BayServer::~BayServer() = default;
int BayServer::port() const { return site_->port(); }
std::string BayServer::address() const { return site_->address(); }
std::string BayServer::new_code(Role role) { return site_->new_code(role); }
void BayServer::run() { site_->run(); }
void BayServer::stop() { site_->stop(); }

}  // namespace squaresight::bay
