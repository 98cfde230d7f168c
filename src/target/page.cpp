#include "target/page.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <cairo.h>

#include <cmath>

#include "units/bytes.h"
#include "units/error.h"
#include "units/files.h"
#include "units/quantity.h"

#if defined(__SANITIZE_ADDRESS__)
// Fontconfig keeps its fonts until the process ends, and the sanitizer takes them for a leak.
extern "C" const char* __lsan_default_suppressions() { return "leak:libfontconfig"; }
extern "C" const char* __lsan_default_options() { return "print_suppressions=0"; }
#endif

namespace squaresight {
namespace {

constexpr double points_per_mm = 72 / mm_per_inch;

cairo_status_t append(void* closure, const unsigned char* data, unsigned length) {
    static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
}

/// PNG states its scale in whole pixels per metre, so that is the scale that is drawn.
std::uint32_t pixels_per_metre(double dots_per_inch) {
    return static_cast<std::uint32_t>(std::lround(dots_per_inch * 1000 / mm_per_inch));
}

/// Puts a pHYs chunk (ISO/IEC 15948, 11.3.5.3) behind the header, which ends at byte 33.
void state_png_scale(std::string& png, std::uint32_t per_metre) {
    const std::string scale = big_endian_bytes(per_metre);
    const std::string chunk = "pHYs" + scale + scale + '\1';
    png.insert(33, big_endian_bytes(9) + chunk + big_endian_bytes(png_crc(chunk)));
}

}  // namespace

struct Page::Canvas {
    std::string bytes;  ///< the file so far; outlives the surface, which writes into it
    PageKind kind;
    std::uint32_t png_per_metre = 0;
    cairo_surface_t* surface = nullptr;
    cairo_t* pen = nullptr;

    Canvas(PageKind page_kind, double width_mm, double height_mm, double dots_per_inch)
        : kind(page_kind) {
        double scale = 1;
        if (kind == PageKind::pdf) {
            scale = points_per_mm;
            surface = cairo_pdf_surface_create_for_stream(append, &bytes, width_mm * scale,
                                                          height_mm * scale);
        } else if (kind == PageKind::svg) {
            surface = cairo_svg_surface_create_for_stream(append, &bytes, width_mm, height_mm);
            cairo_svg_surface_set_document_unit(surface, CAIRO_SVG_UNIT_MM);
        } else {
            png_per_metre = pixels_per_metre(dots_per_inch);
            scale = png_per_metre / 1000.0;
            surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24,
                                                 static_cast<int>(std::lround(width_mm * scale)),
                                                 static_cast<int>(std::lround(height_mm * scale)));
        }
        pen = cairo_create(surface);
        cairo_scale(pen, scale, scale);
        cairo_set_source_rgb(pen, 1, 1, 1);
        cairo_paint(pen);
        cairo_set_source_rgb(pen, 0, 0, 0);
    }
    ~Canvas() {
        cairo_destroy(pen);
        cairo_surface_destroy(surface);
    }
    Canvas(const Canvas&) = delete;
    Canvas& operator=(const Canvas&) = delete;

    void choose_font(double size_mm, bool bold) const {
        cairo_select_font_face(pen, "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL,
                               bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
        cairo_set_font_size(pen, size_mm);
    }
};

Page::Page(std::filesystem::path file, double width_mm, double height_mm, PageKind kind,
           double dots_per_inch)
    : file_(std::move(file)),
      canvas_(std::make_unique<Canvas>(kind, width_mm, height_mm, dots_per_inch)) {}

Page::~Page() = default;

void Page::title(const std::string& text) {
    if (canvas_->kind == PageKind::pdf) {
        cairo_pdf_surface_set_metadata(canvas_->surface, CAIRO_PDF_METADATA_TITLE, text.c_str());
    }
}

void Page::ink(double red, double green, double blue) {
    cairo_set_source_rgb(canvas_->pen, red, green, blue);
}

void Page::line(double x1_mm, double y1_mm, double x2_mm, double y2_mm, double thickness_mm) {
    cairo_set_line_width(canvas_->pen, thickness_mm);
    cairo_move_to(canvas_->pen, x1_mm, y1_mm);
    cairo_line_to(canvas_->pen, x2_mm, y2_mm);
    cairo_stroke(canvas_->pen);
}

void Page::rect(double x_mm, double y_mm, double width_mm, double height_mm) {
    rects({{x_mm, y_mm, width_mm, height_mm}});
}

void Page::rects(const std::vector<Eigen::Vector4d>& boxes_mm) {
    for (const auto& box : boxes_mm) {
        cairo_rectangle(canvas_->pen, box[0], box[1], box[2], box[3]);
    }
    cairo_fill(canvas_->pen);
}

void Page::frame(double x_mm, double y_mm, double width_mm, double height_mm, double thickness_mm) {
    cairo_set_line_width(canvas_->pen, thickness_mm);
    cairo_rectangle(canvas_->pen, x_mm, y_mm, width_mm, height_mm);
    cairo_stroke(canvas_->pen);
}

void Page::polygon(const std::vector<Eigen::Vector2d>& points_mm) {
    for (const auto& point : points_mm) {
        cairo_line_to(canvas_->pen, point.x(), point.y());
    }
    cairo_close_path(canvas_->pen);
    cairo_fill(canvas_->pen);
}

void Page::disc(double x_mm, double y_mm, double radius_mm) {
    cairo_arc(canvas_->pen, x_mm, y_mm, radius_mm, 0, 2 * M_PI);
    cairo_fill(canvas_->pen);
}

void Page::arc(double x_mm, double y_mm, double radius_mm, double from_deg, double to_deg,
               double thickness_mm) {
    cairo_set_line_width(canvas_->pen, thickness_mm);
    cairo_new_sub_path(canvas_->pen);
    cairo_arc(canvas_->pen, x_mm, y_mm, radius_mm, from_deg * rad_per_deg, to_deg * rad_per_deg);
    cairo_stroke(canvas_->pen);
}

void Page::text(double x_mm, double y_mm, double size_mm, const std::string& words, Align align,
                bool bold, double turned_deg) {
    const double width = text_width_mm(size_mm, words, bold);
    cairo_save(canvas_->pen);
    cairo_translate(canvas_->pen, x_mm, y_mm);
    cairo_rotate(canvas_->pen, turned_deg * rad_per_deg);
    cairo_move_to(canvas_->pen,
                  align == Align::left ? 0 : (align == Align::centre ? -width / 2 : -width), 0);
    cairo_show_text(canvas_->pen, words.c_str());
    cairo_restore(canvas_->pen);
    cairo_new_path(canvas_->pen);
}

double Page::text_width_mm(double size_mm, const std::string& words, bool bold) {
    canvas_->choose_font(size_mm, bold);
    cairo_text_extents_t extents;
    cairo_text_extents(canvas_->pen, words.c_str(), &extents);
    return extents.x_advance;
}

void Page::finish() {
    cairo_show_page(canvas_->pen);
    const cairo_status_t drawn = cairo_status(canvas_->pen);
    if (drawn != CAIRO_STATUS_SUCCESS) {
        throw InputError(file_.string(),
                         std::string("cannot be drawn (") + cairo_status_to_string(drawn) + ")",
                         "check the size of the page and the characters of its names");
    }
    if (canvas_->kind == PageKind::png) {
        cairo_surface_write_to_png_stream(canvas_->surface, append, &canvas_->bytes);
        state_png_scale(canvas_->bytes, canvas_->png_per_metre);
    }
    cairo_surface_finish(canvas_->surface);
    write_file(file_, canvas_->bytes);
}

}  // namespace squaresight
