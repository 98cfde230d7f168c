#include "records/job_record.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "adjust/cradle_file.h"
#include "job/corners_file.h"
#include "photo/photo.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::uintmax_t largest_result_bytes = 64 << 20;

/// A photo of the job reduced to corners.
struct PhotoCorners {
    std::string text;      ///< squaresight/corners/1; empty for a photo that could not be read
    std::string taken_at;  ///< as the phone wrote it
};

/// A job with its result, however that came about. Photos in the order of the inputs.
struct Measured {
    JobSheet sheet;
    std::vector<InputFile> inputs;
    std::string result;
    Json parsed_result;
    EquipmentNames equipment;
    std::vector<PhotoCorners> photos;
};

/// Text that any database keeps unchanged: UTF-8 without NUL.
void require_text(const std::string& name, const std::string& text) {
    const bool plain = std::all_of(
        text.begin(), text.end(), [](char letter) { return static_cast<signed char>(letter) > 0; });
    if (plain) {
        return;
    }
    const bool utf8 = [&] {
        try {
            static_cast<void>(Json(text).dump());
            return true;
        } catch (const Json::exception&) {
            return false;
        }
    }();
    if (!utf8 || text.find('\0') != std::string::npos) {
        throw InputError(name, "is not text in UTF-8, so it cannot be stored",
                         "save it as UTF-8 and measure again");
    }
}

bool stands_on(const Json& result, const std::vector<InputFile>& inputs) {
    Json now = Json::array();
    for (const auto& input : inputs) {
        now.push_back({{"file", input.name}, {"sha256", input.sha256}});
    }
    return result.is_object() && result.value("schema", "") == "squaresight/result/1" &&
           result.value("inputs", Json()) == now;
}

/// Takes the result beside the sheet, where it came from these very files.
bool take_result_beside(const JobSheet& sheet, const std::vector<InputFile>& inputs,
                        Measured& job) {
    const auto file = sheet.file.parent_path() / (sheet.file.stem().string() + ".result.json");
    std::error_code ignored;
    if (!std::filesystem::is_regular_file(file, ignored)) {
        return false;
    }
    job.result = read_file(file, largest_result_bytes);
    job.parsed_result = Json::parse(job.result, nullptr, false);
    return stands_on(job.parsed_result, inputs);
}

EquipmentNames equipment_of(const Mount& mount, const std::optional<Camera>& camera,
                            const std::optional<Cradle>& cradle,
                            const std::optional<Target>& target) {
    return {mount.name,
            camera ? camera->name : "",
            cradle ? cradle->name : "",
            target ? target->name : "",
            camera ? camera->date : "",
            cradle ? cradle->date : "",
            target ? target->checked_on : "",
            mount.aim_yaw_left_deg,
            mount.aim_pitch_up_deg,
            mount.tolerance_yaw_deg,
            mount.tolerance_pitch_deg};
}

template <class Load>
auto load_named(const std::optional<std::filesystem::path>& file, Load load) {
    return file ? std::optional(load(*file)) : std::nullopt;
}

/// Nothing where the job has to be measured.
std::optional<Measured> measured_before(const JobInputs& inputs) {
    const JobSheet& sheet = inputs.sheet;
    Measured job{sheet, inputs.files, "", {}, {}, {}};
    const bool reduced = std::all_of(job.inputs.begin(), job.inputs.end(), [](const auto& input) {
        return input.role != InputRole::photo || !input.text.empty();
    });
    if (!reduced || !take_result_beside(sheet, job.inputs, job)) {
        return std::nullopt;
    }
    const auto target = load_named(sheet.target_file, load_target);
    job.equipment =
        equipment_of(load_mount(sheet.mount_file), load_named(sheet.camera_file, load_camera),
                     load_named(sheet.cradle_file, load_cradle), target);
    for (const auto& input : job.inputs) {
        if (input.role == InputRole::photo) {
            job.photos.push_back(
                {input.text, load_corners(input.path, target->pattern).facts.taken_at});
        }
    }
    return job;
}

Measured measured_now(const JobSheet& sheet, const Progress& progress) {
    const JobResult result = measure_sheet(sheet, progress);
    Measured job{sheet,
                 result.inputs,
                 result_json(result),
                 {},
                 equipment_of(result.mount, result.camera, result.cradle, result.target),
                 {}};
    job.parsed_result = Json::parse(job.result);
    for (const auto& sighting : result.sightings) {
        for (const auto& photo : sighting.photos) {
            const bool read = !photo.digest.empty();
            job.photos.push_back({read ? corners_yaml({photo.width_px, photo.height_px, photo.facts,
                                                       photo.digest, photo.sight.corners})
                                       : "",
                                  photo.facts.taken_at});
        }
    }
    return job;
}

/// "2026:03:04 09:12:00" -> "2026-03-04T09:12:00"; anything else as it stands.
std::string iso_time(std::string time) {
    if (time.size() == 19 && time[4] == ':' && time[7] == ':' && time[10] == ' ') {
        time[4] = time[7] = '-';
        time[10] = 'T';
    }
    return time;
}

