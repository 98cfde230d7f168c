#include "job/sensor_check.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "job/getting_ready.h"
#include "job/result.h"
#include "job/words.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

constexpr std::array<Axis, 2> axes{Axis::yaw, Axis::pitch};

std::string points_words(Axis axis, double angle_deg) {
    return axis == Axis::yaw ? side_words(angle_deg) : nose_words(angle_deg);
}

SensorCall call_of(const SensorCheck& check, double aim_deg, double tolerance_deg) {
    const double sensor_off_deg = check.sensor_deg - aim_deg;
    const double face_off_deg = check.measured_deg.value - aim_deg;
    if (check.measured_deg.expanded_95() > tolerance_deg) {
        return SensorCall::cannot_tell;
    }
    if (std::abs(check.sensor_deg - check.measured_deg.value) <= check.allowed_deg) {
        return SensorCall::agrees;
    }
    const bool both_off =
        std::min(std::abs(sensor_off_deg), std::abs(face_off_deg)) > check.allowed_deg;
    return both_off && sensor_off_deg * face_off_deg < 0 ? SensorCall::other_side
                                                         : SensorCall::differs;
}

const Screw* screw_that_turns(const Mount& mount, Axis axis) {
    const auto found = std::find_if(mount.screws.begin(), mount.screws.end(),
                                    [&](const Screw& screw) { return screw.turns == axis; });
    return found == mount.screws.end() ? nullptr : &*found;
}

const char* reading_after_key(Axis axis) {
    return axis == Axis::yaw ? "reading_after.yaw" : "reading_after.pitch";
}

}  // namespace

std::vector<SensorCheck> check_sensor(const JobResult& result, std::size_t stage) {
    const SheetSighting& sheet = result.sheet.sightings.at(stage);
    const Mount& mount = result.mount;
    std::vector<SensorCheck> checks;
    for (const Axis axis : axes) {
        const auto reading_deg = axis == Axis::yaw ? sheet.sensor_yaw_deg : sheet.sensor_pitch_deg;
        const auto measured = measured_angle(result.sightings.at(stage), axis);
        if (!reading_deg || !measured) {
            continue;
        }
        SensorCheck check;
        check.axis = axis;
        check.sensor_deg = angle_from_reading_deg(mount, axis, *reading_deg);
        check.measured_deg = *measured;
        check.allowed_deg = mount.tolerance_deg(axis) + measured->expanded_95();
        check.call = call_of(check, mount.aim_deg(axis), mount.tolerance_deg(axis));
        if (const Screw* screw = screw_that_turns(mount, axis)) {
            check.screw = screw->name;
            check.table_turns_clockwise = table_turns_clockwise(mount, axis, *reading_deg);
        }
        checks.push_back(check);
    }
    return checks;
}

Findings sensor_findings(const std::vector<SensorCheck>& checks) {
    Findings findings;
    for (const auto& check : checks) {
        const bool other_side = check.call == SensorCall::other_side;
        if (!other_side && check.call != SensorCall::differs) {
            continue;
        }
        findings.push_back(
            {Level::warning, "sensor-differs",
             fmt::format("The sensor reads {}, measured was {}: {}. {}",
                         points_words(check.axis, check.sensor_deg),
                         points_words(check.axis, check.measured_deg.value),
                         other_side ? "opposite sides"
                                    : fmt::format("more apart than the {} to be expected",
                                                  angle_words(check.allowed_deg)),
                         other_side ? "Check the sign of the reading against the mount file's "
                                      "sensor_reading before turning."
                                    : "Read the sensor again, and check that nothing moved since "
                                      "it was read.")});
    }
    return findings;
}

std::optional<double> sensor_after_drive_deg(const JobSheet& sheet, const Mount& mount, Axis axis) {
    const std::string reading = answer_to(sheet.closing, reading_after_key(axis));
    if (reading.empty()) {
        return std::nullopt;
    }
    return angle_from_reading_deg(mount, axis, parse_quantity(reading, Dimension::angle).value);
}

bool is_beyond_after_drive(const JobSheet& sheet, const Mount& mount, Axis axis) {
    const auto angle_deg = sensor_after_drive_deg(sheet, mount, axis);
    constexpr double rounding_deg = 1e-9;
    return angle_deg &&
           std::abs(*angle_deg - mount.aim_deg(axis)) > mount.tolerance_deg(axis) + rounding_deg;
}

bool has_active_codes(const JobSheet& sheet) {
    const std::string codes = answer_to(sheet.closing, "codes_after");
    return !codes.empty() && codes != "none";
}

Findings after_drive_findings(const JobSheet& sheet, const Mount& mount) {
    Findings findings;
    for (const Axis axis : axes) {
        if (is_beyond_after_drive(sheet, mount, axis)) {
            findings.push_back(
                {Level::warning, "sensor-after-drive",
                 fmt::format("After the drive the sensor reads {}, limit {}. Read it again; if it "
                             "stays so, measure as left again and follow the maker's service "
                             "information.",
                             points_words(axis, *sensor_after_drive_deg(sheet, mount, axis)),
                             angle_words(mount.tolerance_deg(axis)))});
        }
    }
    if (has_active_codes(sheet)) {
        findings.push_back({Level::warning, "codes-active",
                            "After the drive faults are still active (written: " +
                                answer_to(sheet.closing, "codes_after") +
                                "). Follow the maker's service information for them."});
    }
    return findings;
}

}  // namespace squaresight
