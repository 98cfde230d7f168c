#include "job/instruction.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "job/sensor_check.h"
#include "report/report.h"
#include "report/summary.h"
#include "support/sample_result.h"
#include "support/scratch.h"

namespace squaresight {
namespace {

using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;
using testing::StartsWith;

class Instructions : public testing::Test {
  protected:
    Scratch scratch;
    JobResult found = sample::as_found(scratch.folder());
    JobResult left = sample::as_left(scratch.folder());

    /// The answer to one condition of getting ready, with what follows from it.
    static void answer(JobResult& job, const std::string& key, const std::string& text) {
        std::erase_if(job.sheet.ready, [&](const auto& one) { return one.first == key; });
        job.sheet.ready.emplace_back(key, text);
        job.findings = preliminary_findings(job.sheet, job.mount);
    }

    void close() {
        left.sheet.closing = {{"codes_cleared", "yes"},
                              {"electronic_calibration", "not asked for"},
                              {"drive", "2026-03-05"},
                              {"codes_after", "none"},
                              {"reading_after.yaw", "0.1 deg"}};
    }

    std::vector<Task> open() const {
        std::vector<Task> tasks;
        for (const auto& task : open_tasks(left)) {
            tasks.push_back(task.task);
        }
        return tasks;
    }

    static nlohmann::json json_of(const JobResult& job) {
        return nlohmann::json::parse(result_json(job)).at("instruction");
    }
};

TEST_F(Instructions, WhileAReadingMayBeWrongOnlyAFaceThatIsOutIsTurned) {
    VisionResult& vision = *found.sightings.back().vision;
    vision.stage.suspects = {{"target_left"}, {"mount_left"}};
    vision.stage.findings.push_back(
        {Level::warning, "blunder", "Take the reading 'target_left' again."});
    EXPECT_EQ(instruction_of(found).action, Action::turn);
    EXPECT_THAT(instruction_of(found).take_again, ElementsAre("target_left", "mount_left"));
    vision.verdict.yaw.call = vision.verdict.pitch.call = Call::too_close_to_call;
    EXPECT_EQ(instruction_of(found).action, Action::hold);
    EXPECT_EQ(instruction_of(found).cause->code, "blunder");
    EXPECT_THAT(json_of(found).at("take_again"), ElementsAre("target_left", "mount_left"));
}

TEST_F(Instructions, ComeInTheOrderOfTheWork) {
    EXPECT_EQ(instruction_of(JobResult{}).action, Action::hold);
    EXPECT_EQ(instruction_of(found).action, Action::turn);
    ASSERT_EQ(instruction_of(found).turns.size(), 2u);
    EXPECT_EQ(instruction_of(found).turns[0].screw, "side") << "most turns first";
    left.sheet.sightings.back().locked = false;
    EXPECT_EQ(instruction_of(left).action, Action::lock);
    EXPECT_EQ(first_line(left).heading, "LOCK THE SCREWS");
    left.sheet.sightings.back().locked = true;
    EXPECT_EQ(instruction_of(left).action, Action::finish);
    EXPECT_EQ(first_line(left).heading, "NOT READY");
    close();
    EXPECT_EQ(instruction_of(left).action, Action::done);
    EXPECT_THAT(open(), IsEmpty());
    for (auto& correction : found.sightings.back().corrections->corrections) {
        correction.turns = 0;
    }
    EXPECT_EQ(instruction_of(found).action, Action::measure_again);
}

TEST_F(Instructions, EveryConditionThatIsNotSoKeepsTheJobFromBeingDone) {
    close();
    ASSERT_EQ(instruction_of(left).action, Action::done);
    for (const auto& condition : ready_conditions()) {
        for (const std::string text : {"no", "seen at the left corner"}) {
            SCOPED_TRACE(condition.key + std::string(": ") + text);
            for (auto* job : {&found, &left}) {
                answer(*job, condition.key, text);
                const auto now = instruction_of(*job);
                if (condition.level == Level::stop) {
                    EXPECT_EQ(now.action, Action::hold);
                    EXPECT_EQ(now.cause->code, condition.code);
                    EXPECT_FALSE(answer_is_yes(*job)) << "the gate";
                    EXPECT_THAT(first_line(*job).text, StartsWith("Do not turn anything: "));
                } else {
                    EXPECT_EQ(now.action, job == &found ? Action::turn : Action::finish);
                    EXPECT_THAT(first_line(*job).text, StartsWith(condition.not_so));
                }
                EXPECT_EQ(now.open.front().task, Task::put_right);
                EXPECT_EQ(now.open.front().condition->key, condition.key);
                EXPECT_THAT(first_line(*job).text, HasSubstr(text == "no" ? "" : text));
                EXPECT_EQ(json_of(*job).at("open").at(0).at("condition"), condition.key);
                answer(*job, condition.key, "yes");
            }
            EXPECT_EQ(instruction_of(left).action, Action::done) << "put right, answered anew";
        }
    }
}

TEST_F(Instructions, ABracketOrAFaceThatIsNotSoundStopsEverything) {
    EXPECT_THAT(ready_conditions(),
                Contains(testing::Field(&Condition::code, std::string("bracket-unsound"))));
    int stops = 0;
    for (const auto& condition : ready_conditions()) {
        stops += condition.level == Level::stop ? 1 : 0;
    }
    EXPECT_EQ(stops, 2);
}

TEST_F(Instructions, ASensorBeyondItsLimitAfterTheDriveIsNotReady) {
    close();
    struct Case {
        const char* key;
        const char* reading;
        bool beyond;
    };
    for (const Case one :
         {Case{"reading_after.yaw", "2.1 deg", true}, Case{"reading_after.yaw", "-2.1 deg", true},
          Case{"reading_after.yaw", "0.3 deg", false}, Case{"reading_after.yaw", "0.31 deg", true},
          Case{"reading_after.pitch", "-1.6 deg", true},
          Case{"reading_after.pitch", "1.5 deg", false}}) {
        SCOPED_TRACE(std::string(one.key) + " " + one.reading);
        left.sheet.closing.back() = {one.key, one.reading};
        left.findings = preliminary_findings(left.sheet, left.mount);
        EXPECT_EQ(instruction_of(left).action, one.beyond ? Action::finish : Action::done);
        EXPECT_EQ(first_with_code(left.findings, {"sensor-after-drive"}).has_value(), one.beyond);
        if (one.beyond) {
            EXPECT_THAT(open(), ElementsAre(Task::reading_beyond));
            EXPECT_EQ(first_line(left).heading, "NOT READY");
        }
    }
    left.mount.sensor_positive_left = false;
    left.sheet.closing.back() = {"reading_after.yaw", "2.1 deg"};
    EXPECT_THAT(first_line(left).text, HasSubstr("2.10 deg to the right"));
}

TEST_F(Instructions, ActiveCodesAreNotReady) {
    close();
    left.sheet.closing[3].second = "lane camera code back";
    left.findings = preliminary_findings(left.sheet, left.mount);
    EXPECT_THAT(open(), ElementsAre(Task::active_codes));
    EXPECT_EQ(instruction_of(left).action, Action::finish);
    EXPECT_TRUE(first_with_code(left.findings, {"codes-active"}));
    left.sheet.closing[3].second = "";
    EXPECT_THAT(open(), ElementsAre(Task::read_codes));
}

TEST_F(Instructions, TheSensorsReadingIsHeldAgainstThePhotos) {
    struct Case {
        double yaw_deg;
        SensorCall call;
    };
    for (const Case one : {Case{0.8, SensorCall::agrees}, Case{2.0, SensorCall::differs},
                           Case{-1.2, SensorCall::other_side}, Case{0, SensorCall::differs}}) {
        SCOPED_TRACE(one.yaw_deg);
        found.sheet.sightings[0].sensor_yaw_deg = one.yaw_deg;
        const auto checks = check_sensor(found, 0);
        ASSERT_EQ(checks.size(), 1u);
        EXPECT_EQ(checks[0].call, one.call);
        EXPECT_NEAR(checks[0].allowed_deg, 0.3 + 2 * 0.052, 1e-12);
        EXPECT_EQ(sensor_findings(checks).size(), one.call == SensorCall::agrees ? 0u : 1u);
        found.sightings[0].sensor = checks;
        EXPECT_THAT(report_text(found), HasSubstr("The sensor reads "));
    }
    found.sheet.sightings[0].sensor_pitch_deg = -0.7;
    const auto both = check_sensor(found, 0);
    ASSERT_EQ(both.size(), 2u);
    EXPECT_EQ(both[1].axis, Axis::pitch);
    EXPECT_EQ(both[1].call, SensorCall::agrees);
    found.sightings[0].vision->stage.yaw_left_deg.standard_uncertainty = 0.2;
    EXPECT_EQ(check_sensor(found, 0)[0].call, SensorCall::cannot_tell);
}

TEST_F(Instructions, TheSensorsReadingStandsBesideTheServiceTable) {
    found.mount.table = {{"side", 1.0, Axis::yaw, 2.0}};
    found.sheet.sightings[0].sensor_yaw_deg = 0.5;
    const auto checks = check_sensor(found, 0);
    ASSERT_TRUE(checks.at(0).table_turns_clockwise);
    EXPECT_NEAR(*checks[0].table_turns_clockwise, 1.0, 1e-9);
    EXPECT_EQ(checks[0].screw, "side");
    found.sightings[0].sensor = checks;
    EXPECT_THAT(sensor_sentences(found.sightings[0]),
                Contains(HasSubstr("the service table turns the side screw 1 turn clockwise")));
}

TEST_F(Instructions, AScrewWhoseAngleIsInToleranceIsTurnedWithAReason) {
    const Mount mount = sample::mount();
    const auto plan = plan_correction(mount, {1.0, 0.03}, {0.4, 0.05}, 0, {});
    ASSERT_EQ(plan.corrections[0].screw, "upper");
    ASSERT_GT(plan.corrections[0].turns, 0);
    EXPECT_TRUE(plan.corrections[0].aim_in_tolerance);
    EXPECT_TRUE(plan.corrections[0].may_be_left);
    EXPECT_FALSE(plan.corrections[1].aim_in_tolerance);
    EXPECT_FALSE(plan.corrections[1].may_be_left);
    found.sightings.back().corrections = plan;
    EXPECT_THAT(turning_advice(found, found.sightings.back()),
                Contains(HasSubstr("You may leave the upper screw")));
    // Near its limit, it has to be turned with the other where that one moves its angle too.
    Mount crossed = mount;
    crossed.screws[1].up_mm = 5;
    const auto needed = plan_correction(crossed, {3.0, 0.03}, {-1.3, 0.05}, 0, {});
    ASSERT_GT(needed.corrections[0].turns, 0);
    EXPECT_TRUE(needed.corrections[0].aim_in_tolerance);
    EXPECT_FALSE(needed.corrections[0].may_be_left);
}

TEST_F(Instructions, LimitsThatAMountDoesNotStateAreCommonPractice) {
    found.mount.tolerance_stated = false;
    found.findings = preliminary_findings(found.sheet, found.mount);
    EXPECT_TRUE(first_with_code(found.findings, {"limit-assumed"}));
    EXPECT_THAT(axis_answer(found, found.sightings[0], Axis::yaw)->should_point,
                HasSubstr("common practice, no source"));
    EXPECT_THAT(report_html(found), HasSubstr("common practice, no source"));
    EXPECT_THAT(report_text(left), Not(HasSubstr("common practice, no source")));
}

TEST_F(Instructions, TheTradesRuleStandsBesideTheMountsLimit) {
    auto& tape = *found.sightings[0].tape_and_level;
    tape.readings.left_point_mm = tape.readings.right_point_mm = 254;
    tape.outcome.service_limit.yaw_equivalent_deg = 0.36;
    const auto close = service_limit_sentences(found, found.sightings[0]);
    EXPECT_THAT(close.at(0), HasSubstr("these are closer"));
    EXPECT_THAT(close.at(0), HasSubstr("limit is 0.30 deg, tighter than the rule"));
    tape.readings.left_point_mm = tape.readings.right_point_mm = 508;
    tape.outcome.service_limit.yaw_equivalent_deg = 0.179;
    const auto far = service_limit_sentences(found, found.sightings[0]);
    EXPECT_THAT(far.at(0), HasSubstr("(0.18 deg). This mount's limit is 0.30 deg."));
}

}  // namespace
}  // namespace squaresight
