#pragma once
#include <optional>
#include <string>
#include <vector>

#include "adjust/decision.h"
#include "job/sheet.h"
#include "mount/mount.h"

namespace squaresight {

struct JobResult;
struct SightingResult;

enum class SensorCall { agrees, differs, other_side, cannot_tell };

/// The sensor's own reading of one angle beside what was measured at the same stage.
struct SensorCheck {
    Axis axis = Axis::yaw;
    double sensor_deg = 0;   ///< the face's yaw left or pitch up that the reading stands for
    Estimate measured_deg;   ///< the same angle by photos, else by tape and level
    double allowed_deg = 0;  ///< limit of the mount and give-or-take (2 u) of the measurement
    SensorCall call = SensorCall::cannot_tell;
    std::string screw;                            ///< that turns this angle
    std::optional<double> table_turns_clockwise;  ///< of the service table for this reading
};

/// The readings of a stage against its answer; empty where either lacks. A sensor at its aim reads
/// zero, and is expected to read right within the mount's limit (common practice, no source).
/// "Other side": both beyond what is allowed, to opposite sides of the aim. "Cannot tell": the give
/// or take is larger than the limit.
std::vector<SensorCheck> check_sensor(const JobResult& result, std::size_t stage);

/// `sensor-differs` (warning) for each check that does not agree.
Findings sensor_findings(const std::vector<SensorCheck>& checks);

/// What the sensor read after the drive, as an angle of the face; nothing where it was not noted.
std::optional<double> sensor_after_drive_deg(const JobSheet& sheet, const Mount& mount, Axis axis);

/// Whether that reading is beyond the mount's limit.
bool is_beyond_after_drive(const JobSheet& sheet, const Mount& mount, Axis axis);

/// What came back after the drive: `sensor-after-drive` and `codes-active` (warnings).
Findings after_drive_findings(const JobSheet& sheet, const Mount& mount);

/// Whether codes were read after the drive and are not gone: an answer other than "none".
bool has_active_codes(const JobSheet& sheet);

}  // namespace squaresight
