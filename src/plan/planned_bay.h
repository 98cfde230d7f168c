#pragma once
#include <optional>
#include <string>
#include <vector>

#include "adjust/prediction.h"
#include "job/bay_file.h"
#include "mount/mount.h"

/// A bay as it is planned: a bay file with every file that it names read, or usual values, to be
/// changed freely.
namespace squaresight {

struct PlannedBay {
    std::string name = "planned bay";
    LengthUnit unit = LengthUnit::mm;
    Mount mount;
    Camera camera;
    Target target;
    Cradle cradle;  ///< defaults where nothing is stored
    SheetSetup setup;
    int upright_photos = 2;
    int inverted_photos = 2;
    int quarter_photos = 0;
    std::optional<BayTape> tape_and_level;
    bool tape_counts = false;  ///< for the answer, not for the tests alone
    /// What a sharp photo's corners scatter by. `adjust` finds it from each photo.
    double corner_noise_px = 0.05;
    Findings assumed;  ///< what stands in for what was not given
};

/// Reads a bay file and every file that it names; InputError as their own readers.
PlannedBay load_planned_bay(const std::filesystem::path& bay_file);

/// An A1 board 5 m ahead, plumb marks 4 m apart, readings with their usual limits, a calibrated
/// phone of 12 megapixels.
PlannedBay usual_bay();

/// A board of this sheet, print checked or not, as flat as the one before.
Target board_of(const std::string& sheet, const Target& before);

/// The job that is measured there: one stage with a full set of photos. Tapes read what they
/// should.
MeasuredJob job_in(const PlannedBay& bay);

/// A later stage of that job on the same setup.
Sighting later_stage(const PlannedBay& bay, int inverted_photos);

/// Predicted standard uncertainties of one stage.
struct PredictedAim {
    double yaw_deg = 0;
    double pitch_deg = 0;
};

/// What an adjustment of one stage there will state, and whether photos can be taken there at all.
struct BayPrediction {
    Prediction prediction;
    std::optional<PredictedAim> aim;  ///< nothing where it cannot be measured
    std::string problem;              ///< then: why
};
BayPrediction predict_in(const PlannedBay& bay);

/// Whether both angles can be decided with these uncertainties.
bool reaches_limits(const PredictedAim& aim, const Mount& mount);

/// What a cradle file would hold after one full measurement there, with photos both ways up.
std::optional<Cradle> cradle_stored_there(const PlannedBay& bay);

/// Tapes from two points of the bumper to the far edges of the board, with usual limits.
std::vector<SheetTape> crossed_tapes();

/// Sheets that a shop with tapes of this unit buys, smallest first.
const std::vector<std::string>& common_sheets(LengthUnit unit);

/// "A1", or the sheet's size where it has no name.
std::string sheet_words(const Target& target);

}  // namespace squaresight
