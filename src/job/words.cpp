#include "job/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace squaresight {
namespace {

constexpr double half_shown_step_deg = 0.005;  // angles are shown to 0.01 deg

}  // namespace

std::string angle_words(double deg) {
    if (!std::isfinite(deg)) {
        return "unknown";
    }
    return fmt::format("{:.2f} deg", std::abs(deg));
}

std::string side_words(double yaw_left_deg) {
    if (std::abs(yaw_left_deg) < half_shown_step_deg) {
        return "straight ahead";
    }
    if (!std::isfinite(yaw_left_deg)) {
        return "side-to-side aim unknown";
    }
    return angle_words(yaw_left_deg) + (yaw_left_deg > 0 ? " to the left" : " to the right");
}

std::string nose_words(double pitch_up_deg) {
    if (std::abs(pitch_up_deg) < half_shown_step_deg) {
        return "nose level";
    }
    if (!std::isfinite(pitch_up_deg)) {
        return "up-down aim unknown";
    }
    return "nose " + angle_words(pitch_up_deg) + (pitch_up_deg > 0 ? " up" : " down");
}

std::string aim_words(double yaw_left_deg, double pitch_up_deg) {
    return side_words(yaw_left_deg) + ", " + nose_words(pitch_up_deg);
}

std::string give_or_take(double expanded_deg) {
    if (std::abs(expanded_deg) < half_shown_step_deg) {
        return "give or take less than 0.01 deg";
    }
    return "give or take " + angle_words(expanded_deg);
}

std::string limit_words(const Mount& mount, Axis axis) {
    return "limit " + angle_words(mount.tolerance_deg(axis)) + " either way" +
           (mount.tolerance_stated ? "" : " (common practice, no source)");
}

std::string fine_words(double deg) {
    if (!std::isfinite(deg)) {
        return "unknown";
    }
    return deg < 0.0005   ? "under 0.001 deg"
           : deg < 0.0995 ? fmt::format("{:.3f} deg", deg)
                          : fmt::format("{:.2f} deg", deg);
}

std::string percent_words(double probability) {
    if (!std::isfinite(probability)) {
        return "unknown";
    }
    if (probability > 0.999) {
        return "more than 99.9 %";
    }
    if (probability < 0.001) {
        return "less than 0.1 %";
    }
    const bool near_an_end = probability > 0.99 || probability < 0.01;
    return near_an_end ? fmt::format("{:.1f} %", 100 * probability)
                       : fmt::format("{:.0f} %", 100 * probability);
}

const char* axis_words(Axis axis) { return axis == Axis::yaw ? "side-to-side aim" : "up-down aim"; }

const char* sure_words(double probability, Call call) {
    if (call == Call::too_close_to_call) {
        return "not sure";
    }
    const double right = call == Call::in_tolerance ? probability : 1 - probability;
    if (right >= 0.99) {
        return "very sure";
    }
    return right >= 0.95 ? "sure" : "not sure";
}

std::string length_words(double length_mm, LengthUnit unit) {
    std::string unbroken;
    for (const char c : shown_length(length_mm, unit)) {
        unbroken += c == ' ' ? "\u00A0" : std::string(1, c);
    }
    return unbroken;
}

std::string length_both_ways(double length_mm, LengthUnit unit) {
    const LengthUnit other = unit == LengthUnit::mm ? LengthUnit::in : LengthUnit::mm;
    return fmt::format("{} ({})", length_words(length_mm, unit), length_words(length_mm, other));
}

std::string with_plain_spaces(std::string text) {
    const std::string unbroken = "\u00A0";
    for (auto at = text.find(unbroken); at != std::string::npos; at = text.find(unbroken, at)) {
        text.replace(at, unbroken.size(), " ");
    }
    return text;
}

std::string reading_words(const std::string& name) {
    static const std::array<std::pair<const char*, const char*>, 11> words{{
        {"line", "line of the rails"},
        {"distance", "distance to the board"},
        {"target_left", "board left or right of the line"},
        {"mount_left", "mount left or right of the line"},
        {"target_height", "height of the board"},
        {"mount_height", "height of the mount"},
        {"floor_rise", "floor slope ahead"},
        {"target_lean_back", "board leaning"},
        {"target_turned_left", "board turned"},
        {"target_roll_clockwise", "board tilted"},
        {"rail_zero", "zero of the level on the rail"},
    }};
    for (const auto& [key, text] : words) {
        if (name == key) {
            return text;
        }
    }
    std::string plain = name;
    std::replace(plain.begin(), plain.end(), '_', ' ');
    return plain;
}

std::string in_shop_words(const std::string& text) {
    std::string out;
    std::string word;
    const auto flush = [&] {
        out += word.find('_') == std::string::npos ? word : reading_words(word);
        word.clear();
    };
    for (const char c : text) {
        if ((c >= 'a' && c <= 'z') || c == '_') {
            word += c;
        } else {
            flush();
            out += c;
        }
    }
    flush();
    return out;
}

}  // namespace squaresight
