#pragma once
#include <fmt/format.h>

#include <array>
#include <string>
#include <vector>

#include "bay/sheet_forms.h"

/// What questions (sheet_questions.cpp) and forms (sheet_forms.cpp, setup_forms.cpp) name alike.
namespace squaresight::bay {

inline constexpr int most_repeats = 20;

/// Entries of the board's screens that fill one reading each.
struct BoardEntry {
    const char* name;
    FieldKind kind;
    const char* plus;
    const char* minus;
    Reading Setup::*reading;
    const char* question;  ///< those of one name stand together
    Usual usual;
    bool of_board;  ///< of floor and board alone: it stands until the board is moved
};

inline constexpr std::array<BoardEntry, 7> board_entries{{
    {"target_left",
     FieldKind::length,
     "left",
     "right",
     &Setup::target_left_mm,
     "target_left",
     {0, 500},
     false},
    {"mount_left",
     FieldKind::length,
     "left",
     "right",
     &Setup::mount_left_mm,
     "mount_left",
     {0, 300},
     false},
    {"target_height",
     FieldKind::length,
     "",
     "",
     &Setup::target_height_mm,
     "heights",
     {300, 2500},
     true},
    {"mount_height",
     FieldKind::length,
     "",
     "",
     &Setup::mount_height_mm,
     "heights",
     {300, 2000},
     false},
    {"floor_rise",
     FieldKind::angle,
     "rises",
     "falls",
     &Setup::floor_rise_deg,
     "floor_rise",
     {0, 3},
     false},
    {"target_lean_back",
     FieldKind::angle,
     "top_away",
     "top_near",
     &Setup::target_lean_back_deg,
     "target_lean_back",
     {0, 5},
     false},  // it is read from a level that is zeroed on this truck's rail
    {"target_roll_clockwise",
     FieldKind::angle,
     "clockwise",
     "counter-clockwise",
     &Setup::target_roll_clockwise_deg,
     "target_roll_clockwise",
     {0, 5},
     true},
}};

inline constexpr const char* ride_height_left_key = "ride_height_left";  ///< asked at locking
/// Asked before anything is measured.
inline constexpr std::array<const char*, 6> ready_keys{
    "level_ground", "tyres", "ride_height", "bracket_sound", "face_clean", "codes_saved"};
inline constexpr std::array<const char*, 7> all_ready_keys{
    "level_ground", "tyres",       "ride_height",       "bracket_sound",
    "face_clean",   "codes_saved", ride_height_left_key};
inline constexpr std::array<const char*, 4> closing_keys{"codes_cleared", "electronic_calibration",
                                                         "drive", "codes_after"};

template <class Number>
std::string numbered(const char* name, Number number) {
    return fmt::format("{}.{}", name, number);
}

/// The distance of a form, needed; its limit of error is that of `before`, else of the bay, else
/// the usual one.
void take_distance(SheetSetup& setup, const Reading* before, const Bay* bay, const Form& form);

/// The tapes of a setup, then those of the bay that it lacks.
std::vector<SheetTape> offered_tapes(const SheetSetup* setup, const Bay* bay);

/// The names of the points that these tapes start from, in their order.
std::vector<std::string> point_names(const std::vector<SheetTape>& tapes);

/// Where a tape starts, as far as the setup knows it: measured, or as a sheet by hand has it. A
/// bay's own figure is of no vehicle in particular.
const TapePoint* known_point(const SheetSetup& setup, const std::string& name);

/// Entries that place a point, each with the point's number behind it.
struct PointEntry {
    const char* name;
    const char* plus;
    const char* minus;
    int axis;  ///< of TapePoint::position_in_vehicle_mm
    Usual usual;
};
inline constexpr std::array<PointEntry, 3> point_entries{{
    {"point_ahead", "ahead_of_face", "behind_face", 0, {0, 1500}},
    {"point_left", "left", "right", 1, {300, 1500}},
    {"point_up", "", "", 2, {100, 1500}},
}};

}  // namespace squaresight::bay
