#pragma once
#include "job/corners_file.h"
#include "simulate/practice_bay.h"
#include "simulate/practice_truth.h"

/// What each human error does to a practice job, at the point where it is made. Each function does
/// nothing for errors that are made elsewhere. Internal to `simulate`.
namespace squaresight {

/// Refuses errors that this kind of job cannot have: InputError that says why.
void check_errors(const std::vector<HumanError>& errors, const Bay& bay, bool full_run,
                  bool pictures);

/// Whether an error is made at this stage of a job: the stage that it names, or the usual one.
/// Errors of turning are made after the stage.
bool hits_stage(const HumanError& error, const std::string& stage, std::size_t index);

/// Before anything is measured: the sheet, the phone, the mount, the board, the line, the bumper.
void spoil_truth(const HumanError& error, const Camera& camera, PracticeTruth& truth);

/// Where tapes of the setup start.
void spoil_points(const HumanError& error, const SheetSetup& written, PracticeTruth& truth);

/// At the start of a stage: what happened since the one before, and what the photos of the stage
/// see that the readings were not taken from.
void spoil_stage(const HumanError& error, PoseValues& pose);

/// One placement of the cradle of the stage.
void spoil_placement(const HumanError& error, std::size_t photo, PoseValues& pose);

/// What is written down of a stage.
void spoil_readings(const HumanError& error, SheetSighting& sighting);
void spoil_labels(const HumanError& error, SheetSighting& sighting);

/// What a photo's metadata say.
void spoil_facts(const HumanError& error, PhotoFacts& facts);

/// Turns as they are made, clockwise positive, in the profile's order.
void spoil_turns(const HumanError& error, const Mount& profile, std::vector<double>& turns);

}  // namespace squaresight
