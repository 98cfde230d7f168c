#pragma once
#include <filesystem>
#include <string>
#include <vector>

#include "job/measure.h"
#include "records/figures.h"

namespace squaresight {

/// Text that a job stands on, kept once however many jobs share it.
struct StoredText {
    std::string sha256;
    std::string text;
};

/// A measured job, ready to be stored.
struct JobRecord {
    std::string job;
    std::string technician;
    /// SHA-256 over names and digests of sheet, named files and photos: two records of one job
    /// with equal identities are the same measurement.
    std::string identity;
    nlohmann::ordered_json content;  ///< of the entry; figures left out
    std::vector<StoredText> texts;   ///< each that `content` names by its digest
    std::vector<SightingFigures> figures;
};

/// A job sheet with all that it stands on, read but not measured.
struct JobInputs {
    JobSheet sheet;
    std::vector<InputFile> files;
    std::string identity;  ///< see JobRecord
};

/// InputError for a sheet or a named file that cannot be read.
JobInputs read_job_inputs(const std::filesystem::path& sheet_file);

/// Gathers a job: its sheet, the files that the sheet names, photos as digests and corners, and
/// its result. That is the result file beside the sheet where it came from these very files and
/// all photos are corners files, or else the job is measured. InputError as measure_job, and for a
/// file whose text is not UTF-8.
JobRecord gather_job(const JobInputs& inputs, const Progress& progress = {});

/// Writes what a stored job stands on into a folder, by plain names: job.yaml, mount.yaml,
/// mount.history.yaml, camera.yaml, target.yaml, cradle.yaml, photo-1.corners.yaml, ...,
/// result.json. `content` is that of its entry; `text_of` gives a text by its digest. Returns the
/// sheet with paths that lead to these files.
JobSheet write_job_files(const nlohmann::ordered_json& content,
                         const std::function<std::string(const std::string&)>& text_of,
                         const std::filesystem::path& folder);

}  // namespace squaresight
