#include "sight/way.h"

#include <algorithm>
#include <array>

#include "sight/pyramid.h"

namespace squaresight {
namespace {

constexpr std::array<double, 3> places{0.3, 0.5, 0.7};  // shares of the way
constexpr double least_edge = 0.25;                     // contrast over a saddle's strength

}  // namespace

Way::Way(const cv::Mat& image, const Eigen::Vector2d& from_px, const Eigen::Vector2d& to_px,
         double least_contrast)
    : image_(image), from_px_(from_px), step_px_(to_px - from_px), least_contrast_(least_contrast) {
    const double length_px = step_px_.norm();
    right_px_ = Eigen::Vector2d(-step_px_.y(), step_px_.x()) *
                (std::clamp(0.08 * length_px, 1.0, 3.0) / length_px);
}

bool Way::is_edge() const {
    return std::ranges::all_of(places, [this](double share) {
        const auto contrast = contrast_at(share);
        return contrast && *contrast >= least_contrast_;
    });
}

bool Way::is_edge_on_the_whole() const {
    double sum = 0;
    for (const double share : places) {
        const auto contrast = contrast_at(share);
        if (!contrast) {
            return false;
        }
        sum += *contrast;
    }
    return sum >= least_contrast_ * places.size();
}

bool Way::is_dark() const {
    const double end = std::min(grey_at(image_, from_px_), grey_at(image_, from_px_ + step_px_));
    return std::ranges::all_of(places, [&](double share) {
        return end - grey_at(image_, from_px_ + share * step_px_) >= least_contrast_;
    });
}

/// How much brighter it is on the right hand than on the left; nothing outside the image.
std::optional<double> Way::contrast_at(double share) const {
    const Eigen::Vector2d at = from_px_ + share * step_px_;
    const Eigen::Vector2d bright = at + right_px_;
    const Eigen::Vector2d dark = at - right_px_;
    if (!lies_inside(image_, bright, 0) || !lies_inside(image_, dark, 0)) {
        return std::nullopt;
    }
    return grey_at(image_, bright) - grey_at(image_, dark);
}

double least_contrast_between(const Saddle& a, const Saddle& b) {
    return least_edge * std::min(a.strength, b.strength);
}

}  // namespace squaresight
