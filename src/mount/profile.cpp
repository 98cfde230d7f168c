#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "mount/mount.h"
#include "mount/thread.h"
#include "units/entry.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr double largest_offset_mm = 1000;  // a mount is smaller than the bumper it sits behind
constexpr double smallest_arm_mm = 10;
constexpr double largest_aim_deg = 20;
constexpr double smallest_tolerance_deg = 0.01;
constexpr double largest_tolerance_deg = 10;
constexpr double largest_reading_deg = 20;
constexpr double largest_travel_turns = 100;
/// Screws nearer to one line with the pivot than this cannot be told apart by what they do.
constexpr double smallest_sine_between_arms = 0.17;  // 10 deg
/// A screw that moves the other aim more than this many times as much is labelled wrongly.
constexpr double largest_cross_effect = 2;

struct Arm {
    double left_mm;
    double up_mm;
    double length_mm() const { return std::hypot(left_mm, up_mm); }
};

Arm arm_of(const Mount& mount, const Screw& screw) {
    return {screw.left_mm - mount.pivot_left_mm, screw.up_mm - mount.pivot_up_mm};
}

Screw read_screw(const std::string& name, const Entry& entry) {
    entry.expect_keys({"turns", "at", "thread", "clockwise", "travel"});
    Screw screw;
    screw.name = name;
    if (name.empty() || name.size() > 40) {
        entry.fail("is no name for a screw", "give a short word, such as upper or side");
    }
    screw.turns = entry.at("turns").word({"yaw", "pitch"}) == "yaw" ? Axis::yaw : Axis::pitch;
    const Entry at = entry.at("at");
    at.expect_keys({"left", "up"});
    screw.left_mm = at.at("left").length_mm(-largest_offset_mm, largest_offset_mm);
    screw.up_mm = at.at("up").length_mm(-largest_offset_mm, largest_offset_mm);
    const Entry thread = entry.at("thread");
    screw.thread = thread.text();
    try {
        screw.pitch_mm = thread_pitch_mm(screw.thread);
    } catch (const std::invalid_argument& error) {
        throw InputError(thread.where() + ": " + error.what());
    }
    screw.clockwise_moves_in = entry.at("clockwise").word({"in", "out"}) == "in";
    screw.travel_turns = entry.at("travel").number(0.125, largest_travel_turns);
    return screw;
}

std::vector<Screw> read_screws(const Entry& entry) {
    std::vector<std::string> names;
    for (const auto& [name, screw] : entry.items()) {
        names.push_back(name);
    }
    if (names.size() != 2) {
        entry.fail(fmt::format("has {} screws", names.size()),
                   "write two: one with 'turns: yaw' and one with 'turns: pitch'");
    }
    entry.expect_keys({names.begin(), names.end()});  // refuses a name that stands twice
    std::vector<Screw> screws;
    for (const auto& [name, screw] : entry.items()) {
        screws.push_back(read_screw(name, screw));
    }
    if (screws[0].turns == screws[1].turns) {
        entry.fail("has two screws that turn the same aim",
                   "write 'turns: yaw' for one and 'turns: pitch' for the other");
    }
    return screws;
}

/// A screw swings the face about the line through the pivot and the other screw. Refuses points
/// from which the turns could not be worked out.
void check_geometry(const Mount& mount, const Entry& screws) {
    const Arm arms[] = {arm_of(mount, mount.screws[0]), arm_of(mount, mount.screws[1])};
    for (int i = 0; i < 2; ++i) {
        if (arms[i].length_mm() < smallest_arm_mm) {
            screws.at(mount.screws[i].name)
                .fail("sits at the pivot", "check 'at' and 'pivot' against the drawing");
        }
    }
    const double cross = arms[0].left_mm * arms[1].up_mm - arms[1].left_mm * arms[0].up_mm;
    if (std::abs(cross) < smallest_sine_between_arms * arms[0].length_mm() * arms[1].length_mm()) {
        screws.fail("are on one line with the pivot, so they cannot aim the face both ways",
                    "check 'at' and 'pivot' against the drawing");
    }
    for (int i = 0; i < 2; ++i) {
        // Along the line pivot to other screw nothing moves: dp : dq = up : -left of that arm.
        const double yaw_effect = std::abs(arms[1 - i].up_mm);
        const double pitch_effect = std::abs(arms[1 - i].left_mm);
        const bool yaw = mount.screws[i].turns == Axis::yaw;
        if ((yaw ? pitch_effect : yaw_effect) >
            largest_cross_effect * (yaw ? yaw_effect : pitch_effect)) {
            screws.at(mount.screws[i].name)
                .fail(fmt::format("would move the {} more than the one it turns",
                                  yaw ? "up-down aim (pitch)" : "side-to-side aim (yaw)"),
                      "check 'turns' and 'at'; are the two screws swapped?");
        }
    }
}

