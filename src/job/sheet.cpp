#include "job/sheet.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "job/tape_words.h"
#include "units/entry.h"
#include "units/error.h"

namespace squaresight {

std::filesystem::path existing_path(const Entry& entry) {
    std::error_code ignored;
    if (!std::filesystem::exists(entry.path(), ignored)) {
        entry.fail(fmt::format("names '{}', and there is no such file", entry.text()),
                   "check the path: it starts from the folder of the file that names it");
    }
    return entry.path();
}

const TapePoint* find_point(const std::vector<TapePoint>& points, const std::string& name) {
    const auto found = std::find_if(points.begin(), points.end(),
                                    [&](const TapePoint& one) { return one.name == name; });
    return found == points.end() ? nullptr : &*found;
}

namespace {

constexpr double longest_mm = 60000;
constexpr double largest_tilt_deg = 45;

/// What a reading means where the sheet gives no limits, or no reading at all (design figures).
struct ReadingRule {
    std::string_view key;
    Dimension dimension;
    double low, high;
    double limit;         ///< of a reading without "+/-"
    double absent_limit;  ///< of an entry left out, about zero
    Reading Setup::*into;
};

const std::vector<ReadingRule>& reading_rules() {
    constexpr auto length = Dimension::length;
    constexpr auto angle = Dimension::angle;
    static const std::vector<ReadingRule> rules{
        {"target_left", length, -longest_mm, longest_mm, 5, 50, &Setup::target_left_mm},
        {"mount_left", length, -3000, 3000, 5, 20, &Setup::mount_left_mm},
        {"floor_rise", angle, -10, 10, 0.5, 1, &Setup::floor_rise_deg},
        {"target_lean_back", angle, -largest_tilt_deg, largest_tilt_deg, 1, 2,
         &Setup::target_lean_back_deg},
        {"target_turned_left", angle, -75, 75, 10, 10, &Setup::target_turned_left_deg},
        {"target_roll_clockwise", angle, -largest_tilt_deg, largest_tilt_deg, 0.5, 2,
         &Setup::target_roll_clockwise_deg},
        {"rail_zero", angle, -10, 10, 0.1, 0.1, &Setup::rail_zero_deg},
    };
    return rules;
}

constexpr double usual_height_mm = 900;
constexpr double height_limit_mm = 5;
constexpr double heights_absent_limit_mm = 500;
constexpr double distance_limit_mm = 5;
constexpr double line_limit_deg = 0.05;
constexpr double line_absent_limit_deg = 0.3;
constexpr double plumb_limit_mm = 2;
constexpr double tape_limit_mm = 3;
constexpr double tape_point_limit_mm = 2;
/// No tape is read closer than this, whatever its sheet says: a standard uncertainty above zero.
constexpr double finest_tape_limit_mm = 0.1;

Reading reading_of(const Quantity& quantity, double default_limit) {
    return {quantity.value, standard_from_limit(quantity.limit.value_or(default_limit)), true};
}

Reading absent(double limit) { return {0, standard_from_limit(limit), false}; }

/// Readings of a setup that can be taken a second time.
const std::vector<std::string_view>& reading_names() {
    static const std::vector<std::string_view> names = [] {
        std::vector<std::string_view> all{"line", "distance", "target_height", "mount_height"};
        for (const auto& rule : reading_rules()) {
            all.push_back(rule.key);
        }
        return all;
    }();
    return names;
}

void read_line(const Entry& entry, SheetSetup& setup) {
    setup.line_marks.reset();
    setup.readings.rail_bow_deg = 0;
    if (!entry.is_map()) {
        setup.readings.line_left_deg =
            reading_of(entry.quantity(Dimension::angle, -10, 10), line_limit_deg);
        return;
    }
    entry.expect_keys({"base", "plumb", "bow"});
    PlumbMarks marks{entry.at("base").length_mm(200, longest_mm), plumb_limit_mm};
    if (const auto plumb = entry.find("plumb")) {
        marks.plumb_limit_mm = plumb->length_mm(0, 100);
    }
    if (const auto bow = entry.find("bow")) {
        marks.bow_limit_mm = bow->length_mm(0, 100);
    }
    plumb_line(marks, setup);
}

void read_heights(const Entry& entry, Setup& setup) {
    const auto target = entry.find("target_height");
    const auto mount = entry.find("mount_height");
    if (target.has_value() != mount.has_value()) {
        entry.fail("gives one of target_height and mount_height without the other",
                   "measure both above the floor below them, or leave both out");
    }
    if (!target) {
        return;
    }
    setup.target_height_mm =
        reading_of(target->quantity(Dimension::length, 0, 10000), height_limit_mm);
    setup.mount_height_mm =
        reading_of(mount->quantity(Dimension::length, 0, 5000), height_limit_mm);
}

TapePoint tape_point(const Entry& entry) {
    entry.expect_keys({"name", "ahead", "left", "up"});
    TapePoint point;
    point.name = entry.at("name").text();
    double limit_mm = 0;
    int axis = 0;
    for (const auto key : {"ahead", "left", "up"}) {
        const Quantity value = entry.at(key).quantity(Dimension::length, -longest_mm, longest_mm);
        point.position_in_vehicle_mm[axis++] = value.value;
        limit_mm = std::max(limit_mm, value.limit.value_or(tape_point_limit_mm));
    }
    point.standard_uncertainty_mm = standard_from_limit(limit_mm);
    return point;
}

std::vector<TapePoint> tape_points(const Entry& entry) {
    std::vector<TapePoint> points;
    for (const auto& item : entry.list()) {
        TapePoint point = tape_point(item);
        if (find_point(points, point.name) != nullptr) {
            item.fail("names '" + point.name + "' once more", "give each point once");
        }
        points.push_back(std::move(point));
    }
    return points;
}

/// A tape's other end, as written; which point of the sheet that is depends on the target file.
TapeEnd tape_end(const Entry& entry) {
    if (!entry.is_map()) {
        return {entry.word({"left edge", "right edge", "top edge", "bottom edge", "centre"}), {}};
    }
    entry.expect_keys({"right", "down"});
    const Eigen::Vector2d place(entry.at("right").length_mm(-longest_mm, longest_mm),
                                entry.at("down").length_mm(-longest_mm, longest_mm));
    return {fmt::format("{:g} mm right, {:g} mm down", place.x(), place.y()), place};
}

SheetTape sheet_tape(const Entry& entry) {
    entry.expect_keys({"from", "to", "length"});
    const Quantity length = entry.at("length").quantity(Dimension::length, 1, longest_mm);
    SheetTape tape{tape_point(entry.at("from")), tape_end(entry.at("to")),
                   reading_of(length, tape_limit_mm)};
    tape.length_mm.standard_uncertainty =
        std::max(tape.length_mm.standard_uncertainty, standard_from_limit(finest_tape_limit_mm));
    return tape;
}

SheetPhoto sheet_photo(const Entry& entry) {
    entry.expect_keys({"file", "cradle", "placement"});
    SheetPhoto photo;
    photo.file = entry.at("file").text();
    photo.path = entry.at("file").path();
    if (const auto cradle = entry.find("cradle")) {
        std::vector<std::string_view> known;
        for (const CradleLabel label : all_cradle_labels) {
            known.emplace_back(cradle_label_text(label));
        }
        photo.label = cradle_label_of(cradle->word(known));
    }
    if (const auto placement = entry.find("placement")) {
        photo.placement = placement->whole(0, 1000);
    }
    return photo;
}

std::vector<Quantity> quantities(const Entry& entry, Dimension dimension, double low, double high) {
    std::vector<Quantity> values;
    if (!entry.is_list()) {
        return {entry.quantity(dimension, low, high)};
    }
    for (const auto& item : entry.list()) {
        values.push_back(item.quantity(dimension, low, high));
    }
    return values;
}

/// A value whose limits of error may follow it; otherwise both stay as they are.
void read_with_limit(const Entry& map, std::string_view key, Dimension dimension, double low,
                     double high, double& value, double& limit) {
    if (const auto entry = map.find(key)) {
        const Quantity quantity = entry->quantity(dimension, low, high);
        value = quantity.value;
        limit = quantity.limit.value_or(limit);
    }
}

void read_face(const Entry& entry, TapeAndLevel& tape) {
    const auto level = entry.find("face_level");
    const auto display = entry.find("face_display");
    if (level && display) {
        display->fail("stands beside face_level", "give the face once, in either way");
    }
    const auto take = [&](const std::vector<Quantity>& values, double zero, double sign) {
        for (const auto& value : values) {
            tape.face_level_deg.push_back(zero + sign * value.value);
            tape.face_level_limit_deg = value.limit.value_or(tape.face_level_limit_deg);
        }
    };
    if (level) {
        take(quantities(*level, Dimension::angle, -30, 30), 0, 1);
    }
    if (display) {
        take(quantities(*display, Dimension::angle, 60, 120), 90, -1);
    }
}

void read_passes(const Entry& entry, TapeAndLevel& tape) {
    const auto passes = entry.find("passes");
    if (!passes) {
        if (entry.has("left_point") || entry.has("right_point")) {
            entry.fail("has reference points but no passes",
                       "add passes: [{left: 7 5/16 in, right: 7 1/2 in}]");
        }
        return;
    }
    tape.left_point_mm = entry.at("left_point").length_mm(1, 5000);
    tape.right_point_mm = entry.at("right_point").length_mm(1, 5000);
    for (const auto& item : passes->list()) {
        item.expect_keys({"left", "right", "laying", "reversed"});
        const auto read = [&](std::string_view key) {
            const Quantity value = item.at(key).quantity(Dimension::length, 0, 10000);
            tape.pass_limit_mm = value.limit.value_or(tape.pass_limit_mm);
            return value.value;
        };
        TapePass pass{read("left"), read("right")};
        if (const auto laying = item.find("laying")) {
            pass.laying = laying->whole(1, 100);
        }
        if (const auto reversed = item.find("reversed")) {
            pass.reversed = reversed->yes_no();
            if (pass.reversed && tape.laser == Laser::beam) {
                reversed->fail(
                    "is said of a laser that throws a beam",
                    "only a line is laid reversed: write 'laser: line', or leave it out");
            }
        }
        tape.passes.push_back(pass);
    }
}

TapeAndLevel sheet_tape_and_level(const Entry& entry) {
    entry.expect_keys({"face_level", "face_display", "left_point", "right_point", "passes", "beam",
                       "bumper_square", "squared_by", "beam_level", "laser", "laser_angle",
                       "laser_seating"});
    TapeAndLevel tape;
    read_laser(entry, tape);
    read_face(entry, tape);
    read_passes(entry, tape);
    if (tape.face_level_deg.empty() && tape.passes.empty()) {
        entry.fail(
            "holds neither face_level nor passes",
            "add what was read: face_level: 0.6 deg, or passes with left_point and right_point");
    }
    if (const auto beam = entry.find("beam")) {
        tape.beam_ahead = beam->word({"ahead", "behind"}) == "ahead";
    }
    if (entry.has("bumper_square")) {
        tape.bumper_square_limit_mm = measured_bumper_limit_mm;
        read_with_limit(entry, "bumper_square", Dimension::length, -500, 500, tape.bumper_square_mm,
                        tape.bumper_square_limit_mm);
    }
    read_with_limit(entry, "beam_level", Dimension::angle, -30, 30, tape.beam_level_deg,
                    tape.beam_level_limit_deg);
    read_with_limit(entry, "laser_angle", Dimension::angle, -30, 30, tape.laser_angle_deg,
                    tape.laser_angle_limit_deg);
    return tape;
}

void read_sensor(const Entry& entry, std::optional<double>& yaw_deg,
                 std::optional<double>& pitch_deg) {
    entry.expect_keys({"yaw", "pitch"});
    if (const auto yaw = entry.find("yaw")) {
        yaw_deg = yaw->angle_deg(-45, 45);
    }
    if (const auto pitch = entry.find("pitch")) {
        pitch_deg = pitch->angle_deg(-45, 45);
    }
}

double turns_of(const Entry& entry) {
    try {
        const double turns = parse_turns_clockwise(entry.text());
        if (std::abs(turns) > 100) {
            entry.fail("is more than 100 turns", "check the number");
        }
        return turns;
    } catch (const std::invalid_argument& error) {
        throw InputError(entry.where() + ": " + error.what());
    }
}

SheetSighting sheet_sighting(const Entry& entry, bool first, bool may_be_empty) {
    entry.expect_keys({"stage", "setup", "photos", "tape_and_level", "tape_left_out",
                       "sensor_reading", "turned", "locked"});
    SheetSighting sighting;
    sighting.stage = entry.at("stage").word({"as-found", "adjusted", "as-left"});
    if (const auto setup = entry.find("setup")) {
        if (setup->is_map()) {
            sighting.setup = unmeasured_setup();
            read_setup(*setup, *sighting.setup);
        } else {
            setup->word({"same"});
            sighting.same_setup = true;
            if (first) {
                setup->fail("is 'same' in the first sighting", "describe the setup here");
            }
        }
    }
    if (const auto photos = entry.find("photos")) {
        for (const auto& photo : photos->list()) {
            sighting.photos.push_back(sheet_photo(photo));
        }
    }
    if (const auto tape = entry.find("tape_and_level")) {
        sighting.tape_and_level = sheet_tape_and_level(*tape);
    }
    if (const auto left_out = entry.find("tape_left_out")) {
        sighting.tape_left_out = left_out->yes_no();
    }
    if (const auto sensor = entry.find("sensor_reading")) {
        read_sensor(*sensor, sighting.sensor_yaw_deg, sighting.sensor_pitch_deg);
    }
    if (const auto turned = entry.find("turned")) {
        for (const auto& [screw, turns] : turned->items()) {
            sighting.turned_clockwise.emplace_back(screw, turns_of(turns));
        }
    }
    if (const auto locked = entry.find("locked")) {
        sighting.locked = locked->yes_no();
    }
    if (sighting.photos.empty() && !sighting.tape_and_level && !may_be_empty) {
        entry.fail("has neither photos nor tape_and_level", "add what was measured at this stage");
    }
    return sighting;
}

int stage_rank(const std::string& stage) {
    return stage == "as-found" ? 0 : stage == "adjusted" ? 1 : 2;
}

void check_order(const Entry& entry, const std::string& before, const std::string& stage) {
    const bool repeated = before == stage && stage != "adjusted";
    if (repeated || stage_rank(stage) < stage_rank(before)) {
        entry.at("stage").fail(
            fmt::format("'{}' comes after '{}'", stage, before),
            "the order is as-found, then adjusted any number of times, then as-left");
    }
}

void require_for_photos(const Entry& root, const Entry& entry, const SheetSighting& sighting,
                        const SheetSetup* setup) {
    if (sighting.photos.empty()) {
        return;
    }
    for (const auto key : {"camera", "target"}) {
        if (!root.has(key)) {
            root.fail(fmt::format("has photos but no '{}'", key),
                      fmt::format("add '{}:' with the path of its file", key));
        }
    }
    if (setup == nullptr || !setup->has_distance) {
        entry.fail("has photos but no setup.distance",
                   "add 'setup: {distance: ...}' with the taped distance, or 'setup: same'");
    }
}

std::vector<std::pair<std::string, std::string>> answers(const Entry& entry,
                                                         const std::string& prefix = "") {
    std::vector<std::pair<std::string, std::string>> found;
    for (const auto& [key, value] : entry.items()) {
        if (value.is_map()) {
            const auto inner = answers(value, key + ".");
            found.insert(found.end(), inner.begin(), inner.end());
        } else {
            found.emplace_back(prefix + key, value.text());
        }
    }
    return found;
}

std::optional<std::filesystem::path> optional_path(const Entry& root, std::string_view key) {
    const auto entry = root.find(key);
    return entry ? std::optional(entry->path()) : std::nullopt;
}

std::string optional_text(const Entry& root, std::string_view key) {
    const auto entry = root.find(key);
    return entry ? entry->text() : "";
}

std::vector<std::string> optional_texts(const Entry& root, std::string_view key) {
    std::vector<std::string> texts;
    if (const auto entry = root.find(key)) {
        for (const auto& item : entry->list()) {
            texts.push_back(item.text());
        }
    }
    return texts;
}

void require_named_files(const Entry& root) {
    for (const auto key : {"mount", "camera", "target", "cradle"}) {
        if (const auto entry = root.find(key)) {
            existing_path(*entry);
        }
    }
}

Eigen::Vector2d sheet_place(const TapeEnd& end, const Target& target) {
    const Eigen::Vector2d half(target.sheet_width_mm / 2, target.sheet_height_mm / 2);
    Eigen::Vector2d place = target.centre_mm;  // from the sheet's top left corner
    if (end.place_mm) {
        place = *end.place_mm;
    } else if (end.name == "left edge") {
        place = {0, half.y()};
    } else if (end.name == "right edge") {
        place = {2 * half.x(), half.y()};
    } else if (end.name == "top edge") {
        place = {half.x(), 0};
    } else if (end.name == "bottom edge") {
        place = {half.x(), 2 * half.y()};
    }
    return place - target.centre_mm;
}

}  // namespace

void plumb_line(const PlumbMarks& marks, SheetSetup& setup) {
    setup.line_marks = marks;
    const double u_rad = std::sqrt(2.0) * standard_from_limit(marks.plumb_limit_mm) / marks.base_mm;
    setup.readings.line_left_deg = {0, u_rad * deg_per_rad, true};
    // A bow's ends point away from its chord by four times its height over its length.
    setup.readings.rail_bow_deg =
        standard_from_limit(4 * marks.bow_limit_mm / marks.base_mm) * deg_per_rad;
}

SheetSetup unmeasured_setup() {
    SheetSetup setup;
    setup.readings.line_left_deg = absent(line_absent_limit_deg);
    for (const auto& rule : reading_rules()) {
        setup.readings.*rule.into = absent(rule.absent_limit);
    }
    setup.readings.mount_height_mm = {0, 0, false};
    setup.readings.target_height_mm = absent(heights_absent_limit_mm);
    return setup;
}

SheetSetup usual_setup(double distance_value_mm, double line_base_mm) {
    SheetSetup setup;
    Setup& readings = setup.readings;
    const auto usual = [](double value, double limit) {
        return Reading{value, standard_from_limit(limit), true};
    };
    for (const auto& rule : reading_rules()) {
        readings.*rule.into = usual(0, rule.limit);
    }
    readings.distance_mm = usual(distance_value_mm, distance_limit_mm);
    readings.target_height_mm = usual(usual_height_mm, height_limit_mm);
    readings.mount_height_mm = usual(usual_height_mm, height_limit_mm);
    setup.has_distance = true;
    plumb_line({line_base_mm, plumb_limit_mm}, setup);
    return setup;
}

void read_setup(const Entry& entry, SheetSetup& setup) {
    std::vector<std::string_view> keys{"line",  "distance",    "target_height", "mount_height",
                                       "tapes", "tape_points", "taken_twice"};
    for (const auto& rule : reading_rules()) {
        keys.push_back(rule.key);
    }
    entry.expect_keys(keys);
    if (const auto line = entry.find("line")) {
        read_line(*line, setup);
    }
    if (const auto distance = entry.find("distance")) {
        setup.has_distance = true;
        setup.readings.distance_mm =
            reading_of(distance->quantity(Dimension::length, 300, longest_mm), distance_limit_mm);
    }
    for (const auto& rule : reading_rules()) {
        if (const auto given = entry.find(rule.key)) {
            setup.readings.*rule.into =
                reading_of(given->quantity(rule.dimension, rule.low, rule.high), rule.limit);
        }
    }
    if (const auto twice = entry.find("taken_twice")) {
        setup.readings.taken_twice.clear();
        for (const auto& item : twice->list()) {
            setup.readings.taken_twice.insert(item.word(reading_names()));
        }
    }
    read_heights(entry, setup.readings);
    if (const auto points = entry.find("tape_points")) {
        setup.tape_points = tape_points(*points);
    }
    if (const auto tapes = entry.find("tapes")) {
        setup.tapes.clear();
        for (const auto& tape : tapes->list()) {
            setup.tapes.push_back(sheet_tape(tape));
        }
    }
}

Setup measured_setup(const SheetSetup& sheet, const Target& target) {
    Setup setup = sheet.readings;
    for (const auto& tape : sheet.tapes) {
        setup.tapes.push_back(
            {tape.from, sheet_place(tape.to, target), tape.to.name, tape.length_mm});
    }
    return setup;
}

namespace {

/// The first length of a sheet's first stage that every shop tapes.
std::optional<Entry> first_length(const Entry& root) {
    const Entry first = root.at("sightings").list().front();
    const auto setup = first.find("setup");
    const auto distance = setup ? setup->find("distance") : std::nullopt;
    const auto tape = first.find("tape_and_level");
    return distance || !tape ? distance : tape->find("left_point");
}

/// The unit that a sheet's lengths are told in.
LengthUnit told_unit(const Entry& root) {
    bool inches = false;
    if (const auto units = root.find("units")) {
        inches = units->word({"mm", "in"}) == "in";
    } else if (const auto length = first_length(root)) {
        inches = length->quantity(Dimension::length, 0, longest_mm).in_inches;
    }
    return inches ? LengthUnit::in : LengthUnit::mm;
}

/// What a sheet must hold: what was measured at every stage, or only what is known so far.
enum class Extent { whole, begun };

JobSheet read_job_sheet(const Entry& root, Extent extent) {
    root.expect_keys({"schema",        "job",     "vehicle",        "vehicle_model", "technician",
                      "bay",           "date",    "units",          "mount",         "camera",
                      "target",        "cradle",  "originals_only", "answer_from",   "sightings",
                      "ready",         "closing", "notes",          "pictures",      "abandoned",
                      "check_standard"});
    JobSheet sheet;
    sheet.file = root.file();
    sheet.job = root.at("job").text();
    sheet.vehicle = optional_text(root, "vehicle");
    sheet.check_standard = optional_text(root, "check_standard");
    sheet.vehicle_model = optional_text(root, "vehicle_model");
    sheet.technician = optional_text(root, "technician");
    sheet.bay = optional_text(root, "bay");
    if (const auto date = root.find("date")) {
        sheet.date = date->date();
    }
    sheet.mount_file = root.at("mount").path();
    sheet.camera_file = optional_path(root, "camera");
    sheet.target_file = optional_path(root, "target");
    sheet.cradle_file = optional_path(root, "cradle");
    sheet.unit = told_unit(root);
    if (const auto originals = root.find("originals_only")) {
        sheet.originals_only = originals->yes_no();
    }
    sheet.tape_counts = read_tape_counts(root);
    const SheetSetup* setup = nullptr;
    const auto entries = root.at("sightings").list();
    sheet.sightings.reserve(entries.size());
    for (const auto& entry : entries) {
        SheetSighting sighting =
            sheet_sighting(entry, sheet.sightings.empty(), extent == Extent::begun);
        if (!sheet.sightings.empty()) {
            check_order(entry, sheet.sightings.back().stage, sighting.stage);
        }
        sheet.sightings.push_back(std::move(sighting));
        const SheetSighting& added = sheet.sightings.back();
        if (added.setup) {
            setup = &*added.setup;
        } else if (!added.same_setup) {
            setup = nullptr;
        }
        require_for_photos(root, entry, added, setup);
    }
    if (const auto ready = root.find("ready")) {
        ready->expect_keys({"level_ground", "tyres", "ride_height", "bracket_sound", "face_clean",
                            "codes_saved", "ride_height_left"});
        sheet.ready = answers(*ready);
    }
    if (const auto closing = root.find("closing")) {
        closing->expect_keys(
            {"codes_cleared", "electronic_calibration", "drive", "codes_after", "reading_after"});
        if (const auto after = closing->find("reading_after")) {
            std::optional<double> yaw_deg, pitch_deg;
            read_sensor(*after, yaw_deg, pitch_deg);
        }
        sheet.closing = answers(*closing);
    }
    sheet.notes = optional_texts(root, "notes");
    sheet.pictures = optional_texts(root, "pictures");
    sheet.abandoned = optional_text(root, "abandoned");
    return sheet;
}

constexpr std::string_view schema = "squaresight/job/1";

}  // namespace

JobSheet load_job_sheet(const std::filesystem::path& file) {
    const Entry root = Entry::load(file, schema);
    JobSheet sheet = read_job_sheet(root, Extent::whole);
    require_named_files(root);
    return sheet;
}

JobSheet parse_job_sheet(const std::string& text, const std::filesystem::path& file) {
    return read_job_sheet(Entry::parse(text, file, schema), Extent::whole);
}

JobSheet parse_begun_job_sheet(const std::string& text, const std::filesystem::path& file) {
    return read_job_sheet(Entry::parse(text, file, schema), Extent::begun);
}

}  // namespace squaresight
