#include "job/inputs.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <utility>

#include "job/corners_file.h"
#include "mount/history.h"
#include "photo/photo.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

constexpr std::uintmax_t largest_text_bytes = 4 << 20;
constexpr std::uintmax_t largest_photo_bytes = std::uintmax_t{1} << 30;

void read(InputFile& input) {
    const bool picture = input.role == InputRole::photo && !is_corners_file(input.path);
    std::string bytes = read_file(input.path, picture ? largest_photo_bytes : largest_text_bytes);
    input.sha256 = sha256_hex(bytes);
    input.bytes = bytes.size();
    input.text = picture ? "" : std::move(bytes);
}

std::string digest_over(const std::vector<InputFile>& inputs, bool with_history) {
    std::string text;
    for (const auto& input : inputs) {
        if (with_history || input.role != InputRole::history) {
            text += fmt::format("{} {} {}\n", role_text(input.role),
                                nlohmann::json(input.name).dump(), input.sha256);
        }
    }
    return sha256_hex(text);
}

}  // namespace

std::vector<InputFile> named_inputs(const JobSheet& sheet) {
    std::vector<InputFile> inputs;
    const auto add = [&](InputRole role, const std::filesystem::path& path) {
        inputs.push_back(
            {role, path.lexically_proximate(sheet.file.parent_path()).generic_string(), path});
    };
    add(InputRole::sheet, sheet.file);
    add(InputRole::mount, sheet.mount_file);
    const auto history = history_file(sheet.mount_file);
    std::error_code ignored;
    if (std::filesystem::exists(history, ignored)) {
        add(InputRole::history, history);
    }
    for (const auto& [role, path] : {std::pair{InputRole::camera, sheet.camera_file},
                                     {InputRole::target, sheet.target_file},
                                     {InputRole::cradle, sheet.cradle_file}}) {
        if (path) {
            add(role, *path);
        }
    }
    for (std::size_t i = 0; i < sheet.sightings.size(); ++i) {
        for (const auto& photo : sheet.sightings[i].photos) {
            inputs.push_back({InputRole::photo, photo.file, photo.path});
            inputs.back().sighting = i;
        }
    }
    return inputs;
}

std::vector<InputFile> input_files(const JobSheet& sheet) {
    auto inputs = named_inputs(sheet);
    for (auto& input : inputs) {
        try {
            read(input);
        } catch (const InputError&) {
            // A photo that cannot be read is told of by a finding, and is no reason to lose the
            // rest.
            if (input.role != InputRole::photo) {
                throw;
            }
        }
    }
    return inputs;
}

std::string identity_of(const std::vector<InputFile>& inputs) { return digest_over(inputs, false); }

std::string answer_key(const std::vector<InputFile>& inputs) { return digest_over(inputs, true); }

const char* role_text(InputRole role) {
    switch (role) {
        case InputRole::sheet:
            return "sheet";
        case InputRole::mount:
            return "mount";
        case InputRole::history:
            return "history";
        case InputRole::camera:
            return "camera";
        case InputRole::target:
            return "target";
        case InputRole::cradle:
            return "cradle";
        case InputRole::photo:
            break;
    }
    return "photo";
}

}  // namespace squaresight
