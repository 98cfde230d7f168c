#include <algorithm>
#include <map>

#include "bay/sheet_entries.h"

namespace squaresight::bay {
namespace {

constexpr int passes_asked = 2;
constexpr int levels_asked = 2;
constexpr Usual usual_distance{1500, 12000};
constexpr Usual usual_tape_length{500, 15000};
constexpr Usual usual_point{300, 1500};
constexpr Usual usual_pass{20, 2500};
constexpr Usual usual_level{0, 10};
constexpr Usual usual_display{80, 100};
constexpr Usual usual_reading{0, 10};

template <class Item>
std::vector<Option> options_of(const std::vector<Item>& items) {
    std::vector<Option> options;
    for (const auto& item : items) {
        options.push_back({item.name, item.name});
    }
    return options;
}

Field distance_field() {
    return {"distance", FieldKind::length, "distance", "", "", "", {}, true, "", usual_distance};
}

/// The sensor's own reading; its sign is the sensor's, so its sides are plus and minus.
Field sensor_field(const char* name) {
    return {name, FieldKind::angle, name, "", "reading_plus", "reading_minus", {}, false,
            "",   usual_reading};
}

/// What tape and level asks for: passes and readings of the level.
struct TapeAsked {
    int passes = passes_asked, levels = levels_asked;
};

TapeAsked tape_asked(const Bay* bay) {
    return bay != nullptr && bay->tape_and_level
               ? TapeAsked{bay->tape_and_level->passes, bay->tape_and_level->face_readings}
               : TapeAsked();
}

/// As many as are asked for; where those were made, one more that may be added.
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

Field board_field(const BoardEntry& entry) {
    return {entry.name,  entry.kind, entry.name, "", entry.plus,
            entry.minus, {},         false,      "", entry.usual};
}

/// The board's height counts together with the mount's, which is this truck's own.
Question as_before_question(const JobSheet& earlier) {
    Question question{"as_before", {}, "", "as_before"};
    question.words = {"as_before_words"};
    question.once = true;
    for (const auto& entry : board_entries) {
        if (entry.reading == &Setup::mount_height_mm &&
            current_setup(earlier)->readings.target_height_mm.measured) {
            question.fields.push_back(board_field(entry));
        }
    }
    return question;
}

Question rail_zero_question() {
    Field zero{"rail_zero",
               FieldKind::pick,
               "rail_zero",
               "",
               "",
               "",
               {{"yes", "rail_zeroed"}, {"", "rail_not_zeroed"}}};
    zero.may_be_typed = false;
    Question question{"rail_zero", {zero}};
    question.words = {"rail_zero_words"};
    return question;
}

/// Whether all that a question asks for of the board stands as in an earlier job.
bool stands_as_before(const Question& question, const SheetSetup& now, const JobSheet& earlier) {
    return std::any_of(board_entries.begin(), board_entries.end(), [&](const BoardEntry& entry) {
        const Reading& reading = now.readings.*entry.reading;
        const Reading& before = current_setup(earlier)->readings.*entry.reading;
        return entry.of_board && entry.question == question.name && reading.measured &&
               before.measured && reading.value == before.value;
    });
}

/// Whether this point was taken over from the earlier job.
bool is_point_as_before(const std::string& name, const SheetSetup& now, const JobSheet& earlier) {
    const TapePoint* point = find_point(now.tape_points, name);
    const TapePoint* before = find_point(current_setup(earlier)->tape_points, name);
    return point != nullptr && before != nullptr &&
           point->position_in_vehicle_mm == before->position_in_vehicle_mm;
}

Question point_question(const std::string& name, std::size_t number) {
    Question question{numbered("point", number), {}, "point", "point"};
    question.words = {"point_words"};
    for (const auto& entry : point_entries) {
        question.fields.push_back({numbered(entry.name, number),
                                   FieldKind::length,
                                   entry.name,
                                   name,
                                   entry.plus,
                                   entry.minus,
                                   {},
                                   false,
                                   "",
                                   entry.usual});
    }
    return question;
}

/// Where tapes start, then the tapes: they follow where that is known.
void add_tape_questions(const SheetSetup* setup, const Bay* bay, const EarlierJobs& earlier,
                        std::vector<Question>& questions) {
    const auto tapes = offered_tapes(setup, bay);
    const auto names = point_names(tapes);
    if (earlier.points && !names.empty()) {
        questions.push_back({"points_as_before", {}, "point", "points_as_before"});
        questions.back().once = true;
    }
    for (std::size_t i = 0; i < names.size(); ++i) {
        questions.push_back(point_question(names[i], i));
        questions.back().known = earlier.points && setup != nullptr &&
                                 is_point_as_before(names[i], *setup, *earlier.points);
    }
    for (std::size_t i = 0; i < tapes.size(); ++i) {
        Field field{
            numbered("tape_from", i), FieldKind::length, "tape_from", tapes[i].from.name, "", ""};
        field.detail_key = tapes[i].to.place_mm ? "" : tapes[i].to.name;
        field.usual = usual_tape_length;
        questions.push_back({field.name, {field}, tape_picture(tapes[i])});
        questions.back().known =
            setup == nullptr || known_point(*setup, tapes[i].from.name) == nullptr;
    }
}

/// The names under which a field is sent.
std::vector<std::string> parts_of(const Field& field) {
    std::vector<std::string> parts{field.name};
    for (const auto* part : {".mm", ".ft", ".in", ".16", ".deg", ".side", ".reason", ".text"}) {
        parts.push_back(field.name + part);
    }
    return parts;
}

}  // namespace

std::vector<Question> new_job_questions(const Shop& shop) {
    const Field bay{"bay", FieldKind::choice, "bay", "", "", "", options_of(shop.bays), true};
    std::vector<Question> questions{
        {"vehicle", {{"vehicle", FieldKind::text, "vehicle", "", "", "", {}, true}}},
        {"distance", {distance_field()}, "distance"}};
    Question last{"rest",
                  {{"job", FieldKind::text, "job", "", "", "", {}, true},
                   {"technician", FieldKind::text, "technician", "", "", ""},
                   {"vehicle_model", FieldKind::text, "vehicle_model", "", "", ""}},
                  "",
                  "new_rest"};
    if (shop.bays.size() > 1) {
        questions.insert(questions.begin(), {"bay", {bay}});
    } else {
        last.fields.push_back(bay);
    }
    for (const auto& [name, items] :
         {std::pair{"mount", &shop.mounts}, std::pair{"camera", &shop.cameras},
          std::pair{"target", &shop.targets}, std::pair{"cradle", &shop.cradles}}) {
        last.fields.push_back(
            {name, FieldKind::choice, name, "", "", "", options_of(*items), true});
    }
    last.fields.back().options.push_back({no_cradle, "no_cradle", true});
    last.folded = true;
    questions.push_back(last);
    return questions;
}

std::vector<Question> ready_questions(const JobSheet& sheet) {
    static const std::map<std::string, std::string> ready_words{
        {"ride_height", "ride_height_words"},
        {"codes_saved", "codes_saved_words"},
        {ride_height_left_key, "ride_height_left_words"}};
    Question read{"cautions", {}, "", "caution"};
    read.cautions = {"caution_vehicle", "caution_cab",   "caution_laser",          "caution_phone",
                     "caution_bracket", "caution_maker", "caution_not_calibration"};
    std::vector<Question> questions{read};
    const bool as_left = !sheet.sightings.empty() && sheet.sightings.back().stage == "as-left";
    for (const auto* key : all_ready_keys) {
        if (key == std::string(ride_height_left_key) && !as_left) {
            continue;
        }
        questions.push_back({key, {{key, FieldKind::answer, key, "", "", ""}}});
        if (const auto words = ready_words.find(key); words != ready_words.end()) {
            questions.back().words = {words->second};
        }
    }
    Question reading{"reading_before",
                     {sensor_field("reading_before"), sensor_field("reading_before_pitch")},
                     "reading"};
    reading.words = {"reading_words"};
    reading.may_be_skipped = true;
    questions.push_back(reading);
    return questions;
}

std::vector<Question> board_questions(const JobSheet& sheet, const Bay* bay,
                                      const EarlierJobs& earlier) {
    Question place{"place", {}, "floor", "board_place"};
    place.words = {"board_words"};
    std::vector<Question> questions{place};
    if (earlier.board) {
        questions.push_back(as_before_question(*earlier.board));
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
        const Field field = board_field(entry);
        if (entry.reading == &Setup::floor_rise_deg) {
            questions.push_back(rail_zero_question());  // before the level is used first
        }
        if (questions.back().name == entry.question) {
            questions.back().fields.push_back(field);
            questions.back().title = entry.question;
        } else {
            questions.push_back({entry.question, {field}, entry.question});
        }
    }
    const SheetSetup* setup = current_setup(sheet);
    add_tape_questions(setup, bay, earlier, questions);
    for (auto& question : questions) {
        question.may_be_skipped =
            !question.fields.empty() && question.name != "distance" && !question.once;
        question.known = question.known || (earlier.board && setup != nullptr &&
                                            stands_as_before(question, *setup, *earlier.board));
    }
    return questions;
}

std::vector<Field> remembered_fields(const JobSheet& earlier) {
    std::vector<Field> fields;
    for (const auto& entry : board_entries) {
        if (entry.of_board && (current_setup(earlier)->readings.*entry.reading).measured) {
            fields.push_back(board_field(entry));
        }
    }
    return fields;
}

std::vector<Field> remembered_points(const JobSheet& earlier, const Bay* bay) {
    const SheetSetup* setup = current_setup(earlier);
    const auto names = point_names(offered_tapes(setup, bay));
    std::vector<Field> fields;
    for (std::size_t i = 0; i < names.size(); ++i) {
        if (find_point(setup->tape_points, names[i]) != nullptr) {
            const auto more = point_question(names[i], i).fields;
            fields.insert(fields.end(), more.begin(), more.end());
        }
    }
    return fields;
}

namespace {

Question pass_question(int number, bool with_points) {
    Question pass{numbered("pass", number), {}, "pass", "pass"};
    pass.words = {"tape_words"};
    pass.cautions = {"caution_laser"};
    const auto add = [&](const std::string& name, const char* label, const std::string& detail,
                         Usual usual) {
        pass.fields.push_back(
            {name, FieldKind::length, label, detail, "", "", {}, false, "", usual});
    };
    if (with_points) {  // without them a pass says nothing
        pass.title = "points_and_pass";
        for (const auto* name : {"left_point", "right_point"}) {
            add(name, name, "", usual_point);
            pass.fields.back().needed = true;
        }
    }
    for (const auto* name : {"pass_left", "pass_right"}) {
        add(numbered(name, number), name, fmt::format("{}", number), usual_pass);
    }
    return pass;
}

Field choice_field(const char* name, const std::vector<std::string>& values) {
    Field field{name, FieldKind::choice, name, "", "", ""};
    for (const auto& value : values) {
        field.options.push_back({value, std::string(name) + "_" + value, true});
    }
    return field;
}

/// What the laser throws, how often it is laid on the face, and how the bumper was squared.
Question laser_question(const Bay* bay) {
    Question laser{"laser", {}, "laser", "laser_title"};
    laser.words = {"laser_words"};
    laser.fields = {choice_field("laser", {"line", "beam"}),
                    choice_field("relaid", {"once", "anew", "reversed"}),
                    choice_field("squared_by", {"nothing", "diagonals", "line"})};
    laser.may_be_skipped = true;
    laser.known = bay != nullptr && bay->tape_and_level && bay->tape_and_level->laser_stated;
    return laser;
}

Question level_question(int number) {
    const std::string name = numbered("face_level", number);
    Question level{name, {}, "face_level"};
    level.fields.push_back({name,
                            FieldKind::angle,
                            "face_level",
                            fmt::format("{}", number),
                            "nose_up",
                            "nose_down",
                            {},
                            false,
                            "",
                            usual_level});
    level.fields.push_back({numbered("face_display", number),
                            FieldKind::angle,
                            "face_display",
                            "",
                            "",
                            "",
                            {},
                            false,
                            "",
                            usual_display});
    level.fields.back().instead = true;
    return level;
}

}  // namespace

std::vector<Question> tape_questions(const JobSheet& sheet, const Bay* bay) {
    const TapeAndLevel given = sheet.sightings.back().tape_and_level.value_or(TapeAndLevel());
    const TapeAsked asked = tape_asked(bay);
    std::vector<Question> questions;
    const Question laser = laser_question(bay);
    if (!laser.known) {
        questions.push_back(laser);
    }
    const auto add = [&](Question question, int number, int wanted, const char* more) {
        question.may_be_skipped = true;
        if (number > wanted) {
            question.known = true;
            question.more = more;
        }
        questions.push_back(std::move(question));
    };
    for (int i = 1; i <= repeats(asked.passes, given.passes.size()); ++i) {
        add(pass_question(i, i == 1), i, asked.passes, "more_pass");
    }
    for (int i = 1; i <= repeats(asked.levels, given.face_level_deg.size()); ++i) {
        add(level_question(i), i, asked.levels, "more_level");
    }
    if (laser.known) {
        questions.push_back(laser);
    }
    return questions;
}

bool is_tape_enough(const JobSheet& sheet, const Bay* bay) {
    const auto& tape = sheet.sightings.back().tape_and_level;
    const TapeAsked asked = tape_asked(bay);
    return tape && static_cast<int>(tape->passes.size()) >= asked.passes &&
           static_cast<int>(tape->face_level_deg.size()) >= asked.levels;
}

std::vector<Question> finish_questions() {
    const std::vector<std::vector<Option>> options{
        {{"yes", "finish_done"}, {"", "not_yet"}},
        {{"yes", "finish_done"}, {"not asked for", "not_asked"}, {"", "not_yet"}},
        {{"today", "finish_today"}, {"", "not_yet"}},
        {{"none", "no_codes"}, {"still active", "codes_still_active"}, {"", "not_yet"}}};
    std::vector<Question> questions;
    for (std::size_t i = 0; i < closing_keys.size(); ++i) {
        const char* key = closing_keys[i];
        questions.push_back({key, {{key, FieldKind::pick, key, "", "", "", options[i]}}});
        questions.back().words = {"finish_words"};
        if (key == std::string("drive")) {
            questions.back().words.push_back("refit_words");
        }
        if (i < 2) {
            questions.back().cautions = {"caution_maker"};
        }
    }
    Question reading{"reading_after",
                     {sensor_field("reading_after"), sensor_field("reading_after_pitch")},
                     "reading"};
    reading.words = {"reading_words"};
    reading.may_be_skipped = true;
    questions.push_back(reading);
    return questions;
}

std::size_t place_of(const std::vector<Question>& questions, const std::string& name) {
    const auto found = std::find_if(questions.begin(), questions.end(),
                                    [&](const Question& one) { return one.name == name; });
    return found == questions.end() ? 0 : static_cast<std::size_t>(found - questions.begin());
}

std::vector<Field> fields_of(const std::vector<Question>& questions) {
    std::vector<Field> fields;
    for (const auto& question : questions) {
        fields.insert(fields.end(), question.fields.begin(), question.fields.end());
    }
    return fields;
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

PhotosWanted photos_wanted(const SheetSighting& sighting, const Bay* bay) {
    const Bay usual;
    const Bay& of = bay != nullptr ? *bay : usual;
    const bool full_set = sighting.stage != "adjusted";
    const auto ways = ways_up_of(of.upright_photos, full_set ? of.inverted_photos : 0,
                                 full_set ? of.quarter_photos : 0);
    PhotosWanted wanted{static_cast<int>(sighting.photos.size()), static_cast<int>(ways.size()),
                        ""};
    std::map<CradleLabel, int> taken;
    for (const auto& photo : sighting.photos) {
        taken[photo.label.value_or(CradleLabel::upright)] += photo.label ? 1 : 0;
    }
    for (const CradleLabel way : ways) {
        if (--taken[way] < 0 && wanted.taken < wanted.count) {
            wanted.next = cradle_label_text(way);
            break;
        }
    }
    return wanted;
}

}  // namespace squaresight::bay
