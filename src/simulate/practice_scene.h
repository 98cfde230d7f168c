#pragma once
#include "render/scene.h"
#include "simulate/practice_bay.h"
#include "simulate/practice_truth.h"

namespace squaresight {

/// The scene of a practice job whose folder stands ready, to render its photos from: the same truth
/// in the words of `render`, which shares no projection code with the program.
Scene practice_scene(const PracticeTruth& truth, const PracticeBay& practice,
                     const std::filesystem::path& folder);

}  // namespace squaresight
