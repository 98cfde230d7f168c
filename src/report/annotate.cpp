#include "report/annotate.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "job/corners_file.h"
#include "report/report.h"
#include "report/summary.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {

namespace {

const cv::Scalar black(0, 0, 0);
const cv::Scalar white(255, 255, 255);
const cv::Scalar page_grey(96, 96, 96);

/// Colours that stay apart for every kind of colour vision; rows of corners take them in turn.
cv::Scalar row_colour(int row) {
    static const std::array<cv::Scalar, 4> colours{
        cv::Scalar(0, 220, 255), cv::Scalar(255, 200, 80), cv::Scalar(170, 130, 255),
        cv::Scalar(120, 230, 120)};
    return colours[static_cast<std::size_t>(row) % colours.size()];
}

/// A corner in the picture, with its index in the pattern; -1 of a board that was not identified.
struct Spot {
    int index;
    cv::Point2d at;
};

/// Turns the picture and the spots in it upright (EXIF 2.3, tag 0x0112).
void turn_upright(int orientation, cv::Mat& picture, std::vector<Spot>& spots) {
    if (orientation >= 5) {
        cv::transpose(picture, picture);
        for (auto& spot : spots) {
            std::swap(spot.at.x, spot.at.y);
        }
    }
    // Orientations 6 and 8 are a transpose and one flip; 3 is two flips; 7 is a transpose and two.
    const bool flip_x =
        orientation == 2 || orientation == 3 || orientation == 6 || orientation == 7;
    const bool flip_y =
        orientation == 3 || orientation == 4 || orientation == 8 || orientation == 7;
    if (flip_x) {
        cv::flip(picture, picture, 1);
    }
    if (flip_y) {
        cv::flip(picture, picture, 0);
    }
    for (auto& spot : spots) {
        spot.at.x = flip_x ? picture.cols - 1 - spot.at.x : spot.at.x;
        spot.at.y = flip_y ? picture.rows - 1 - spot.at.y : spot.at.y;
    }
}

void outlined_text(cv::Mat& picture, const std::string& words, cv::Point at, double height_px) {
    const double scale = height_px / 22;
    const int thick = std::max(1, static_cast<int>(height_px / 12));
    cv::putText(picture, words, at, cv::FONT_HERSHEY_SIMPLEX, scale, black, 3 * thick + 1,
                cv::LINE_AA);
    cv::putText(picture, words, at, cv::FONT_HERSHEY_SIMPLEX, scale, white, thick, cv::LINE_AA);
}

/// Distance between neighbouring corners in the picture, for what fits beside a cross.
double spacing_px(const std::vector<Spot>& spots) {
    double nearest = 1e9;
    for (std::size_t i = 1; i < spots.size(); ++i) {
        if (spots[i].index == spots[i - 1].index + 1) {
            nearest = std::min(nearest, cv::norm(spots[i].at - spots[i - 1].at));
        }
    }
    return nearest < 1e9 ? nearest : 20;
}

int row_of(const Spot& spot, const std::optional<Target>& target) {
    const int across = target ? std::max(1, target->pattern.corners_across()) : 1000000;
    return spot.index / across;
}

void draw_corners(cv::Mat& picture, const std::vector<Spot>& spots, bool numbered,
                  const std::optional<Target>& target) {
    const double spacing = spacing_px(spots);
    const int arm = std::clamp(static_cast<int>(spacing / 4), 2, 14);
    const int thick = std::max(1, arm / 4);
    for (std::size_t i = 1; i < spots.size(); ++i) {
        const int row = row_of(spots[i], target);
        if (row == row_of(spots[i - 1], target)) {
            cv::line(picture, spots[i - 1].at, spots[i].at, row_colour(row), thick, cv::LINE_AA);
        }
    }
    for (const auto& spot : spots) {
        cv::drawMarker(picture, spot.at, black, cv::MARKER_CROSS, 2 * arm + 4, thick + 2);
        cv::drawMarker(picture, spot.at, row_colour(row_of(spot, target)), cv::MARKER_CROSS,
                       2 * arm, thick);
        if (numbered && spacing >= 22) {
            outlined_text(picture, std::to_string(spot.index),
                          spot.at + cv::Point2d(arm / 2.0 + 1, -3),
                          std::clamp(spacing / 4, 8.0, 18.0));
        }
    }
}

/// By shape and colour unlike corners that count.
void draw_unidentified(cv::Mat& picture, const std::vector<Spot>& spots) {
    std::vector<cv::Point2f> points;
    for (const auto& spot : spots) {
        points.emplace_back(spot.at);
    }
    const double spacing =
        points.empty()
            ? 0
            : std::sqrt(cv::boundingRect(points).area() / static_cast<double>(points.size()));
    const int size = std::clamp(static_cast<int>(spacing / 3), 5, 24);
    for (const auto& point : points) {
        cv::drawMarker(picture, point, black, cv::MARKER_DIAMOND, size + 3, 3);
        cv::drawMarker(picture, point, white, cv::MARKER_DIAMOND, size, 1);
    }
}

void draw_outline(cv::Mat& picture, const std::vector<Spot>& spots) {
    std::vector<cv::Point2f> points;
    for (const auto& spot : spots) {
        points.emplace_back(spot.at);
    }
    std::vector<cv::Point2f> hull;
    cv::convexHull(points, hull);
    for (std::size_t i = 0; i < hull.size(); ++i) {
        const auto& next = hull[(i + 1) % hull.size()];
        cv::line(picture, hull[i], next, black, 5, cv::LINE_AA);
        cv::line(picture, hull[i], next, white, 2, cv::LINE_AA);
    }
}

/// Where the photo shows the target, or a board that was not identified.
std::vector<Eigen::Vector2d> board_px(const Sight& sight) {
    std::vector<Eigen::Vector2d> pixels = sight.unidentified_px;
    for (const auto& corner : sight.corners) {
        pixels.push_back(corner.pixel);
    }
    return pixels;
}

/// The board with half as much again around it; the whole photo where no board was seen. Pixels.
cv::Rect2d region_of(const PhotoResult& photo) {
    const cv::Rect2d whole(0, 0, photo.width_px, photo.height_px);
    const auto pixels = board_px(photo.sight);
    if (pixels.size() < 3) {
        return whole;
    }
    cv::Point2d low(whole.br());
    cv::Point2d high(0, 0);
    for (const auto& pixel : pixels) {
        low = {std::min(low.x, pixel.x()), std::min(low.y, pixel.y())};
        high = {std::max(high.x, pixel.x()), std::max(high.y, pixel.y())};
    }
    const double margin = 0.5 * std::max(high.x - low.x, high.y - low.y);
    const cv::Point2d around(margin, margin);
    return cv::Rect2d(low - around, high + around) & whole;
}

int scale_denominator(const cv::Rect2d& region, int wanted_px) {
    for (const int denominator : {8, 4, 2}) {
        if (std::max(region.width, region.height) >= denominator * wanted_px) {
            return denominator;
        }
    }
    return 1;
}

/// Part of a photo, and how its pixels map into the picture: (pixel + 0.5) * ratio - corner - 0.5.
struct Part {
    cv::Mat picture;
    double ratio = 1;
    cv::Point2d corner{0, 0};
};

/// The photo at `1/scale_denominator` of its size; a blank page where only its corners are left.
/// Empty if it cannot be read.
cv::Mat picture_of(const PhotoResult& photo, int scale_denominator) {
    if (is_corners_file(photo.path)) {
        return {std::max(1, photo.height_px / scale_denominator),
                std::max(1, photo.width_px / scale_denominator), CV_8UC3, page_grey};
    }
    try {
        return load_colour(photo.path, scale_denominator);
    } catch (const InputError&) {
        return {};
    }
}

/// The region at most `longest_px` a side; no picture if the photo cannot be read, which has its
/// finding already.
Part cut_out(const PhotoResult& photo, int longest_px) {
    const auto region = region_of(photo);
    const auto all = picture_of(photo, scale_denominator(region, std::min(longest_px, 640)));
    if (all.empty()) {
        return {};
    }
    const double decoded = photo.width_px > 0 ? static_cast<double>(all.cols) / photo.width_px : 1;
    const cv::Rect bounds(0, 0, all.cols, all.rows);
    cv::Rect place = cv::Rect2d(region.x * decoded, region.y * decoded, region.width * decoded,
                                region.height * decoded);
    place &= bounds;
    if (place.empty()) {
        place = bounds;
    }
    const double zoom =
        std::min(2.0, static_cast<double>(longest_px) / std::max(place.width, place.height));
    Part part;
    cv::resize(all(place), part.picture, {}, zoom, zoom,
               zoom < 1 ? cv::INTER_AREA : cv::INTER_CUBIC);
    part.ratio = decoded * zoom;
    part.corner = {place.x * zoom, place.y * zoom};
    return part;
}

cv::Point2d in_part(const Part& part, const Eigen::Vector2d& pixel) {
    return {(pixel.x() + 0.5) * part.ratio - part.corner.x - 0.5,
            (pixel.y() + 0.5) * part.ratio - part.corner.y - 0.5};
}

/// What is known of the board: the target's corners, or those of a board that was not identified.
std::vector<Spot> spots_in(const Part& part, const Sight& sight) {
    std::vector<Spot> spots;
    for (const auto& corner : sight.corners) {
        spots.push_back({corner.index, in_part(part, corner.pixel)});
    }
    for (const auto& pixel : sight.unidentified_px) {
        spots.push_back({-1, in_part(part, pixel)});
    }
    return spots;
}

void write_caption(cv::Mat& picture, const std::string& stage, const SightingResult& sighting,
                   const PhotoResult& photo) {
    const double height = std::max(14.0, picture.cols / 50.0);
    const int step = static_cast<int>(1.6 * height);
    std::vector<std::string> lines{stage + ": " + photo_words(sighting, photo)};
    if (!photo.sight.advice.empty()) {
        lines.push_back(photo.sight.advice);
    }
    int y = step;
    for (auto& line : lines) {
        const auto fits = static_cast<std::size_t>(picture.cols / (0.8 * height));
        for (; !line.empty(); y += step) {
            auto cut = line.size() <= fits ? line.size() : line.rfind(' ', fits);
            cut = cut == std::string::npos || cut == 0 ? std::min(fits, line.size()) : cut;
            outlined_text(picture, line.substr(0, cut), {step / 2, y}, height);
            line.erase(0, line.find_first_not_of(' ', cut));
        }
    }
}

std::string plain_file_name(const std::string& words) {
    std::string name;
    for (const char c : words) {
        const bool plain =
            std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '-' || c == '_' || c == '.';
        name += plain ? c : '-';
    }
    return name;
}

}  // namespace

