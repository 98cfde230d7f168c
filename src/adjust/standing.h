#pragma once
#include <vector>

#include "adjust/measurement.h"
#include "adjust/model.h"
#include "units/finding.h"

namespace squaresight {

/// How the photos stood: read from the photos, held against labels, EXIF and the cradle file.
struct Standing {
    std::vector<std::vector<PhotoStand>> stands;  ///< as the job's sightings and photos
    double image_turn_deg = 0;           ///< how the native image stands when the cradle is upright
    std::vector<double> roll_apart_deg;  ///< by sighting: widest between two of its photos
    int usable_photos = 0;
    Findings findings;  ///< cradle-labels, target-turned
};

Standing read_standing(const MeasuredJob& job);

}  // namespace squaresight
