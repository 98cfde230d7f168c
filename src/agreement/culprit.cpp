#include "agreement/culprit.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <utility>
#include <vector>

namespace squaresight {
namespace {

/// A bumper further out than this is seen without a tape.
constexpr double largest_bumper_mm = 2 * mm_per_inch;

/// E_n of vision against these readings. The aim only shifts what is told beside the angles.
double en_of_yaw(const VisionAngle& vision, const TapeAndLevel& readings) {
    const TapeOutcome tape = solve_tape(readings, 0, 0);
    return compare_methods(vision.angle, tape.yaw_left_deg, vision.shared, 0).en;
}

double en_of_pitch(const VisionAngle& vision, const TapeAndLevel& readings) {
    const TapeOutcome tape = solve_tape(readings, 0, 0);
    return compare_methods(vision.angle, tape.pitch_up_deg, vision.shared, 0).en;
}

bool passes_agree(const TapeAndLevel& readings) {
    const auto [low, high] = std::minmax_element(
        readings.passes.begin(), readings.passes.end(), [](const TapePass& a, const TapePass& b) {
            return a.right_mm - a.left_mm < b.right_mm - b.left_mm;
        });
    const double range_mm = (high->right_mm - high->left_mm) - (low->right_mm - low->left_mm);
    return range_mm <= 4 * readings.pass_limit_mm + 1e-9;
}

/// Which one pass, read an inch differently, brings the passes together and the methods too.
std::string inch_misread(const VisionAngle& vision, const TapeAndLevel& readings) {
    std::string best;
    double best_en = 1;
    for (std::size_t i = 0; i < readings.passes.size(); ++i) {
        for (const double inch : {mm_per_inch, -mm_per_inch}) {
            TapeAndLevel changed = readings;
            changed.passes[i].left_mm += inch;
            if (changed.passes[i].left_mm < 0 || !passes_agree(changed)) {
                continue;
            }
            const double en = en_of_yaw(vision, changed);
            if (en <= best_en) {
                best_en = en;
                best = fmt::format(
                    "one inch explains it: in pass {}, was left read an inch {} or right an inch "
                    "{}? Read both again.",
                    i + 1, inch > 0 ? "short" : "long", inch > 0 ? "long" : "short");
            }
        }
    }
    return best;
}

/// Whether the same side read an inch off in every pass would make the methods agree.
std::string inch_in_every_pass(const VisionAngle& vision, const TapeAndLevel& readings) {
    for (const double inch : {mm_per_inch, -mm_per_inch}) {
        TapeAndLevel changed = readings;
        for (auto& pass : changed.passes) {
            pass.left_mm += inch;
        }
        if (en_of_yaw(vision, changed) <= 1) {
            return fmt::format(
                "one inch explains it: was left read an inch {} or right an inch {} in every pass, "
                "or does the tape begin at 1? Read both again. A bumper out of square by an inch, "
                "its {} point further ahead, would look the same.",
                inch > 0 ? "short" : "long", inch > 0 ? "long" : "short",
                inch > 0 ? "left" : "right");
        }
    }
    return "";
}

TapeAndLevel with_sides_swapped(TapeAndLevel readings) {
    for (auto& pass : readings.passes) {
        std::swap(pass.left_mm, pass.right_mm);
    }
    return readings;
}

std::string bumper_or_line(const VisionAngle& vision, const TapeAndLevel& readings) {
    const double base_mm = readings.left_point_mm + readings.right_point_mm;
    const TapeOutcome tape = solve_tape(readings, 0, 0);
    const double difference_deg = tape.yaw_left_deg.value - vision.angle.value;
    const double out_mm = (std::tan(tape.yaw_left_deg.value * rad_per_deg) -
                           std::tan(vision.angle.value * rad_per_deg)) *
                          base_mm;
    if (!(std::abs(out_mm) <= largest_bumper_mm)) {
        return "side to side nothing simple explains the difference; measure both ways again.";
    }
    return fmt::format(
        "a bumper out of square by another {}, its {} point further ahead, would "
        "explain it, and so would a line of the rails that is {:.2f} deg off to the {}: is the "
        "bumper square to the rails? Was the line plumbed from the rails?",
        shown_difference(out_mm, readings.unit), out_mm > 0 ? "left" : "right",
        std::abs(difference_deg), difference_deg > 0 ? "left" : "right");
}

std::string yaw_culprit(const VisionAngle& vision, const TapeAndLevel& readings) {
    if (en_of_yaw(vision, with_sides_swapped(readings)) <= 1) {
        return fmt::format(
            "swapping left and right makes both methods agree: were the tapes swapped, or is the "
            "beam {} the points?",
            readings.beam_ahead ? "behind" : "ahead of");
    }
    std::string inch = inch_misread(vision, readings);
    if (inch.empty()) {
        inch = inch_in_every_pass(vision, readings);
    }
    return inch.empty() ? bumper_or_line(vision, readings) : inch;
}

std::string pitch_culprit(const VisionAngle& vision, const TapeAndLevel& readings) {
    TapeAndLevel negated = readings;
    for (double& level : negated.face_level_deg) {
        level = -level;
    }
    if (en_of_pitch(vision, negated) <= 1) {
        return "calling the nose down instead of up, or up instead of down, makes both methods "
               "agree: was the inclinometer's sign swapped?";
    }
    return "up and down nothing simple explains the difference: zero the inclinometer on the rail "
           "and measure the face, the board and the floor again.";
}

}  // namespace

std::string likely_culprit(const VisionAngle& yaw_left, const VisionAngle& pitch_up,
                           const TapeAndLevel& readings) {
    std::string text;
    if (!readings.passes.empty() && en_of_yaw(yaw_left, readings) > 1) {
        text = yaw_culprit(yaw_left, readings);
    }
    if (!readings.face_level_deg.empty() && en_of_pitch(pitch_up, readings) > 1) {
        text += (text.empty() ? "" : " ") + pitch_culprit(pitch_up, readings);
    }
    if (!text.empty()) {
        text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    }
    return text;
}

}  // namespace squaresight
