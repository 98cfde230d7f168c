// The whole program against photos that POV-Ray traced from scenes in vehicle coordinates.
// What it proves: every sign and every frame, and that stated uncertainties are honest.
// What it does not prove: that a real lens follows the Brown-Conrady model.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <future>
#include <random>

#include "support/raytraced_job.h"
#include "units/quantity.h"

namespace squaresight::test {
namespace {

constexpr double largest_error_in_u = 3.5;
/// 0.05 of readings and photos with the small errors that no reading shows (0.04) beside them.
constexpr double largest_yaw_u_deg = 0.07;

/// Readings equal to the truth, with the limits of a careful hand.
Readings true_readings(const RaytracedTruth& truth) {
    const auto mm = [](double value) { return fmt::format("{} mm +/- 3 mm", value); };
    const auto deg = [](double value, double limit) {
        return fmt::format("{} deg +/- {} deg", value, limit);
    };
    return {{"line", deg(truth.line_left_deg, 0.03)},
            {"distance", mm(truth.distance_mm)},
            {"target_left", mm(truth.target_left_mm)},
            {"mount_left", mm(truth.mount_left_mm)},
            {"target_height", mm(truth.target_height_mm)},
            {"mount_height", mm(truth.mount_height_mm)},
            {"floor_rise", deg(truth.floor_rise_deg - truth.rail_zero_deg, 0.1)},
            {"target_lean_back", deg(truth.lean_back_deg + truth.rail_zero_deg, 0.2)},
            {"target_turned_left", deg(truth.turned_left_deg, 1)},
            {"target_roll_clockwise", deg(truth.roll_clockwise_deg, 0.2)},
            {"rail_zero", deg(truth.rail_zero_deg, 0.1)}};
}

struct Errors {
    double yaw_in_u = 0, pitch_in_u = 0;
    double yaw_u_deg = 0, pitch_u_deg = 0;
};

Errors errors_of(const nlohmann::json& vision, const RaytracedTruth& truth) {
    const auto& yaw = vision.at("yaw_left_deg");
    const auto& pitch = vision.at("pitch_up_deg");
    const double yaw_u = yaw.at("standard_uncertainty");
    const double pitch_u = pitch.at("standard_uncertainty");
    return {(yaw.at("value").get<double>() - truth.yaw_left_deg) / yaw_u,
            (pitch.at("value").get<double>() - truth.pitch_up_deg) / pitch_u, yaw_u, pitch_u};
}

/// Codes of every finding of the result, wherever it stands.
std::vector<std::string> codes(const nlohmann::json& result) {
    std::vector<std::string> all;
    const auto take = [&](const nlohmann::json& findings) {
        for (const auto& finding : findings) {
            all.push_back(finding.at("code"));
        }
    };
    take(result.at("findings"));
    for (const auto& sighting : result.at("sightings")) {
        take(sighting.at("findings"));
        if (sighting.at("vision").is_object()) {
            take(sighting.at("vision").at("findings"));
        }
    }
    return all;
}

/// A quantity moved far beyond its uncertainty: a wrong sign cannot pass.
struct Moved {
    std::string name;
    double RaytracedTruth::*what;
    double to;
};

/// One, or one to the side and one up or down: each shows in the other angle.
struct MovedTogether {
    std::vector<Moved> moved;

