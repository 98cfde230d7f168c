#pragma once
#include "simulate/practice_bay.h"
#include "simulate/practice_truth.h"

/// How a technician reads off a practice job's truth. Limits are kept: a reading lies anywhere
/// within its limits of the truth, all alike, on the scale of a shop's tape or inclinometer.
namespace squaresight {

/// The coarsest of the usual steps of such a scale that is no coarser than the limit: mm or, in a
/// shop that uses inches, fractions of an inch; deg.
double reading_step(double limit, Dimension dimension, LengthUnit unit);

/// One of the marks within the limit of the truth; the truth itself where the limit is zero.
double read_off(double truth, double limit, double step, Draw& draw);

/// Draws where truck and board stand, into `truth.pose`, and returns the setup as it is written
/// down; tapes with their lengths yet to be read.
SheetSetup draw_setup(const PracticeBay& practice, PracticeTruth& truth, Draw& draw);

/// Draws the points that tapes start from, off what the bay says of them.
void draw_points(const SheetSetup& written, PracticeTruth& truth, Draw& draw);

/// Reads every tape of `written`.
void read_tapes(const PracticeBay& practice, const PracticeTruth& truth, SheetSetup& written,
                Draw& draw);

/// A bumper that is squared with the string of the setup has its error too.
void square_bumper(const BayTape& bay, PracticeTruth& truth);

/// Tape-and-level of one stage, by layings of the laser that are drawn into it.
TapeAndLevel read_tape_and_level(const BayTape& bay, LengthUnit unit, const PracticeTruth& truth,
                                 PracticeStage& stage, Draw& draw);

}  // namespace squaresight
