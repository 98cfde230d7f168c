#pragma once
#include <Eigen/Core>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace squaresight {

enum class SquareColour { black, white };

/// A checkerboard with markers of a public dictionary centred in its white squares.
/// Markers are numbered row by row from the top left, from `first_id`. Without a dictionary it is
/// a plain checkerboard: good for calibrating a camera, not for measuring.
struct Pattern {
    int across = 0;  ///< squares
    int down = 0;    ///< squares
    double square_mm = 0;
    double marker_mm = 0;    ///< side of a marker, its black border included
    std::string dictionary;  ///< OpenCV's public name, such as DICT_4X4_100
    int first_id = 0;
    SquareColour first_square = SquareColour::black;  ///< colour of the top left square

    bool has_markers() const { return !dictionary.empty(); }
    int corners_across() const { return across - 1; }
    int corners_down() const { return down - 1; }
    int corner_count() const { return corners_across() * corners_down(); }
};

/// A marker of the pattern. `column` and `row` are those of its white square.
struct MarkerPlace {
    int id = 0;
    int column = 0;
    int row = 0;
};

/// A printed target, as its file says (schema squaresight/target/1). Nominal sizes: the measured
/// print scale is kept apart in `printed_*` and enters the adjustment as an unknown.
struct Target {
    std::string name;
    double sheet_width_mm = 0;
    double sheet_height_mm = 0;
    Pattern pattern;
    Eigen::Vector2d centre_mm{
        0, 0};                  ///< of the pattern on the sheet: right, down of its top left corner
    double printed_across = 1;  ///< measured / nominal length along the rows
    double printed_down = 1;
    bool print_checked = false;  ///< whether `printed` was measured at all
    /// How far a point moves to the right for each mm that it lies lower: 0 where columns and rows
    /// of the print are square to each other.
    double printed_skew = 0;
    bool skew_checked = false;  ///< whether both diagonals were measured
    double flatness_mm = 2;     ///< limit of the departure of the board from a plane
    std::string printed_on;     ///< dates as written, or empty
    std::string checked_on;

    bool has_markers() const { return pattern.has_markers(); }
};

/// The marker dictionary as bits: `bits[id]` holds size*size cells row by row, 1 = white, without
/// the black border of one cell.
struct Dictionary {
    int size = 0;  ///< cells a side
    std::vector<std::vector<unsigned char>> bits;
};

/// InputError (where: `where`) if the name is none of OpenCV's predefined dictionaries.
Dictionary marker_dictionary(const std::string& name, const std::string& where);

/// Names that `marker_dictionary` takes.
const std::vector<std::string>& dictionary_names();

/// Inner corner `index` (row by row from the top left) in T: mm right and down of the centre.
Eigen::Vector2d corner_in_target_mm(const Pattern& pattern, int index);

/// All of them, by index.
std::vector<Eigen::Vector2d> corners_in_target_mm(const Pattern& pattern);

/// Every marker of the pattern, in the order of ids; none of a plain checkerboard.
std::vector<MarkerPlace> marker_places(const Pattern& pattern);

bool is_white_square(const Pattern& pattern, int column, int row);

/// Skew of a print from both diagonals of its pattern: the falling one runs from top left to bottom
/// right. It is the shear that makes a rectangle's diagonals differ by that much.
double skew_of_diagonals(const Pattern& pattern, double falling_mm, double rising_mm);

/// Reads and checks a target file; InputError as in units/entry.h (pattern larger than its sheet,
/// marker larger than its square, more markers than the dictionary holds, ...).
Target load_target(const std::filesystem::path& file);

/// The file's text, keys in the order of docs/file-formats.md.
std::string target_yaml(const Target& target);

}  // namespace squaresight
