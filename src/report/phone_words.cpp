#include "report/phone_words.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <optional>

#include "job/words.h"
#include "report/phone_figures.h"
#include "report/summary.h"

namespace squaresight {
namespace {

constexpr std::chrono::days check_lasts{365};  // common practice, no source
constexpr std::size_t misfits_named = 5;
constexpr double near_mm = 600;  ///< at which the growth of the focal length is told

std::string capitalised(std::string text) {
    if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') {
        text[0] = static_cast<char>(text[0] - 'a' + 'A');
    }
    return text;
}

std::string next_check_day(const std::string& date) {
    int year = 0;
    unsigned month = 0, day = 0;
    if (std::sscanf(date.c_str(), "%4d-%2u-%2u", &year, &month, &day) != 3) {
        return "";
    }
    const std::chrono::year_month_day checked{std::chrono::year(year), std::chrono::month(month),
                                              std::chrono::day(day)};
    if (!checked.ok()) {
        return "";
    }
    const std::chrono::year_month_day next(std::chrono::sys_days(checked) + check_lasts);
    return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(next.year()),
                       static_cast<unsigned>(next.month()), static_cast<unsigned>(next.day()));
}

/// The first finding of that level that the figures suffer from: not knowing the phone's name
/// makes none of them worse.
const Finding* first_of(const Findings& findings, Level level) {
    const auto found = std::find_if(findings.begin(), findings.end(), [&](const Finding& one) {
        return one.level == level && one.code != "camera-unverified";
    });
    return found == findings.end() ? nullptr : &*found;
}

std::string photos_of_tape(const PhoneCheck& check, std::size_t tape) {
    std::vector<std::string> photos;
    for (const auto& view : check.data.views) {
        if (view.tape == static_cast<int>(tape)) {
            photos.push_back(view.file);
        }
    }
    return joined(photos, ", ");
}

}  // namespace

bool is_fit(const PhoneCheck& check) { return check.verdict.fit && !has_stop(check.findings); }

bool is_predicted(const PhoneVerdict& verdict) {
    return verdict.aim.yaw_deg > 0 && verdict.aim.pitch_deg > 0;
}

std::string number_words(double value, int digits) {
    if (!std::isfinite(value)) {
        return "unknown";
    }
    const std::string words = fmt::format("{:.{}f}", value, digits);
    const bool zero = words.find_first_not_of("-0.") == std::string::npos;
    return zero && words[0] == '-' ? words.substr(1) : words;
}

std::string number_words(double value, double standard_uncertainty) {
    if (!std::isfinite(standard_uncertainty) || standard_uncertainty <= 0) {
        return std::isfinite(value) ? fmt::format("{:.6g}", value) : "unknown";
    }
    const int digits = static_cast<int>(1 - std::floor(std::log10(standard_uncertainty)));
    return number_words(value, std::clamp(digits, 0, 9));
}

std::string phone_call(const PhoneCheck& check) {
    return is_fit(check) ? "Fit for use" : "Not yet";
}

std::string phone_first(const PhoneCheck& check) {
    if (is_fit(check)) {
        return "Use the camera file. Check the phone again by the day below, and at once after a "
               "drop, a new case or new software.";
    }
    for (const Level level : {Level::stop, Level::warning}) {
        if (const Finding* finding = first_of(check.findings, level)) {
            return finding->text;
        }
    }
    if (!is_predicted(check.verdict)) {
        return phone_reason(check);
    }
    return check.next ? check.next->words : "Take more photos of the board and check again.";
}

std::string phone_reason(const PhoneCheck& check) {
    const std::string& words = check.verdict.words;
    const auto colon = words.find(": ");
    return capitalised(colon == std::string::npos ? words : words.substr(colon + 2));
}

std::string phone_dates(const PhoneCheck& check) {
    if (check.camera.date.empty()) {
        return "Date not recorded.";
    }
    const std::string next = next_check_day(check.camera.date);
    return fmt::format("Checked {}.{}", check.camera.date,
                       next.empty() ? "" : fmt::format(" Check again by {}.", next));
}

