#pragma once
#include <string>
#include <vector>

#include "adjust/reliability.h"

namespace squaresight {

/// The slip of the pencil under which a reading that does not fit would fit the rest after all: a
/// side or a way up taken for the other, two tapes that changed places, inches for millimetres,
/// feet for inches, a whole inch. As a question in words; nothing is mended. Empty where none fits,
/// or the rest does not say closely enough what the reading should be. Internal to `adjust`.
std::string likely_slip(const ReadingCheck& suspect, const std::vector<ReadingCheck>& checks);

}  // namespace squaresight
