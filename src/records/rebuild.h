#pragma once
#include <string>
#include <vector>

#include "job/result.h"
#include "records/store.h"

namespace squaresight {

/// Numbers of a result that differ by less than this, or by less than this share of themselves,
/// differ by rounding. In the unit of the number: a ten-thousandth of a degree is 1/200 of the
/// smallest standard uncertainty that a job reaches, and far above where the solver stops.
inline constexpr double rounding = 1e-4;

/// Something in a result that came out otherwise.
struct ResultChange {
    std::string where;   ///< "1 as-found: vision.yaw_left_deg.value"
    std::string before;  ///< as JSON
    std::string after;
    std::optional<double> by;  ///< after - before, of numbers
};

/// What solving a stored job again came to.
struct RebuiltJob {
    std::string job;
    int revision = 0;
    int seq = 0;
    std::string measured_by;  ///< the program of the stored result
    std::string failure;      ///< why it could not be solved again; empty when it could
    std::vector<ResultChange> changes;
};

/// What differs between two results of one job (squaresight/result/1) by more than rounding:
/// numbers, calls, codes of findings. Not compared are the program, the input files, sentences, and
/// findings about the picture itself (sharpness, light, board not found), which corners cannot show
/// again; smallest findable errors of readings that have no redundancy to be tested by; nor what
/// the earlier result does not have.
std::vector<ResultChange> result_changes(const nlohmann::ordered_json& before,
                                         const nlohmann::ordered_json& after);

/// Measures a stored job from its stored sheet, files and corners. InputError where what is stored
/// cannot be read.
JobResult measure_stored(Store& store, const RecordEntry& entry);

/// Solves a stored job again and compares.
RebuiltJob rebuild_job(Store& store, const RecordEntry& entry);

}  // namespace squaresight
