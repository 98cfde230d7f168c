#include "records/reading_scatter.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "units/error.h"

namespace squaresight {
namespace {

using Json = nlohmann::ordered_json;

Json reading(const std::string& name, double w, double redundancy, bool set_aside = false) {
    return {{"name", name}, {"w", w}, {"redundancy", redundancy}, {"set_aside", set_aside}};
}

Json stage(const Json& readings) {
    return {{"findings", Json::array()},
            {"vision", {{"readings", readings}, {"findings", Json::array()}}}};
}

Json stop(const char* code) { return {{"level", "stop"}, {"code", code}}; }

/// As found, adjusted on the same setup, and as left on another.
struct Job {
    JobSheet sheet;
    Json result;

    Job() {
        SheetSetup setup = usual_setup(5000, 6000);
        setup.tapes.push_back({{}, {}, {2500, standard_from_limit(3), true}});
        setup.tapes.push_back({{}, {}, {2600, standard_from_limit(4), true}});
        TapeAndLevel tape;
        tape.pass_limit_mm = 1;
        sheet.sightings.resize(3);
        sheet.sightings[0].setup = sheet.sightings[2].setup = setup;
        sheet.sightings[0].tape_and_level = tape;
        sheet.sightings[1].same_setup = true;
        const Json readings{reading("line", 2, 0.5), reading("distance", 1, 0.25),
                            reading("tape left hook to left edge", 2, 0.5),
                            reading("tape right hook to right edge", 5, 0.5, true),
                            reading("passes, as-found", 1, 0.75)};
        result = {{"findings", Json::array()},
                  {"sightings", {stage(readings), stage(readings), stage(readings)}}};
    }
    std::vector<std::vector<KindScatter>> scatter() const { return reading_scatter(result, sheet); }
    std::vector<std::size_t> kinds() const {
        std::vector<std::size_t> counts;
        for (const auto& one : scatter()) {
            counts.push_back(one.size());
        }
        return counts;
    }
};

TEST(ReadingScatter, OfASetupStandsOnceWithItsFirstStage) {
    EXPECT_THAT(Job().kinds(), testing::ElementsAre(4, 0, 4));
}

TEST(ReadingScatter, IsSummedByKindWithWhatTheSheetStates) {
    const auto kinds = Job().scatter()[0];
    EXPECT_EQ(scatter_text(kinds),
              "distance 1 0 0.25 0.25 5 5000; passes 1 0 0.75 0.75 1 0; plumb 1 0 2 0.5 2 6000; "
              "tapes 1 1 2 0.5 4 2600");
    EXPECT_EQ(scatter_text(parse_scatter(scatter_text(kinds))), scatter_text(kinds));
    EXPECT_TRUE(parse_scatter("").empty());
    EXPECT_THROW(parse_scatter("tapes 1"), InputError);
}

TEST(ReadingScatter, OfALineWithoutMarksIsAnAngle) {
    Job job;
    job.sheet.sightings[0].setup->line_marks.reset();
    job.sheet.sightings[0].setup->readings.line_left_deg = {0.1, standard_from_limit(0.05), true};
    EXPECT_THAT(scatter_text(job.scatter()[0]), testing::HasSubstr("; line 1 0 2 0.5 0.05 0.1"));
    EXPECT_TRUE(is_angle_kind("line"));
    EXPECT_FALSE(is_angle_kind("plumb"));
}

TEST(ReadingScatter, DoesNotCountUnderAStopUnlessScatterAloneMadeIt) {
    Job job;
    job.result["sightings"][0]["vision"]["findings"] = Json::array({stop("distance-mismatch")});
    EXPECT_THAT(job.kinds(), testing::ElementsAre(0, 4, 4)) << "the next stage of the setup does";
    job.result["findings"] = Json::array({stop("photo-reused")});
    EXPECT_THAT(job.kinds(), testing::ElementsAre(0, 0, 0));
    job.result["findings"] = Json::array({stop("inconsistent")});
    job.result["sightings"][0]["vision"]["findings"] = Json::array({stop("inconsistent")});
    EXPECT_THAT(job.kinds(), testing::ElementsAre(4, 0, 4))
        << "left out, limits too small would look well";
}

TEST(ReadingScatter, OfATapeOnlyStageIsNone) {
    Job job;
    job.result["sightings"][0]["vision"] = nullptr;
    job.sheet.sightings[0].setup.reset();
    EXPECT_THAT(job.kinds(), testing::ElementsAre(0, 0, 4));
}

}  // namespace
}  // namespace squaresight
