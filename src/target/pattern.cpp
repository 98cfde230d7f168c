#include <opencv2/aruco.hpp>
#include <opencv2/aruco/dictionary.hpp>
#include <utility>

#include "target/target.h"
#include "units/error.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

const std::vector<std::pair<std::string, cv::aruco::PREDEFINED_DICTIONARY_NAME>>& dictionaries() {
    using namespace cv::aruco;
    static const std::vector<std::pair<std::string, PREDEFINED_DICTIONARY_NAME>> all{
        {"DICT_4X4_50", DICT_4X4_50},
        {"DICT_4X4_100", DICT_4X4_100},
        {"DICT_4X4_250", DICT_4X4_250},
        {"DICT_4X4_1000", DICT_4X4_1000},
        {"DICT_5X5_50", DICT_5X5_50},
        {"DICT_5X5_100", DICT_5X5_100},
        {"DICT_5X5_250", DICT_5X5_250},
        {"DICT_5X5_1000", DICT_5X5_1000},
        {"DICT_6X6_50", DICT_6X6_50},
        {"DICT_6X6_100", DICT_6X6_100},
        {"DICT_6X6_250", DICT_6X6_250},
        {"DICT_6X6_1000", DICT_6X6_1000},
        {"DICT_7X7_50", DICT_7X7_50},
        {"DICT_7X7_100", DICT_7X7_100},
        {"DICT_7X7_250", DICT_7X7_250},
        {"DICT_7X7_1000", DICT_7X7_1000},
        {"DICT_ARUCO_ORIGINAL", DICT_ARUCO_ORIGINAL},
        {"DICT_APRILTAG_16h5", DICT_APRILTAG_16h5},
        {"DICT_APRILTAG_25h9", DICT_APRILTAG_25h9},
        {"DICT_APRILTAG_36h10", DICT_APRILTAG_36h10},
        {"DICT_APRILTAG_36h11", DICT_APRILTAG_36h11}};
    return all;
}

}  // namespace

const std::vector<std::string>& dictionary_names() {
    static const std::vector<std::string> names = [] {
        std::vector<std::string> list;
        for (const auto& [name, code] : dictionaries()) {
            list.push_back(name);
        }
        return list;
    }();
    return names;
}

Dictionary marker_dictionary(const std::string& name, const std::string& where) {
    for (const auto& [known, code] : dictionaries()) {
        if (known != name) {
            continue;
        }
        const auto source = cv::aruco::getPredefinedDictionary(code);
        Dictionary dictionary;
        dictionary.size = source->markerSize;
        for (int id = 0; id < source->bytesList.rows; ++id) {
            const cv::Mat bits = cv::aruco::Dictionary::getBitsFromByteList(
                source->bytesList.rowRange(id, id + 1), source->markerSize);
            dictionary.bits.emplace_back(bits.begin<unsigned char>(), bits.end<unsigned char>());
        }
        return dictionary;
    }
    throw InputError(where, "'" + name + "' is no known marker dictionary",
                     "did you mean '" + nearest_name(name, dictionary_names()) + "'?");
}

Eigen::Vector2d corner_in_target_mm(const Pattern& pattern, int index) {
    const int column = index % pattern.corners_across() + 1;
    const int row = index / pattern.corners_across() + 1;
    return {(column - pattern.across / 2.0) * pattern.square_mm,
            (row - pattern.down / 2.0) * pattern.square_mm};
}

std::vector<Eigen::Vector2d> corners_in_target_mm(const Pattern& pattern) {
    std::vector<Eigen::Vector2d> corners;
    for (int index = 0; index < pattern.corner_count(); ++index) {
        corners.push_back(corner_in_target_mm(pattern, index));
    }
    return corners;
}

double skew_of_diagonals(const Pattern& pattern, double falling_mm, double rising_mm) {
    const double width_mm = pattern.across * pattern.square_mm;
    const double height_mm = pattern.down * pattern.square_mm;
    return (falling_mm * falling_mm - rising_mm * rising_mm) / (4 * width_mm * height_mm);
}

bool is_white_square(const Pattern& pattern, int column, int row) {
    const bool like_first = (column + row) % 2 == 0;
    return like_first == (pattern.first_square == SquareColour::white);
}

std::vector<MarkerPlace> marker_places(const Pattern& pattern) {
    std::vector<MarkerPlace> places;
    if (!pattern.has_markers()) {
        return places;
    }
    int id = pattern.first_id;
    for (int row = 0; row < pattern.down; ++row) {
        for (int column = 0; column < pattern.across; ++column) {
            if (is_white_square(pattern, column, row)) {
                places.push_back({id++, column, row});
            }
        }
    }
    return places;
}

}  // namespace squaresight
