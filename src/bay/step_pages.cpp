#include <fmt/format.h>

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
    Deed deed;
};

/// A step of one stage of a job: of the last one, or of an earlier one that is corrected.
struct StepOfStage {
    const Step& step;
    std::size_t place;   ///< of the stage, from 0
    std::string chosen;  ///< as an address names it, from 1; empty where it names none

    std::string address(const std::string& job) const { return "/job/" + job + "/" + step.name; }
    /// The address of one of its pages: "all", or a question.
    std::string page(const std::string& job, const std::string& question) const {
        return address(job) + "?" + (chosen.empty() ? "" : "stage=" + chosen + "&") +
               "question=" + question;
    }
    std::string behind(const std::string& job) const {
        return "/job/" + job + (chosen.empty() ? step.after : "/stage?stage=" + chosen);
    }
};

StepOfStage of_stage(const Call& call, const Step& step, const JobSheet& sheet) {
    const auto place = stage_of(call, sheet);
    return {step, place, place + 1 < sheet.sightings.size() ? fmt::format("{}", place + 1) : ""};
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

/// The newest other job of which this is true; nothing where there is none.
std::optional<JobSheet> newest_other(
    Site& site, const JobSheet& sheet, const std::function<bool(const ListedJob&)>& is_listed,
    const std::function<bool(const JobSheet&)>& is_meant = [](const JobSheet&) { return true; }) {
    const std::string own = sheet.file.parent_path().filename().string();
    for (const auto& listed : site.store.list(listed_jobs)) {
        if (listed.id != own && listed.problem.empty() && is_listed(listed)) {
            JobSheet other = site.store.open(listed.id).sheet;
            if (is_meant(other)) {
                return other;
            }
        }
    }
    return std::nullopt;
}

EarlierJobs earlier_of(Site& site, const JobSheet& sheet) {
    EarlierJobs earlier;
    earlier.board = newest_other(
        site, sheet,
        [&](const ListedJob& one) { return one.board_remembered && one.bay == sheet.bay; },
        [&](const JobSheet& other) { return other.target_file == sheet.target_file; });
    earlier.points = newest_other(site, sheet, [&](const ListedJob& one) {
        return one.has_points && !sheet.vehicle.empty() && one.vehicle == sheet.vehicle;
    });
    if (!earlier.points) {
        earlier.points = newest_other(site, sheet, [&](const ListedJob& one) {
            return one.has_points && !sheet.vehicle_model.empty() &&
                   one.vehicle_model == sheet.vehicle_model;
        });
    }
    return earlier;
}

Step ready_step() {
    return {"ready",
            "/board",
            false,
            ready_questions,
            ready_form,
            take_ready,
            [](const JobSheet& sheet) { return ready_answered(sheet).all(); },
            "step_ready",
            Deed::ready};
}

Step board_step(Site& site) {
    return {
        "board",
        "/photos",
        true,
        [&site](const JobSheet& sheet) {
            return board_questions(sheet, site.bay_of(sheet), earlier_of(site, sheet));
        },
        [&site](const JobSheet& sheet) {
            return board_form(sheet, site.bay_of(sheet), site.unit_of(sheet));
        },
        [&site](JobSheet& sheet, const Form& form) { take_board(sheet, site.bay_of(sheet), form); },
        is_board_answered,
        "step_board",
        Deed::board};
}

Step tape_step(Site& site) {
    return {
        "tape",
        "/answer",
        true,
        [&site](const JobSheet& sheet) { return tape_questions(sheet, site.bay_of(sheet)); },
        [&site](const JobSheet& sheet) {
            return tape_form(sheet, site.bay_of(sheet), site.unit_of(sheet));
        },
        [&site](JobSheet& sheet, const Form& form) { take_tape(sheet, site.bay_of(sheet), form); },
        [](const JobSheet& sheet) { return sheet.sightings.back().tape_and_level.has_value(); },
        "step_tape",
        Deed::tape};
}

Step finish_step(const Site& site) {
    return {"finish",
            "/answer",
            true,
            [](const JobSheet&) { return finish_questions(); },
            finish_form,
            [&site](JobSheet& sheet, const Form& form) { take_finish(sheet, form, site.today()); },
            [](const JobSheet& sheet) { return !sheet.closing.empty(); },
            "step_finish",
            Deed::finish};
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

void show_entries(Site& site, Call& call, const StepOfStage& part, const StoredJob& job) {
    const Step& step = part.step;
    EntriesScreen screen;
    screen.step = step.title;
    screen.address = part.address(job.id);
    screen.stage = part.chosen;
    screen.questions = step.questions(job.sheet);
    std::erase_if(screen.questions, [](const Question& one) { return one.once; });
    screen.next = part.behind(job.id);
    screen.notes = notes_of(site, call, step, job);
    if (step.deed == Deed::tape && is_tape_enough(job.sheet, site.bay_of(job.sheet))) {
        screen.button = "enough";
    }
    send_page(call.response, 200, entries_page(call.viewer, screen, step.form(job.sheet), job));
}

/// What an earlier job tells, in words, on the screen that offers to take it over.
void remember(Site& site, QuestionScreen& screen, const Call& call, const JobSheet& sheet) {
    const EarlierJobs jobs = earlier_of(site, sheet);
    const bool of_board = screen.question.name == "as_before";
    const auto& earlier = of_board ? jobs.board : jobs.points;
    if (!earlier) {
        return;
    }
    const Bay* bay = site.bay_of(sheet);
    const Form form = board_form(*earlier, bay, site.unit_of(sheet));
    for (const auto& field :
         of_board ? remembered_fields(*earlier) : remembered_points(*earlier, bay)) {
        screen.remembered.emplace_back(label_words(call.viewer.language, field),
                                       entry_words(field, form, call.viewer.language));
    }
    screen.remembered_from = of_board ? earlier->job : earlier->job + ", " + earlier->vehicle;
}

void show_floor(QuestionScreen& screen, const Floor& floor, Language language) {
    for (const auto& [key, words] : floor_lengths(floor)) {
        screen.lengths.emplace_back(message(language, key), words);
    }
    screen.floor_steps = floor_steps(floor);
    screen.floor_tapes = floor_tapes(floor, language);
}

void show_question(Site& site, Call& call, const StepOfStage& part, const StoredJob& job,
                   const std::string& asked, const Form& form, int status,
                   const std::string& problem, bool doubted = false) {
    const Step& step = part.step;
    const auto questions = step.questions(job.sheet);
    const std::size_t place = place_of(questions, asked);
    QuestionScreen screen;
    screen.step = step.title;
    screen.question = questions[place];
    const auto is_asked = [](const Question& one) { return !one.known; };
    const auto end = questions.begin() + static_cast<std::ptrdiff_t>(place) + 1;
    screen.number = static_cast<std::size_t>(std::count_if(questions.begin(), end, is_asked));
    screen.count =
        static_cast<std::size_t>(std::count_if(questions.begin(), questions.end(), is_asked));
    screen.action = part.address(job.id);
    if (!part.chosen.empty()) {
        screen.carried.set("stage", part.chosen);
    }
    screen.then = call.form.get("then") == "all" ? "all" : "";
    const auto before = asked_before(questions, place);
    screen.back = before ? part.page(job.id, questions[*before].name) : "/job/" + job.id;
    screen.all = step.listed ? part.page(job.id, "all") : "";
    screen.notes = notes_of(site, call, step, job);
    screen.doubted = doubted;
    if (step.deed == Deed::tape && place == 0 && is_tape_due(job.sheet)) {
        screen.leave_out = job.sheet.sightings.back().stage;
    }
    if (screen.question.fields.empty()) {
        screen.button = "done_go_on";
    }
    if (screen.question.picture == "floor") {
        if (const Bay* bay = site.bay_of(job.sheet)) {
            show_floor(screen, job_floor(*bay, job.sheet), call.viewer.language);
        } else {
            screen.question.picture.clear();
        }
    }
    if (screen.question.once) {
        remember(site, screen, call, job.sheet);
    }
    send_page(call.response, status,
              question_page(call.viewer, screen, form, &job, site.unit_of(job.sheet), problem));
}

/// Where it goes on behind a question; behind none, it is the whole step that was sent.
std::string behind(const Call& call, const StepOfStage& part, const JobSheet& sheet) {
    const Step& step = part.step;
    const auto questions = step.questions(sheet);
    const std::string asked = call.form.get("question");
    const std::size_t place = place_of(questions, asked);
    if (asked.empty()) {
        return part.behind(call.job);
    }
    if (call.form.get("then") == "all") {
        return part.page(call.job, "all");
    }
    if (const auto next = asked_after(questions, place)) {
        return part.page(call.job, questions[*next].name);
    }
    return step.listed ? part.page(call.job, "all") : part.behind(call.job);
}

/// What is changed by an answer, or by a whole step at once.
void take_answer(const Call& call, const Step& step, JobSheet& sheet) {
    const auto questions = step.questions(sheet);
    const std::string asked = call.form.get("question");
    auto fields =
        asked.empty() ? fields_of(questions) : questions[place_of(questions, asked)].fields;
    Form form = merged(step.form(sheet), call.form, fields);
    if (call.form.has("skip")) {
        std::erase_if(fields, [](const Field& field) { return field.needed; });
        form = without(form, fields);
    }
    step.take(sheet, form);
}

/// The job with its sheet as it stood at the stage that a step is of.
StoredJob at_stage(StoredJob job, const StepOfStage& part) {
    job.sheet = up_to_stage(std::move(job.sheet), part.place);
    return job;
}

JobSheet change_step(Site& site, const Call& call, const StepOfStage& part,
                     const JobStore::Change& change) {
    return at_stage(site.change(
                        call, [&](JobSheet& now) { change_stage(now, part.place, change); },
                        part.step.deed),
                    part)
        .sheet;
}

JobSheet take_as_before(Site& site, Call& call, const StepOfStage& part, const JobSheet& before) {
    const EarlierJobs jobs = earlier_of(site, before);
    const bool of_board = call.form.get("question") == "as_before";
    const auto& earlier = of_board ? jobs.board : jobs.points;
    if (!earlier) {
        return before;
    }
    return change_step(site, call, part, [&](JobSheet& now) {
        if (of_board) {
            take_board_as_before(now, site.bay_of(now), *earlier, call.form);
        } else {
            take_points_as_before(now, *earlier);
        }
    });
}

void take_step(Site& site, Call& call, const Step& step) {
    const StoredJob whole = site.store.open(call.job);
    const StepOfStage part = of_stage(call, step, whole.sheet);
    const StoredJob before = at_stage(whole, part);
    const Language language = call.viewer.language;
    const auto questions = step.questions(before.sheet);
    const std::string asked = call.form.get("question");
    const auto fields = questions[place_of(questions, asked)].fields;
    const auto again = [&](const std::string& problem, bool doubted) {
        show_question(site, call, part, before, asked,
                      merged(step.form(before.sheet), call.form, fields_of(questions)), 422,
                      problem, doubted);
    };
    try {
        const bool sure = asked.empty() || call.form.has("sure") || call.form.has("skip") ||
                          call.form.has("no") || call.form.get("as_before") == "sure";
        if (const Field* odd = sure ? nullptr : unusual(fields, call.form)) {
            again(doubt_words(language, *odd, call.form, site.unit_of(before.sheet)), true);
            return;
        }
        const bool nothing = !asked.empty() && (fields.empty() || call.form.has("no"));
        const JobSheet sheet =
            call.form.has("as_before") ? take_as_before(site, call, part, before.sheet)
            : nothing                  ? before.sheet
                                       : change_step(site, call, part,
                                                     [&](JobSheet& now) { take_answer(call, step, now); });
        go_to(call.response, behind(call, part, sheet));
    } catch (const FormError& error) {
        again(problem_words(language, error), false);
    } catch (const StaleSheet&) {
        const StoredJob now = at_stage(site.store.open(call.job), part);
        const auto shown = asked.empty() ? fields_of(questions) : fields;
        send_page(call.response, 409,
                  stale_page(call.viewer, now, shown, step.form(now.sheet), call.form,
                             part.page(now.id, asked)));
    }
}

}  // namespace

void add_step_pages(Site& site) {
    for (const Step& step : {ready_step(), board_step(site), tape_step(site), finish_step(site)}) {
        const std::string pattern = job_pattern(std::string("/") + step.name);
        site.get(pattern, [&site, step](Call& call) {
            const StoredJob whole = site.store.open(call.job);
            const StepOfStage part = of_stage(call, step, whole.sheet);
            const StoredJob job = at_stage(whole, part);
            const std::string asked = call.form.get("question");
            if (asked == "all" || (asked.empty() && step.listed && step.is_answered(job.sheet))) {
                show_entries(site, call, part, job);
            } else {
                show_question(site, call, part, job, asked, step.form(job.sheet), 200, "");
            }
        });
        site.post(pattern, [&site, step](Call& call) { take_step(site, call, step); });
    }
    site.post(job_pattern("/tape/left_out"), [&site](Call& call) {
        site.change(call, take_tape_left_out, Deed::tape_left_out);
        go_to(call.response, "/job/" + call.job + "/answer");
    });
}

}  // namespace squaresight::bay
