#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace squaresight {

enum class Mistake {
    sixteenth_misread,
    inch_misread,
    feet_for_inches,
    inches_for_mm,
    left_right_swapped,
    nose_sign_swapped,
    degree_misread,
    board_off_line,
    wrong_line,
    rail_zero_place,
    bumper_unsquare,
    tape_point_elsewhere,
    board_on_head,
    print_scale,
    wrong_camera_file,
    wrong_lens,
    zoom,
    cradle_labels,
    cradle_knocked,
    cradle_not_seated,
    truck_moved,
    wrong_photo,
    wrong_screw,
    wrong_way,
    half_turned,
    wrong_mount_profile,
    clockwise_sense
};

/// A kind of human error that a practice job can be given on purpose.
struct HumanErrorKind {
    Mistake mistake = Mistake::sixteenth_misread;
    std::string_view name;      ///< as on the command line: "inch-misread"
    std::string_view unit;      ///< of its size; empty: it is made or not, size 1
    std::string_view meaning;   ///< what went wrong, in one line
    double usual = 1;           ///< size where none is told
    std::vector<double> sizes;  ///< worth trying, from the smallest, all of one sign
    std::vector<std::string_view>
        places;                   ///< what it may hit; the first that the bay has, unless told
    bool between_stages = false;  ///< happens after as-found: needs a job with more stages
};

const std::vector<HumanErrorKind>& human_error_kinds();

/// One error to make.
struct HumanError {
    Mistake mistake = Mistake::sixteenth_misread;
    double size = 1;
    std::string place;  ///< one of the kind's places; empty: the usual one
    std::string stage;  ///< as-found, adjusted (the first) or as-left; empty: the usual one

    const HumanErrorKind& kind() const;
    std::string text() const;  ///< "inch-misread=1@as-found/distance"
};

/// KIND, KIND=SIZE, KIND=SIZE@PLACE, KIND@STAGE or KIND=SIZE@STAGE/PLACE. InputError that names the
/// nearest kind or place.
HumanError parse_human_error(const std::string& text);

}  // namespace squaresight
