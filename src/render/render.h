#pragma once
#include <functional>
#include <string>
#include <vector>

#include "render/scene.h"

/// Photos of an invented job, ray-traced from its scene: a truth apart from the program's own
/// geometry, of which this room borrows nothing.
namespace squaresight {

struct RenderOptions {
    int threads = 2;     ///< for POV-Ray
    bool plain = false;  ///< hard shadows, rough off the board: several times faster
};

/// What scatters in each photo of the scene, stage by stage: as told, else drawn from its seed.
using SceneScatter = std::vector<std::vector<PhotoScatter>>;
SceneScatter scatter_of(const Scene& scene);

/// Called after each photo: its file, and how much of the whole is done (0 to 1).
using RenderProgress = std::function<void(const std::filesystem::path& file, double share)>;

/// Renders every photo of a scene into the scene's folder, with metadata as a phone writes them.
/// About a minute a photo; InputError if POV-Ray is missing or fails, or the sheet cannot be drawn.
void render_photos(const Scene& scene, const SceneScatter& scatter, const RenderOptions& options,
                   const RenderProgress& progress);

}  // namespace squaresight
