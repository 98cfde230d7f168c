#pragma once
#include <string>

/// Pieces of the reports' pictures. Internal to `report`.
namespace squaresight::svg {

inline constexpr const char* ink = "#111";
inline constexpr const char* faint = "#666";

struct TextStyle {
    int size = 14;
    const char* anchor = "start";
    bool bold = false;
    const char* colour = ink;
};

/// Words with a white edge, so that they can be read across lines and bands; escaped.
std::string text_at(double x, double y, const std::string& words, TextStyle style = {});

std::string line_at(double x1, double y1, double x2, double y2, double width,
                    const char* dashes = "");

/// A whole picture, to stand in a page. `title` is read out in its place.
std::string picture(int width, int height, const std::string& title, const std::string& body);

/// A linear map from degrees to a coordinate of the drawing; what lies outside stands at its ends.
struct Scale {
    double low_deg, high_deg;
    double at_low, at_high;
    double operator()(double deg) const;
};

/// A round step (1, 2 or 5) that divides a span into about five.
double tick_step(double span);

}  // namespace squaresight::svg
