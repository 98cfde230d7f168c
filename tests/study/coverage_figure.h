#pragma once
#include <cmath>
#include <string>
#include <vector>

#include "report/svg.h"
#include "study/coverage.h"

/// The picture of a coverage study: how often each error / u came out, beside the normal curve.
namespace squaresight::study {

inline constexpr double widest_ratio = 4;
inline constexpr double bin = 0.5;

/// Share of values in each bin from -widest_ratio; what lies beyond counts to the outermost.
inline std::vector<double> histogram(const std::vector<double>& ratios) {
    std::vector<double> shares(static_cast<std::size_t>(2 * widest_ratio / bin), 0.0);
    for (const double ratio : ratios) {
        const double at = (std::clamp(ratio, -widest_ratio, widest_ratio - 1e-9) + widest_ratio);
        shares[static_cast<std::size_t>(at / bin)] += 1 / static_cast<double>(ratios.size());
    }
    return shares;
}

inline double normal_share(double from, double to) {
    return (std::erf(to / std::sqrt(2.0)) - std::erf(from / std::sqrt(2.0))) / 2;
}

inline std::string panel(const std::string& name, const Ratios& ratios, double left, double top) {
    constexpr double width = 300, height = 150, highest = 0.24;
    const svg::Scale across{-widest_ratio, widest_ratio, left, left + width};
    const svg::Scale up{0, highest, top + height, top};
    std::string body = svg::text_at(left, top - 8, name, {16, "start", true});
    const auto shares = histogram(ratios.error_over_u);
    std::string curve;
    for (std::size_t i = 0; i < shares.size(); ++i) {
        const double from = -widest_ratio + static_cast<double>(i) * bin;
        body += fmt::format(
            R"(<rect x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}" fill="#9bb8a6"/>)",
            across(from), up(shares[i]), across(from + bin) - across(from) - 1,
            up(0) - up(shares[i]));
        curve += fmt::format("{}{:.1f} {:.1f}", i == 0 ? "M" : "L", across(from + bin / 2),
                             up(normal_share(from, from + bin)));
    }
    body +=
        fmt::format(R"(<path d="{}" fill="none" stroke="{}" stroke-width="2"/>)", curve, svg::ink);
    body += svg::line_at(left, top + height, left + width, top + height, 1.5);
    for (const int tick : {-4, -2, 0, 2, 4}) {
        body += svg::text_at(across(tick), top + height + 18, std::to_string(tick),
                             {14, "middle", false, svg::faint});
    }
    body +=
        svg::text_at(left + width, top + 14, fmt::format("rms {:.2f}", ratios.rms()), {14, "end"});
    return body;
}

/// Bars: jobs; line: a normal distribution of standard deviation 1.
inline std::string coverage_figure(const Coverage& coverage) {
    const std::vector<std::string> names{"yaw as-found",           "pitch as-found",
                                         "change of yaw",          "turns as-found",
                                         "vision minus tape, yaw", "vision minus level, pitch"};
    std::string body;
    for (std::size_t i = 0; i < names.size(); ++i) {
        body += panel(names[i], coverage.of.at(names[i]), 20 + 340 * static_cast<double>(i % 2),
                      40 + 220 * static_cast<double>(i / 2));
    }
    body += svg::text_at(
        20, 690, "Across: error over its stated u. Bars: practice jobs. Line: normal.", {14});
    return svg::picture(680, 705, "Errors over their stated uncertainty, and the normal curve",
                        body);
}

}  // namespace squaresight::study
