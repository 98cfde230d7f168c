#include "render/sheet_picture.h"

#include <cmath>
#include <opencv2/aruco.hpp>
#include <opencv2/imgproc.hpp>

#include "units/error.h"

namespace squaresight {
namespace {

constexpr double cell_mm = 0.5;

int cells(double mm, const std::string& what) {
    const double count = mm / cell_mm;
    if (std::abs(count - std::round(count)) > 1e-6) {
        throw InputError(what, "is not a whole number of half millimetres",
                         "the photo maker draws only such sheets");
    }
    return static_cast<int>(std::round(count));
}

/// Public marker dictionaries by name. The photo maker needs only those of the shop's targets.
cv::Ptr<cv::aruco::Dictionary> dictionary_named(const std::string& name) {
    if (name == "DICT_4X4_100") {
        return cv::aruco::getPredefinedDictionary(cv::aruco::DICT_4X4_100);
    }
    if (name == "DICT_5X5_100") {
        return cv::aruco::getPredefinedDictionary(cv::aruco::DICT_5X5_100);
    }
    throw InputError("dictionary", "'" + name + "' is not drawn by the photo maker",
                     "use DICT_4X4_100 or DICT_5X5_100");
}

/// Two white arrows in black squares that point at the centre of the sheet.
void draw_centre_arrows(cv::Mat& sheet) {
    const cv::Point centre(sheet.cols / 2, sheet.rows / 2);
    for (const int side : {-1, 1}) {
        const std::vector<cv::Point> arrow{centre + side * cv::Point(28, 28),
                                           centre + side * cv::Point(44, 34),
                                           centre + side * cv::Point(34, 44)};
        cv::fillConvexPoly(sheet, arrow, 255);
    }
}

/// Words, arrow, marks at the middles of the edges, and bars: what a real sheet carries besides.
void draw_furniture(cv::Mat& sheet, const cv::Rect& pattern) {
    const int middle = sheet.cols / 2;
    const int gap = pattern.y;
    cv::putText(sheet, "TOP", {middle + gap / 3, gap * 2 / 3}, cv::FONT_HERSHEY_SIMPLEX, gap / 45.0,
                0, std::max(1, gap / 14));
    cv::arrowedLine(sheet, {middle, gap * 3 / 4}, {middle, gap / 5}, 0, std::max(1, gap / 14),
                    cv::LINE_8, 0, 0.3);
    cv::line(sheet, {0, sheet.rows / 2}, {gap / 3, sheet.rows / 2}, 0, 2);
    cv::line(sheet, {sheet.cols - 1 - gap / 3, sheet.rows / 2}, {sheet.cols - 1, sheet.rows / 2}, 0,
             2);
    cv::line(sheet, {middle, sheet.rows - 1}, {middle, sheet.rows - 1 - gap / 3}, 0, 2);
    const int bar_y = pattern.br().y + (sheet.rows - pattern.br().y) / 2;
    cv::line(sheet, {pattern.x, bar_y}, {pattern.br().x, bar_y}, 0, 2);
}

/// Calls `visit` with the colour of each square and its top left cell.
template <class Visit>
void for_each_square(const cv::Rect& area, const Pattern& pattern, Visit&& visit) {
    const int square = area.width / pattern.across;
    for (int row = 0; row < pattern.down; ++row) {
        for (int column = 0; column < pattern.across; ++column) {
            const bool first_colour = (row + column) % 2 == 0;
            const bool black = first_colour == (pattern.first_square == SquareColour::black);
            visit(black, cv::Point(area.x + column * square, area.y + row * square));
        }
    }
}

void draw_black_squares(cv::Mat& sheet, const cv::Rect& area, const Pattern& pattern) {
    const int square = area.width / pattern.across;
    for_each_square(area, pattern, [&](bool black, const cv::Point& corner) {
        if (black) {
            sheet(cv::Rect(corner, cv::Size(square, square))).setTo(0);
        }
    });
}

void draw_markers(cv::Mat& sheet, const cv::Rect& area, const Pattern& pattern) {
    const auto dictionary = dictionary_named(pattern.dictionary);
    const int marker = cells(pattern.marker_mm, "marker");
    const int margin = cells((pattern.square_mm - pattern.marker_mm) / 2, "marker's margin");
    int id = pattern.first_id;
    for_each_square(area, pattern, [&](bool black, const cv::Point& corner) {
        if (!black) {
            cv::Mat drawn;
            dictionary->drawMarker(id++, marker, drawn);
            drawn.copyTo(sheet(cv::Rect(corner.x + margin, corner.y + margin, marker, marker)));
        }
    });
}

}  // namespace

cv::Mat sheet_picture(const Target& target) {
    const Pattern& pattern = target.pattern;
    const int square = cells(pattern.square_mm, "square");
    const cv::Size sheet_size{cells(target.sheet_width_mm, "sheet width"),
                              cells(target.sheet_height_mm, "sheet height")};
    const cv::Rect area{
        cells(target.centre_mm.x() - pattern.across * pattern.square_mm / 2, "pattern's left edge"),
        cells(target.centre_mm.y() - pattern.down * pattern.square_mm / 2, "pattern's top edge"),
        pattern.across * square, pattern.down * square};
    cv::Mat sheet(sheet_size, CV_8UC1, cv::Scalar(255));
    draw_furniture(sheet, area);
    draw_black_squares(sheet, area, pattern);
    if (pattern.has_markers()) {
        draw_markers(sheet, area, pattern);
        draw_centre_arrows(sheet);
    }
    return sheet;
}

}  // namespace squaresight
