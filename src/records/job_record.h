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

/// Gathers a job: its sheet, the files that the sheet names, photos as digests and corners, and
/// its result. That is the result file beside the sheet where it came from these very files and
/// all photos are corners files, or else the job is measured. InputError as measure_job, and for a
/// file whose text is not UTF-8.
JobRecord gather_job(const std::filesystem::path& sheet_file, const Progress& progress = {});

}  // namespace squaresight
