#include <gtest/gtest.h>

#include <cstdio>

#include "study/finding_safety.h"

/// A part of the safety count of docs/finding.md. No corner may be wrong, and the stated
/// covariances must be true: on the whole, and so that a corner beyond 5 sigma is rare.
namespace squaresight::study {
namespace {

TEST(FindingSuite, NoCornerIsWrongAndSigmasAreHonest) {
    constexpr unsigned first_seed = 50001;
    constexpr int photos = 500;
    const SafetyCount count = count_safety(first_seed, photos, 0);
    const Tally all = count.all();
    std::printf(
        "seeds %u-%u: %ld corners in %ld of %ld photos, %ld wrong, %ld beyond 5 sigma, "
        "rms %.3f sigma\n",
        first_seed, first_seed + photos - 1, all.corners, all.found, all.photos, all.wrong,
        all.beyond_5_sigma, all.rms_sigmas());
    for (const auto& failure : count.failures) {
        std::printf("%s\n", failure.c_str());
    }
    EXPECT_EQ(all.wrong, 0);
    EXPECT_LT(all.beyond_5_sigma, all.corners / 2000);
    EXPECT_GT(all.rms_sigmas(), 0.9);
    EXPECT_LT(all.rms_sigmas(), 1.1);
    EXPECT_GT(all.corners, 35 * photos);
}

TEST(FindingSuite, ACornerThatAloneIsSmearedIsNoneOfTheBoard) {
    // Of 10,000 photos the only one with a wrong corner: on clutter, with twelve times the blur.
    const SafetyPhoto made = safety_photo(104138);
    const auto& scene = made.photo.scene;
    const Tally tally = tally_of(find_target(made.photo.grey, scene.target, scene.lens), scene);
    EXPECT_GE(tally.corners, 13);
    EXPECT_EQ(tally.wrong, 0);
}

TEST(FindingSuite, ABoardUpsideDownOrOnItsSideIsFound) {
    Tally tally;
    for (unsigned seed = 1; seed <= 30; ++seed) {
        const SafetyPhoto made = turned_photo(seed);
        const auto& scene = made.photo.scene;
        tally.add(tally_of(find_target(made.photo.grey, scene.target, scene.lens), scene));
    }
    EXPECT_EQ(tally.found, 30);
    EXPECT_EQ(tally.wrong, 0);
}

}  // namespace
}  // namespace squaresight::study
