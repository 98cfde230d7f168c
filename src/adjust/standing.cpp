#include "adjust/standing.h"

#include <fmt/format.h>

#include <Eigen/QR>
#include <algorithm>
#include <cmath>

#include "frames/rotations.h"

namespace squaresight {
namespace {

constexpr double same_label_limit_deg = 10;
constexpr double label_limit_deg = 20;
constexpr double upright_limit_deg = 60;  ///< EXIF orientation goes in quarter turns

struct Seen {
    const PhotoSight* photo = nullptr;
    double image_turn_deg = 0;  ///< clockwise turn that puts the board's TOP up in the native image
    double label_deg() const { return label_roll_deg(*photo->label); }
};

/// Clockwise turn of the native image that would put the board's TOP up: from the linear part of
/// the map from the board to the photo.
double board_turn_deg(const std::vector<Corner>& corners, const Pattern& pattern) {
    Eigen::MatrixXd board(corners.size(), 3);
    Eigen::MatrixXd pixels(corners.size(), 2);
    for (std::size_t i = 0; i < corners.size(); ++i) {
        const auto row = static_cast<Eigen::Index>(i);
        board.row(row) << corner_in_target_mm(pattern, corners[i].index).transpose(), 1;
        pixels.row(row) = corners[i].pixel.transpose();
    }
    const Eigen::MatrixXd map = board.colPivHouseholderQr().solve(pixels);
    const Eigen::Vector2d up = -map.row(1).transpose();
    return std::atan2(-up.x(), -up.y()) * deg_per_rad;
}

std::optional<double> exif_turn_deg(const std::optional<int>& orientation) {
    switch (orientation.value_or(0)) {
        case 1:
            return 0;
        case 3:
            return 180;
        case 6:
            return 90;
        case 8:
            return 270;
        default:
            return std::nullopt;
    }
}

double apart_deg(double a_deg, double b_deg) { return std::abs(wrapped_deg(a_deg - b_deg)); }

double widest_apart_deg(const std::vector<double>& angles) {
    double widest = 0;
    for (const double one : angles) {
        for (const double other : angles) {
            widest = std::max(widest, apart_deg(one, other));
        }
    }
    return widest;
}

/// Mean of angles that lie close together.
double mean_deg(const std::vector<double>& angles) {
    double sum = 0;
    for (const double angle : angles) {
        sum += wrapped_deg(angle - angles.front());
    }
    return wrapped_deg(angles.front() + sum / static_cast<double>(angles.size()));
}

double nearest_quarter_deg(double deg) { return wrapped_deg(90 * std::round(deg / 90)); }

std::vector<double> turns_of(const std::vector<Seen>& seen, CradleLabel label) {
    std::vector<double> turns;
    for (const auto& one : seen) {
        if (one.photo->label == label) {
            turns.push_back(one.image_turn_deg);
        }
    }
    return turns;
}

void check_spread(const std::vector<double>& turns, const char* label, Findings& findings) {
    for (const double turn : turns) {
        if (apart_deg(turn, turns.front()) > same_label_limit_deg) {
            findings.push_back(
                {Level::stop, "cradle-labels",
                 fmt::format(
                     "Photos labelled '{}' are {:.0f} deg apart in roll, more than {:.0f}. "
                     "Check which way up the phone was in each photo and correct the labels.",
                     label, apart_deg(turn, turns.front()), same_label_limit_deg)});
            return;
        }
    }
}

/// Photos of one label against those of another: as far apart as the labels say.
void check_apart(const std::vector<double>& from, CradleLabel from_label,
                 const std::vector<double>& to, CradleLabel to_label, Findings& findings) {
    const double apart = mean_deg(to) - mean_deg(from);
    const double stated = label_roll_deg(to_label) - label_roll_deg(from_label);
    if (apart_deg(apart, stated) <= label_limit_deg) {
        return;
    }
    findings.push_back(
        {Level::stop, "cradle-labels",
         fmt::format("Photos labelled '{}' and '{}' are {:.0f} deg apart in roll instead of {:.0f} "
                     "+/- {:.0f}. Take the photos again, the phone turned as the labels say, or "
                     "correct the labels.",
                     cradle_label_text(from_label), cradle_label_text(to_label),
                     std::abs(wrapped_deg(apart)), std::abs(wrapped_deg(stated)),
                     label_limit_deg)});
}

void check_labels(const std::vector<Seen>& seen, Findings& findings) {
    std::optional<CradleLabel> first;
    for (const CradleLabel label : all_cradle_labels) {
        check_spread(turns_of(seen, label), cradle_label_text(label), findings);
    }
    if (!findings.empty()) {
        return;
    }
    for (const CradleLabel label : all_cradle_labels) {
        const auto turns = turns_of(seen, label);
        if (first && !turns.empty()) {
            check_apart(turns_of(seen, *first), *first, turns, label, findings);
        }
        first = first || turns.empty() ? first : std::optional(label);
    }
}

Finding turned_finding(double off_deg, const char* against) {
    return {
        Level::stop, "target-turned",
        fmt::format("The board's TOP is {:.0f} deg away from up according to {}. Hang the board "
                    "with TOP up, or check which way up the phone was, and take the photos again.",
                    std::abs(wrapped_deg(off_deg)), against)};
}

enum class ExifSays { nothing, agrees, turned, does_not_follow };

ExifSays ask_exif(const std::vector<Seen>& seen, double& off_deg) {
    int agree = 0;
    int differ = 0;
    for (const auto& one : seen) {
        if (const auto turn = exif_turn_deg(one.photo->orientation)) {
            const double off = wrapped_deg(one.image_turn_deg - *turn);
            if (std::abs(off) <= upright_limit_deg) {
                ++agree;
            } else {
                ++differ;
                off_deg = off;
            }
        }
    }
    if (agree + differ == 0) {
        return ExifSays::nothing;
    }
    if (differ == 0) {
        return ExifSays::agrees;
    }
    return agree == 0 ? ExifSays::turned : ExifSays::does_not_follow;
}

/// What the labels say the image turn is; nothing without labels.
std::optional<double> turn_by_labels(const std::vector<Seen>& seen) {
    std::vector<double> turns;
    for (const auto& one : seen) {
        if (one.photo->label) {
            turns.push_back(one.image_turn_deg - one.label_deg());
        }
    }
    return turns.empty() ? std::nullopt : std::optional(mean_deg(turns));
}

/// Holds labels against the cradle file: a swap of all labels changes nothing, a board on its head
/// or side would change everything.
void check_phone_up(double phone_up_deg, double by_labels_deg, ExifSays exif, Findings& findings) {
    const double off = wrapped_deg(by_labels_deg - phone_up_deg);
    if (std::abs(off) <= upright_limit_deg) {
        return;
    }
    if (std::abs(off) > 180 - upright_limit_deg && exif == ExifSays::agrees) {
        findings.push_back(
            {Level::note, "cradle-labels",
             "All labels 'upright' and 'inverted' are swapped; the photos show which "
             "is which, so the answer is not changed."});
        return;
    }
    findings.push_back(turned_finding(off, "the cradle file and the photos' labels"));
}

}  // namespace

Standing read_standing(const MeasuredJob& job) {
    Standing standing;
    std::vector<Seen> seen;
    for (const auto& sighting : job.sightings) {
        for (const auto& photo : sighting.photos) {
            if (photo.corners.size() >= fewest_corners) {
                seen.push_back({&photo, board_turn_deg(photo.corners, job.target.pattern)});
            }
        }
    }
    standing.usable_photos = static_cast<int>(seen.size());
    if (seen.empty()) {
        for (const auto& sighting : job.sightings) {
            standing.stands.emplace_back(sighting.photos.size());
        }
        standing.roll_apart_deg.resize(job.sightings.size());
        return standing;
    }
    check_labels(seen, standing.findings);
    double exif_off_deg = 0;
    const ExifSays exif = ask_exif(seen, exif_off_deg);
    if (exif == ExifSays::turned) {
        standing.findings.push_back(turned_finding(exif_off_deg, "the phone's own record of up"));
    } else if (exif == ExifSays::does_not_follow) {
        standing.findings.push_back(
            {Level::note, "orientation-not-followed",
             "The phone's record of which way up it was does not follow the photos, so it cannot "
             "check that the board's TOP was up. Check it by eye."});
    }
    const auto by_labels = turn_by_labels(seen);
    standing.image_turn_deg = nearest_quarter_deg(by_labels.value_or(seen.front().image_turn_deg));
    if (job.cradle.phone_up) {
        const double phone_up_deg = static_cast<double>(*job.cradle.phone_up);
        standing.image_turn_deg = wrapped_deg(phone_up_deg);
        if (by_labels && exif != ExifSays::turned) {
            check_phone_up(phone_up_deg, *by_labels, exif, standing.findings);
        }
    }
    for (const auto& sighting : job.sightings) {
        auto& stands = standing.stands.emplace_back();
        std::vector<double> turns;
        for (const auto& photo : sighting.photos) {
            const bool usable = photo.corners.size() >= fewest_corners;
            const double turn = usable ? board_turn_deg(photo.corners, job.target.pattern) : 0;
            stands.push_back({wrapped_deg(turn - standing.image_turn_deg)});
            if (usable) {
                turns.push_back(turn);
            }
        }
        standing.roll_apart_deg.push_back(widest_apart_deg(turns));
    }
    return standing;
}

}  // namespace squaresight
