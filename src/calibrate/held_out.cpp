#include "calibrate/held_out.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace squaresight {
namespace {

constexpr std::size_t folds = 5;
constexpr double clear_difference = 2;  // standard deviations of the mean

/// Of the data's or a solution's views those of a fold, or all others.
template <class Whole>
Whole part_of(const Whole& whole, std::size_t fold, bool held_out) {
    Whole part = whole;
    part.views.clear();
    for (std::size_t v = 0; v < whole.views.size(); ++v) {
        if ((v % folds == fold) == held_out) {
            part.views.push_back(whole.views[v]);
        }
    }
    return part;
}

}  // namespace

HeldOut hold_out(const CalibrationData& data, const CalibrationModel& model,
                 const CalibrationSolution& all) {
    HeldOut result;
    result.rms_px.assign(data.views.size(), std::numeric_limits<double>::quiet_NaN());
    double squares = 0;
    double corners = 0;
    for (std::size_t fold = 0; fold < std::min(folds, data.views.size()); ++fold) {
        const CalibrationSolution known =
            solve_again(part_of(data, fold, false), model, part_of(all, fold, false));
        if (!known.solved) {
            continue;
        }
        const CalibrationSolution tried = solve_views(part_of(data, fold, true), known, model);
        for (std::size_t i = 0; tried.solved && i < tried.views.size(); ++i) {
            const CalibratedView& view = tried.views[i];
            const double rms = view.rms_px();
            result.rms_px[fold + i * folds] = rms;
            squares += rms * rms * static_cast<double>(view.corners.size());
            corners += static_cast<double>(view.corners.size());
        }
    }
    result.total_rms_px =
        corners > 0 ? std::sqrt(squares / corners) : std::numeric_limits<double>::quiet_NaN();
    return result;
}

bool predicts_better(const HeldOut& wider, const HeldOut& narrower) {
    std::vector<double> gains;  // of each photo, as a share
    for (std::size_t v = 0; v < wider.rms_px.size(); ++v) {
        const double gain = std::log(narrower.rms_px[v] / wider.rms_px[v]);
        if (std::isfinite(gain)) {
            gains.push_back(gain);
        }
    }
    if (gains.size() < folds || gains.size() < wider.rms_px.size()) {
        return false;
    }
    const double count = static_cast<double>(gains.size());
    double mean = 0;
    for (const double gain : gains) {
        mean += gain / count;
    }
    double variance = 0;
    for (const double gain : gains) {
        variance += (gain - mean) * (gain - mean) / (count - 1);
    }
    return mean > clear_difference * std::sqrt(variance / count);
}

}  // namespace squaresight
