#include "sight/saddles.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <string>

#include "sight/pyramid.h"

namespace squaresight {
namespace {

constexpr float weakest = 4;         // strength, grey values
constexpr int border = 4;            // px where no saddle is looked for
constexpr double quarter_px = 2;     // from a saddle into each of its quarters
constexpr double least_step = 0.15;  // between the quarters there, over the saddle's strength
constexpr double least_bend = 0.04;  // smaller over larger curvature: less is a ridge, no saddle

/// Second-order shape of the grey values about a point.
struct Shape {
    double by_x = 0, by_y = 0, by_xx = 0, by_xy = 0, by_yy = 0;
};

/// Turns a shape into a saddle offset from the point it was taken at; nothing if it is no saddle.
std::optional<Saddle> saddle_of_shape(const Shape& s) {
    const double determinant = s.by_xx * s.by_yy - s.by_xy * s.by_xy;
    if (!(determinant < 0)) {
        return std::nullopt;
    }
    const double mean = (s.by_xx + s.by_yy) / 2;
    const double half = std::sqrt(mean * mean - determinant);
    const double up = mean + half;
    const double down = half - mean;
    if (std::min(up, down) < least_bend * std::max(up, down)) {
        return std::nullopt;
    }
    Saddle saddle;
    saddle.at_px = {(s.by_xy * s.by_y - s.by_yy * s.by_x) / determinant,
                    (s.by_xy * s.by_x - s.by_xx * s.by_y) / determinant};
    const double turn = (s.by_xx - s.by_yy) / (2 * half);  // cosine of twice the line's angle
    saddle.bright = {std::sqrt(std::max(0.0, (1 + turn) / 2)),
                     std::copysign(std::sqrt(std::max(0.0, (1 - turn) / 2)), s.by_xy)};
    saddle.strength = 4 * std::sqrt(-determinant);
    return saddle;
}

/// What is known of a row of an image: as numbers of which a processor compares four at once.
struct Row {
    std::vector<float> response;  ///< 16 times the negative determinant of the Hessian
    std::vector<float> about;     ///< the largest response up to two pixels left or right
};

/// Of a smoothed image; the row's first and last two pixels are left at zero.
void look_along(const cv::Mat& smooth, int y, Row& found) {
    const unsigned char* up2 = smooth.ptr<unsigned char>(y - 2);
    const unsigned char* up1 = smooth.ptr<unsigned char>(y - 1);
    const unsigned char* row = smooth.ptr<unsigned char>(y);
    const unsigned char* down1 = smooth.ptr<unsigned char>(y + 1);
    const unsigned char* down2 = smooth.ptr<unsigned char>(y + 2);
    float* out = found.response.data();
    const int end = smooth.cols - 2;
    for (int x = 2; x < end; ++x) {
        // Short numbers: a processor multiplies eight of them at once.
        const auto xx = static_cast<short>(row[x + 2] + row[x - 2] - 2 * row[x]);
        const auto yy = static_cast<short>(down2[x] + up2[x] - 2 * row[x]);
        const auto xy = static_cast<short>(down1[x + 1] + up1[x - 1] - down1[x - 1] - up1[x + 1]);
        out[x] = static_cast<float>(xy * xy - xx * yy);
    }
    float* about = found.about.data();
    for (int x = 2; x < end; ++x) {
        const float left = std::max(out[x - 2], out[x - 1]);
        const float right = std::max(out[x + 1], out[x + 2]);
        about[x] = std::max(std::max(left, right), out[x]);
    }
}

/// One after the other, round and round.
using Rows = std::array<Row, 5>;

const Row& row_of(const Rows& rows, int y) { return rows[static_cast<std::size_t>((y + 5) % 5)]; }

/// Where a row's responses are strong enough and the largest of 5 x 5: 1, else 0. Without a branch,
/// as there is no foreseeing which pixels these are.
void mark_peaks(const Rows& rows, int y, std::string& marks) {
    const float* up2 = row_of(rows, y - 2).about.data();
    const float* up1 = row_of(rows, y - 1).about.data();
    const float* same = row_of(rows, y).about.data();
    const float* down1 = row_of(rows, y + 1).about.data();
    const float* down2 = row_of(rows, y + 2).about.data();
    const float* response = row_of(rows, y).response.data();
    char* out = marks.data();
    const int end = static_cast<int>(marks.size()) - border;
    for (int x = border; x < end; ++x) {
        const float above = std::max(up2[x], up1[x]);
        const float below = std::max(down1[x], down2[x]);
        const float largest = std::max(std::max(above, below), same[x]);
        out[x] = response[x] >= std::max(largest, weakest * weakest) ? 1 : 0;
    }
}

/// Of peaks that are alike and side by side one is enough.
bool is_first_of_equals(const Rows& rows, int y, int x) {
    const float value = row_of(rows, y).response[static_cast<std::size_t>(x)];
    for (int dy = -2; dy <= 0; ++dy) {
        const float* response = row_of(rows, y + dy).response.data();
        const int end = dy < 0 ? x + 3 : x;
        if (std::find(response + x - 2, response + end, value) != response + end) {
            return false;
        }
    }
    return true;
}

Shape shape_at(const cv::Mat& smooth, int x, int y) {
    const auto g = [&](int dx, int dy) {
        return static_cast<double>(smooth.ptr<unsigned char>(y + dy)[x + dx]);
    };
    return {(g(1, 0) - g(-1, 0)) / 2, (g(0, 1) - g(0, -1)) / 2,
            (g(2, 0) + g(-2, 0) - 2 * g(0, 0)) / 4, (g(1, 1) + g(-1, -1) - g(1, -1) - g(-1, 1)) / 4,
            (g(0, 2) + g(0, -2) - 2 * g(0, 0)) / 4};
}

/// Whether both bright quarters are brighter than both dark ones a little away: beside the corner
/// of something plain, which bends both ways too, they are not.
bool has_four_quarters(const cv::Mat& smooth, const Saddle& saddle) {
    const Eigen::Vector2d bright = quarter_px * saddle.bright;
    const Eigen::Vector2d dark(-bright.y(), bright.x());
    const double least_bright =
        std::min(grey_at(smooth, saddle.at_px + bright), grey_at(smooth, saddle.at_px - bright));
    const double most_dark =
        std::max(grey_at(smooth, saddle.at_px + dark), grey_at(smooth, saddle.at_px - dark));
    return least_bright - most_dark > least_step * saddle.strength;
}

/// Least-squares quadratic over 5 x 5 bilinear samples.
Shape fitted_shape(const cv::Mat& image, const Eigen::Vector2d& at_px) {
    Shape s;
    for (int dy = -2; dy <= 2; ++dy) {
        for (int dx = -2; dx <= 2; ++dx) {
            const double g = grey_at(image, at_px + Eigen::Vector2d(dx, dy));
            s.by_x += g * dx / 50;
            s.by_y += g * dy / 50;
            s.by_xx += g * (dx * dx - 2) / 35;
            s.by_yy += g * (dy * dy - 2) / 35;
            s.by_xy += g * dx * dy / 100;
        }
    }
    return s;
}

}  // namespace

std::vector<Saddle> find_saddles(const cv::Mat& image, std::size_t limit) {
    std::vector<Saddle> saddles;
    if (image.cols < 2 * border + 1 || image.rows < 2 * border + 1) {
        return saddles;
    }
    cv::Mat smooth;
    cv::GaussianBlur(image, smooth, cv::Size(5, 5), 1.0);
    Rows rows;
    const auto across = static_cast<std::size_t>(image.cols);
    rows.fill({std::vector<float>(across, 0), std::vector<float>(across, 0)});
    std::string peaks(across, 0);
    for (int y = 2; y < image.rows - 2; ++y) {
        look_along(smooth, y, rows[static_cast<std::size_t>(y % 5)]);
        const int centre = y - 2;
        if (centre < border) {
            continue;
        }
        mark_peaks(rows, centre, peaks);
        for (auto at = peaks.find(1); at != peaks.npos; at = peaks.find(1, at + 1)) {
            const int x = static_cast<int>(at);
            if (!is_first_of_equals(rows, centre, x)) {
                continue;
            }
            auto saddle = saddle_of_shape(shape_at(smooth, x, centre));
            if (saddle && saddle->at_px.cwiseAbs().maxCoeff() < 1.2) {
                saddle->at_px += Eigen::Vector2d(x, centre);
                if (has_four_quarters(smooth, *saddle)) {
                    saddles.push_back(*saddle);
                }
            }
        }
    }
    std::sort(saddles.begin(), saddles.end(),
              [](const Saddle& a, const Saddle& b) { return a.strength > b.strength; });
    saddles.resize(std::min(saddles.size(), limit));
    return saddles;
}

std::optional<Saddle> saddle_near(const cv::Mat& image, const Eigen::Vector2d& start_px,
                                  double reach_px) {
    Eigen::Vector2d at_px = start_px;
    for (int round = 0; round < 8; ++round) {
        if (!lies_inside(image, at_px, 2)) {
            return std::nullopt;
        }
        auto saddle = saddle_of_shape(fitted_shape(image, at_px));
        if (!saddle) {
            return std::nullopt;
        }
        const double step = saddle->at_px.norm();
        at_px += saddle->at_px * std::min(1.0, 1.5 / std::max(step, 1e-9));
        if (!((at_px - start_px).norm() <= reach_px)) {
            return std::nullopt;
        }
        if (step < 0.1) {
            saddle->at_px = at_px;
            return saddle;
        }
    }
    return std::nullopt;
}

}  // namespace squaresight
