#pragma once
#include <string>

#include "adjust/decision.h"
#include "mount/mount.h"
#include "units/quantity.h"

/// Shop words for numbers: one place, so that terminal, report and card say the same. Sides are as
/// seated in the cab. Sentences hold no signed number; a number that is not finite is "unknown".
/// Turns: see mount/mount.h.
namespace squaresight {

std::string side_words(double yaw_left_deg);  ///< "0.70 deg to the left", "straight ahead"
std::string nose_words(double pitch_up_deg);  ///< "nose 0.60 deg down", "nose level"
/// "0.70 deg to the left, nose 0.60 deg down".
std::string aim_words(double yaw_left_deg, double pitch_up_deg);

std::string give_or_take(double expanded_deg);  ///< "give or take 0.11 deg"
/// "limit 0.30 deg either way", with "(common practice, no source)" if the mount states none.
std::string limit_words(const Mount& mount, Axis axis);
std::string angle_words(double deg);  ///< "0.70 deg", without a sign
/// Two digits that count: "0.22 deg", "0.071 deg", "under 0.001 deg".
std::string fine_words(double deg);
std::string percent_words(double probability);  ///< "97 %", "more than 99.9 %"
const char* axis_words(Axis axis);              ///< "side-to-side aim", "up-down aim"

/// How sure a call is: "very sure" from 99 %, "sure" from 95 %, else "not sure". `probability` is
/// that of being in tolerance, so for a call out of tolerance its complement counts.
const char* sure_words(double probability, Call call);

/// A length as the shop's tape shows it, whole millimetres (from 10 mm) or feet, inches and
/// sixteenths; the parts do not break apart at the end of a line.
std::string length_words(double length_mm, LengthUnit unit);
/// The same with the other unit behind it: "5000 mm (16 ft 4 7/8 in)".
std::string length_both_ways(double length_mm, LengthUnit unit);

/// The same text with plain spaces, for terminals and JSON.
std::string with_plain_spaces(std::string text);

/// A reading of the job sheet or an input of the budget as the shop calls it ("board turned");
/// other names come back with spaces for underscores.
std::string reading_words(const std::string& name);

/// A finding's text with the job sheet's keys ("target_left") put into the shop's words. Keys that
/// are plain words ("line", "distance") stay as they are.
std::string in_shop_words(const std::string& text);

}  // namespace squaresight
