#pragma once
#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "job/sheet.h"

namespace squaresight {

/// What a file is to a job. `history` is that beside the mount's profile.
enum class InputRole { sheet, mount, history, camera, target, cradle, photo };

/// A file that a job's result came from.
struct InputFile {
    InputRole role = InputRole::sheet;
    std::string name;            ///< from the sheet's folder
    std::filesystem::path path;  ///< where it is
    std::string sha256;          ///< of its bytes, hexadecimal; empty where there is no such file
    std::uintmax_t bytes = 0;    ///< its size
    std::string text;            ///< its bytes; empty for a picture
    std::size_t sighting = 0;    ///< of a photo: whose it is
};

/// Every file of a job, in a fixed order: sheet, named files, the mount's history where there is
/// one, photos. InputError for a file that cannot be read, a photo's excepted.
std::vector<InputFile> input_files(const JobSheet& sheet);

}  // namespace squaresight
