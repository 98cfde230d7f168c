#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "mount/mount.h"

namespace squaresight {

/// What a trainee says of a practice job as it was found.
struct QuizAnswer {
    std::optional<double> yaw_left_deg;
    std::optional<double> pitch_up_deg;
    std::vector<std::pair<std::string, double>> turns_clockwise;  ///< by screw name
    bool empty() const { return !yaw_left_deg && !pitch_up_deg && turns_clockwise.empty(); }
};

struct ScrewScore {
    std::string screw;
    double answered_clockwise = 0;
    double needed_clockwise = 0;  ///< exact
    std::string words;            ///< "right screw, right way, 1/8 turn too few"
};

struct QuizScore {
    double true_yaw_left_deg = 0;
    double true_pitch_up_deg = 0;
    std::optional<double> yaw_off_deg;  ///< answered minus true
    std::optional<double> pitch_off_deg;
    std::vector<ScrewScore> screws;          ///< of every screw, where any turns were answered
    std::optional<bool> in_tolerance_after;  ///< by the profile, from the true aim; with turns only
    double yaw_left_after_deg = 0;
    double pitch_up_after_deg = 0;
    std::vector<std::string> words;  ///< the whole, line by line
};

/// The truth file's text in a form that nobody reads by accident, and back. `hidden` is the file
/// truth.hidden; InputError where it was changed.
std::string hidden_truth(const std::string& truth_text);
std::string revealed_truth(const std::filesystem::path& hidden);

/// One part of an answer, "yaw_left=0.7 deg", "pitch_up=-0.6 deg", "side=1 1/2 clockwise", put into
/// `answer`. InputError where it cannot be read or the mount has no such screw.
void read_answer(const std::string& key_value, const Mount& mount, QuizAnswer& answer);

/// Scores an answer against the first stage of a truth file's text.
QuizScore score_answer(const QuizAnswer& answer, const std::string& truth_text, const Mount& mount);

}  // namespace squaresight
