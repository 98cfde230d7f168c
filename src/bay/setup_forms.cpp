#include <algorithm>
#include <cmath>

#include "bay/sheet_entries.h"

/// What is measured around the truck: the board and its line, tape and level.
namespace squaresight::bay {
namespace {

constexpr double usual_base_mm = 4000;
constexpr double finest_limit_mm = 0.1;

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

bool is_board_remembered(const JobSheet& sheet) {
    const SheetSetup* setup = current_setup(sheet);
    return setup != nullptr &&
           std::any_of(board_entries.begin(), board_entries.end(), [&](const BoardEntry& entry) {
               return entry.of_board && (setup->readings.*entry.reading).measured;
           });
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