LensShareWords lens_share_words(const PhoneVerdict& verdict, Axis axis) {
    const bool yaw = axis == Axis::yaw;
    const double lens = yaw ? verdict.from_lens.yaw_deg : verdict.from_lens.pitch_deg;
    const double whole = yaw ? verdict.aim.yaw_deg : verdict.aim.pitch_deg;
    const double limit = yaw ? verdict.limit.yaw_deg : verdict.limit.pitch_deg;
    LensShareWords words;
    words.title = yaw ? "Side-to-side aim" : "Up-down aim";
    words.term = yaw ? "yaw" : "pitch";
    if (!is_predicted(verdict)) {
        words.share = "unknown";
        words.call = "nothing could be predicted for this bay";
        return words;
    }
    words.share = "give or take " + fine_words(2 * lens);
    words.call =
        fmt::format("{} its limit of {}", lens <= limit ? "within" : "over", fine_words(2 * limit));
    words.whole = fmt::format("A whole measurement in this bay: give or take {} (at least 95 %).",
                              fine_words(2 * whole));
    return words;
}

std::vector<std::string> coverage_words(const PhoneCheck& check) {
    std::vector<std::string> words{
        fmt::format("Corners reach {} of the picture ({} fields across, {} down).",
                    percent_words(check.seen_share), coverage_columns, coverage_rows)};
    const auto bare = bare_parts(check);
    words.push_back(bare.empty() ? "Every part of the picture has corners."
                                 : "No corner yet in: " + joined(bare, "; ") + ".");
    words.push_back(
        "Left, right, top and bottom are those of the picture as the sensor has it, "
        "drawn here; on the phone's screen it may stand turned.");
    return words;
}

std::vector<std::string> misfit_words(const PhoneCheck& check) {
    const auto misfits = misfits_of(check);
    if (misfits.empty()) {
        return {"No corner is in use."};
    }
    const MisfitScale scale = misfit_scale(check);
    std::vector<std::string> words{
        "Each line runs from where a corner was seen to where the lens that was found puts it.",
        "Lines that point every way are noise. Lines that agree with their neighbours mean a board "
        "that is not flat, or a part of the picture that is not understood.",
        scale.longer > 0
            ? fmt::format("{} longer than {:.2f} px {} cut there and ringed.", scale.longer,
                          scale.longest_px, scale.longer == 1 ? "is" : "are")
            : "None is cut."};
    std::vector<std::string> largest;
    for (std::size_t i = 0; i < std::min(misfits.size(), misfits_named); ++i) {
        largest.push_back(fmt::format("{:.2f} px (photo {}, corner {})", misfits[i].off_px.norm(),
                                      misfits[i].photo, misfits[i].corner));
    }
    words.push_back("Largest: " + joined(largest, "; ") + ".");
    return words;
}

std::vector<std::string> pointing_words(const PhoneCheck& check) {
    const Eigen::MatrixXd map = pointing_map_deg(check, map_columns, map_rows);
    double low = HUGE_VAL, high = 0;
    for (const double value : map.reshaped()) {
        if (std::isfinite(value)) {
            low = std::min(low, 2 * value);
            high = std::max(high, 2 * value);
        }
    }
    std::vector<std::string> words{
        "In each field: the give or take, in degrees, of where the phone points by its lens alone "
        "(root mean square of both directions). Darker is worse."};
    if (high > 0) {
        words.push_back(fmt::format("From {} where it is best to {} where it is worst.",
                                    fine_words(low), fine_words(high)));
    }
    words.push_back("Dashed: around all corners in use. Beyond it nothing was photographed.");
    if (!map.allFinite()) {
        words.push_back(
            "Hatched: the lens found has no ray there. Keep the board away from there, "
            "or photograph a board there and check again.");
    }
    return words;
}

std::vector<std::string> model_words(const PhoneCheck& check) {
    const CalibrationModel& model = check.model;
    std::vector<std::string> words{
        fmt::format("Brown-Conrady: focal lengths, principal point, k1 to k{}{}{}.",
                    model.radial_terms, model.tangential ? ", p1, p2" : "",
                    model.skew ? ", skew" : ""),
        model.further_terms
            ? "Further radial terms k4 k5 k6 are in: photos that were left out fit better with "
              "them."
            : "Further radial terms k4 k5 k6 are not in: they stay out unless photos that were "
              "left out fit better with them.",
        fmt::format("Misfit per axis: {} px in the photos used, {} px in photos that were left out "
                    "in turn (every fifth): {} times as large.",
                    number_words(check.solution.rms_px(), 3),
                    number_words(check.held_out_rms_px, 3),
                    number_words(check.held_out_rms_px / check.solution.rms_px(), 2))};
    if (model.board_shape) {
        words.push_back("Print scale, bow and twist of every board were found with the lens.");
    }
    return words;
}

