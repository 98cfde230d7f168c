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
    std::string sha256 = {};     ///< of its bytes, hexadecimal; empty where there is no such file
    std::uintmax_t bytes = 0;    ///< its size
    std::string text = {};       ///< its bytes; empty for a picture
    std::size_t sighting = 0;    ///< of a photo: whose it is
};

/// The files of `input_files` before any was read: no digest, size or text.
std::vector<InputFile> named_inputs(const JobSheet& sheet);

/// Every file of a job, in a fixed order: sheet, named files, the mount's history where there is
/// one, photos. InputError for a file that cannot be read, a photo's excepted.
std::vector<InputFile> input_files(const JobSheet& sheet);

/// SHA-256 over names and digests of sheet, named files and photos: equal identities are the same
/// measurement. The mount's history, which grows by other jobs, is left out.
std::string identity_of(const std::vector<InputFile>& inputs);

/// The same with the history: an answer to these very files.
std::string answer_key(const std::vector<InputFile>& inputs);

const char* role_text(InputRole role);

}  // namespace squaresight
