#include "job/inputs.h"

#include "job/corners_file.h"
#include "mount/history.h"
#include "photo/photo.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

constexpr std::uintmax_t largest_text_bytes = 4 << 20;
constexpr std::uintmax_t largest_photo_bytes = std::uintmax_t{1} << 30;

InputFile input_file(const JobSheet& sheet, InputRole role, const std::filesystem::path& path) {
    InputFile input;
    input.role = role;
    input.path = path;
    input.name = path.lexically_proximate(sheet.file.parent_path()).generic_string();
    const bool picture = role == InputRole::photo && !is_corners_file(path);
    std::string bytes = read_file(path, picture ? largest_photo_bytes : largest_text_bytes);
    input.sha256 = sha256_hex(bytes);
    input.bytes = bytes.size();
    input.text = picture ? "" : std::move(bytes);
    return input;
}

/// A photo that cannot be read is told of by a finding, and is no reason to lose the rest.
InputFile photo_file(const JobSheet& sheet, const SheetPhoto& photo, std::size_t sighting) {
    InputFile input;
    try {
        input = input_file(sheet, InputRole::photo, photo.path);
    } catch (const InputError&) {
        input.role = InputRole::photo;
        input.path = photo.path;
    }
    input.name = photo.file;
    input.sighting = sighting;
    return input;
}

}  // namespace

std::vector<InputFile> input_files(const JobSheet& sheet) {
    std::vector<InputFile> inputs{input_file(sheet, InputRole::sheet, sheet.file),
                                  input_file(sheet, InputRole::mount, sheet.mount_file)};
    const auto history = history_file(sheet.mount_file);
    std::error_code ignored;
    if (std::filesystem::exists(history, ignored)) {
        inputs.push_back(input_file(sheet, InputRole::history, history));
    }
    const auto add = [&](InputRole role, const std::optional<std::filesystem::path>& path) {
        if (path) {
            inputs.push_back(input_file(sheet, role, *path));
        }
    };
    add(InputRole::camera, sheet.camera_file);
    add(InputRole::target, sheet.target_file);
    add(InputRole::cradle, sheet.cradle_file);
    for (std::size_t i = 0; i < sheet.sightings.size(); ++i) {
        for (const auto& photo : sheet.sightings[i].photos) {
            inputs.push_back(photo_file(sheet, photo, i));
        }
    }
    return inputs;
}

}  // namespace squaresight
