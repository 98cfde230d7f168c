#include "plan/improvements.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

#include "adjust/model.h"
#include "job/words.h"
#include "target/sheets.h"

namespace squaresight {
namespace {

/// Order of effort: our own, no source.
constexpr int minutes_once = 1;
constexpr int minutes_a_job = 2;
constexpr int an_hour_once = 3;
constexpr int a_day_or_money = 5;

constexpr double longest_base_mm = 6000;  ///< that a truck's rails leave room for
constexpr double matters_share = 0.05;    ///< of u squared, for a reading worth taking closer

struct Candidate {
    std::string what;
    int effort;
    std::function<void(PlannedBay&)> apply;
};

/// How much of the limits both angles' uncertainties take up together.
double share_of_limits(const PredictedAim& aim, const Mount& mount) {
    return std::hypot(aim.yaw_deg / mount.tolerance_yaw_deg,
                      aim.pitch_deg / mount.tolerance_pitch_deg);
}

class Candidates {
  public:
    explicit Candidates(const BayPlan& plan) : plan_(plan), bay_(plan.bay) {
        add_print();
        add_photos();
        add_readings();
        add_line();
        add_tapes();
        add_cradle();
        add_calibration();
        add_board();
    }
    std::vector<Candidate> list;

  private:
    std::string size(double length_mm) const { return length_both_ways(length_mm, bay_.unit); }

    void add(std::string what, int effort, std::function<void(PlannedBay&)> apply) {
        list.push_back({std::move(what), effort, std::move(apply)});
    }

    void add_print() {
        if (!bay_.target.print_checked) {
            add("measure the print's check bars and record them", minutes_once,
                [](PlannedBay& bay) { bay.target.print_checked = true; });
        }
        if (!bay_.target.skew_checked) {
            add("measure both diagonals of the print and record them", minutes_once,
                [](PlannedBay& bay) { bay.target.skew_checked = true; });
        }
    }

    void add_photos() {
        add("one more photo upright and one more with the phone turned upside down", minutes_a_job,
            [](PlannedBay& bay) {
                ++bay.upright_photos;
                ++bay.inverted_photos;
            });
        if (bay_.quarter_photos == 0) {
            add("two more photos with the cradle a quarter turn to either side, if face and cradle "
                "allow it",
                minutes_a_job, [](PlannedBay& bay) { bay.quarter_photos = 2; });
        }
    }

    bool matters(const std::string& source) const {
        for (const auto& line : plan_.stage.budget) {
            if (line.source == source) {
                return std::pow(line.yaw_deg / plan_.aim.yaw_deg, 2) > matters_share ||
                       std::pow(line.pitch_deg / plan_.aim.pitch_deg, 2) > matters_share;
            }
        }
        return false;
    }

    void add_readings() {
        const SheetSetup usual = usual_setup(0, 1000);
        for (const auto& entry : setup_reading_names) {
            const Reading& reading = bay_.setup.readings.*entry.reading;
            if (entry.input == line_left_deg || !matters(entry.name)) {
                continue;
            }
            const std::string name = reading_words(entry.name);
            if (!reading.measured) {
                const double u = (usual.readings.*entry.reading).standard_uncertainty;
                add(name + ": measure it", minutes_a_job, [&entry, u](PlannedBay& bay) {
                    (bay.setup.readings.*entry.reading).standard_uncertainty = u;
                });
                continue;
            }
            if (entry.input == target_turned_left_deg) {
                add(name + ": measure it to within 1 deg", minutes_a_job, [](PlannedBay& bay) {
                    auto& u = bay.setup.readings.target_turned_left_deg.standard_uncertainty;
                    u = std::min(u, standard_from_limit(1));
                });
                continue;
            }
            const double limit = reading.standard_uncertainty * std::sqrt(3.0) / 2;
            const std::string limit_text =
                std::string(entry.unit) == "mm" ? size(limit) : fmt::format("{:.2g} deg", limit);
            add(fmt::format("{}: read to within {}", name, limit_text), minutes_a_job,
                [&entry](PlannedBay& bay) {
                    (bay.setup.readings.*entry.reading).standard_uncertainty /= 2;
                });
        }
    }

    void add_line() {
        const PlumbMarks marks = bay_.setup.line_marks.value_or(*usual_setup(0, 4000).line_marks);
        if (!bay_.setup.line_marks) {
            add(fmt::format("plumb the rails' line through marks {} apart", size(marks.base_mm)),
                an_hour_once, [marks](PlannedBay& bay) { plumb_line(marks, bay.setup); });
            return;
        }
        const double longer_mm = std::min(1.5 * marks.base_mm, longest_base_mm);
        if (longer_mm > 1.1 * marks.base_mm) {
            add_marks(fmt::format("plumb marks {} apart", size(longer_mm)), &PlumbMarks::base_mm,
                      longer_mm);
        }
        add_marks(fmt::format("plumb each mark within {}", size(marks.plumb_limit_mm / 2)),
                  &PlumbMarks::plumb_limit_mm, marks.plumb_limit_mm / 2);
        add_marks(fmt::format("stretch a string along each rail: bowed by {:g} mm or less",
                              marks.bow_limit_mm / 2),
                  &PlumbMarks::bow_limit_mm, marks.bow_limit_mm / 2);
    }

