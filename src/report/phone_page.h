#pragma once
#include <string>

#include "calibrate/phone_check.h"

namespace squaresight {

/// The page of a phone check as one self-contained HTML file (no network): verdict and what to do
/// first, what it means in the bay, findings, pictures each with its numbers, photos, details.
std::string phone_page(const PhoneCheck& check);

}  // namespace squaresight
