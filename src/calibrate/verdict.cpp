#include "calibrate/verdict.h"

#include <fmt/format.h>

#include <cmath>

#include "job/words.h"

namespace squaresight {
namespace {

/// The lens may take this share of the largest uncertainty that still decides.
constexpr double share_of_limit = 0.25;
constexpr double deciding_factor = 1.96;
constexpr double focal_share_taped = 0.001;
constexpr double told_share =
    0.98;  ///< of the give-or-take: a gain below that is not worth telling

struct LensShare {
    PredictedAim aim;
    PredictedAim from_lens;
    std::string problem;
};

LensShare predict_with(const Camera& camera, PlannedBay bay) {
    bay.camera = camera;
    LensShare share;
    const BayPrediction found = predict_in(bay);
    share.problem = found.problem;
    if (found.aim) {
        share.aim = *found.aim;
        for (const auto& line : found.prediction.stages.front().budget) {
            if (line.source == "lens" || line.source == "lens sag") {
                share.from_lens.yaw_deg = std::hypot(share.from_lens.yaw_deg, line.yaw_deg);
                share.from_lens.pitch_deg = std::hypot(share.from_lens.pitch_deg, line.pitch_deg);
            }
        }
    }
    return share;
}

Camera as_if_taped(Camera camera) {
    const Eigen::Vector2d focal(camera.lens.fx, camera.lens.fy);
    const double had = focal_share_untaped * focal_share_untaped;
    const double has = focal_share_taped * focal_share_taped;
    camera.covariance.topLeftCorner<2, 2>() -= (had - has) * focal * focal.transpose();
    return camera;
}

bool stays_below(const PredictedAim& share, const PredictedAim& limit) {
    return share.yaw_deg <= limit.yaw_deg && share.pitch_deg <= limit.pitch_deg;
}

std::string aim_words(const PredictedAim& aim) {
    return fmt::format("{} side to side and {} up and down", fine_words(2 * aim.yaw_deg),
                       fine_words(2 * aim.pitch_deg));
}

}  // namespace

PhoneVerdict verdict_of(const Camera& camera, const PlannedBay& bay, bool taped) {
    PhoneVerdict verdict;
    verdict.distance_mm = bay.setup.readings.distance_mm.value;
    const double share = share_of_limit / deciding_factor;
    verdict.limit = {share * bay.mount.tolerance_yaw_deg, share * bay.mount.tolerance_pitch_deg};
    const LensShare with = predict_with(camera, bay);
    if (!with.problem.empty()) {
        verdict.words =
            fmt::format("Not yet: in '{}' nothing could be measured with this phone ({}).",
                        bay.name, with.problem);
        return verdict;
    }
    verdict.aim = with.aim;
    verdict.from_lens = with.from_lens;
    verdict.fit = taped && stays_below(with.from_lens, verdict.limit);
    const std::string share_words = fmt::format(
        "with the board at {} the lens makes up {} of the give-or-take; up to {} is acceptable.",
        shown_length(verdict.distance_mm, bay.unit), aim_words(with.from_lens),
        aim_words(verdict.limit));
    if (taped) {
        verdict.words = fmt::format("{}: {}", verdict.fit ? "Fit for use" : "Not yet", share_words);
        return verdict;
    }
    verdict.words = fmt::format(
        "Not yet: the focal length at working distance is known to 1 % only, so a print of the "
        "wrong size or a zoom could pass unseen; {}",
        share_words);
    const LensShare would = predict_with(as_if_taped(camera), bay);
    if (std::hypot(would.aim.yaw_deg, would.aim.pitch_deg) >
        told_share * std::hypot(with.aim.yaw_deg, with.aim.pitch_deg)) {
        return verdict;
    }
    verdict.cost_of_no_tape = fmt::format(
        "A phone focuses near photos differently. The give-or-take of a measurement is {}; with "
        "two photos at a taped distance it would be {}.",
        aim_words(with.aim), aim_words(would.aim));
    return verdict;
}

}  // namespace squaresight