    /// The rails' line with one thing about its marks better.
    void add_marks(const std::string& what, double PlumbMarks::*part, double better_mm) {
        add(what, minutes_a_job, [part, better_mm](PlannedBay& bay) {
            PlumbMarks marks = *bay.setup.line_marks;
            marks.*part = better_mm;
            plumb_line(marks, bay.setup);
        });
    }

    void add_tapes() {
        if (bay_.setup.tapes.empty()) {
            add("crossed tapes from two points of the bumper to the board's edges", minutes_a_job,
                [](PlannedBay& bay) { bay.setup.tapes = crossed_tapes(); });
        }
    }

    void add_cradle() {
        if (has_stored_offset(bay_.cradle)) {
            return;
        }
        const auto stored = cradle_stored_there(bay_);
        if (stored) {
            add("store the cradle's offset from one full measurement", minutes_once,
                [cradle = *stored](PlannedBay& bay) { bay.cradle = cradle; });
        }
    }

    void add_calibration() {
        if (!bay_.camera.covariance_given) {
            add("calibrate the phone, so that its uncertainty is known", an_hour_once,
                [](PlannedBay& bay) { bay.camera.covariance = usual_bay().camera.covariance; });
        }
    }

    /// The next larger sheet of the same family.
    void add_board() {
        for (const auto& board : common_sheets(bay_.unit)) {
            const SheetSize sheet = sheet_size(board, "board");
            if (sheet.long_mm > 1.1 * bay_.target.sheet_width_mm) {
                add(fmt::format("a larger board ({})", board), a_day_or_money,
                    [board](PlannedBay& bay) { bay.target = board_of(board, bay.target); });
                return;
            }
        }
    }

    const BayPlan& plan_;
    const PlannedBay& bay_;
};

/// What doing all of these brings; nothing where it cannot be measured so.
std::optional<Improvement> effect_of(const std::vector<const Candidate*>& steps,
                                     const BayPlan& plan) {
    const Mount& mount = plan.bay.mount;
    PlannedBay bay = plan.bay;
    Improvement all;
    all.effort = 0;
    for (const auto* step : steps) {
        step->apply(bay);
        all.steps.push_back(step->what);
        all.effort = std::max(all.effort, step->effort);
    }
    const auto aim = predict_in(bay).aim;
    if (!aim) {
        return std::nullopt;
    }
    all.what = fmt::format("{}", fmt::join(all.steps, "; "));
    all.aim = *aim;
    all.reaches = reaches_limits(*aim, mount);
    all.gain = 1 - share_of_limits(*aim, mount) / share_of_limits(plan.aim, mount);
    return all;
}

/// The step that gains most per effort beside those that are taken already; null where none gains.
const Candidate* best_beside(const std::vector<const Candidate*>& taken, double gain,
                             const std::vector<Candidate>& candidates, const BayPlan& plan) {
    const Candidate* best = nullptr;
    double best_rate = 0;
    for (const auto& candidate : candidates) {
        if (std::find(taken.begin(), taken.end(), &candidate) != taken.end()) {
            continue;
        }
        std::vector<const Candidate*> steps = taken;
        steps.push_back(&candidate);
        const auto found = effect_of(steps, plan);
        const double rate = found ? (found->gain - gain) / candidate.effort : 0;
        if (rate > best_rate) {
            best = &candidate;
            best_rate = rate;
        }
    }
    return best;
}

/// Several steps that make the bay serve together, none of which can be left out; where even all
/// that help do not, these.
std::optional<Improvement> bundle_of(const std::vector<Candidate>& candidates,
                                     const BayPlan& plan) {
    std::vector<const Candidate*> steps;
    std::optional<Improvement> bundle;
    while (!bundle || !bundle->reaches) {
        const Candidate* next = best_beside(steps, bundle ? bundle->gain : 0, candidates, plan);
        if (next == nullptr) {
            return bundle;
        }
        steps.push_back(next);
        bundle = effect_of(steps, plan);
    }
    for (std::size_t i = 0; i < steps.size() && steps.size() > 1;) {
        std::vector<const Candidate*> fewer = steps;
        fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
        const auto found = effect_of(fewer, plan);
        if (found && found->reaches) {
            steps = fewer;
            bundle = found;
        } else {
            ++i;
        }
    }
    return bundle;
}

}  // namespace

std::vector<Improvement> improvements_of(const BayPlan& plan) {
    const std::vector<Candidate> candidates = Candidates(plan).list;
    std::vector<Improvement> all;
    for (const auto& candidate : candidates) {
        if (const auto one = effect_of({&candidate}, plan)) {
            all.push_back(*one);
        }
    }
    const bool reached = plan.reaches();
    std::stable_sort(all.begin(), all.end(), [&](const Improvement& a, const Improvement& b) {
        if (!reached && a.reaches != b.reaches) {
            return a.reaches;
        }
        if (!reached && a.reaches && a.effort != b.effort) {
            return a.effort < b.effort;
        }
        return a.gain / a.effort > b.gain / b.effort;
    });
    if (!reached && !all.empty() && !all.front().reaches) {
        if (auto bundle = bundle_of(candidates, plan)) {
            all.insert(all.begin(), std::move(*bundle));
        }
    }
    return all;
}

}  // namespace squaresight
