#include "simulate/quiz.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "job/words.h"
#include "photo/photo.h"
#include "units/entry.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr const char* quiz_schema = "squaresight/quiz/1";
constexpr std::size_t bytes_a_line = 32;
constexpr double eighth_turn = 0.125;
constexpr double rounding_turns = eighth_turn / 2 + 1e-9;

/// Hides nothing from who wants to know; a second time brings the text back.
std::string mixed(std::string text) {
    unsigned state = 0x5eed;
    for (char& c : text) {
        state = (state * 1103515245U + 12345U) & 0x7fffffffU;  // ISO C's example generator
        c = static_cast<char>(static_cast<unsigned char>(c) ^ ((state >> 16) & 0xffU));
    }
    return text;
}

std::string turns_apart_words(double turns) {
    const int eighths = static_cast<int>(std::lround(std::abs(turns) * 8));
    return eighths_text(eighths) + (eighths <= 8 ? " turn" : " turns");
}

/// `within` is whether the screw's angle is in tolerance after the answered turns.
std::string screw_words(double answered, double needed, bool within) {
    const bool needs_turning = std::abs(needed) > rounding_turns;
    if (answered == 0 && needs_turning && within) {
        return fmt::format("left alone, which is within the limit; {} would bring it to its aim",
                           turns_words(needed));
    }
    if (answered == 0) {
        return needs_turning ? "not turned, and it had to be: " + turns_words(needed)
                             : "rightly left alone";
    }
    if (!needs_turning) {
        return "turned, and it was to be left alone";
    }
    if ((answered > 0) != (needed > 0)) {
        return "right screw, wrong way: needed was " + turns_words(needed);
    }
    const double more = std::abs(answered) - std::abs(needed);
    if (std::abs(more) <= rounding_turns) {
        return "right screw, right way, right size";
    }
    return fmt::format("right screw, right way, {} too {}", turns_apart_words(more),
                       more > 0 ? "many" : "few");
}

std::string angle_score_words(const std::string& axis, const std::string& said,
                              const std::string& is, double off_deg, double tolerance_deg) {
    const double share = std::abs(off_deg) / tolerance_deg;
    return fmt::format("{}: you said {}, it is {}: {} off{}", axis, said, is,
                       angle_words(std::abs(off_deg)),
                       share <= 1.0 / 3 ? ", well measured"
                       : share <= 1     ? ", less than the limit, but not by much"
                                        : ", more than the whole limit: measure again");
}

void score_turns(const QuizAnswer& answer, const Mount& mount, QuizScore& score) {
    std::vector<double> answered(mount.screws.size(), 0.0);
    for (std::size_t i = 0; i < answered.size(); ++i) {
        for (const auto& [name, turns] : answer.turns_clockwise) {
            answered[i] += name == mount.screws[i].name ? turns : 0;
        }
    }
    const auto needed =
        exact_turns_clockwise(mount, score.true_yaw_left_deg, score.true_pitch_up_deg,
                              mount.aim_yaw_left_deg, mount.aim_pitch_up_deg);
    const Eigen::Vector2d after =
        attitude_after(mount, score.true_yaw_left_deg, score.true_pitch_up_deg, answered);
    score.yaw_left_after_deg = after.x();
    score.pitch_up_after_deg = after.y();
    const bool yaw_within = std::abs(after.x() - mount.aim_yaw_left_deg) <= mount.tolerance_yaw_deg;
    const bool pitch_within =
        std::abs(after.y() - mount.aim_pitch_up_deg) <= mount.tolerance_pitch_deg;
    score.in_tolerance_after = yaw_within && pitch_within;
    for (std::size_t i = 0; i < answered.size(); ++i) {
        const Screw& screw = mount.screws[i];
        const bool within = screw.turns == Axis::yaw ? yaw_within : pitch_within;
        const std::string words = screw_words(answered[i], needed[i], within);
        score.screws.push_back({screw.name, answered[i], needed[i], words});
        score.words.push_back(fmt::format("Screw {}: {}", screw.name, words));
    }
    score.words.push_back(fmt::format(
        "After these turns the face would point {}: {}", aim_words(after.x(), after.y()),
        *score.in_tolerance_after ? "in tolerance" : "not in tolerance"));
}

}  // namespace

