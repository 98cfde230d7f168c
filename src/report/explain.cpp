#include "report/explain.h"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <opencv2/imgproc.hpp>
#include <sstream>

#include "job/corners_file.h"
#include "report/annotate.h"
#include "report/summary.h"
#include "sight/explanation.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

constexpr double longest_px = 2000;
constexpr double text_size = 0.65;  // of OpenCV's own

const cv::Scalar black(0, 0, 0);
const cv::Scalar white(255, 255, 255);
const cv::Scalar green(90, 220, 90);
const cv::Scalar orange(0, 150, 255);
const cv::Scalar red(60, 60, 255);
const cv::Scalar blue(255, 170, 60);

/// Marks differ in shape: colour alone says nothing.
struct FateMark {
    CornerFate fate;
    cv::MarkerTypes shape;
    cv::Scalar colour;
    const char* words;
};

const FateMark fate_marks[] = {
    {CornerFate::used, cv::MARKER_CROSS, green, "cross: corner in use"},
    {CornerFate::set_aside, cv::MARKER_SQUARE, orange,
     "square: measured and set aside, it does not fit the others (covered, shadow, glare?)"},
    {CornerFate::not_measured, cv::MARKER_TILTED_CROSS, red,
     "tilted cross: should be here, no corner could be made out"}};
const char* const other_words =
    "diamonds: a checkerboard that is not this board, or whose markers could not be read";

void mark(cv::Mat& picture, const cv::Point2d& at, cv::MarkerTypes shape,
          const cv::Scalar& colour) {
    cv::drawMarker(picture, at, black, shape, 19, 5);
    cv::drawMarker(picture, at, colour, shape, 15, 2);
}

int width_px(const std::string& words) {
    return cv::getTextSize(words, cv::FONT_HERSHEY_SIMPLEX, text_size, 1, nullptr).width;
}

/// Broken between words; a word that is too long by itself stays whole.
std::vector<std::string> lines_within(const std::string& text, int most_px) {
    std::vector<std::string> lines;
    std::istringstream words(text);
    for (std::string word; words >> word;) {
        if (!lines.empty() && width_px(lines.back() + " " + word) <= most_px) {
            lines.back() += " " + word;
        } else {
            lines.push_back(word);
        }
    }
    return lines;
}

/// A white strip of paragraphs under the picture.
cv::Mat with_words(const cv::Mat& picture, const std::vector<std::string>& paragraphs) {
    constexpr int line_px = 30;
    constexpr int margin_px = 10;
    std::vector<std::string> lines;
    for (const auto& paragraph : paragraphs) {
        std::ranges::move(lines_within(paragraph, picture.cols - 2 * margin_px),
                          std::back_inserter(lines));
    }
    cv::Mat all(picture.rows + line_px * (static_cast<int>(lines.size()) + 1), picture.cols,
                CV_8UC3, white);
    picture.copyTo(all(cv::Rect(0, 0, picture.cols, picture.rows)));
    int y = picture.rows + line_px;
    for (const auto& line : lines) {
        cv::putText(all, line, {margin_px, y}, cv::FONT_HERSHEY_SIMPLEX, text_size, black, 1,
                    cv::LINE_AA);
        y += line_px;
    }
    return all;
}

std::vector<std::string> words_of(const Explanation& told, const std::string& file) {
    const auto count = [&](CornerFate fate) {
        return std::count_if(told.corners.begin(), told.corners.end(),
                             [&](const auto& corner) { return corner.fate == fate; });
    };
    std::vector<std::string> lines{
        fmt::format("{}: {} corners in use, {} set aside, {} not made out; {} markers read; "
                    "squares from {:.0f} px; other checkerboards: {}",
                    file, told.sight.corners.size(), count(CornerFate::set_aside),
                    count(CornerFate::not_measured), told.sight.markers_read,
                    told.sight.pixels_per_square, told.other_boards.size())};
    if (!told.sight.advice.empty()) {
        lines.push_back(told.sight.advice);
    }
    for (const auto& kind : fate_marks) {
        lines.emplace_back(kind.words);
    }
    lines.emplace_back(other_words);
    return lines;
}

/// As the photo stands when it is looked at (EXIF 2.3, tag 0x0112; phones mirror nothing).
cv::Mat upright(const cv::Mat& picture, int orientation) {
    cv::Mat turned = picture;
    if (orientation == 3) {
        cv::rotate(picture, turned, cv::ROTATE_180);
    } else if (orientation == 6) {
        cv::rotate(picture, turned, cv::ROTATE_90_CLOCKWISE);
    } else if (orientation == 8) {
        cv::rotate(picture, turned, cv::ROTATE_90_COUNTERCLOCKWISE);
    }
    return turned;
}

cv::Mat drawn(const cv::Mat& colour, const Explanation& told, const PhotoResult& photo) {
    const double ratio = std::min(1.0, longest_px / std::max(colour.cols, colour.rows));
    cv::Mat picture;
    cv::resize(colour, picture, {}, ratio, ratio, cv::INTER_AREA);
    const auto placed = [&](const Eigen::Vector2d& pixel) {
        return cv::Point2d((pixel.x() + 0.5) * ratio - 0.5, (pixel.y() + 0.5) * ratio - 0.5);
    };
    for (const auto& board : told.other_boards) {
        for (const auto& pixel : board) {
            mark(picture, placed(pixel), cv::MARKER_DIAMOND, blue);
        }
    }
    for (const auto& corner : told.corners) {
        for (const auto& kind : fate_marks) {
            if (kind.fate == corner.fate) {
                mark(picture, placed(corner.pixel), kind.shape, kind.colour);
            }
        }
    }
    return with_words(upright(picture, photo.facts.orientation.value_or(1)),
                      words_of(told, photo.file));
}

}  // namespace

std::vector<std::filesystem::path> write_explained_photos(const JobResult& result,
                                                          const std::filesystem::path& folder) {
    std::vector<std::filesystem::path> written;
    if (!result.target || !result.camera) {
        return written;
    }
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        const auto& sighting = result.sightings[i];
        for (std::size_t k = 0; k < sighting.photos.size(); ++k) {
            const PhotoResult& photo = sighting.photos[k];
            if (is_corners_file(photo.path) || photo.width_px == 0) {
                continue;
            }
            const cv::Mat grey = load_photo(photo.path).grey;
            const Explanation told = explain_target(grey, *result.target, result.camera->lens);
            written.push_back(folder /
                              fmt::format("{}-{}-{}-explained.jpg", i + 1, sighting.stage, k + 1));
            write_file(written.back(),
                       jpeg_bytes(drawn(load_colour(photo.path, 1), told, photo), 88));
        }
    }
    return written;
}

}  // namespace squaresight
