#pragma once
#include <Eigen/Core>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

namespace squaresight {

enum class PageKind { pdf, svg, png };
enum class Align { left, centre, right };

/// One page at true scale. Millimetres right and down from the page's top left corner; black ink
/// on white until `ink` says otherwise. Nothing is on disk before `finish`.
class Page {
  public:
    /// `dots_per_inch` counts for PNG only; the file then says its scale (pHYs).
    Page(std::filesystem::path file, double width_mm, double height_mm, PageKind kind,
         double dots_per_inch = 100);
    ~Page();
    Page(const Page&) = delete;
    Page& operator=(const Page&) = delete;

    /// Document title of a PDF.
    void title(const std::string& text);
    /// Colour of what is drawn from here on; each from 0 to 1.
    void ink(double red, double green, double blue);

    void line(double x1_mm, double y1_mm, double x2_mm, double y2_mm, double thickness_mm);
    /// Filled rectangle by its top left corner.
    void rect(double x_mm, double y_mm, double width_mm, double height_mm);
    /// Filled rectangles (x, y, width, height) in one go, so that neighbours show no seam.
    void rects(const std::vector<Eigen::Vector4d>& boxes_mm);
    /// Outline; the line's middle runs along the rectangle.
    void frame(double x_mm, double y_mm, double width_mm, double height_mm, double thickness_mm);
    void polygon(const std::vector<Eigen::Vector2d>& points_mm);
    void disc(double x_mm, double y_mm, double radius_mm);
    /// Part of a circle's line from one angle to a larger one, degrees clockwise from 3 o'clock.
    void arc(double x_mm, double y_mm, double radius_mm, double from_deg, double to_deg,
             double thickness_mm);

    /// One line of text (UTF-8) on the baseline `y_mm`. `size_mm` is the font's size; capitals are
    /// 0.73 of it high. `turned_deg` turns clockwise about the anchor.
    void text(double x_mm, double y_mm, double size_mm, const std::string& words,
              Align align = Align::left, bool bold = false, double turned_deg = 0);
    double text_width_mm(double size_mm, const std::string& words, bool bold = false);

    /// Writes the file, whole or not at all. InputError if that fails.
    void finish();

  private:
    struct Canvas;
    std::filesystem::path file_;
    std::unique_ptr<Canvas> canvas_;
};

}  // namespace squaresight