std::vector<std::string> steadiness_words(const PhoneCheck& check) {
    std::vector<std::string> words;
    const FocusBreathing& focus = check.solution.focus;
    if (check.model.focus) {
        const double growth = focus.scale_at(near_mm) - 1;
        words.push_back(fmt::format(
            "Focus: fx and fy hold at {}. At {} they are {:.2f} % {}, as of a thin lens of {} mm "
            "(standard uncertainty {} mm). Each photo has a focal length of its own about that.",
            length_words(focus.distance_mm, check.unit), length_words(near_mm, check.unit),
            100 * std::abs(growth), growth < 0 ? "shorter" : "longer",
            number_words(focus.lens_mm, focus.standard_uncertainty_mm),
            number_words(focus.standard_uncertainty_mm, 2)));
    } else {
        words.push_back("Focus: one focal length for all photos.");
    }
    const auto& sag = check.solution.sag_deg;
    words.push_back(
        (sag ? fmt::format("Sag under gravity: the axis points {} deg {} (standard uncertainty {} "
                           "deg).",
                           number_words(std::abs(*sag), check.solution.sag_u_deg),
                           *sag >= 0 ? "lower" : "higher",
                           number_words(check.solution.sag_u_deg, 3))
             : std::string("Sag under gravity: these photos do not tell it (hold the phone upright "
                           "in some and upside down in others).")) +
        fmt::format(" In the camera file: {} deg.", number_words(check.camera.lens_sag_deg, 3)));
    if (check.still) {
        words.push_back(fmt::format(
            "Pointing jitter from {} photos of a still board: {} deg per axis (95 %: {} to {} "
            "deg). In the camera file: {} deg, a little more for so few photos.",
            check.still->photos, number_words(check.still->jitter_deg, 4),
            number_words(check.still->lower_95_deg, 4), number_words(check.still->upper_95_deg, 4),
            number_words(check.still->standard_uncertainty_deg, 4)));
        for (const auto& photo : check.still->left_out) {
            words.push_back("Left out of these: " + photo);
        }
    } else {
        words.push_back(
            fmt::format("Pointing jitter: no photos of a still board were given. In "
                        "the camera file: {} deg, the usual figure.",
                        number_words(check.camera.pointing_jitter_deg, 3)));
    }
    return words;
}

std::vector<std::string> tape_words(const PhoneCheck& check) {
    std::vector<std::string> words;
    for (std::size_t t = 0; t < check.data.tapes.size(); ++t) {
        const TapedDistance& tape = check.data.tapes[t];
        const double off_mm = t < check.solution.tape_misfits_mm.size()
                                  ? check.solution.tape_misfits_mm[t]
                                  : std::nan("");
        const std::string found =
            std::isfinite(off_mm) ? fmt::format("found {} {}", shown_difference(off_mm, check.unit),
                                                off_mm < 0 ? "less" : "more")
                                  : std::string("not found");
        words.push_back(fmt::format("Taped {} (standard uncertainty {}), {}: {}.",
                                    length_words(tape.length_mm, check.unit),
                                    shown_difference(tape.standard_uncertainty_mm, check.unit),
                                    found, photos_of_tape(check, t)));
    }
    if (words.empty()) {
        words.emplace_back("No taped distance was given.");
    }
    return words;
}

std::vector<std::string> identity_words(const PhoneCheck& check) {
    const CameraIdentity& identity = check.camera.identity;
    const auto told = [](const std::string& text) {
        return text.empty() ? std::string("not told") : text;
    };
    const auto mm = [](const std::optional<double>& value) {
        return value ? fmt::format("{:g} mm", *value) : std::string("not told");
    };
    return {fmt::format("Make {}, model {}, lens {}.", told(identity.make), told(identity.model),
                        told(identity.lens)),
            fmt::format("Focal length {}, as on 35 mm film {}.", mm(identity.focal_length_mm),
                        mm(identity.focal_length_35mm_mm)),
            fmt::format("Picture {} x {} px, camera '{}', {} photos used.", check.camera.width_px,
                        check.camera.height_px, check.camera.name, check.data.views.size())};
}

}  // namespace squaresight
