#pragma once
#include "job/result.h"

namespace squaresight {

/// The job's tape-and-level alone, stage by stage: no photo is opened, stages without
/// tape-and-level are left out. Corrections follow tape and level, where both angles were measured.
/// InputError if no stage has any.
JobResult measure_tapes(const JobSheet& sheet, const Mount& mount);

/// Each stage's tape-and-level readings with the rail zero and the line of its setup filled in.
std::vector<std::optional<TapeAndLevel>> tape_readings(const JobSheet& sheet);

/// Turns made after a stage, clockwise positive, by screw in the mount's order. InputError for a
/// screw that the mount does not have.
std::vector<double> turns_after(const JobSheet& sheet, const SheetSighting& sighting,
                                const Mount& mount);

/// One stage of tape-and-level with its verdicts, withheld under a stop among its findings.
TapeResult reduce_tape(const TapeAndLevel& readings, const Mount& mount);

/// What the photos' adjustment may take from a stage's tape-and-level, by what its causes share.
Witness witness_of(const TapeResult& tape);

/// `cannot-decide` for each angle whose tape-and-level uncertainty is too large to show it in
/// tolerance, naming the largest share. For use where tape and level stand alone.
Findings tape_cannot_decide(const TapeOutcome& outcome, const Mount& mount);

}  // namespace squaresight
