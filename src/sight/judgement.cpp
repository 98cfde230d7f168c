#include "sight/judgement.h"

#include <fmt/format.h>

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "sight/flaws.h"
#include "sight/median.h"

namespace squaresight {
namespace {

constexpr double dark_photo_greys = 25;  // mean of a photo in which nothing can be found
constexpr double dark_white_greys = 60;  // of the target's white
constexpr double least_contrast_greys = 30;
constexpr double ample_glance_px = 800;      // across
constexpr double blur_limit_squares = 0.12;  // about one cell of a marker
constexpr double blur_limit_px = 4;
constexpr double fewest_px_per_square = 12;
constexpr std::size_t fewest_corners = 12;
constexpr double sharp_enough_px = 2.5;  // standard deviation of the blur of a sharp photo
const char* const out_of_focus =
    "hold the phone still, tap on the board to focus and take the photo again";
const char* const after_a_shake =
    "the phone moved; use the timer so that nobody touches it, put more light on the board and "
    "take the photo again";
constexpr double one_side = 0.2;              // of half the board, by which what is seen lies aside
constexpr double least_spread_squares = 0.8;  // standard deviation across the narrower way

double smallest_square_px(const FittedCorners& corners, const BoardView& view,
                          const Pattern& pattern) {
    double smallest = HUGE_VAL;
    for (const auto& [index, corner] : corners) {
        const double scale = view.least_pixels_per_unit(corner_in_target_mm(pattern, index));
        smallest = scale > 0 ? std::min(smallest, scale) : smallest;
    }
    return std::isfinite(smallest) ? smallest * pattern.square_mm : 0;
}

/// Standard deviation of the corners' places across the line they lie along, in squares.
double spread_squares(const std::vector<Corner>& corners, const Pattern& pattern) {
    Eigen::Vector2d mean(0, 0);
    Eigen::Matrix2d square = Eigen::Matrix2d::Zero();
    const double share = 1.0 / static_cast<double>(corners.size());
    for (const auto& corner : corners) {
        const Eigen::Vector2d place =
            corner_in_target_mm(pattern, corner.index) / pattern.square_mm;
        mean += share * place;
        square += share * place * place.transpose();
    }
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> solver(square - mean * mean.transpose());
    return std::sqrt(std::max(0.0, solver.eigenvalues()(0)));
}

/// The part of the board that is not seen, TOP up and as one faces it: "upper left", "right"; empty
/// where it is not one side.
std::string hidden_part(const std::vector<Corner>& corners, const Pattern& pattern) {
    Eigen::Vector2d mean(0, 0);
    for (const auto& corner : corners) {
        mean += corner_in_target_mm(pattern, corner.index) / static_cast<double>(corners.size());
    }
    const Eigen::Vector2d half(pattern.across * pattern.square_mm / 2,
                               pattern.down * pattern.square_mm / 2);
    const Eigen::Vector2d aside = mean.cwiseQuotient(half);
    const std::string across = aside.x() > one_side ? "left" : aside.x() < -one_side ? "right" : "";
    const std::string down = aside.y() > one_side ? "upper" : aside.y() < -one_side ? "lower" : "";
    return down + (down.empty() || across.empty() ? "" : " ") + across;
}

bool too_few(const std::vector<Corner>& corners, const Pattern& pattern) {
    const auto all = static_cast<std::size_t>(pattern.corner_count());
    return corners.size() < std::min(fewest_corners, all) ||
           spread_squares(corners, pattern) < least_spread_squares;
}

void set_problem(Sight& sight, SightProblem problem, const std::string& advice) {
    sight.problem = problem;
    sight.advice = advice;
}

/// Why corners of the board were not seen, and what to do.
std::string unseen_words(const std::string& part, Unseen why) {
    const std::string its = part.empty() ? "a part of it" : "its " + part + " part";
    const char* const facing = part.empty() ? "" : " (as you face it)";
    switch (why) {
        case Unseen::burnt_out:
            return fmt::format(
                "{} is burnt out by glare{}; shade the board or turn it away from "
                "the lamp, and take the photo again",
                its, facing);
        case Unseen::outside:
            return fmt::format(
                "{} lies outside the picture{}; take the photo with all of it in "
                "the picture",
                its, facing);
        default:
            return fmt::format(
                "{} is missing{}; clear what hides the board and take the photo "
                "with all of it in the picture",
                its, facing);
    }
}

std::string too_small_words(double square_px) {
    return fmt::format(
        "its squares are only {:.0f} pixels wide, too small to be sure of; go nearer, and send the "
        "photo at its full size",
        square_px);
}

/// Whether the corners are enough; tells the problem where they are not.
bool judge_number(Sight& sight, const Pattern& pattern, Unseen why) {
    if (!too_few(sight.corners, pattern)) {
        set_problem(sight, SightProblem::none, "");
        return true;
    }
    const std::string part = sight.corners.empty() ? "" : hidden_part(sight.corners, pattern);
    set_problem(sight, SightProblem::few_corners,
                fmt::format("only {} of {} corners of the board can be seen, or they lie along one "
                            "line: {}",
                            sight.corners.size(), pattern.corner_count(), unseen_words(part, why)));
    return false;
}

/// Why those corners of the pattern that are not among the measured were not seen.
Unseen why_others_are_unseen(const cv::Mat& grey, const FittedCorners& corners,
                             const BoardView& view, const Pattern& pattern) {
    std::vector<Eigen::Vector2d> places_px;
    for (int index = 0; index < pattern.corner_count(); ++index) {
        const auto pixel = view.pixel(corner_in_target_mm(pattern, index));
        if (pixel && !corners.contains(index)) {
            places_px.push_back(*pixel);
        }
    }
    return places_px.empty() ? Unseen::hidden : why_unseen(grey, places_px);
}

void add_problem(Sight& sight, const cv::Mat& grey, const FittedCorners& corners,
                 const BoardView& view, const Pattern& pattern) {
    if (!judge_number(sight, pattern, why_others_are_unseen(grey, corners, view, pattern))) {
        return;
    }
    const double white = median_of(corners, [](const auto& c) { return c.white; });
    const double contrast = median_of(corners, [](const auto& c) { return c.white - c.black; });
    const double blur_px = median_of(corners, [](const auto& c) { return c.blur_px; });
    const bool small = sight.pixels_per_square < fewest_px_per_square;
    if (small && blur_px <= sharp_enough_px) {
        set_problem(sight, SightProblem::blurred,
                    "the board is in the picture, but " + too_small_words(sight.pixels_per_square));
    } else if (small ||
               blur_px > std::min(blur_limit_squares * sight.pixels_per_square, blur_limit_px)) {
        std::vector<Eigen::Vector2d> corners_px;
        for (const auto& [index, corner] : corners) {
            corners_px.push_back(corner.pixel);
        }
        const bool shaken = smeared_one_way(grey, corners_px, sight.pixels_per_square / 3);
        set_problem(sight, SightProblem::blurred,
                    fmt::format("the board's edges are smeared over {:.1f} pixels{}", 2 * blur_px,
                                shaken ? fmt::format(" along one direction: {}", after_a_shake)
                                       : fmt::format(": out of focus; {}", out_of_focus)));
    } else if (white < dark_white_greys || contrast < least_contrast_greys) {
        set_problem(sight, SightProblem::dark,
                    "the board's black and white hardly differ; put more light on the board, "
                    "without glare, and take the photo again");
    }
}

std::string blurred_words() {
    return fmt::format("the photo is blurred: even its sharpest edges are soft; {}", out_of_focus);
}

/// The part of a photo that holds these corners.
cv::Mat part_about(const cv::Mat& grey, const std::vector<Eigen::Vector2d>& corners_px) {
    std::vector<cv::Point2f> points;
    for (const auto& corner : corners_px) {
        points.emplace_back(static_cast<float>(corner.x()), static_cast<float>(corner.y()));
    }
    return grey(cv::boundingRect(points) & cv::Rect(0, 0, grey.cols, grey.rows));
}

/// Whether the board cannot be read for blur: that of the whole photo, or its own where something
/// else is in focus. Where blur has washed its squares out, only the whole photo tells.
bool is_blurred(const cv::Mat& grey, const SeenCheckerboard& board) {
    const double blur_px = std::max(smear_px(grey), smear_px(part_about(grey, board.corners_px)));
    const double most_px = board.square_px > 0
                               ? std::min(blur_limit_squares * board.square_px, blur_limit_px)
                               : blur_limit_px;
    return blur_px > std::max(most_px, sharp_enough_px);
}

std::string checkerboard_words(const cv::Mat& grey, const SeenCheckerboard& board) {
    if (board.square_px > 0 && board.square_px < fewest_px_per_square) {
        return "a checkerboard is in the picture, but " + too_small_words(board.square_px);
    }
    if (smeared_one_way(grey, board.corners_px, board.square_px / 3)) {
        return fmt::format(
            "a checkerboard is in the picture, but smeared along one direction: "
            "{}",
            after_a_shake);
    }
    return "a checkerboard is in the picture, but the markers of this board cannot be read on it; "
           "check that it is the board named in the job, and retake the photo, sharper or from "
           "nearer";
}

/// Some of the photo's pixels, evenly spread: they do to judge its light.
cv::Mat glance_at(const cv::Mat& grey) {
    const double share = std::min(1.0, ample_glance_px / std::max(grey.cols, grey.rows));
    cv::Mat glance;
    cv::resize(grey, glance, cv::Size(), share, share, cv::INTER_NEAREST);
    return glance;
}

}  // namespace

Sight not_found(const cv::Mat& grey, const SeenCheckerboard& other) {
    Sight sight;
    const bool readable = !grey.empty() && grey.type() == CV_8UC1;
    const cv::Mat glance = readable ? glance_at(grey) : cv::Mat();
    const std::string burnt_out = readable ? burnt_out_part(glance) : "";
    sight.unidentified_px = other.corners_px;
    if (!other.corners_px.empty()) {
        const bool blurred = is_blurred(grey, other);
        set_problem(sight, blurred ? SightProblem::blurred : SightProblem::not_found,
                    blurred ? blurred_words() : checkerboard_words(grey, other));
    } else if (readable && cv::mean(glance)[0] < dark_photo_greys) {
        set_problem(sight, SightProblem::dark,
                    "the photo is too dark to find the board; put more light on the board and "
                    "take the photo again");
    } else if (!burnt_out.empty()) {
        set_problem(sight, SightProblem::not_found,
                    fmt::format("the board was not found, and the {} {} is burnt out; keep lamps "
                                "and the sun out of the picture and off the board, tap on the "
                                "board to set the light, and take the photo again",
                                burnt_out, burnt_out == "whole" ? "picture" : "of the picture"));
    } else if (readable && smear_px(grey) > blur_limit_px) {
        set_problem(sight, SightProblem::blurred, blurred_words());
    } else {
        set_problem(sight, SightProblem::not_found,
                    "the board was not found; check that it is the board named in the job, that "
                    "all of it is in the picture, sharp and lit, and go nearer if it looks small");
    }
    return sight;
}

Sight judged(const cv::Mat& grey, const FittedCorners& corners, const BoardView& view,
             int markers_read, const Pattern& pattern) {
    Sight sight;
    for (const auto& [index, corner] : corners) {
        sight.corners.push_back({index, corner.pixel, corner.covariance_px2});
    }
    sight.markers_read = markers_read;
    sight.pixels_per_square = smallest_square_px(corners, view, pattern);
    add_problem(sight, grey, corners, view, pattern);
    return sight;
}

Sight sight_of_corners(std::vector<Corner> corners, const Pattern& pattern) {
    Sight sight;
    if (corners.empty()) {
        return not_found(cv::Mat());
    }
    sight.corners = std::move(corners);
    judge_number(sight, pattern, Unseen::hidden);
    return sight;
}

}  // namespace squaresight
