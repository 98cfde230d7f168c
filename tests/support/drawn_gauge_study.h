#pragma once
#include <random>
#include <string>
#include <vector>

#include "agreement/gauge_study.h"

namespace squaresight::test {

/// Ten parts, five appraisers, two trials, of known standard deviations; that of parts is 1.
inline std::vector<GaugeReading> drawn_gauge_study(double repeatability, double appraiser,
                                                   double interaction, std::mt19937_64& engine) {
    std::normal_distribution<double> normal;
    std::vector<GaugeReading> readings;
    std::vector<double> appraisers;
    for (int a = 0; a < 5; ++a) {
        appraisers.push_back(appraiser * normal(engine));
    }
    for (int p = 0; p < 10; ++p) {
        const double part = normal(engine);
        for (std::size_t a = 0; a < appraisers.size(); ++a) {
            const double off = interaction * normal(engine);
            for (int trial = 0; trial < 2; ++trial) {
                readings.push_back({std::to_string(p), std::to_string(a),
                                    part + appraisers[a] + off + repeatability * normal(engine)});
            }
        }
    }
    return readings;
}

}  // namespace squaresight::test
