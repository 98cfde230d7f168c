#include <algorithm>
#include <cmath>

#include "bay/sheet_entries.h"
#include "job/tape_words.h"

/// What is measured around the truck: the board and its line, tape and level.
namespace squaresight::bay {
namespace {

constexpr double usual_base_mm = 4000;
constexpr double finest_limit_mm = 0.1;
/// Of a point of the vehicle by tape, and of the same point on another one of its model (common
/// practice, no source).
constexpr double point_limit_mm = 5;
constexpr double model_point_limit_mm = 10;

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
        const auto& given = before.line_marks ? before.line_marks : usual_limits(bay).line_marks;
        PlumbMarks marks = given ? *given : *usual_limits(nullptr).line_marks;
        marks.base_mm = *base_mm;
        plumb_line(marks, setup);
    } else if (!before.line_marks) {
        setup.readings.line_left_deg = before.readings.line_left_deg;
    }
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

/// A point's place; nothing where none of its entries is filled in.
std::optional<TapePoint> point_of(const std::string& name, std::size_t number, const Form& form) {
    TapePoint point{name, {0, 0, 0}, standard_from_limit(point_limit_mm)};
    const PointEntry* missing = nullptr;
    bool any = false;
    for (const auto& entry : point_entries) {
        const std::string part = numbered(entry.name, number);
        const auto place_mm =
            *entry.plus != '\0' ? form.sided_length_mm(part) : form.length_mm(part);
        any = any || place_mm;
        missing = place_mm ? missing : &entry;
        point.position_in_vehicle_mm[entry.axis] = place_mm.value_or(0);
    }
    if (any && missing != nullptr) {
        throw FormError(missing->name, "needed");
    }
    return any ? std::optional(point) : std::nullopt;
}

/// Where tapes start as the form has it; what was measured here or taken over stays with the setup.
std::vector<TapePoint> take_points(SheetSetup& setup, const SheetSetup& before, const Bay* bay,
                                   const Form& form) {
    const auto names = point_names(offered_tapes(&before, bay));
    std::vector<TapePoint> points;
    for (std::size_t i = 0; i < names.size(); ++i) {
        const auto point = point_of(names[i], i, form);
        const TapePoint* known = known_point(before, names[i]);
        const bool unchanged =
            point && known != nullptr &&
            (point->position_in_vehicle_mm - known->position_in_vehicle_mm).norm() < 1e-6;
        if (point) {
            points.push_back(unchanged ? *known : *point);  // with its limits, as it stood
        }
        if (point && (!unchanged || find_point(before.tape_points, names[i]) != nullptr)) {
            setup.tape_points.push_back(points.back());
        }
    }
    return points;
}

void take_tapes(SheetSetup& setup, const std::vector<SheetTape>& offered,
                const std::vector<TapePoint>& points, const Form& form) {
    for (std::size_t i = 0; i < offered.size(); ++i) {
        const auto length_mm = form.length_mm(numbered("tape_from", i));
        if (!length_mm) {
            continue;
        }
        if (*length_mm < finest_limit_mm) {
            throw FormError("tape_from", "out_of_range");
        }
        const TapePoint* point = find_point(points, offered[i].from.name);
        if (point == nullptr) {
            throw FormError("tape_from", "point_first");
        }
        setup.tapes.push_back(offered[i]);
        setup.tapes.back().from = *point;
        setup.tapes.back().length_mm.value = *length_mm;
    }
}

/// What the laser question of a form holds; what it leaves out stays.
void take_laser(TapeAndLevel& tape, const Bay* bay, const Form& form) {
    if (form.has("laser")) {
        tape.laser = value_of(laser_words, form.get("laser"));
    }
    if (form.has("squared_by")) {
        tape.squared_by = value_of(squared_by_words, form.get("squared_by"));
        const bool stated = bay != nullptr && bay->tape_and_level &&
                            bay->tape_and_level->squared_by == tape.squared_by;
        if (!stated) {
            tape.bumper_square_limit_mm = tape.squared_by == SquaredBy::nothing
                                              ? unmeasured_bumper_limit_mm
                                              : measured_bumper_limit_mm;
        }
    }
}

/// Layings of the passes, in their order: all one, each its own, or each its own and every second
/// one reversed, which only a line is.
void take_layings(TapeAndLevel& tape, const Form& form) {
    const std::string relaid = form.get("relaid");
    for (std::size_t i = 0; i < tape.passes.size(); ++i) {
        TapePass& pass = tape.passes[i];
        pass.laying = relaid == "anew" || relaid == "reversed" ? static_cast<int>(i) + 1 : 1;
        pass.reversed = relaid == "reversed" && tape.laser == Laser::line && i % 2 == 1;
    }
}

/// The answer that would have given these passes.
const char* relaid_of(const TapeAndLevel& tape) {
    const auto any = [&](const auto& is) {
        return std::any_of(tape.passes.begin(), tape.passes.end(), is);
    };
    return any([](const TapePass& pass) { return pass.reversed; })     ? "reversed"
           : any([](const TapePass& pass) { return pass.laying > 1; }) ? "anew"
                                                                       : "once";
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

/// What the level said of the face: its tilt, or what it shows on the upright face (90 is square).
std::optional<double> face_level_deg(int number, const Form& form) {
    constexpr double widest_deg = 30;
    constexpr double upright_deg = 90;
    const auto level_deg = form.sided_angle_deg(numbered("face_level", number));
    const auto display_deg =
        form.angle_deg(numbered("face_display", number), upright_deg + widest_deg);
    if (level_deg && display_deg) {
        throw FormError("face_display", "two_ways");
    }
    if (display_deg && *display_deg < upright_deg - widest_deg) {
        throw FormError("face_display", "out_of_range");
    }
    if (level_deg && std::abs(*level_deg) > widest_deg) {
        throw FormError("face_level", "out_of_range");
    }
    return display_deg ? upright_deg - *display_deg : level_deg;
}

/// What tape and level of a stage begins with: the points of an earlier stage on this bumper, else
/// of the bay.
TapeAndLevel usual_tape(const JobSheet& sheet, const Bay* bay) {
    TapeAndLevel tape;
    if (bay != nullptr && bay->tape_and_level) {
        tape = usual_readings(*bay->tape_and_level);
    }
    for (const auto& sighting : sheet.sightings) {
        if (sighting.tape_and_level && sighting.tape_and_level->left_point_mm > 0) {
            tape.left_point_mm = sighting.tape_and_level->left_point_mm;
            tape.right_point_mm = sighting.tape_and_level->right_point_mm;
        }
    }
    return tape;
}

bool same_tape(const SheetTape& a, const SheetTape& b) {
    return a.from.name == b.from.name && a.to.name == b.to.name;
}

}  // namespace

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

std::vector<std::string> point_names(const std::vector<SheetTape>& tapes) {
    std::vector<std::string> names;
    for (const auto& tape : tapes) {
        if (std::find(names.begin(), names.end(), tape.from.name) == names.end()) {
            names.push_back(tape.from.name);
        }
    }
    return names;
}

const TapePoint* known_point(const SheetSetup& setup, const std::string& name) {
    if (const TapePoint* point = find_point(setup.tape_points, name)) {
        return point;
    }
    const auto tape = std::find_if(setup.tapes.begin(), setup.tapes.end(),
                                   [&](const SheetTape& one) { return one.from.name == name; });
    return tape == setup.tapes.end() ? nullptr : &tape->from;
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
    form.set("rail_zero", setup->readings.rail_zero_deg.measured ? "yes" : "");
    const auto tapes = offered_tapes(setup, bay);
    for (std::size_t i = 0; i < setup->tapes.size(); ++i) {
        form.put_length(numbered("tape_from", i), tapes[i].length_mm.value, unit);
    }
    const auto names = point_names(tapes);
    for (std::size_t i = 0; i < names.size(); ++i) {
        if (const TapePoint* point = known_point(*setup, names[i])) {
            for (const auto& entry : point_entries) {
                form.put_sided_length(numbered(entry.name, i),
                                      point->position_in_vehicle_mm[entry.axis], unit);
            }
        }
    }
    return form;
}

Form tape_form(const JobSheet& sheet, const Bay* bay, LengthUnit unit) {
    Form form;
    const auto& given = sheet.sightings.back().tape_and_level;
    const TapeAndLevel usual = usual_tape(sheet, bay);
    const TapeAndLevel tape = given.value_or(usual);
    const TapeAndLevel& points = tape.left_point_mm > 0 ? tape : usual;
    if (points.left_point_mm > 0) {
        form.put_length("left_point", points.left_point_mm, unit);
        form.put_length("right_point", points.right_point_mm, unit);
    }
    form.set("laser", std::string(word_for(laser_words, tape.laser)));
    form.set("relaid", relaid_of(tape));
    form.set("squared_by", std::string(word_for(squared_by_words, tape.squared_by)));
    for (std::size_t i = 0; i < tape.passes.size(); ++i) {
        form.put_length(numbered("pass_left", i + 1), tape.passes[i].left_mm, unit);
        form.put_length(numbered("pass_right", i + 1), tape.passes[i].right_mm, unit);
    }
    for (std::size_t i = 0; i < tape.face_level_deg.size(); ++i) {
        form.put_sided_angle(numbered("face_level", i + 1), tape.face_level_deg[i]);
    }
    return form;
}

void take_board(JobSheet& sheet, const Bay* bay, const Form& form) {
    SheetSetup* setup = own_setup(sheet);
    const SheetSetup before = *setup;
    SheetSetup now = unmeasured_setup();
    // Not asked for on the screen: the bay's figure where the sheet has none.
    now.readings.target_turned_left_deg = before.readings.target_turned_left_deg;
    if (!now.readings.target_turned_left_deg.measured && bay != nullptr) {
        now.readings.target_turned_left_deg = bay->setup.readings.target_turned_left_deg;
    }
    if (form.get("rail_zero") == "yes") {
        const Reading& zero = before.readings.rail_zero_deg;
        now.readings.rail_zero_deg =
            zero.measured ? zero : usual_limits(bay).readings.rail_zero_deg;
        now.readings.rail_zero_deg.measured = true;
    }
    take_distance(now, before.has_distance ? &before.readings.distance_mm : nullptr, bay, form);
    take_line(now, before, bay, form);
    take_readings(now.readings, before.readings, bay, form);
    const auto points = take_points(now, before, bay, form);
    take_tapes(now, offered_tapes(&before, bay), points, form);
    *setup = std::move(now);
}

void take_board_as_before(JobSheet& sheet, const Bay* bay, const JobSheet& earlier,
                          const Form& form) {
    const SheetSetup* before = current_setup(earlier);
    if (before == nullptr) {
        return;
    }
    Setup& now = own_setup(sheet)->readings;
    if (before->readings.target_height_mm.measured) {
        const auto mount_height_mm = form.length_mm("mount_height");
        if (!mount_height_mm) {
            throw FormError("mount_height", "needed");
        }
        now.mount_height_mm = {
            *mount_height_mm,
            uncertainty_of(now.mount_height_mm, usual_limits(bay).readings.mount_height_mm,
                           usual_limits(nullptr).readings.mount_height_mm),
            true};
    }
    for (const auto& entry : board_entries) {
        if (entry.of_board && (before->readings.*entry.reading).measured) {
            now.*entry.reading = before->readings.*entry.reading;
        }
    }
}

void take_points_as_before(JobSheet& sheet, const JobSheet& earlier) {
    const SheetSetup* before = current_setup(earlier);
    if (before == nullptr) {
        return;
    }
    SheetSetup& now = *own_setup(sheet);
    now.tape_points = before->tape_points;
    if (sheet.vehicle.empty() || sheet.vehicle != earlier.vehicle) {
        for (auto& point : now.tape_points) {
            point.standard_uncertainty_mm =
                std::max(point.standard_uncertainty_mm, standard_from_limit(model_point_limit_mm));
        }
    }
}

bool is_board_remembered(const JobSheet& sheet) {
    const SheetSetup* setup = current_setup(sheet);
    return setup != nullptr &&
           std::any_of(board_entries.begin(), board_entries.end(), [&](const BoardEntry& entry) {
               return entry.of_board && (setup->readings.*entry.reading).measured;
           });
}

void take_tape(JobSheet& sheet, const Bay* bay, const Form& form) {
    auto& given = sheet.sightings.back().tape_and_level;
    TapeAndLevel tape = given.value_or(usual_tape(sheet, bay));
    take_laser(tape, bay, form);
    take_passes(tape, form);
    take_layings(tape, form);
    tape.face_level_deg.clear();
    for (int i = 1; i <= most_repeats; ++i) {
        if (const auto level_deg = face_level_deg(i, form)) {
            tape.face_level_deg.push_back(*level_deg);
        }
    }
    given.reset();
    if (!tape.passes.empty() || !tape.face_level_deg.empty()) {
        given = tape;
        sheet.sightings.back().tape_left_out = false;
    }
}

bool is_tape_due(const JobSheet& sheet) {
    const SheetSighting& last = sheet.sightings.back();
    return last.stage != "adjusted" && !last.photos.empty() && !last.tape_and_level &&
           !last.tape_left_out && sheet.closing.empty();
}

void take_tape_left_out(JobSheet& sheet) { sheet.sightings.back().tape_left_out = true; }

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