    std::string name() const {
        std::string names;
        for (const auto& one : moved) {
            names += (names.empty() ? "" : "_and_") + one.name;
        }
        return names;
    }
};

std::ostream& operator<<(std::ostream& out, const MovedTogether& all) { return out << all.name(); }

class SignOf : public testing::TestWithParam<MovedTogether> {};

TEST_P(SignOf, IsThatOfTheVehicleFrame) {
    RaytracedTruth truth;
    for (const auto& one : GetParam().moved) {
        truth.*one.what = one.to;
    }
    const Scratch scratch;
    render_job(scratch.folder(), truth, true_readings(truth), 1);
    const nlohmann::json result = measured(scratch.folder());
    const nlohmann::json& vision = result.at("sightings").at(0).at("vision");
    const Errors errors = errors_of(vision, truth);
    EXPECT_LT(std::abs(errors.yaw_in_u), largest_error_in_u) << vision.dump(1);
    EXPECT_LT(std::abs(errors.pitch_in_u), largest_error_in_u) << vision.dump(1);
    EXPECT_LT(errors.yaw_u_deg, largest_yaw_u_deg);
    EXPECT_THAT(codes(result),
                testing::Not(testing::Contains(testing::AnyOf(
                    "blunder", "inconsistent", "distance-mismatch", "target-turned"))));
    for (const auto& reading : vision.at("readings")) {
        EXPECT_LT(std::abs(reading.at("w").get<double>()), 3.29) << reading.dump();
    }
    const double rolls[] = {truth.upright_roll_deg, truth.inverted_roll_deg};
    for (int i = 0; i < 2; ++i) {
        const double roll = vision.at("photos").at(i).at("roll_deg");
        EXPECT_NEAR(std::remainder(roll - rolls[i], 360.0), 0, 0.5);
    }
}

INSTANTIATE_TEST_SUITE_P(
    EachInItsAngle, SignOf,
    testing::Values(MovedTogether{{{"yaw_left", &RaytracedTruth::yaw_left_deg, 4},
                                   {"pitch_up", &RaytracedTruth::pitch_up_deg, 3}}},
                    MovedTogether{{{"cradle_roll", &RaytracedTruth::upright_roll_deg, 17}}},
                    MovedTogether{{{"quarter_roll", &RaytracedTruth::inverted_roll_deg, 90}}},
                    MovedTogether{{{"offset_left", &RaytracedTruth::offset_left_deg, 2.5},
                                   {"offset_up", &RaytracedTruth::offset_up_deg, 2.5}}},
                    MovedTogether{{{"lens_left", &RaytracedTruth::lens_left_mm, 90},
                                   {"lens_up", &RaytracedTruth::lens_up_mm, 90}}},
                    MovedTogether{{{"line_left", &RaytracedTruth::line_left_deg, 2},
                                   {"floor_rise", &RaytracedTruth::floor_rise_deg, 2}}},
                    MovedTogether{{{"target_left", &RaytracedTruth::target_left_mm, 250},
                                   {"target_height", &RaytracedTruth::target_height_mm, 1150}}},
                    MovedTogether{{{"mount_left", &RaytracedTruth::mount_left_mm, 180},
                                   {"mount_height", &RaytracedTruth::mount_height_mm, 1120}}},
                    MovedTogether{{{"turned_left", &RaytracedTruth::turned_left_deg, 15},
                                   {"rail_zero", &RaytracedTruth::rail_zero_deg, 1.5}}},
                    MovedTogether{{{"lean_back", &RaytracedTruth::lean_back_deg, 12}}},
                    MovedTogether{{{"board_roll", &RaytracedTruth::roll_clockwise_deg, 8}}}),
    [](const auto& all) { return all.param.name(); });

TEST(Raytraced, AimMovesTheVerdictAndNotTheAngle) {
    const RaytracedTruth truth;  // 0.7 deg to the left, nose 0.5 deg down
    const Scratch scratch;
    render_job(scratch.folder(), truth, true_readings(truth), 1);
    const auto with_aim = [&](double yaw_left_deg, double pitch_up_deg) {
        write_text(scratch.folder() / "mount.yaml", mount_text(yaw_left_deg, pitch_up_deg));
        return measured(scratch.folder()).at("sightings").at(0);
    };
    const nlohmann::json at_aim = with_aim(0.7, -0.5);
    const nlohmann::json mirrored = with_aim(-0.7, 2.5);
    EXPECT_EQ(at_aim.at("vision").at("yaw_left_deg"), mirrored.at("vision").at("yaw_left_deg"));
    const auto call = [](const nlohmann::json& sighting, const char* axis) {
        return sighting.at("vision").at("verdict").at(axis).at("call").get<std::string>();
    };
    EXPECT_EQ(call(at_aim, "yaw"), "in tolerance");
    EXPECT_EQ(call(at_aim, "pitch"), "in tolerance");
    EXPECT_EQ(call(mirrored, "yaw"), "out of tolerance");
    EXPECT_EQ(call(mirrored, "pitch"), "out of tolerance");
    // 1.4 deg to the right brings the right side of the face back, so the side screw's point, right
    // of the pivot, goes in: counter-clockwise on this mount.
    for (const auto& correction : mirrored.at("corrections")) {
        if (correction.at("screw") == "side") {
            EXPECT_EQ(correction.at("direction"), "counter-clockwise");
            EXPECT_NEAR(correction.at("exact_turns").get<double>(),
                        120 * (std::tan(1.4 * rad_per_deg)), 0.25);
        }
    }
}

/// Draws truth and readings from the limits that the job sheet and the design's priors state.
class Draw {
  public:
    explicit Draw(unsigned seed) : random_(seed) {}
    double within(double limit) {
        return std::uniform_real_distribution<double>(-limit, limit)(random_);
    }
    double normal(double standard) {
        return std::normal_distribution<double>(0, standard)(random_);
    }
    std::string read(double truth, double limit, const char* unit) {
        return fmt::format("{:.3f} {} +/- {} {}", truth + within(limit), unit, limit, unit);
    }

