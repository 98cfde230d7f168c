#include <fmt/format.h>

#include <algorithm>

#include "bay/site.h"
#include "mount/mount.h"
#include "report/figures.h"

namespace squaresight::bay {

/// Nothing is saved before the last question, so answers go on in the address.
namespace {

constexpr const char* technician_cookie = "technician";

bool asks_for(const Question& question, const std::string& label) {
    return std::any_of(question.fields.begin(), question.fields.end(),
                       [&](const Field& field) { return field.label == label; });
}

/// The mount that this vehicle had last time, and its model.
void remember_vehicle(Site& site, Form& form, const std::string& vehicle) {
    for (const auto& job : site.store.list(listed_jobs)) {
        if (job.problem.empty() && !job.vehicle.empty() && job.vehicle == vehicle) {
            const JobSheet sheet = site.store.open(job.id).sheet;
            form.set("vehicle_model", sheet.vehicle_model);
            const ShopItem* mount = item_of_file(site.shop().mounts, sheet.mount_file);
            if (mount != nullptr) {
                form.set("mount", mount->name);
            }
            return;
        }
    }
}

/// What is asked of every new job, as it is usual in its bay, with what was answered so far.
Form new_job_with(Site& site, const Call& call, const Form& answers,
                  const std::vector<Field>& fields) {
    Form form = new_job_form(site.shop(), answers.get("bay"));
    form.set("technician", cookie_of(call.request, technician_cookie));
    const auto jobs = site.store.list(listed_jobs);
    for (int number = 1; number <= static_cast<int>(jobs.size()) + 1; ++number) {
        const std::string name = fmt::format("{}-{}", site.today(), number);
        if (std::none_of(jobs.begin(), jobs.end(),
                         [&](const ListedJob& job) { return job.job == name; })) {
            form.set("job", name);
            break;
        }
    }
    remember_vehicle(site, form, answers.get("vehicle"));
    return merged(form, answers, fields);
}

/// The picture of the mount that the form names, beside it.
void show_mount(Site& site, const Form& form, QuestionScreen& screen) {
    if (const ShopItem* mount = find_item(site.shop().mounts, form.get("mount"))) {
        screen.drawing = mount_svg(load_mount(mount->file));
        screen.drawing_of = mount->name;
        screen.carried.set("mount_shown", mount->name);
    }
}

LengthUnit unit_of(Site& site, const Form& form) {
    const Bay* bay = find_bay(site.shop(), form.get("bay"));
    return bay != nullptr ? bay->unit : first_unit(site.shop());
}

void show_new(Site& site, Call& call, std::size_t place, int status, const std::string& problem,
              bool doubted = false) {
    const auto questions = new_job_questions(site.shop());
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
    const Form form = new_job_with(site, call, answers, fields_of(questions));
    if (screen.by_address) {
        // The page asks for the one behind it.
        screen.question.name = questions[place + 1].name;
    }
    if (!screen.by_address) {
        show_mount(site, form, screen);
    }
    const Form others = without(answers, questions[place].fields);
    for (const auto& [name, value] : others.values()) {
        if (!value.empty()) {
            screen.carried.set(name, value);
        }
    }
    send_page(call.response, status,
              question_page(call.viewer, screen, form, nullptr, unit_of(site, form), problem));
}

void ask_new(Site& site, Call& call) {
    const auto questions = new_job_questions(site.shop());
    const std::size_t asked = place_of(questions, call.form.get("question"));
    for (std::size_t i = 0; i < asked; ++i) {
        try {
            check_new_job(questions[i].name, call.form);
            if (const Field* odd = unusual(questions[i].fields, call.form);
                odd != nullptr && !call.form.has("sure")) {
                show_new(
                    site, call, i, 422,
                    doubt_words(call.viewer.language, *odd, call.form, unit_of(site, call.form)),
                    true);
                return;
            }
        } catch (const FormError& error) {
            show_new(site, call, i, 422, problem_words(call.viewer.language, error));
            return;
        }
    }
    show_new(site, call, asked, 200, "");
}

/// Another job has the work order: what the page had proposed it proposes anew.
void show_taken(Site& site, Call& call) {
    const bool proposed = begins_with(call.form.get("job"), site.today() + "-");
    Form form;
    for (const auto& [name, value] : call.form.values()) {
        if (name != "job" || !proposed) {
            form.set(name, value);
        }
    }
    call.form = form;
    show_new(site, call, new_job_questions(site.shop()).size() - 1, 422,
             problem_words(call.viewer.language,
                           FormError("job", proposed ? "order_anew" : "order_taken")));
}

void begin_job(Site& site, Call& call) {
    try {
        if (call.form.has("mount_shown") &&
            call.form.get("mount_shown") != call.form.get("mount")) {
            throw FormError("mount", "mount_other");
        }
        const JobSheet sheet = begun_sheet(site.shop(), call.form, site.today());
        const std::string id =
            site.store.create(sheet, site.unit_of(sheet), call.viewer.session.form_token);
        if (is_job_id(sheet.technician)) {  // plain enough for a cookie
            site.set_cookie(call.response, technician_cookie, sheet.technician);
        }
        go_to(call.response, "/job/" + id);
    } catch (const OrderTaken&) {
        show_taken(site, call);
    } catch (const FormError& error) {
        const auto questions = new_job_questions(site.shop());
        const auto at =
            std::find_if(questions.begin(), questions.end(),
                         [&](const Question& question) { return asks_for(question, error.label); });
        const auto place = at == questions.end() ? questions.size() - 1
                                                 : static_cast<std::size_t>(at - questions.begin());
        show_new(site, call, place, 422, problem_words(call.viewer.language, error));
    }
}

/// A job is begun in a bay: without one the page says how the shop gets its first.
void with_a_bay(Site& site, Call& call, void (*go_on)(Site&, Call&)) {
    if (site.shop().bays.empty()) {
        const Language language = call.viewer.language;
        send_page(call.response, 200,
                  notice_page(language, {"no_bay_title", message(language, "no_bay_words")}));
        return;
    }
    go_on(site, call);
}

}  // namespace

void add_new_job_pages(Site& site) {
    site.get("/new", [&site](Call& call) { with_a_bay(site, call, ask_new); });
    site.post("/new", [&site](Call& call) { with_a_bay(site, call, begin_job); });
}

}  // namespace squaresight::bay
