#include "bay/sheet_forms.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <ctime>

namespace squaresight::bay {
namespace {

constexpr std::size_t longest_name = 60;
constexpr std::size_t longest_answer = 200;
constexpr int passes_asked = 2;
constexpr int levels_asked = 2;
constexpr int most_repeats = 20;
constexpr double usual_base_mm = 4000;
constexpr double finest_limit_mm = 0.1;

constexpr Usual usual_distance{1500, 12000};
constexpr Usual usual_tape_length{500, 15000};
constexpr Usual usual_point{300, 1500};
constexpr Usual usual_pass{20, 2500};
constexpr Usual usual_level{0, 10};
constexpr Usual usual_reading{0, 10};

/// Entries of the board's screens that fill one reading each.
struct BoardEntry {
    const char* name;
    FieldKind kind;
    const char* plus;
    const char* minus;
    Reading Setup::*reading;
    const char* question;  ///< those of one name stand together
    Usual usual;
};

constexpr std::array<BoardEntry, 7> board_entries{{
    {"target_left",
     FieldKind::length,
     "left",
     "right",
     &Setup::target_left_mm,
     "target_left",
     {0, 500}},
    {"mount_left",
     FieldKind::length,
     "left",
     "right",
     &Setup::mount_left_mm,
     "mount_left",
     {0, 300}},
    {"target_height", FieldKind::length, "", "", &Setup::target_height_mm, "heights", {300, 2500}},
    {"mount_height", FieldKind::length, "", "", &Setup::mount_height_mm, "heights", {300, 2000}},
    {"floor_rise",
     FieldKind::angle,
     "rises",
     "falls",
     &Setup::floor_rise_deg,
     "floor_rise",
     {0, 3}},
    {"target_lean_back",
     FieldKind::angle,
     "top_away",
     "top_near",
     &Setup::target_lean_back_deg,
     "target_lean_back",
     {0, 5}},
    {"target_roll_clockwise",
     FieldKind::angle,
     "clockwise",
     "counter-clockwise",
     &Setup::target_roll_clockwise_deg,
     "target_roll_clockwise",
     {0, 5}},
}};

constexpr std::array<const char*, 6> ready_keys{"level_ground",  "tyres",      "ride_height",
                                                "bracket_sound", "face_clean", "codes_saved"};
constexpr std::array<const char*, 4> closing_keys{"codes_cleared", "electronic_calibration",
                                                  "drive", "codes_after"};
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

template <class Item>
std::vector<Option> options_of(const std::vector<Item>& items) {
    std::vector<Option> options;
    for (const auto& item : items) {
        options.push_back({item.name, item.name});
    }
    return options;
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

bool same_tape(const SheetTape& a, const SheetTape& b) {
    return a.from.name == b.from.name && a.to.name == b.to.name;
}

/// The tapes of a setup, then those of the bay that it lacks.
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

template <class Number>
std::string numbered(const char* name, Number number) {
    return fmt::format("{}.{}", name, number);
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

Field distance_field() {
    return {"distance", FieldKind::length, "distance", "", "", "", {}, true, "", usual_distance};
}

/// The sensor's own reading; its sign is the sensor's, so its sides are plus and minus.
Field sensor_field(const char* name) {
    return {name, FieldKind::angle, name, "", "reading_plus", "reading_minus", {}, false,
            "",   usual_reading};
}

std::optional<double> sensor_reading_deg(const Form& form, const char* name) {
    constexpr double widest_reading_deg = 45;
    const auto reading_deg = form.sided_angle_deg(name);
    if (reading_deg && std::abs(*reading_deg) > widest_reading_deg) {
        throw FormError(name, "out_of_range");
    }
    return reading_deg;
}

/// As many as are asked for, and one more where those were made.
int repeats(int asked, std::size_t made) {
    return std::clamp(static_cast<int>(made) + 1, asked, most_repeats);
}

/// Which hook the tape starts from and which edge it goes to, where they are the usual ones.
std::string tape_picture(const SheetTape& tape) {
    const std::string from = tape.from.position_in_vehicle_mm.y() > 0 ? "left" : "right";
    return tape.to.name == "left edge" || tape.to.name == "right edge"
               ? "tape " + from + " to " + tape.to.name
               : "";
}

/// The names under which a field is sent.
std::vector<std::string> parts_of(const Field& field) {
    std::vector<std::string> parts{field.name};
    for (const auto* part : {".mm", ".ft", ".in", ".16", ".deg", ".side", ".reason", ".text"}) {
        parts.push_back(field.name + part);
    }
    return parts;
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

}  // namespace

std::string today_text() { return fmt::format("{:%Y-%m-%d}", fmt::localtime(std::time(nullptr))); }

std::vector<Question> new_job_questions(const Shop& shop) {
    std::vector<Field> rest{
        {"job", FieldKind::text, "job", "", "", "", {}, true},
        {"technician", FieldKind::text, "technician", "", "", ""},
        {"bay", FieldKind::choice, "bay", "", "", "", options_of(shop.bays), true},
    };
    for (const auto& [name, items] :
         {std::pair{"mount", &shop.mounts}, std::pair{"camera", &shop.cameras},
          std::pair{"target", &shop.targets}, std::pair{"cradle", &shop.cradles}}) {
        rest.push_back({name, FieldKind::choice, name, "", "", "", options_of(*items)});
    }
    Question last{"rest", rest, "", "new_rest"};
    last.folded = true;
    return {{"vehicle", {{"vehicle", FieldKind::text, "vehicle", "", "", "", {}, true}}},
            {"distance", {distance_field()}, "distance"},
            last};
}

std::vector<Question> ready_questions() {
    Question read{"cautions", {}, "", "caution"};
    read.cautions = {"caution_vehicle", "caution_laser", "caution_bracket", "caution_maker"};
    std::vector<Question> questions{read};
    for (const auto* key : ready_keys) {
        questions.push_back({key, {{key, FieldKind::answer, key, "", "", ""}}});
    }
    Question reading{"reading_before", {sensor_field("reading_before")}, "reading"};
    reading.words = {"reading_words"};
    reading.may_be_skipped = true;
    questions.push_back(reading);
    return questions;
}

std::vector<Question> board_questions(const JobSheet& sheet, const Bay* bay, bool remembered) {
    Question place{"place", {}, "floor", "board_place"};
    place.words = {"board_words"};
    std::vector<Question> questions{place};
    if (remembered) {
        questions.push_back({"as_before", {}, "", "as_before"});
    }
    questions.push_back({"distance", {distance_field()}, "distance"});
    questions.back().known = current_setup(sheet) != nullptr && current_setup(sheet)->has_distance;
    questions.push_back({"line_base",
                         {{"line_base",
                           FieldKind::length,
                           "line_base",
                           "",
                           "",
                           "",
                           {},
                           false,
                           "",
                           Usual{1000, 12000}}},
                         "line_base"});
    for (const auto& entry : board_entries) {
        const Field field{entry.name,  entry.kind, entry.name, "", entry.plus,
                          entry.minus, {},         false,      "", entry.usual};
        if (questions.back().name == entry.question) {
            questions.back().fields.push_back(field);
            questions.back().title = entry.question;
        } else {
            questions.push_back({entry.question, {field}, entry.question});
        }
    }
    const auto tapes = offered_tapes(current_setup(sheet), bay);
    for (std::size_t i = 0; i < tapes.size(); ++i) {
        Field field{
            numbered("tape_from", i), FieldKind::length, "tape_from", tapes[i].from.name, "", ""};
        field.detail_key = tapes[i].to.place_mm ? "" : tapes[i].to.name;
        field.usual = usual_tape_length;
        questions.push_back({field.name, {field}, tape_picture(tapes[i])});
    }
    for (auto& question : questions) {
        question.may_be_skipped = !question.fields.empty() && question.name != "distance";
    }
    return questions;
}

std::vector<Question> tape_questions(const JobSheet& sheet, const Bay* bay) {
    const TapeAndLevel given = sheet.sightings.back().tape_and_level.value_or(TapeAndLevel());
    const bool told = bay != nullptr && bay->tape_and_level;
    const int passes =
        repeats(told ? bay->tape_and_level->passes : passes_asked, given.passes.size());
    const int levels = repeats(told ? bay->tape_and_level->face_readings : levels_asked,
                               given.face_level_deg.size());
    std::vector<Question> questions;
    for (int i = 1; i <= levels; ++i) {
        Question level{numbered("face_level", i),
                       {{numbered("face_level", i),
                         FieldKind::angle,
                         "face_level",
                         fmt::format("{}", i),
                         "nose_up",
                         "nose_down",
                         {},
                         false,
                         "",
                         usual_level}},
                       "face_level"};
        questions.push_back(level);
    }
    Question points{"points", {}, "points", "points"};
    for (const auto* name : {"left_point", "right_point"}) {
        points.fields.push_back(
            {name, FieldKind::length, name, "", "", "", {}, false, "", usual_point});
    }
    const bool points_known = told || given.left_point_mm > 0;
    for (int i = 1; i <= passes; ++i) {
        Question pass{numbered("pass", i), {}, "pass", "pass"};
        pass.words = {"tape_words"};
        pass.cautions = {"caution_laser"};
        if (i == 1 && !points_known) {
            pass.fields = points.fields;  // without them a pass says nothing
        }
        for (const auto* name : {"pass_left", "pass_right"}) {
            pass.fields.push_back({numbered(name, i),
                                   FieldKind::length,
                                   name,
                                   fmt::format("{}", i),
                                   "",
                                   "",
                                   {},
                                   false,
                                   "",
                                   usual_pass});
        }
        questions.push_back(pass);
    }
    if (points_known) {
        questions.push_back(points);
    }
    for (auto& question : questions) {
        question.may_be_skipped = true;
    }
    return questions;
}

std::vector<Question> finish_questions() {
    const std::vector<std::vector<Option>> options{
        {{"yes", "finish_done"}, {"", "not_yet"}},
        {{"yes", "finish_done"}, {"not asked for", "not_asked"}, {"", "not_yet"}},
        {{"today", "finish_today"}, {"", "not_yet"}},
        {{"none", "no_codes"}, {"", "not_yet"}}};
    std::vector<Question> questions;
    for (std::size_t i = 0; i < closing_keys.size(); ++i) {
        const char* key = closing_keys[i];
        questions.push_back({key, {{key, FieldKind::pick, key, "", "", "", options[i]}}});
        questions.back().words = {"finish_words"};
        if (i < 2) {
            questions.back().cautions = {"caution_maker"};
        }
    }
    Question reading{"reading_after", {sensor_field("reading_after")}, "reading"};
    reading.words = {"reading_words"};
    reading.may_be_skipped = true;
    questions.push_back(reading);
    return questions;
}

std::vector<Field> fields_of(const std::vector<Question>& questions) {
    std::vector<Field> fields;
    for (const auto& question : questions) {
        fields.insert(fields.end(), question.fields.begin(), question.fields.end());
    }
    return fields;
}

std::size_t place_of(const std::vector<Question>& questions, const std::string& name) {
    const auto found = std::find_if(questions.begin(), questions.end(),
                                    [&](const Question& one) { return one.name == name; });
    return found == questions.end() ? 0 : static_cast<std::size_t>(found - questions.begin());
}

Form merged(Form before, const Form& sent, const std::vector<Field>& fields) {
    for (const auto& field : fields) {
        const auto parts = parts_of(field);
        if (std::any_of(parts.begin(), parts.end(),
                        [&](const std::string& part) { return sent.values().count(part) > 0; })) {
            for (const auto& part : parts) {
                before.set(part, sent.get(part));
            }
        }
    }
    return before;
}

Form without(Form form, const std::vector<Field>& fields) {
    for (const auto& field : fields) {
        for (const auto& part : parts_of(field)) {
            form.set(part, "");
        }
    }
    return form;
}

const Field* unusual(const std::vector<Field>& fields, const Form& form) {
    for (const auto& field : fields) {
        const auto value = field.kind == FieldKind::length  ? form.length_mm(field.name)
                           : field.kind == FieldKind::angle ? form.angle_deg(field.name)
                                                            : std::nullopt;
        if (value && field.usual && (*value < field.usual->low || *value > field.usual->high)) {
            return &field;
        }
    }
    return nullptr;
}

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

PhotosWanted photos_wanted(const SheetSighting& sighting, const Bay* bay) {
    const auto labelled = [&](CradleLabel label) {
        return static_cast<int>(
            std::count_if(sighting.photos.begin(), sighting.photos.end(),
                          [&](const SheetPhoto& photo) { return photo.label == label; }));
    };
    const int upright = bay != nullptr ? bay->upright_photos : 2;
    const int inverted = sighting.stage == "adjusted" ? 0
                         : bay != nullptr             ? bay->inverted_photos
                                                      : 2;
    PhotosWanted wanted{static_cast<int>(sighting.photos.size()), upright + inverted, ""};
    const int upright_left = upright - labelled(CradleLabel::upright);
    const int inverted_left = inverted - labelled(CradleLabel::inverted);
    if (wanted.taken >= wanted.count) {
        return wanted;
    }
    wanted.next = inverted_left > 0 && (inverted_left > upright_left || upright_left <= 0)
                      ? "inverted"
                      : "upright";
    return wanted;
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
