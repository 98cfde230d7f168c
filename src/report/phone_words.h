#pragma once
#include <string>
#include <vector>

#include "calibrate/phone_check.h"
#include "units/finding.h"

/// What a phone check says, in shop words.
namespace squaresight {

/// By the verdict, and under no stop.
bool is_fit(const PhoneCheck& check);

/// Whether it could be worked out what the camera is good for in that bay.
bool is_predicted(const PhoneVerdict& verdict);

/// "Fit for use" or "Not yet".
std::string phone_call(const PhoneCheck& check);

/// What to do first, one or two sentences.
std::string phone_first(const PhoneCheck& check);

/// The verdict's own words after that call, as a sentence.
std::string phone_reason(const PhoneCheck& check);

/// "Checked 2026-03-05. Check again by 2027-03-05."
std::string phone_dates(const PhoneCheck& check);

/// The lens's share of one angle and its limit.
struct LensShareWords {
    std::string title;  ///< "Side-to-side aim"
    std::string term;   ///< "yaw"
    std::string share;  ///< "give or take 0.012 deg"
    std::string call;   ///< "within its limit of 0.077 deg"
    std::string whole;  ///< "A whole measurement in this bay: give or take 0.09 deg ..."
};
LensShareWords lens_share_words(const PhoneVerdict& verdict, Axis axis);

/// How far the photographed part reaches, and what is still bare.
std::vector<std::string> coverage_words(const PhoneCheck& check);

/// What the drawn misfits mean, what is cut, and the largest by photo and corner.
std::vector<std::string> misfit_words(const PhoneCheck& check);

std::vector<std::string> pointing_words(const PhoneCheck& check);

/// For the engineer: which terms were estimated and why, how well it fits, focus, sag, jitter.
std::vector<std::string> model_words(const PhoneCheck& check);
std::vector<std::string> steadiness_words(const PhoneCheck& check);
std::vector<std::string> tape_words(const PhoneCheck& check);
std::vector<std::string> identity_words(const PhoneCheck& check);

/// A number with as many digits as count beside its standard uncertainty; "unknown" where it is
/// none.
std::string number_words(double value, double standard_uncertainty);
/// To `digits` behind the point; "unknown" where it is none.
std::string number_words(double value, int digits);

}  // namespace squaresight
