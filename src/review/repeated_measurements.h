#pragma once
#include <string>
#include <vector>

#include "review/gauge_file.h"
#include "review/measurements.h"

namespace squaresight {

/// What a study of stored measurements may be of: "photos-yaw", "photos-pitch", "tape-yaw",
/// "tape-pitch".
const std::vector<std::string>& repeated_quantities();

/// A crossed study from stored jobs: vehicles (parts) whose mount several technicians (appraisers)
/// each measured as found at least twice, nothing turned between. Selected measurements under no
/// stop count, by day. Technicians with fewest such vehicles are left out until at least two
/// vehicles were measured so by all others; of each the same number, the earliest, is taken. What
/// was left out is told. InputError where no crossed study comes out, or where tolerances differ.
GaugeStudyFile repeated_measurements(const Measurements& all, const ReviewSelection& selection,
                                     const std::string& quantity);

}  // namespace squaresight