TableRow read_row(const Mount& mount, const Entry& entry) {
    entry.expect_keys({"screw", "yaw_reading", "pitch_reading", "turns"});
    TableRow row;
    std::vector<std::string_view> names;
    for (const auto& screw : mount.screws) {
        names.push_back(screw.name);
    }
    row.screw = entry.at("screw").word(names);
    if (entry.has("yaw_reading") == entry.has("pitch_reading")) {
        entry.fail("needs one reading", "write either yaw_reading or pitch_reading");
    }
    row.axis = entry.has("yaw_reading") ? Axis::yaw : Axis::pitch;
    const Entry reading = entry.at(row.axis == Axis::yaw ? "yaw_reading" : "pitch_reading");
    row.reading_deg = reading.angle_deg(-largest_reading_deg, largest_reading_deg);
    const auto screw = std::find_if(mount.screws.begin(), mount.screws.end(),
                                    [&](const Screw& s) { return s.name == row.screw; });
    if (screw->turns != row.axis) {
        reading.fail(fmt::format("belongs to the other screw, '{}' turns {}", row.screw,
                                 screw->turns == Axis::yaw ? "yaw" : "pitch"),
                     "check the row's screw and reading");
    }
    const Entry turns = entry.at("turns");
    try {
        row.turns_clockwise = parse_turns_clockwise(turns.text());
    } catch (const std::invalid_argument& error) {
        throw InputError(turns.where() + ": " + error.what());
    }
    if (std::abs(row.turns_clockwise) > largest_travel_turns) {
        turns.fail("is more turns than a screw has", "check the digits");
    }
    if (row.reading_deg == 0 && row.turns_clockwise != 0) {
        turns.fail("is not zero at a reading of zero", "a face that is right needs no turn");
    }
    return row;
}

std::vector<TableRow> read_table(const Mount& mount, const Entry& entry) {
    std::vector<TableRow> table;
    for (const auto& item : entry.list()) {
        const TableRow row = read_row(mount, item);
        for (const auto& other : table) {
            if (other.axis == row.axis && other.reading_deg == row.reading_deg) {
                item.fail("gives a reading that another row has", "keep one of the two");
            }
        }
        table.push_back(row);
    }
    return table;
}

void read_aim_and_tolerance(Mount& mount, const Entry& root) {
    if (const auto aim = root.find("aim")) {
        aim->expect_keys({"yaw_left", "pitch_up"});
        mount.aim_yaw_left_deg = aim->at("yaw_left").angle_deg(-largest_aim_deg, largest_aim_deg);
        mount.aim_pitch_up_deg = aim->at("pitch_up").angle_deg(-largest_aim_deg, largest_aim_deg);
    }
    if (const auto tolerance = root.find("tolerance")) {
        tolerance->expect_keys({"yaw", "pitch"});
        mount.tolerance_yaw_deg =
            tolerance->at("yaw").angle_deg(smallest_tolerance_deg, largest_tolerance_deg);
        mount.tolerance_pitch_deg =
            tolerance->at("pitch").angle_deg(smallest_tolerance_deg, largest_tolerance_deg);
        mount.tolerance_stated = true;
    }
}

}  // namespace

Mount load_mount(const std::filesystem::path& file) {
    const Entry root = Entry::load(file, "squaresight/mount/1");
    root.expect_keys({"schema", "name", "source", "cradle_sits_on", "pivot", "screws", "aim",
                      "tolerance", "sensor_reading", "turn_table", "face_form"});
    Mount mount;
    mount.name = root.at("name").text();
    mount.source = root.has("source") ? root.at("source").text() : "";
    mount.cradle_sits_on = root.has("cradle_sits_on") ? root.at("cradle_sits_on").text() : "";
    const Entry pivot = root.at("pivot");
    pivot.expect_keys({"left", "up"});
    mount.pivot_left_mm = pivot.at("left").length_mm(-largest_offset_mm, largest_offset_mm);
    mount.pivot_up_mm = pivot.at("up").length_mm(-largest_offset_mm, largest_offset_mm);
    mount.screws = read_screws(root.at("screws"));
    check_geometry(mount, root.at("screws"));
    read_aim_and_tolerance(mount, root);
    if (const auto form = root.find("face_form")) {
        mount.face_form_deg = form->angle_deg(0, 5);
    }
    if (const auto sensor = root.find("sensor_reading")) {
        sensor->expect_keys({"positive"});
        mount.sensor_positive_left = sensor->at("positive").word({"left", "right"}) == "left";
    }
    if (const auto table = root.find("turn_table")) {
        if (!root.has("sensor_reading")) {
            table->fail("has readings whose sign is not said",
                        "add 'sensor_reading: {positive: left}' or right");
        }
        mount.table = read_table(mount, *table);
    }
    return mount;
}

}  // namespace squaresight
