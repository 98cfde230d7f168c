#include <gtest/gtest.h>

#include <cstdio>

#include "study/finding_accuracy.h"
#include "study/finding_safety.h"

/// A part of the safety count of docs/finding.md. No corner may be wrong, and the stated
/// covariances must be true: on the whole, and so that a corner beyond 5 sigma is rare.
namespace squaresight::study {
namespace {

void expect_none_wrong_and_sigmas_honest(const Tally& tally) {
    std::printf("%ld corners in %ld photos, rms %.3f sigma\n", tally.corners, tally.found,
                tally.rms_sigmas());
    EXPECT_EQ(tally.wrong, 0);
    EXPECT_GT(tally.rms_sigmas(), 0.9);
    EXPECT_LT(tally.rms_sigmas(), 1.1);
}

TEST(FindingSuite, NoCornerIsWrongAndSigmasAreHonest) {
    constexpr unsigned first_seed = 50001;
    constexpr int photos = 350;
    const SafetyCount count = count_safety(first_seed, photos, 0);
    const Tally all = count.all();
    std::printf("seeds %u-%u: %ld wrong, %ld beyond 5 sigma\n", first_seed, first_seed + photos - 1,
                all.wrong, all.beyond_5_sigma);
    for (const auto& failure : count.failures) {
        std::printf("%s\n", failure.c_str());
    }
    expect_none_wrong_and_sigmas_honest(all);
    EXPECT_LT(all.beyond_5_sigma, all.corners / 2000);
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

Tally tally_under(const degraded::Conditions& conditions, unsigned first_seed, unsigned photos) {
    Tally tally;
    for (unsigned seed = first_seed; seed < first_seed + photos; ++seed) {
        const auto photo = degraded::photo_of(conditions, seed);
        tally.add(
            tally_of(find_target(photo.grey, photo.scene.target, photo.scene.lens), photo.scene));
    }
    return tally;
}

void expect_all_found_and_sigmas_honest(const degraded::Conditions& conditions, unsigned first_seed,
                                        unsigned photos) {
    const Tally tally = tally_under(conditions, first_seed, photos);
    EXPECT_EQ(tally.found, static_cast<int>(photos));
    expect_none_wrong_and_sigmas_honest(tally);
}

TEST(FindingSuite, CornersBesideABurntOutPatchAreAsSureAsTheySay) {
    degraded::Conditions glare;
    glare.glare = 0.3;
    const Tally tally = tally_under(glare, 1, 12);
    EXPECT_GT(tally.corners, 300);
    EXPECT_EQ(tally.beyond_5_sigma, 0);
    expect_none_wrong_and_sigmas_honest(tally);
}

TEST(FindingSuite, AFaintBoardShowsAllItsCornersOnceItIsFound) {
    degraded::Conditions faint;
    faint.contrast = 0.05;
    const Tally tally = tally_under(faint, 1, 6);
    EXPECT_EQ(tally.found, 6);
    EXPECT_EQ(tally.wrong, 0);
    EXPECT_GT(tally.corners, 6 * 70);
}

// Lattices that grew without an edge between their corners ran off into the clutter (seed 17);
// those that were too short for the longer sides of doubled photos ended after a few corners (19).
TEST(FindingSuite, ASteeplyTiltedBoardIsFound) {
    degraded::Conditions steep;
    steep.tilt_deg = 70;
    const Tally tally = tally_under(steep, 17, 3);
    EXPECT_EQ(tally.found, 3);
    EXPECT_EQ(tally.wrong, 0);
}

TEST(FindingSuite, ABoardOfWhichASmallSizeShowsTooLittleIsMeasuredInALargerOne) {
    degraded::Conditions hidden;
    hidden.hidden = 0.73;
    const Tally tally = tally_under(hidden, 6, 1);
    EXPECT_GE(tally.corners, 4);
    EXPECT_EQ(tally.wrong, 0);
}

// What is left is a strip or a corner: lattices about white squares alone, or views by
// homographies, lose one photo in four or more.
TEST(FindingSuite, ABoardOfWhichAStripIsLeftIsFoundAndItsCornersAreAsSureAsTheySay) {
    Tally tally;
    degraded::Conditions hidden;
    hidden.hidden = 0.77;
    tally.add(tally_under(hidden, 1, 8));
    degraded::Conditions dazzled;
    dazzled.glare = 0.43;
    tally.add(tally_under(dazzled, 21, 8));
    EXPECT_EQ(tally.found, 16);
    expect_none_wrong_and_sigmas_honest(tally);
}

// About a diagonal of its squares every other corner shows as a bright spot: lattices of all
// corners alone lose a quarter of these photos.
TEST(FindingSuite, ABoardTiltedBy75DegreesIsFoundWhicheverWayItIsTilted) {
    degraded::Conditions tilted;
    tilted.tilt_deg = 75;
    expect_all_found_and_sigmas_honest(tilted, 41, 16);
}

// Along a smear that is longer than a square is high a fit tells nothing: what may by its own sigma
// lie a fifth of a square off is not told (seed 903974 of the safety study).
TEST(FindingSuite, NoCornerIsToldWhoseSquareASmearCovers) {
    degraded::Conditions smeared;
    smeared.tilt_deg = 67;
    smeared.shake_px = 11.635;
    const Tally tally = tally_under(smeared, 903974, 1);
    EXPECT_EQ(tally.found, 1);
    EXPECT_EQ(tally.wrong, 0);
}

// The bound of docs/finding.md on the mean error, and what the mean of these corners scatters by.
TEST(FindingSuite, CornersOfABlurredTiltedBoardAreOffByNothingInCommon) {
    degraded::Conditions blurred = common_photo();
    blurred.tilt_deg = 55;
    blurred.blur_px = 2;
    const Bias bias = measure_bias(blurred, 1, 8, 0);
    EXPECT_GT(bias.all.corners, 500);
    EXPECT_LT(bias.all.mean_px().norm(), 0.003 + 2 * bias.all.mean_uncertainty_px());
}

// The bounds of docs/finding.md: a quarter of OpenCV's cornerSubPix at its best window, and 1.25
// times the least scatter by the inequality of Cramer and Rao.
TEST(FindingSuite, CornersScatterLittleMoreThanTheLeastEvenWhenAPhoneSharpens) {
    for (const auto& conditions : {common_photo(), as_a_phone_makes_it(common_photo())}) {
        const Accuracy accuracy = measure_accuracy(conditions, 1, 3, 0);
        EXPECT_GT(accuracy.ours.corners, 200);
        EXPECT_LT(accuracy.ours.rms_px(), 1.25 * accuracy.least_of_edges_px());
        EXPECT_LT(accuracy.ours.rms_px(),
                  accuracy.corner_sub_pix.at(accuracy.best_window()).rms_px() / 4);
    }
}

// Fitted with the spots beside their edges, corners err by 1.2 sigma.
TEST(FindingSuite, ADirtyBoardIsFoundAndItsCornersAreAsSureAsTheySay) {
    degraded::Conditions dirty;
    dirty.dirt = 0.38;
    expect_all_found_and_sigmas_honest(dirty, 1, 6);
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
