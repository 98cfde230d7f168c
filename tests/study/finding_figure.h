#pragma once
#include <string>
#include <vector>

#include "report/svg.h"
#include "study/finding_axes.h"

/// The picture of an axes study: a bar for each finder on each axis, by its last level.
namespace squaresight::study {

struct BarStyle {
    Finder finder;
    const char* fill;
    const char* words;
};

inline std::string level_words(const degraded::Axis& axis, std::optional<std::size_t> level) {
    return level ? fmt::format(fmt::runtime(axis.level_words), axis.levels[*level])
                 : std::string("not the first level");
}

inline std::string bar(double left, double top, double width, const BarStyle& style,
                       const std::string& words) {
    constexpr double height = 12;
    return fmt::format(
               R"(<rect x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{}" fill="{}" stroke="{}" stroke-width="0.8"/>)",
               left, top, std::max(1.0, width), height, style.fill, svg::ink) +
           svg::text_at(left + std::max(1.0, width) + 6, top + height - 1.5, words, {12});
}

/// Bars by the number of levels passed, each with its level in words; finders differ by pattern.
inline std::string finding_figure(const std::vector<degraded::Axis>& axes,
                                  const std::vector<AxisOutcome>& outcomes) {
    constexpr double left = 150, bar_step = 14, full = 420;
    const std::vector<BarStyle> styles{{ours, "#1f5f8b", "Squaresight"},
                                       {opencv, "url(#lines)", "OpenCV, same board"},
                                       {ours_36h11, "#8fb4cf", "Squaresight, 36h11 board"},
                                       {apriltag, "url(#dots)", "libapriltag, 36h11 board"}};
    std::string body =
        R"(<defs><pattern id="lines" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="#fff"/><path d="M0 6L6 0" stroke="#a04000" stroke-width="2"/></pattern><pattern id="dots" width="5" height="5" patternUnits="userSpaceOnUse"><rect width="5" height="5" fill="#fff"/><circle cx="2.5" cy="2.5" r="1.3" fill="#333"/></pattern></defs>)";
    double top = 24;
    for (std::size_t n = 0; n < styles.size(); ++n) {
        body += bar(20 + 205 * static_cast<double>(n), top - 12, 24, styles[n], styles[n].words);
    }
    top += 24;
    for (std::size_t n = 0; n < outcomes.size(); ++n) {
        const auto& axis = axes[n];
        body += svg::text_at(left - 10, top + 2 * bar_step + 3, axis.name, {14, "end", true});
        for (const auto& style : styles) {
            const auto last = outcomes[n].last[style.finder];
            const double share =
                last ? static_cast<double>(*last + 1) / static_cast<double>(axis.levels.size()) : 0;
            body += bar(left, top, full * share, style, level_words(axis, last));
            top += bar_step;
        }
        top += 12;
    }
    body += svg::text_at(20, top + 12,
                         "Bars: levels passed, the full length being all; the words say the last "
                         "one. A level is passed when 95 % of its",
                         {13});
    body += svg::text_at(20, top + 30, "photos give a pose within 0.05 deg of the truth.", {13});
    return svg::picture(840, static_cast<int>(top) + 45, "How far each finder goes on each axis",
                        body);
}

}  // namespace squaresight::study
