#pragma once
#include <optional>
#include <string>
#include <vector>

#include "job/instruction.h"
#include "report/figures.h"

/// What a report says, in shop words: chosen once here, laid out by the page and the terminal.
namespace squaresight {

/// What to do now, or what is still open.
struct FirstLine {
    Mark mark = Mark::stop;
    std::string heading;  ///< "DO THIS", "STOP", "LOCK THE SCREWS", "NOT READY", "DONE"
    std::string text;     ///< one sentence or two
};

FirstLine first_line(const JobResult& result);

/// Where the face points about one axis, by one method.
struct AxisAnswer {
    Mark mark = Mark::stop;
    std::string points;        ///< "0.70 deg to the left"
    std::string should_point;  ///< "straight ahead, limit 0.30 deg either way"
    std::string give_or_take;  ///< "give or take 0.11 deg (at least 95 %)"
    std::string call;          ///< "out of tolerance", "no verdict"
    std::string sure;          ///< "very sure: ..."
};

/// The photos' answer where they were solved, else that of tape and level; nothing if neither.
std::optional<AxisAnswer> axis_answer(const JobResult& result, const SightingResult& sighting,
                                      Axis axis);

/// "as found", "after turn 1", "as left".
std::string stage_words(const JobResult& result, std::size_t index);

/// A finding with the stages it belongs to ("as found, as left"; empty for the whole job).
struct PlacedFinding {
    Finding finding;
    std::string stages;
};

/// Every finding once, stops first.
std::vector<PlacedFinding> placed_findings(const JobResult& result);

/// Whether a finding asks for a reading to be taken again or checked.
bool asks_for_reading(const Finding& finding);

const char* level_words(Level level);  ///< "STOP", "WARNING", "NOTE"

/// What must still be done or recorded after the mount points right: locking, codes, the maker's
/// electronic calibration, the drive.
std::vector<std::string> open_items(const JobResult& result);

/// Conditions before measuring that were not answered at all.
std::vector<std::string> unready_items(const JobResult& result);

/// Whether photos and tape agree, a sentence for each axis.
std::vector<std::string> agreement_sentences(const SightingResult& sighting);

/// The trade's plain rule, met or not, beside the mount's own limit; empty without tape and level.
std::vector<std::string> service_limit_sentences(const JobResult& result,
                                                 const SightingResult& sighting);

/// The sensor's own readings beside what was measured; empty where it told none.
std::vector<std::string> sensor_sentences(const SightingResult& sighting);

/// What to do on passing the mark, and where the face should point after the turns.
std::vector<std::string> turning_advice(const JobResult& result, const SightingResult& sighting);

/// What the turns of each round should have done and what they did, a sentence or two a round.
std::vector<std::string> response_sentences(const JobResult& result);

/// Whether the screws of a stage are to be turned: not under a stop or when nothing is to be done.
bool turns_wanted(const JobResult& result);

/// "a-upright-1.jpg: 77 corners, phone upright, roll 2 deg", or that no corner was found.
std::string photo_words(const SightingResult& sighting, const PhotoResult& photo);

/// Where limits, lens, board and cradle come from: documents, names, dates.
std::vector<std::string> source_sentences(const JobResult& result);

/// What would mislead photos and tape alike, so that their agreement does not show it; empty where
/// the job was not measured by both.
std::vector<std::string> shared_by_both(const JobResult& result);

/// What can hurt.
const std::vector<std::string>& cautions_at_the_truck();

/// What this measurement is not.
const std::vector<std::string>& cautions_of_the_answer();

std::string joined(const std::vector<std::string>& parts, const std::string& between);

}  // namespace squaresight
