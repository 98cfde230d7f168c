// The demo shop's jobs, 12 MP photos and all, against the truth files beside them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <yaml-cpp/yaml.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <set>

#include "support/command.h"
#include "support/scratch.h"

namespace squaresight {
namespace {

using nlohmann::json;

/// A measured sample job with its truth.
struct Sample {
    json result;
    YAML::Node truth;

    const json& sighting(std::size_t i) const { return result.at("sightings").at(i); }
    double error_in_u(std::size_t stage, const char* angle) const {
        const json& measured = sighting(stage).at("vision").at(angle);
        return (measured.at("value").get<double>() - truth["stages"][stage][angle].as<double>()) /
               measured.at("standard_uncertainty").get<double>();
    }
    std::set<std::string> codes() const {
        std::set<std::string> all;
        const auto take = [&](const json& findings) {
            for (const auto& finding : findings) {
                all.insert(finding.at("code"));
            }
        };
        take(result.at("findings"));
        for (const auto& sighting : result.at("sightings")) {
            take(sighting.at("findings"));
            take(sighting.at("vision").at("findings"));
        }
        return all;
    }
};

class Samples : public testing::Test {
  protected:
    Sample measured(const std::string& job) const {
        const std::string folder = std::string(SQUARESIGHT_SOURCE_DIR) + "/samples/jobs/" + job;
        const Finished finished = run_squaresight(
            "measure '" + folder + "/job.yaml' --json --out '" + scratch_.folder().string() + "'");
        EXPECT_EQ(finished.exit_code, 0) << finished.output;
        return {json::parse(finished.output), YAML::LoadFile(folder + "/truth.yaml")};
    }
    static void expect_truth_within_stated_uncertainty(const Sample& sample) {
        for (std::size_t i = 0; i < sample.result.at("sightings").size(); ++i) {
            EXPECT_LT(std::abs(sample.error_in_u(i, "yaw_left_deg")), 3.5) << "stage " << i;
            EXPECT_LT(std::abs(sample.error_in_u(i, "pitch_up_deg")), 3.5) << "stage " << i;
        }
    }
    static double yaw_u_deg(const json& sighting) {
        return sighting.at("vision").at("yaw_left_deg").at("standard_uncertainty");
    }

  private:
    Scratch scratch_;
};

std::string yaw_call(const json& sighting, const char* method) {
    return sighting.at(method).at("verdict").at("yaw").at("call");
}

TEST_F(Samples, TheFullJobGoesFromOutOfToleranceToInTolerance) {
    const Sample sample = measured("1042-full");
    expect_truth_within_stated_uncertainty(sample);
    for (std::size_t i = 0; i < 3; ++i) {
        EXPECT_LE(yaw_u_deg(sample.sighting(i)), 0.06);
    }
    EXPECT_EQ(yaw_call(sample.sighting(0), "vision"), "out of tolerance");
    EXPECT_EQ(yaw_call(sample.sighting(2), "vision"), "in tolerance");
    EXPECT_EQ(sample.sighting(0).at("agreement").at("yaw").at("call"), "agree");
    EXPECT_EQ(sample.sighting(2).at("agreement").at("yaw").at("call"), "agree");
}

TEST_F(Samples, TheFullJobsChangesAreKnownBetterThanItsAngles) {
    const Sample sample = measured("1042-full");
    for (std::size_t i = 1; i < 3; ++i) {
        const json& change = sample.sighting(i).at("vision").at("change").at("yaw_left_deg");
        const double u = change.at("standard_uncertainty");
        const double true_change = sample.truth["stages"][i]["yaw_left_deg"].as<double>() -
                                   sample.truth["stages"][i - 1]["yaw_left_deg"].as<double>();
        EXPECT_LT(u, 0.035);
        EXPECT_LT(std::abs(change.at("value").get<double>() - true_change), 3.5 * u);
    }
}

TEST_F(Samples, AMisreadTapeMakesTheMethodsDisagree) {
    const Sample sample = measured("1043-tape-misread");
    expect_truth_within_stated_uncertainty(sample);
    EXPECT_EQ(sample.sighting(0).at("agreement").at("yaw").at("call"), "disagree");
    EXPECT_EQ(sample.sighting(0).at("agreement").at("pitch").at("call"), "agree");
    EXPECT_TRUE(sample.codes().contains("methods-disagree"));
}

TEST_F(Samples, ABoardPrintedAtNinetySevenPerCentStops) {
    const Sample sample = measured("1044-bad-print");
    EXPECT_TRUE(sample.codes().contains("distance-mismatch"));
    EXPECT_NE(yaw_call(sample.sighting(0), "vision"), "in tolerance");
}

TEST_F(Samples, WithoutAnInvertedPhotoYawIsNotDetermined) {
    const Sample sample = measured("1045-no-inverted");
    expect_truth_within_stated_uncertainty(sample);
    EXPECT_TRUE(sample.codes().contains("no-inverted-photo"));
    EXPECT_GT(yaw_u_deg(sample.sighting(0)), 1);
    EXPECT_NE(yaw_call(sample.sighting(0), "vision"), "in tolerance");
}

TEST_F(Samples, ABentBracketIsBeyondTheScrewsTravel) {
    const Sample sample = measured("1046-bent-bracket");
    expect_truth_within_stated_uncertainty(sample);
    EXPECT_LE(yaw_u_deg(sample.sighting(0)), 0.06);
    EXPECT_EQ(yaw_call(sample.sighting(0), "vision"), "out of tolerance");
    EXPECT_TRUE(sample.codes().contains("beyond-travel"));
}

}  // namespace
}  // namespace squaresight
