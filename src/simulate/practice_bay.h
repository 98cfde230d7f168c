#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "job/bay_file.h"
#include "mount/mount.h"

namespace squaresight {

/// A bay with everything that it names, ready to make practice jobs in.
struct PracticeBay {
    struct File {
        std::string name;  ///< in the folder of a job
        std::string bytes;
    };

    Bay bay;
    Mount mount;
    Camera camera;
    Target target;
    std::optional<Cradle> cradle;
    std::vector<File>
        files;  ///< mount.yaml, camera.yaml, target.yaml and, where given, cradle.yaml
};

/// Reads a bay file and the files that it names; InputError as in units/entry.h.
PracticeBay load_practice_bay(const std::filesystem::path& bay_file);

/// Writes bay.yaml and what it names into a folder: a bay to start with. Returns its path.
std::filesystem::path write_built_in_bay(const std::filesystem::path& folder);

/// Changes entries of the setup: "distance=4 m +/- 3 mm", "line={base: 3 m, plumb: 2 mm}".
/// InputError for one that cannot be read.
void change_setup(Bay& bay, const std::vector<std::string>& key_values);

}  // namespace squaresight