  private:
    std::mt19937_64 random_;
};

RaytracedTruth drawn_truth(Draw& draw) {
    RaytracedTruth truth;
    truth.yaw_left_deg = draw.within(3);
    truth.pitch_up_deg = draw.within(2);
    truth.upright_roll_deg = draw.normal(2);
    truth.inverted_roll_deg = 180 + draw.normal(2);
    truth.seating_deg = 0.03;
    truth.jitter_deg = 0.02;
    truth.sag_down_deg = draw.normal(0.03);
    truth.offset_left_deg = draw.normal(1);
    truth.offset_up_deg = draw.normal(1);
    truth.lens_ahead_mm = 15 + draw.normal(20);
    truth.lens_left_mm = draw.normal(50);
    truth.lens_up_mm = draw.normal(50);
    truth.line_left_deg = (draw.within(2) - draw.within(2)) / 6000 * deg_per_rad;  // plumb marks
    truth.distance_mm = 4000 + draw.within(1000);
    truth.target_left_mm = draw.within(200);
    truth.mount_left_mm = draw.within(50);
    truth.target_height_mm = 950 + draw.within(150);
    truth.mount_height_mm = 900 + draw.within(150);
    truth.floor_rise_deg = draw.within(1);
    truth.rail_zero_deg = draw.within(0.1);
    truth.lean_back_deg = draw.within(3);
    truth.turned_left_deg = draw.within(10);
    truth.roll_clockwise_deg = draw.within(2);
    truth.bow_across_mm = draw.within(1.5);
    truth.bow_down_mm = draw.within(1.5);
    truth.twist_mm = draw.within(1.5);
    truth.scale_across = 1 + draw.normal(0.0005);
    truth.scale_down = 1 + draw.normal(0.0005);
    const double focal = draw.normal(focal_u_px);
    const double parts[8] = {focal,
                             focal,
                             draw.normal(centre_u_px),
                             draw.normal(centre_u_px),
                             draw.normal(k1_u),
                             draw.normal(k2_u),
                             draw.normal(tangential_u),
                             draw.normal(tangential_u)};
    for (int i = 0; i < 8; ++i) {
        truth.lens[i] = stated_lens[i] + parts[i];
    }
    return truth;
}

Readings drawn_readings(const RaytracedTruth& truth, Draw& draw) {
    return {{"line", "{base: 6 m, plumb: 2 mm}"},
            {"distance", draw.read(truth.distance_mm, 3, "mm")},
            {"target_left", draw.read(truth.target_left_mm, 3, "mm")},
            {"mount_left", draw.read(truth.mount_left_mm, 3, "mm")},
            {"target_height", draw.read(truth.target_height_mm, 5, "mm")},
            {"mount_height", draw.read(truth.mount_height_mm, 5, "mm")},
            {"floor_rise", draw.read(truth.floor_rise_deg - truth.rail_zero_deg, 0.2, "deg")},
            {"target_lean_back", draw.read(truth.lean_back_deg + truth.rail_zero_deg, 0.3, "deg")},
            {"target_turned_left", "0 deg +/- 10 deg"},
            {"target_roll_clockwise", draw.read(truth.roll_clockwise_deg, 0.2, "deg")},
            {"rail_zero", "0 deg +/- 0.1 deg"}};
}

Errors errors_of_random_job(const std::filesystem::path& folder, unsigned seed) {
    Draw draw(seed);
    RaytracedTruth truth = drawn_truth(draw);
    truth.phone_up = seed % 4 == 0 ? "clockwise" : "native";
    const Readings readings = drawn_readings(truth, draw);
    render_job(folder, truth, readings, static_cast<int>(seed));
    return errors_of(measured(folder).at("sightings").at(0).at("vision"), truth);
}

TEST(Raytraced, RandomJobsErrAsMuchAsTheySayAndNoMore) {
    constexpr unsigned jobs = 14;
    constexpr unsigned first_seed = 7100;
    const Scratch scratch;
    std::vector<Errors> all(jobs);
    const auto every_second = [&](unsigned first) {
        for (unsigned i = first; i < jobs; i += 2) {
            all[i] = errors_of_random_job(scratch.folder() / std::to_string(i), first_seed + i);
        }
    };
    auto odd = std::async(std::launch::async, every_second, 1u);
    every_second(0);
    odd.get();
    double squares = 0;
    for (unsigned i = 0; i < jobs; ++i) {
        fmt::print(
            "seed {}: yaw err/u {:+.2f} (u {:.3f} deg), pitch err/u {:+.2f} (u {:.3f} deg)\n",
            first_seed + i, all[i].yaw_in_u, all[i].yaw_u_deg, all[i].pitch_in_u,
            all[i].pitch_u_deg);
        EXPECT_LT(std::abs(all[i].yaw_in_u), largest_error_in_u);
        EXPECT_LT(std::abs(all[i].pitch_in_u), largest_error_in_u);
        EXPECT_LE(all[i].yaw_u_deg, largest_yaw_u_deg);
        squares += all[i].yaw_in_u * all[i].yaw_in_u + all[i].pitch_in_u * all[i].pitch_in_u;
    }
    const double rms = std::sqrt(squares / (2 * jobs));
    fmt::print("rms of err/u over {} values: {:.2f}\n", 2 * jobs, rms);
    EXPECT_GT(rms, 0.7);
    EXPECT_LT(rms, 1.3);
}

}  // namespace
}  // namespace squaresight::test