std::optional<cv::Mat> annotated_photo(const JobResult& result, std::size_t sighting_index,
                                       const PhotoResult& photo, int longest_px, bool captioned) {
    auto part = cut_out(photo, longest_px);
    if (part.picture.empty()) {
        return std::nullopt;
    }
    auto& picture = part.picture;
    auto spots = spots_in(part, photo.sight);
    turn_upright(photo.facts.orientation.value_or(1), picture, spots);
    if (photo.sight.corners.empty()) {
        draw_unidentified(picture, spots);
    } else {
        draw_outline(picture, spots);
        draw_corners(picture, spots, captioned, result.target);
    }
    if (captioned) {
        write_caption(picture, stage_words(result, sighting_index),
                      result.sightings.at(sighting_index), photo);
    }
    return picture;
}

std::string jpeg_bytes(const cv::Mat& picture, int quality) {
    std::vector<unsigned char> bytes;
    cv::imencode(".jpg", picture, bytes, {cv::IMWRITE_JPEG_QUALITY, quality});
    return {bytes.begin(), bytes.end()};
}

std::vector<std::filesystem::path> write_annotated_photos(const JobResult& result,
                                                          const std::filesystem::path& folder) {
    std::vector<std::filesystem::path> written;
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        const auto& sighting = result.sightings[i];
        for (std::size_t k = 0; k < sighting.photos.size(); ++k) {
            const auto& photo = sighting.photos[k];
            const auto picture = annotated_photo(result, i, photo, 1600, true);
            if (picture) {
                const auto name = fmt::format("{}-{}-{}-{}.jpg", i + 1, sighting.stage, k + 1,
                                              photo.path.stem().string());
                written.push_back(folder / plain_file_name(name));
                write_file(written.back(), jpeg_bytes(*picture, 85));
            }
        }
    }
    return written;
}

}  // namespace squaresight
