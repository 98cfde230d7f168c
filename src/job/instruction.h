#pragma once
#include <optional>
#include <string>
#include <vector>

#include "job/getting_ready.h"
#include "job/result.h"

namespace squaresight {

/// What to do now.
enum class Action {
    hold,           ///< turn nothing: something is wrong, `cause` says what
    turn,           ///< turn the screws in `turns`, then measure again
    measure_again,  ///< nearer than the smallest step of the screws, yet too close to call
    lock,           ///< in tolerance: lock the screws and measure as left
    finish,         ///< in tolerance and locked, with tasks open
    done,           ///< in tolerance, locked, nothing open
};

enum class Task {
    put_right,  ///< a condition of getting ready that was answered with no or a reason
    lock_and_measure,
    lock,
    clear_codes,
    electronic_calibration,
    drive,
    read_codes,      ///< after the drive
    active_codes,    ///< came back after the drive
    note_reading,    ///< of the sensor, after the drive
    reading_beyond,  ///< the sensor's reading after the drive is beyond the mount's limit
};

/// Something that is not done yet, or not recorded.
struct OpenTask {
    Task task = Task::lock;
    std::string written = {};              ///< what the sheet says of it; empty: nothing
    const Condition* condition = nullptr;  ///< of `put_right`
    Axis axis = Axis::yaw;                 ///< of `reading_beyond`
};

/// What a job's result asks a technician to do, decided here alone: report, terminal, page and
/// records show it.
struct Instruction {
    Action action = Action::hold;
    std::optional<Finding> cause;       ///< of `hold`
    std::vector<Correction> turns;      ///< of `turn`: every screw of the mount, most turns first
    std::vector<UnmetCondition> first;  ///< to be put right before anything else
    /// Readings of the last stage that may be wrong, by name, the one that was left out first.
    /// Until they are taken again nothing is in tolerance.
    std::vector<std::string> take_again;
    std::vector<std::string> nothing_checks;  ///< lengths of it to be taped a second time
    std::vector<OpenTask> open;
};

Instruction instruction_of(const JobResult& result);

/// What must still be done or recorded after the mount points right, in the order of doing it.
std::vector<OpenTask> open_tasks(const JobResult& result);

/// Every screw of a plan, most turns first.
std::vector<Correction> by_size(const CorrectionPlan& plan);

const char* action_text(Action action);  ///< "hold", "turn", "measure again", ...
const char* task_text(Task task);        ///< "put right", "lock and measure as left", ...

}  // namespace squaresight
