#include "report/svg.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/figures.h"

namespace squaresight::svg {

std::string text_at(double x, double y, const std::string& words, TextStyle style) {
    return fmt::format(
        R"(<text x="{:.1f}" y="{:.1f}" font-size="{}" text-anchor="{}"{} fill="{}" )"
        R"(stroke="#fff" stroke-width="4" stroke-linejoin="round" paint-order="stroke">{}</text>)",
        x, y, style.size, style.anchor, style.bold ? R"( font-weight="700")" : "", style.colour,
        escaped(words));
}

std::string line_at(double x1, double y1, double x2, double y2, double width, const char* dashes) {
    return fmt::format(
        R"(<path d="M{:.1f} {:.1f}L{:.1f} {:.1f}" stroke="{}" stroke-width="{}" stroke-dasharray="{}" fill="none"/>)",
        x1, y1, x2, y2, ink, width, dashes);
}

std::string picture(int width, int height, const std::string& title, const std::string& body) {
    return fmt::format(
        R"(<svg viewBox="0 0 {} {}" role="img" aria-label="{}" xmlns="http://www.w3.org/2000/svg">{}</svg>)",
        width, height, escaped(title), body);
}

double Scale::operator()(double deg) const {
    const double share = (deg - low_deg) / (high_deg - low_deg);
    return at_low + std::clamp(share, 0.0, 1.0) * (at_high - at_low);
}

double tick_step(double span) {
    const double rough = span / 5;
    const double power = std::pow(10.0, std::floor(std::log10(rough)));
    for (const double step : {1.0, 2.0, 5.0}) {
        if (step * power >= rough) {
            return step * power;
        }
    }
    return 10 * power;
}

}  // namespace squaresight::svg
