#include <algorithm>

#include "bay/floor_picture.h"
#include "bay/site.h"
#include "job/words.h"

namespace squaresight::bay {
namespace {

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

std::string step_address(const std::string& job, const Step& step) {
    return "/job/" + job + "/" + step.name;
}

/// The newest other job of the same bay whose board was measured; empty where there is none.
std::string earlier_of(Site& site, const JobSheet& sheet) {
    const std::string own = sheet.file.parent_path().filename().string();
    for (const auto& listed : site.store.list(listed_jobs)) {
        if (listed.id != own && listed.board_measured && listed.bay == sheet.bay) {
            return listed.id;
        }
    }
    return "";
}

Step ready_step() {
    return {"ready",
            "/board",
            false,
            [](const JobSheet&) { return ready_questions(); },
            ready_form,
            take_ready,
            [](const JobSheet& sheet) { return !sheet.ready.empty(); },
            "step_ready"};
}

Step board_step(Site& site) {
    return {
        "board",
        "/photos",
        true,
        [&site](const JobSheet& sheet) {
            return board_questions(sheet, site.bay_of(sheet), !earlier_of(site, sheet).empty());
        },
        [&site](const JobSheet& sheet) {
            return board_form(sheet, site.bay_of(sheet), site.unit_of(sheet));
        },
        [&site](JobSheet& sheet, const Form& form) { take_board(sheet, site.bay_of(sheet), form); },
        is_board_answered,
        "step_board"};
}

Step tape_step(Site& site) {
    return {
        "tape",
        "",
        true,
        [&site](const JobSheet& sheet) { return tape_questions(sheet, site.bay_of(sheet)); },
        [&site](const JobSheet& sheet) {
            return tape_form(sheet, site.bay_of(sheet), site.unit_of(sheet));
        },
        [&site](JobSheet& sheet, const Form& form) { take_tape(sheet, site.bay_of(sheet), form); },
        [](const JobSheet& sheet) { return sheet.sightings.back().tape_and_level.has_value(); },
        "step_tape"};
}

Step finish_step(const Site& site) {
    return {"finish",
            "/answer",
            true,
            [](const JobSheet&) { return finish_questions(); },
            finish_form,
            [&site](JobSheet& sheet, const Form& form) { take_finish(sheet, form, site.today()); },
            [](const JobSheet& sheet) { return !sheet.closing.empty(); },
            "step_finish"};
}

std::vector<std::string> notes_of(Site& site, const Call& call, const Step& step,
                                  const StoredJob& job) {
    const auto spread_mm = pass_spread_mm(job.sheet);
    if (std::string(step.name) != "tape" || !spread_mm) {
        return {};
    }
    return {message(call.viewer.language, "passes_differ") + " " +
            length_words(*spread_mm, site.unit_of(job.sheet)) + "."};
}

void show_entries(Site& site, Call& call, const Step& step, const StoredJob& job) {
    EntriesScreen screen;
    screen.step = step.title;
    screen.address = step_address(job.id, step);
    screen.questions = step.questions(job.sheet);
    screen.next = "/job/" + job.id + step.after;
    screen.notes = notes_of(site, call, step, job);
    send_page(call.response, 200, entries_page(call.viewer, screen, step.form(job.sheet), job));
}

/// What an earlier job's board would bring, in words.
void remember(Site& site, QuestionScreen& screen, const Call& call, const Step& step,
              const JobSheet& sheet) {
    const JobSheet earlier = site.store.open(earlier_of(site, sheet)).sheet;
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

void show_floor(QuestionScreen& screen, const Floor& floor, Language language) {
    for (const auto& [key, words] : floor_lengths(floor)) {
        screen.lengths.emplace_back(message(language, key), words);
    }
    screen.floor_steps = floor_steps(floor);
    screen.floor_tapes = floor_tapes(floor, language);
}

void show_question(Site& site, Call& call, const Step& step, const StoredJob& job,
                   const std::string& asked, const Form& form, int status,
                   const std::string& problem, bool doubted = false) {
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
    screen.notes = notes_of(site, call, step, job);
    screen.doubted = doubted;
    if (screen.question.fields.empty()) {
        screen.button = "go_on";
    }
    if (screen.question.picture == "floor") {
        if (const Bay* bay = site.bay_of(job.sheet)) {
            show_floor(screen, job_floor(*bay, job.sheet), call.viewer.language);
        } else {
            screen.question.picture.clear();
        }
    }
    if (screen.question.name == "as_before") {
        remember(site, screen, call, step, job.sheet);
    }
    send_page(call.response, status,
              question_page(call.viewer, screen, form, &job, site.unit_of(job.sheet), problem));
}

/// Where it goes on behind a question; behind none, it is the whole step that was sent.
std::string behind(const Call& call, const Step& step, const JobSheet& sheet) {
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
void take_answer(Call& call, const Step& step, JobSheet& sheet) {
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

void take_as_before(Site& site, Call& call, const StoredJob& before) {
    const std::string earlier = earlier_of(site, before.sheet);
    if (!earlier.empty()) {
        const JobSheet sheet = site.store.open(earlier).sheet;
        site.change(call, [&](JobSheet& now) { take_board_as_before(now, sheet); });
    }
    go_to(call.response, "/job/" + call.job + "/board?question=all");
}

void take_step(Site& site, Call& call, const Step& step) {
    const StoredJob before = site.store.open(call.job);
    const Language language = call.viewer.language;
    const auto questions = step.questions(before.sheet);
    const std::string asked = call.form.get("question");
    const auto fields = questions[place_of(questions, asked)].fields;
    const auto again = [&](const std::string& problem, bool doubted) {
        show_question(site, call, step, before, asked,
                      merged(step.form(before.sheet), call.form, fields_of(questions)), 422,
                      problem, doubted);
    };
    try {
        if (call.form.has("as_before")) {
            take_as_before(site, call, before);
            return;
        }
        const bool sure = asked.empty() || call.form.has("sure") || call.form.has("skip");
        if (const Field* odd = sure ? nullptr : unusual(fields, call.form)) {
            again(doubt_words(language, *odd, call.form, site.unit_of(before.sheet)), true);
            return;
        }
        const bool nothing = !asked.empty() && fields.empty();
        const JobSheet sheet =
            nothing ? before.sheet
                    : site.change(call, [&](JobSheet& now) { take_answer(call, step, now); }).sheet;
        go_to(call.response, behind(call, step, sheet));
    } catch (const FormError& error) {
        again(problem_words(language, error), false);
    } catch (const StaleSheet&) {
        const StoredJob now = site.store.open(call.job);
        const auto shown = asked.empty() ? fields_of(questions) : fields;
        send_page(call.response, 409,
                  stale_page(call.viewer, now, shown, step.form(now.sheet), call.form,
                             step_address(now.id, step) + "?question=" + asked));
    }
}

}  // namespace

void add_step_pages(Site& site) {
    for (const Step& step : {ready_step(), board_step(site), tape_step(site), finish_step(site)}) {
        const std::string pattern = job_pattern(std::string("/") + step.name);
        site.get(pattern, [&site, step](Call& call) {
            const StoredJob job = site.store.open(call.job);
            const std::string asked = call.form.get("question");
            if (asked == "all" || (asked.empty() && step.listed && step.is_answered(job.sheet))) {
                show_entries(site, call, step, job);
            } else {
                show_question(site, call, step, job, asked, step.form(job.sheet), 200, "");
            }
        });
        site.post(pattern, [&site, step](Call& call) { take_step(site, call, step); });
    }
}

}  // namespace squaresight::bay
