#include "bay/sheet_entries.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <ctime>

namespace squaresight::bay {
namespace {

constexpr std::size_t longest_name = 60;
constexpr std::size_t longest_answer = 200;
constexpr double usual_base_mm = 4000;
constexpr double finest_limit_mm = 0.1;

constexpr const char* reading_after_key = "reading_after.yaw";

using Answers = std::vector<std::pair<std::string, std::string>>;

std::string answer_to(const Answers& answers, const std::string& key) {
    const auto found = std::find_if(answers.begin(), answers.end(),
                                    [&](const auto& one) { return one.first == key; });
    return found == answers.end() ? "" : found->second;
}

void put_answer(Answers& answers, const std::string& key, const std::string& answer) {
    const auto found = std::find_if(answers.begin(), answers.end(),
                                    [&](const auto& one) { return one.first == key; });
    if (answer.empty() && found != answers.end()) {
        answers.erase(found);
    } else if (!answer.empty() && found != answers.end()) {
        found->second = answer;
    } else if (!answer.empty()) {
        // "reading_after.yaw" stands beside "reading_after.pitch": they are one entry of the sheet.
        const std::string group = key.substr(0, key.find('.') + 1);
        const auto beside = std::find_if(answers.begin(), answers.end(), [&](const auto& one) {
            return !group.empty() && one.first.compare(0, group.size(), group) == 0;
        });
        answers.insert(beside, {key, answer});
    }
}

/// The file that a form chose by its name; that of the bay where it chose none.
std::filesystem::path chosen(const std::vector<ShopItem>& items, const Form& form,
                             const std::string& name, const std::filesystem::path& usual) {
    if (!form.has(name)) {
        return usual;
    }
    const ShopItem* item = find_item(items, form.get(name));
    if (item == nullptr) {
        throw FormError(name, "not_offered");
    }
    return item->file;
}

const SheetSetup& usual_limits(const Bay* bay) {
    static const SheetSetup usual = usual_setup(5000, usual_base_mm);
    return bay != nullptr ? bay->setup : usual;
}

/// What a reading that is given now may be wrong by.
double uncertainty_of(const Reading& before, const Reading& usual, const Reading& rule) {
    return before.measured  ? before.standard_uncertainty
           : usual.measured ? usual.standard_uncertainty
                            : rule.standard_uncertainty;
}

SheetSetup* own_setup(JobSheet& sheet) {
    for (auto sighting = sheet.sightings.rbegin(); sighting != sheet.sightings.rend(); ++sighting) {
        if (!sighting->same_setup) {
            if (!sighting->setup) {
                sighting->setup = unmeasured_setup();
            }
            return &*sighting->setup;
        }
    }
    return nullptr;
}

void take_line(SheetSetup& setup, const SheetSetup& before, const Bay* bay, const Form& form) {
    const auto base_mm = form.length_mm("line_base");
    if (base_mm) {
        if (*base_mm < 200) {
            throw FormError("line_base", "out_of_range");
        }
        const auto& marks = before.line_marks ? before.line_marks : usual_limits(bay).line_marks;
        plumb_line({*base_mm, marks ? marks->plumb_limit_mm
                                    : usual_limits(nullptr).line_marks->plumb_limit_mm},
                   setup);
    } else if (!before.line_marks) {
        setup.readings.line_left_deg = before.readings.line_left_deg;
    }
}

void take_distance(SheetSetup& setup, const Reading* before, const Bay* bay, const Form& form) {
    const auto distance_mm = form.length_mm("distance");
    if (!distance_mm) {
        throw FormError("distance", "needed");
    }
    if (*distance_mm < 300) {
        throw FormError("distance", "out_of_range");
    }
    setup.readings.distance_mm = {*distance_mm,
                                  before != nullptr
                                      ? before->standard_uncertainty
                                      : usual_limits(bay).readings.distance_mm.standard_uncertainty,
                                  true};
    setup.has_distance = true;
}

void take_readings(Setup& readings, const Setup& before, const Bay* bay, const Form& form) {
    const Setup& usual = usual_limits(bay).readings;
    const Setup& rule = usual_limits(nullptr).readings;
    for (const auto& entry : board_entries) {
        const bool sided = *entry.plus != '\0';
        const std::string name = entry.name;
        const auto value = entry.kind == FieldKind::angle ? form.sided_angle_deg(name)
                           : sided                        ? form.sided_length_mm(name)
                                                          : form.length_mm(name);
        if (value) {
            const auto reading = entry.reading;
            readings.*reading = {
                *value, uncertainty_of(before.*reading, usual.*reading, rule.*reading), true};
        }
    }
    if (readings.target_height_mm.measured != readings.mount_height_mm.measured) {
        throw FormError(readings.target_height_mm.measured ? "mount_height" : "target_height",
                        "pair_missing");
    }
}

void take_tapes(SheetSetup& setup, const std::vector<SheetTape>& offered, const Form& form) {
    for (std::size_t i = 0; i < offered.size(); ++i) {
        if (const auto length_mm = form.length_mm(numbered("tape_from", i))) {
            if (*length_mm < finest_limit_mm) {
                throw FormError("tape_from", "out_of_range");
            }
            setup.tapes.push_back(offered[i]);
            setup.tapes.back().length_mm.value = *length_mm;
        }
    }
}

void take_passes(TapeAndLevel& tape, const Form& form) {
    tape.passes.clear();
    for (int i = 1; i <= most_repeats; ++i) {
        const auto left_mm = form.length_mm(numbered("pass_left", i));
        const auto right_mm = form.length_mm(numbered("pass_right", i));
        if (left_mm.has_value() != right_mm.has_value()) {
            throw FormError(left_mm ? "pass_right" : "pass_left", "needed");
        }
        if (left_mm) {
            tape.passes.push_back({*left_mm, *right_mm});
        }
    }
    if (tape.passes.empty()) {
        return;
    }
    for (const auto& [name, into] : {std::pair{"left_point", &tape.left_point_mm},
                                     std::pair{"right_point", &tape.right_point_mm}}) {
        const auto point_mm = form.length_mm(name);
        if (!point_mm || *point_mm < 1) {
            throw FormError(name, "needed");
        }
        *into = *point_mm;
    }
}

TapeAndLevel usual_tape(const Bay* bay) {
    TapeAndLevel tape;
    if (bay != nullptr && bay->tape_and_level) {
        const BayTape& usual = *bay->tape_and_level;
        tape.left_point_mm = usual.left_point_mm;
        tape.right_point_mm = usual.right_point_mm;
        tape.pass_limit_mm = usual.pass_limit_mm;
        tape.face_level_limit_deg = usual.face_limit_deg;
        tape.bumper_square_limit_mm = usual.bumper_square_limit_mm;
        tape.beam_level_limit_deg = usual.beam_level_limit_deg;
        tape.laser_angle_limit_deg = usual.laser_angle_limit_deg;
    }
    return tape;
}

std::optional<double> sensor_reading_deg(const Form& form, const char* name) {
    constexpr double widest_reading_deg = 45;
    const auto reading_deg = form.sided_angle_deg(name);
    if (reading_deg && std::abs(*reading_deg) > widest_reading_deg) {
        throw FormError(name, "out_of_range");
    }
    return reading_deg;
}

/// A stage on the same setup; one that was begun and holds nothing yet is taken over.
SheetSighting& next_stage(JobSheet& sheet, const std::string& stage) {
    const SheetSighting& last = sheet.sightings.back();
    const bool unused = sheet.sightings.size() > 1 && last.photos.empty() && !last.tape_and_level;
    if (!unused) {
        sheet.sightings.emplace_back();
    }
    SheetSighting& next = sheet.sightings.back();
    next.stage = stage;
    next.same_setup = true;
    return next;
}

bool same_tape(const SheetTape& a, const SheetTape& b) {
    return a.from.name == b.from.name && a.to.name == b.to.name;
}

}  // namespace

std::vector<SheetTape> offered_tapes(const SheetSetup* setup, const Bay* bay) {
    std::vector<SheetTape> tapes = setup == nullptr ? std::vector<SheetTape>{} : setup->tapes;
    for (const auto& tape : bay == nullptr ? std::vector<SheetTape>{} : bay->setup.tapes) {
        if (std::none_of(tapes.begin(), tapes.end(),
                         [&](const SheetTape& other) { return same_tape(other, tape); })) {
            tapes.push_back(tape);
        }
    }
    return tapes;
}

std::string today_text() { return fmt::format("{:%Y-%m-%d}", fmt::localtime(std::time(nullptr))); }

Form new_job_form(const Shop& shop) {
    Form form;
    form.set("bay", shop.bays.front().name);
    return form;
}

Form ready_form(const JobSheet& sheet) {
    Form form;
    for (const auto* key : ready_keys) {
        const std::string answer = answer_to(sheet.ready, key);
        const bool plain = answer == "yes" || answer == "no" || answer.empty();
        form.set(key, plain ? answer : "no");
        form.set(std::string(key) + ".reason", plain ? "" : answer);
    }
    if (const auto& yaw_deg = sheet.sightings.front().sensor_yaw_deg) {
        form.put_sided_angle("reading_before", *yaw_deg);
    }
    return form;
}

Form board_form(const JobSheet& sheet, const Bay* bay, LengthUnit unit) {
    Form form;
    const SheetSetup* setup = current_setup(sheet);
    if (setup == nullptr) {
        return form;
    }
    if (setup->has_distance) {
        form.put_length("distance", setup->readings.distance_mm.value, unit);
    }
    if (setup->line_marks) {
        form.put_length("line_base", setup->line_marks->base_mm, unit);
    }
    for (const auto& entry : board_entries) {
        const Reading& reading = setup->readings.*entry.reading;
        if (reading.measured && entry.kind == FieldKind::angle) {
            form.put_sided_angle(entry.name, reading.value);
        } else if (reading.measured) {
            form.put_sided_length(entry.name, reading.value, unit);
        }
    }
    const auto tapes = offered_tapes(setup, bay);
    for (std::size_t i = 0; i < setup->tapes.size(); ++i) {
        form.put_length(numbered("tape_from", i), tapes[i].length_mm.value, unit);
    }
    return form;
}

Form tape_form(const JobSheet& sheet, const Bay* bay, LengthUnit unit) {
    Form form;
    const auto& given = sheet.sightings.back().tape_and_level;
    const TapeAndLevel usual = usual_tape(bay);
    const TapeAndLevel tape = given.value_or(usual);
    const TapeAndLevel& points = tape.left_point_mm > 0 ? tape : usual;
    if (points.left_point_mm > 0) {
        form.put_length("left_point", points.left_point_mm, unit);
        form.put_length("right_point", points.right_point_mm, unit);
    }
    for (std::size_t i = 0; i < tape.passes.size(); ++i) {
        form.put_length(numbered("pass_left", i + 1), tape.passes[i].left_mm, unit);
        form.put_length(numbered("pass_right", i + 1), tape.passes[i].right_mm, unit);
    }
    for (std::size_t i = 0; i < tape.face_level_deg.size(); ++i) {
        form.put_sided_angle(numbered("face_level", i + 1), tape.face_level_deg[i]);
    }
    return form;
}

Form finish_form(const JobSheet& sheet) {
    Form form;
    for (const auto* key : closing_keys) {
        form.set(key, answer_to(sheet.closing, key));
    }
    const std::string after = answer_to(sheet.closing, reading_after_key);
    if (!after.empty()) {
        form.put_sided_angle("reading_after", parse_quantity(after, Dimension::angle).value);
    }
    return form;
}

JobSheet begun_sheet(const Shop& shop, const Form& form) {
    const Bay* bay = find_bay(shop, form.get("bay"));
    if (bay == nullptr) {
        throw FormError("bay", "not_offered");
    }
    JobSheet sheet;
    sheet.job = form.text("job", longest_name, true);
    sheet.vehicle = form.text("vehicle", longest_name, true);
    sheet.technician = form.text("technician", longest_name, false);
    sheet.bay = bay->name;
    sheet.mount_file = chosen(shop.mounts, form, "mount", bay->mount_file);
    sheet.camera_file = chosen(shop.cameras, form, "camera", bay->camera_file);
    sheet.target_file = chosen(shop.targets, form, "target", bay->target_file);
    const auto cradle =
        chosen(shop.cradles, form, "cradle", bay->cradle_file.value_or(std::filesystem::path()));
    if (!cradle.empty()) {
        sheet.cradle_file = cradle;
    }
    SheetSighting first;
    first.stage = "as-found";
    first.setup = unmeasured_setup();
    take_distance(*first.setup, nullptr, bay, form);
    sheet.sightings.push_back(std::move(first));
    return sheet;
}

void check_new_job(const std::string& question, const Form& form) {
    if (question == "vehicle") {
        form.text("vehicle", longest_name, true);
    } else if (question == "distance") {
        SheetSetup setup = unmeasured_setup();
        take_distance(setup, nullptr, nullptr, form);
    }
}

void take_ready(JobSheet& sheet, const Form& form) {
    for (const auto* key : ready_keys) {
        const std::string answer = form.get(key);
        const std::string reason = form.text(std::string(key) + ".reason", longest_answer, false);
        if (answer != "yes" && answer != "no" && !answer.empty()) {
            throw FormError(key, "not_offered");
        }
        put_answer(sheet.ready, key, answer == "yes" || reason.empty() ? answer : reason);
    }
    sheet.sightings.front().sensor_yaw_deg = sensor_reading_deg(form, "reading_before");
}

void take_board(JobSheet& sheet, const Bay* bay, const Form& form) {
    SheetSetup* setup = own_setup(sheet);
    const SheetSetup before = *setup;
    SheetSetup now = unmeasured_setup();
    // Not asked for on the screen: the bay's figure where the sheet has none.
    for (const auto reading : {&Setup::rail_zero_deg, &Setup::target_turned_left_deg}) {
        now.readings.*reading = before.readings.*reading;
        if (!(now.readings.*reading).measured && bay != nullptr) {
            now.readings.*reading = bay->setup.readings.*reading;
        }
    }
    take_distance(now, before.has_distance ? &before.readings.distance_mm : nullptr, bay, form);
    take_line(now, before, bay, form);
    take_readings(now.readings, before.readings, bay, form);
    take_tapes(now, offered_tapes(&before, bay), form);
    *setup = std::move(now);
}

void take_board_as_before(JobSheet& sheet, const JobSheet& earlier) {
    const SheetSetup* before = current_setup(earlier);
    SheetSetup* now = own_setup(sheet);
    if (before == nullptr) {
        return;
    }
    for (const auto& entry : board_entries) {
        now->readings.*entry.reading = before->readings.*entry.reading;
    }
    for (const auto reading : {&Setup::rail_zero_deg, &Setup::target_turned_left_deg}) {
        now->readings.*reading = before->readings.*reading;
    }
    now->line_marks = before->line_marks;
    now->readings.line_left_deg = before->readings.line_left_deg;
}

void take_tape(JobSheet& sheet, const Bay* bay, const Form& form) {
    auto& given = sheet.sightings.back().tape_and_level;
    TapeAndLevel tape = given.value_or(usual_tape(bay));
    take_passes(tape, form);
    tape.face_level_deg.clear();
    for (int i = 1; i <= most_repeats; ++i) {
        if (const auto level_deg = form.sided_angle_deg(numbered("face_level", i))) {
            tape.face_level_deg.push_back(*level_deg);
        }
    }
    given.reset();
    if (!tape.passes.empty() || !tape.face_level_deg.empty()) {
        given = tape;
    }
}

void take_finish(JobSheet& sheet, const Form& form) {
    for (const auto* key : closing_keys) {
        const std::string picked = form.text(key, longest_answer, false);
        const std::string typed = form.text(std::string(key) + ".text", longest_answer, false);
        put_answer(sheet.closing, key,
                   picked == "today" ? today_text()
                   : picked.empty()  ? typed
                                     : picked);
    }
    const auto after_deg = sensor_reading_deg(form, "reading_after");
    put_answer(sheet.closing, reading_after_key,
               after_deg ? fmt::format("{:.9g} deg", *after_deg) : "");
}

void take_turned(JobSheet& sheet, const Mount& mount, const Form& form) {
    std::vector<std::pair<std::string, double>> turned;
    for (std::size_t i = 0; i < mount.screws.size(); ++i) {
        const std::string eighths = form.text(numbered("turns", i), 3, false);
        const std::string way = form.get(numbered("way", i));
        if (eighths.empty() || eighths == "0") {
            continue;
        }
        if (eighths.find_first_not_of("0123456789") != std::string::npos) {
            throw FormError("turned_title", "no_number");
        }
        if (way != "clockwise" && way != "counter-clockwise") {
            throw FormError("turned_title", "side_missing");
        }
        turned.emplace_back(mount.screws[i].name,
                            std::stoi(eighths) / 8.0 * (way == "clockwise" ? 1 : -1));
    }
    if (turned.empty()) {
        throw FormError("turned_title", "needed");
    }
    SheetSighting& last = sheet.sightings.back();
    last.turned_clockwise = std::move(turned);
    if (last.stage == "as-left") {
        last.stage = "adjusted";  // it is not how the job is left after all
    }
    next_stage(sheet, "adjusted");
}

void take_lock(JobSheet& sheet) {
    if (sheet.sightings.back().stage != "as-left") {
        next_stage(sheet, "as-left").locked = true;
    }
}

void take_label(JobSheet& sheet, const std::string& file, const std::string& cradle) {
    for (auto& photo : sheet.sightings.back().photos) {
        if (photo.file == file) {
            photo.label = cradle == "upright"    ? std::optional(CradleLabel::upright)
                          : cradle == "inverted" ? std::optional(CradleLabel::inverted)
                                                 : std::nullopt;
        }
    }
}

void take_moved(JobSheet& sheet) {
    SheetSighting& last = sheet.sightings.back();
    if (last.same_setup && last.photos.empty()) {
        last.same_setup = false;
        last.setup = unmeasured_setup();
    }
}

bool is_board_answered(const JobSheet& sheet) {
    const SheetSetup* setup = current_setup(sheet);
    return setup != nullptr &&
           (setup->line_marks ||
            std::any_of(board_entries.begin(), board_entries.end(), [&](const BoardEntry& entry) {
                return (setup->readings.*entry.reading).measured;
            }));
}

const SheetSetup* current_setup(const JobSheet& sheet) {
    for (auto sighting = sheet.sightings.rbegin(); sighting != sheet.sightings.rend(); ++sighting) {
        if (!sighting->same_setup) {
            return sighting->setup ? &*sighting->setup : nullptr;
        }
    }
    return nullptr;
}

std::optional<double> pass_spread_mm(const JobSheet& sheet) {
    const auto& tape = sheet.sightings.back().tape_and_level;
    if (!tape || tape->passes.size() < 2) {
        return std::nullopt;
    }
    double low = INFINITY, high = -INFINITY;
    for (const auto& pass : tape->passes) {
        low = std::min(low, pass.right_mm - pass.left_mm);
        high = std::max(high, pass.right_mm - pass.left_mm);
    }
    return high - low;
}

}  // namespace squaresight::bay
