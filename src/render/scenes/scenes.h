#pragma once
#include <array>
#include <string_view>

namespace squaresight {

/// A file of the POV-Ray scene, as it stands beside this header.
struct SceneFile {
    std::string_view name;
    std::string_view text;
};
extern const std::array<SceneFile, 2> scene_files;

}  // namespace squaresight
