#pragma once
#include "job/result.h"
#include "mount/history.h"

namespace squaresight {

/// Holds each round of turns of the job against what it should have done, learns from those made
/// as told, on top of what other jobs' rounds have taught, and plans the corrections of every
/// stage. After a screw that turned backwards none are planned (see mount/round_check.h).
void plan_corrections(JobResult& result, const MountHistory& history);

/// As-left: whether the screws were locked, and whether that moved the face.
void check_locking(JobResult& result);

/// Keeps the rounds of the job that were learned from in the file beside its mount's profile, in
/// the place of those kept of it before. Returns how many they are; the file is left alone where
/// nothing changes. InputError where it cannot be read or written.
int keep_rounds(const JobResult& result);

}  // namespace squaresight
