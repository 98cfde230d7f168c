#pragma once
#include <filesystem>
#include <string>

#include "adjust/measurement.h"

namespace squaresight {

/// Reads and checks a cradle file (schema squaresight/cradle/1); InputError as in units/entry.h.
Cradle load_cradle(const std::filesystem::path& file);

/// The file's text; what is not known is left out.
std::string cradle_yaml(const Cradle& cradle);

}  // namespace squaresight