std::string hidden_truth(const std::string& truth_text) {
    std::string text = fmt::format(
        "# The answer of a quiz, written so that it is not read by accident.\nschema: {}\n"
        "sha256: {}\nanswer:\n",
        quiz_schema, yaml_text(sha256_hex(truth_text)));
    const std::string bytes = mixed(truth_text);
    for (std::size_t at = 0; at < bytes.size(); at += bytes_a_line) {
        text += "  - 'x";
        for (const char c : std::string_view(bytes).substr(at, bytes_a_line)) {
            text += fmt::format("{:02x}", static_cast<unsigned char>(c));
        }
        text += "'\n";
    }
    return text;
}

std::string revealed_truth(const std::filesystem::path& hidden) {
    const Entry root = Entry::load(hidden, quiz_schema);
    root.expect_keys({"schema", "sha256", "answer"});
    std::string bytes;
    for (const Entry& line : root.at("answer").list()) {
        const std::string digits = line.text();
        for (std::size_t i = 1; i + 1 < digits.size(); i += 2) {
            bytes += static_cast<char>(std::strtoul(digits.substr(i, 2).c_str(), nullptr, 16));
        }
    }
    std::string text = mixed(bytes);
    if (sha256_hex(text) != root.at("sha256").text()) {
        root.fail("was changed since the quiz was made", "make a new quiz");
    }
    return text;
}

void read_answer(const std::string& key_value, const Mount& mount, QuizAnswer& answer) {
    const auto equals = std::min(key_value.find('='), key_value.size());
    const std::string key = key_value.substr(0, equals);
    const std::string value = key_value.substr(std::min(equals + 1, key_value.size()));
    const std::string where = "--answer " + key_value;
    std::vector<std::string> known{"yaw_left", "pitch_up"};
    for (const auto& screw : mount.screws) {
        known.push_back(screw.name);
    }
    if (std::find(known.begin(), known.end(), key) == known.end() || value.empty()) {
        throw InputError(where, "is no answer",
                         fmt::format("write --answer 'yaw_left=0.7 deg', 'pitch_up=-0.6 deg' or "
                                     "'{}=1 1/2 clockwise'",
                                     mount.screws.front().name));
    }
    try {
        if (key == "yaw_left") {
            answer.yaw_left_deg = parse_quantity(value, Dimension::angle).value;
        } else if (key == "pitch_up") {
            answer.pitch_up_deg = parse_quantity(value, Dimension::angle).value;
        } else {
            answer.turns_clockwise.emplace_back(key, parse_turns_clockwise(value));
        }
    } catch (const std::invalid_argument& error) {
        throw InputError(where + ": " + error.what());
    }
}

QuizScore score_answer(const QuizAnswer& answer, const std::string& truth_text,
                       const Mount& mount) {
    const Entry stage =
        Entry::parse(truth_text, "truth.yaml", "squaresight/truth/1").at("stages").list().front();
    QuizScore score;
    score.true_yaw_left_deg = stage.at("yaw_left_deg").number(-90, 90);
    score.true_pitch_up_deg = stage.at("pitch_up_deg").number(-90, 90);
    if (answer.yaw_left_deg) {
        score.yaw_off_deg = *answer.yaw_left_deg - score.true_yaw_left_deg;
        score.words.push_back(angle_score_words(
            "Side-to-side aim", side_words(*answer.yaw_left_deg),
            side_words(score.true_yaw_left_deg), *score.yaw_off_deg, mount.tolerance_yaw_deg));
    }
    if (answer.pitch_up_deg) {
        score.pitch_off_deg = *answer.pitch_up_deg - score.true_pitch_up_deg;
        score.words.push_back(angle_score_words("Up-down aim", nose_words(*answer.pitch_up_deg),
                                                nose_words(score.true_pitch_up_deg),
                                                *score.pitch_off_deg, mount.tolerance_pitch_deg));
    }
    if (!answer.turns_clockwise.empty()) {
        score_turns(answer, mount, score);
    }
    return score;
}

}  // namespace squaresight