/// Texts by their digests, each once.
class Texts {
  public:
    /// Keeps it by its digest, which it returns.
    std::string keep(const std::string& name, const std::string& text, const std::string& digest) {
        require_text(name, text);
        const bool known = std::any_of(texts_.begin(), texts_.end(),
                                       [&](const auto& one) { return one.sha256 == digest; });
        if (!known) {
            texts_.push_back({digest, text});
        }
        return digest;
    }
    std::vector<StoredText> take() { return std::move(texts_); }

  private:
    std::vector<StoredText> texts_;
};

/// The digest of a photo's corners, of which a corners file is its own; null without corners.
Json kept_corners(const InputFile& input, const PhotoCorners& photo, Texts& texts) {
    if (photo.text.empty()) {
        return nullptr;
    }
    return texts.keep(input.name, photo.text,
                      photo.text == input.text ? input.sha256 : sha256_hex(photo.text));
}

void keep_files(const Measured& job, Texts& texts, Json& content) {
    content["files"] = Json::array();
    content["photos"] = Json::array();
    auto photo = job.photos.begin();
    for (const auto& input : job.inputs) {
        Json json{{"role", role_text(input.role)},
                  {"name", input.name},
                  {"sha256", input.sha256},
                  {"bytes", input.bytes}};
        if (input.role != InputRole::photo) {
            texts.keep(input.path.string(), input.text, input.sha256);
            content["files"].push_back(json);
            continue;
        }
        json["sighting"] = input.sighting + 1;
        json["corners"] = kept_corners(input, *photo, texts);
        content["photos"].push_back(json);
        ++photo;
    }
}

/// The first photo of each stage tells when it was taken.
void keep_times(const Measured& job, std::vector<SightingFigures>& figures) {
    auto photo = job.photos.begin();
    for (std::size_t i = 0; i < figures.size(); ++i) {
        for (std::size_t k = 0; k < job.sheet.sightings[i].photos.size(); ++k, ++photo) {
            const std::string time = iso_time(photo->taken_at);
            std::string& first = figures[i].taken_at;
            first = first.empty() || (!time.empty() && time < first) ? time : first;
        }
    }
}

}  // namespace

JobInputs read_job_inputs(const std::filesystem::path& sheet_file) {
    JobInputs inputs{load_job_sheet(sheet_file), {}, ""};
    inputs.files = input_files(inputs.sheet);
    inputs.identity = identity_of(inputs.files);
    return inputs;
}

JobRecord gather_job(const JobInputs& inputs, const Progress& progress) {
    const auto before = measured_before(inputs);
    const Measured job = before ? *before : measured_now(inputs.sheet, progress);
    const std::string sheet_file = job.sheet.file.string();
    JobRecord record;
    record.job = job.sheet.job;
    record.technician = job.sheet.technician;
    record.identity = identity_of(job.inputs);
    if (record.identity != inputs.identity) {
        throw InputError(sheet_file, "or a file that it names was changed while it was measured",
                         "store it again");
    }
    Texts texts;
    record.content["identity"] = record.identity;
    record.content["technician"] = record.technician;
    keep_files(job, texts, record.content);
    record.content["result"] = texts.keep(sheet_file, job.result, sha256_hex(job.result));
    record.texts = texts.take();
    try {
        record.figures = figures_of(job.parsed_result, job.sheet, job.equipment);
    } catch (const Json::exception&) {
        throw InputError(sheet_file, "has a result beside it that cannot be read",
                         "measure the job again: squaresight measure JOB.yaml");
    }
    keep_times(job, record.figures);
    return record;
}

JobSheet write_job_files(const Json& content,
                         const std::function<std::string(const std::string&)>& text_of,
                         const std::filesystem::path& folder) {
    const auto write = [&](const std::string& name, const std::string& digest) {
        write_file(folder / name, text_of(digest));
        return folder / name;
    };
    std::map<std::string, std::filesystem::path> named;
    for (const auto& file : content.at("files")) {
        const auto role = file.at("role").get<std::string>();
        const std::string name = role == "sheet"     ? "job.yaml"
                                 : role == "history" ? "mount.history.yaml"
                                                     : role + ".yaml";
        named[role] = write(name, file.at("sha256"));
    }
    write("result.json", content.at("result"));
    JobSheet sheet =
        parse_job_sheet(read_file(named.at("sheet"), largest_result_bytes), folder / "job.yaml");
    sheet.mount_file = named.at("mount");
    const auto lead = [&](const char* role, std::optional<std::filesystem::path>& path) {
        path = named.contains(role) ? std::optional(named.at(role)) : std::nullopt;
    };
    lead("camera", sheet.camera_file);
    lead("target", sheet.target_file);
    lead("cradle", sheet.cradle_file);
    std::size_t number = 0;
    for (auto& sighting : sheet.sightings) {
        for (auto& photo : sighting.photos) {
            const Json& kept = content.at("photos").at(number);
            const std::string name = fmt::format("photo-{}.corners.yaml", ++number);
            photo.path = folder / name;
            if (!kept.at("corners").is_null()) {
                write(name, kept.at("corners"));
            }
        }
    }
    return sheet;
}

}  // namespace squaresight
