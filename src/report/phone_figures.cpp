#include "report/phone_figures.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <opencv2/imgproc.hpp>

#include "job/words.h"
#include "report/svg.h"

namespace squaresight {
namespace {

using namespace svg;

constexpr double wide = 360;      ///< of a figure
constexpr double side = 18;       ///< of the frame of the picture, left and right
constexpr double head = 26;       ///< above it, for words
constexpr double foot = 48;       ///< beneath it, for scale or legend
constexpr double fine = 10;       ///< points and misfits are written in tenths
constexpr double bar_long = 15;   ///< of the misfits' scale bar
constexpr double longest = 18;    ///< of a misfit: it never leaves the figure
constexpr double deg_digits = 3;  ///< that a field's number has at most

constexpr const char* bare = "#e4e4e4";
constexpr std::array photo_colours{"#1b4f8f", "#9a3b00", "#2c6b2c", "#6a2f86", "#7a5a00", "#444"};

/// The frame of the picture in a figure.
struct Frame {
    explicit Frame(const PhoneCheck& check)
        : picture_px(std::max(1, check.data.width_px), std::max(1, check.data.height_px)),
          unit((wide - 2 * side) / picture_px.maxCoeff()),
          left((wide - unit * picture_px.x()) / 2),
          width(unit * picture_px.x()),
          height(unit * picture_px.y()) {}

    Eigen::Vector2d picture_px;
    double unit;  ///< drawn, of one pixel
    double left, top = head, width, height;

    /// Pixel centres lie at whole numbers, so the picture begins half a pixel before the first.
    Eigen::Vector2d operator()(const Eigen::Vector2d& pixel) const {
        return Eigen::Vector2d(left, top) + unit * (pixel + Eigen::Vector2d(0.5, 0.5));
    }
    double bottom() const { return top + height; }
    double total() const { return bottom() + foot; }

    std::string outline() const {
        return fmt::format(
            R"(<rect x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}" fill="none" )"
            R"(stroke="{}" stroke-width="1.5"/>)",
            left, top, width, height, ink);
    }
    std::string words() const {
        return text_at(left, top - 8, "top left", {12, "start", false, faint}) +
               text_at(left + width, top - 8, "top right", {12, "end", false, faint});
    }
};

/// One of the fields that a picture is drawn in.
struct Field {
    double x, y, width, height;
};

Field field_of(const Frame& frame, int row, int column, int rows, int columns) {
    const double width = frame.width / columns;
    const double height = frame.height / rows;
    return {frame.left + column * width, frame.top + row * height, width, height};
}

/// Slanted lines, for what a grey print must show too.
std::string hatched(const Field& field) {
    constexpr double step = 6;
    std::string path;
    for (double k = step; k < field.width + field.height; k += step) {
        const double x1 = std::max(0.0, k - field.height), x2 = std::min(k, field.width);
        path += fmt::format("M{:.1f} {:.1f}L{:.1f} {:.1f}", field.x + x1, field.y + k - x1,
                            field.x + x2, field.y + k - x2);
    }
    return fmt::format(R"(<path d="{}" stroke="#777" stroke-width="0.8"/>)", path);
}

std::string filled(const Field& field, const char* colour) {
    return fmt::format(R"(<rect x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}" fill="{}"/>)",
                       field.x, field.y, field.width, field.height, colour);
}

std::vector<Eigen::Vector2d> outline_of(const std::vector<Eigen::Vector2d>& points) {
    std::vector<cv::Point2f> all, hull;
    for (const auto& point : points) {
        all.emplace_back(static_cast<float>(point.x()), static_cast<float>(point.y()));
    }
    if (!all.empty()) {
        cv::convexHull(all, hull);
    }
    std::vector<Eigen::Vector2d> outline;
    for (const auto& point : hull) {
        outline.emplace_back(point.x, point.y);
    }
    return outline;
}

std::string closed_path(const std::vector<Eigen::Vector2d>& outline, const char* colour,
                        double width, const char* dashes) {
    std::string path;
    for (const auto& point : outline) {
        path += fmt::format("{}{:.1f} {:.1f}", path.empty() ? "M" : "L", point.x(), point.y());
    }
    return fmt::format(
        R"(<path d="{}Z" fill="none" stroke="{}" stroke-width="{}" stroke-dasharray="{}"/>)", path,
        colour, width, dashes);
}

/// Writes moves as short as they can be: whole steps of a tenth, from where the pen is.
class FinePath {
  public:
    void move(const Eigen::Vector2d& to) { step('m', to); }
    void line(const Eigen::Vector2d& to) { step('l', to); }
    void dot() { text_ += "h0"; }
    std::string drawn(const char* colour, double width) const {
        return fmt::format(R"svg(<path transform="scale({:g})" d="{}" fill="none" stroke="{}" )svg"
                           R"svg(stroke-width="{:g}" stroke-linecap="round"/>)svg",
                           1 / fine, text_, colour, width * fine);
    }

  private:
    void step(char how, const Eigen::Vector2d& to) {
        const Eigen::Vector2i whole = (fine * to).array().round().cast<int>();
        const Eigen::Vector2i by = whole - pen_;
        text_ += fmt::format("{}{}{}{}", text_.empty() ? 'M' : how, by.x(), by.y() < 0 ? "" : " ",
                             by.y());
        pen_ = whole;
    }
    std::string text_;
    Eigen::Vector2i pen_{0, 0};
};

/// A view of the solution with the number of its photo.
struct NumberedView {
    std::size_t photo;
    const CalibratedView* view;
};

std::vector<NumberedView> views_of(const PhoneCheck& check) {
    std::vector<NumberedView> views;
    for (std::size_t i = 0; i < check.photos.size(); ++i) {
        const int view = check.photos[i].solution_view;
        if (view >= 0 && static_cast<std::size_t>(view) < check.solution.views.size()) {
            views.push_back({i + 1, &check.solution.views[static_cast<std::size_t>(view)]});
        }
    }
    return views;
}

/// Where a photo's number can be read: at the corner of its outline that lies furthest from those
/// that stand already.
Eigen::Vector2d place_apart(const std::vector<Eigen::Vector2d>& outline,
                            const std::vector<Eigen::Vector2d>& taken) {
    Eigen::Vector2d best = outline.front();
    double best_apart = -1;
    for (const auto& point : outline) {
        double nearest = HUGE_VAL;
        for (const auto& other : taken) {
            nearest = std::min(nearest, (point - other).norm());
        }
        if (nearest > best_apart) {
            best_apart = nearest;
            best = point;
        }
    }
    return best;
}

const char* part_name(int row, int column) {
    static constexpr std::array<std::array<const char*, 3>, 3> names{
        {{"upper left", "top", "upper right"},
         {"left", "middle", "right"},
         {"lower left", "bottom", "lower right"}}};
    return names[static_cast<std::size_t>(row)][static_cast<std::size_t>(column)];
}

constexpr std::array shades{"#f4f8fc", "#d3e3f3", "#a9c8e6", "#74a5d2", "#3f78b3", "#1c4a80"};
constexpr std::size_t first_dark = 4;  ///< white numbers from here on
constexpr double even_ratio = 10;      ///< of the largest value over the least, for even steps

/// Round upper ends of a map's shades: even ones, or 1, 2, 5 where the values differ widely. Where
/// there are more steps than shades the first shade takes the lowest together.
std::vector<double> map_steps(const Eigen::MatrixXd& values) {
    double low = HUGE_VAL, high = 0;
    for (const double value : values.reshaped()) {
        if (std::isfinite(value) && value > 0) {
            low = std::min(low, value);
            high = std::max(high, value);
        }
    }
    std::vector<double> steps;
    const auto enough = [&] { return !steps.empty() && steps.back() >= high; };
    if (low >= high) {
        return high > 0 ? std::vector{high} : steps;
    }
    if (high < even_ratio * low) {
        const double step = tick_step(high - low);
        for (double k = std::floor(low / step) + 1; !enough(); ++k) {
            steps.push_back(k * step);
        }
    } else {
        for (double power = std::pow(10.0, std::floor(std::log10(low))); !enough(); power *= 10) {
            for (const double step : {1.0, 2.0, 5.0}) {
                if (step * power > low && !enough()) {
                    steps.push_back(step * power);
                }
            }
        }
    }
    if (steps.size() > shades.size()) {
        steps.erase(steps.begin(), steps.end() - static_cast<std::ptrdiff_t>(shades.size()));
    }
    return steps;
}

std::size_t shade_of(double value, const std::vector<double>& steps) {
    const auto at = std::lower_bound(steps.begin(), steps.end(), value * (1 - 1e-12));
    return std::min(static_cast<std::size_t>(at - steps.begin()), shades.size() - 1);
}

std::string field_number(double value) {
    const double power = value > 0 ? std::floor(std::log10(value)) : 0;
    const int digits = static_cast<int>(std::clamp(1 - power, 0.0, deg_digits));
    return fmt::format("{:.{}f}", value, digits);
}

/// A field's number, edged with the field's own shade so that lines do not cross it.
std::string number_in(const Field& field, double value, std::size_t shade) {
    return fmt::format(
        R"(<text x="{:.1f}" y="{:.1f}" font-size="11" text-anchor="middle" fill="{}" stroke="{}" )"
        R"(stroke-width="4" stroke-linejoin="round" paint-order="stroke">{}</text>)",
        field.x + field.width / 2, field.y + field.height / 2 + 4,
        shade >= first_dark ? "#fff" : ink, shades[shade], field_number(value));
}

/// The shades, with the value up to which each holds at its end.
std::string map_legend(const std::vector<double>& steps, double top) {
    constexpr double height = 18;
    std::string body;
    Field field{side, top, (wide - 2 * side) / static_cast<double>(shades.size() + 1), height};
    for (std::size_t i = 0; i < steps.size(); ++i) {
        body += fmt::format(R"(<rect x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{}" fill="{}" )"
                            R"(stroke="{}"/>)",
                            field.x, field.y, field.width, height, shades[i], ink);
        field.x += field.width;
        body +=
            text_at(field.x, top + height + 14, fmt::format("{:.3g}", steps[i]), {12, "middle"});
    }
    return body + text_at(field.x + 6, top + 14, "deg", {12});
}

}  // namespace

PictureFields fields_of(const PhoneCheck& check, int columns, int rows) {
    PictureFields fields;
    fields.corners = Eigen::MatrixXi::Zero(rows, columns);
    fields.mean_right_px = fields.mean_down_px = fields.rms_px =
        Eigen::MatrixXd::Zero(rows, columns);
    const Frame frame(check);
    for (const auto& misfit : misfits_of(check)) {
        const Eigen::Vector2d share =
            (misfit.at_px + Eigen::Vector2d(0.5, 0.5)).cwiseQuotient(frame.picture_px);
        const int column = std::clamp(static_cast<int>(share.x() * columns), 0, columns - 1);
        const int row = std::clamp(static_cast<int>(share.y() * rows), 0, rows - 1);
        ++fields.corners(row, column);
        fields.mean_right_px(row, column) += misfit.off_px.x();
        fields.mean_down_px(row, column) += misfit.off_px.y();
        fields.rms_px(row, column) += misfit.off_px.squaredNorm() / 2;
    }
    const Eigen::ArrayXXd counts = fields.corners.cast<double>().array();  // 0 / 0: not a number
    fields.mean_right_px.array() /= counts;
    fields.mean_down_px.array() /= counts;
    fields.rms_px.array() = (fields.rms_px.array() / counts).sqrt();
    return fields;
}

std::vector<std::string> bare_parts(const PhoneCheck& check) {
    const auto corners = fields_of(check, coverage_columns, coverage_rows).corners;
    constexpr int rows = coverage_rows / 3, columns = coverage_columns / 3;
    std::vector<std::string> parts;
    for (int row = 0; row < 3; ++row) {
        for (int column = 0; column < 3; ++column) {
            const auto bare =
                (corners.block<rows, columns>(row * rows, column * columns).array() == 0).count();
            if (bare > 0) {
                parts.push_back(fmt::format("{}: {} of {} fields", part_name(row, column), bare,
                                            rows * columns));
            }
        }
    }
    return parts;
}

std::string coverage_svg(const PhoneCheck& check) {
    const Frame frame(check);
    const auto corners = fields_of(check, coverage_columns, coverage_rows).corners;
    std::string body;
    for (int row = 0; row < coverage_rows; ++row) {
        for (int column = 0; column < coverage_columns; ++column) {
            if (corners(row, column) == 0) {
                const Field field = field_of(frame, row, column, coverage_rows, coverage_columns);
                body += filled(field, bare) + hatched(field);
            }
        }
    }
    body += frame.outline() + frame.words();
    std::string numbers;
    std::vector<Eigen::Vector2d> taken;
    for (const auto& [photo, view] : views_of(check)) {
        const char* colour = photo_colours[photo % photo_colours.size()];
        FinePath dots;
        std::vector<Eigen::Vector2d> points;
        for (const auto& corner : view->corners) {
            points.push_back(frame(corner.pixel));
            dots.move(points.back());
            dots.dot();
        }
        if (points.empty()) {
            continue;
        }
        const auto outline = outline_of(points);
        body += closed_path(outline, colour, 0.7, "") + dots.drawn(colour, 2.2);
        taken.push_back(place_apart(outline, taken));
        numbers += text_at(taken.back().x(), taken.back().y() + 4, std::to_string(photo),
                           {12, "middle", true, colour});
    }
    const Field key{frame.left, frame.bottom() + 7, 22, 14};
    body += numbers + filled(key, bare) + hatched(key) +
            text_at(key.x + 30, key.y + 12, "no corner here", {13}) +
            text_at(key.x, key.y + 33, "numbers: photos, as in the table below", {13});
    return picture(static_cast<int>(wide), static_cast<int>(frame.total()),
                   "where in the picture corners were found, photo by photo", body);
}

std::vector<Misfit> misfits_of(const PhoneCheck& check) {
    std::vector<Misfit> misfits;
    for (const auto& [photo, view] : views_of(check)) {
        const std::size_t count = std::min(view->corners.size(), view->misfits_px.size());
        for (std::size_t i = 0; i < count; ++i) {
            misfits.push_back(
                {photo, view->corners[i].index, view->corners[i].pixel, view->misfits_px[i]});
        }
    }
    std::stable_sort(misfits.begin(), misfits.end(), [](const Misfit& a, const Misfit& b) {
        return a.off_px.squaredNorm() > b.off_px.squaredNorm();
    });
    return misfits;
}

MisfitScale misfit_scale(const PhoneCheck& check) {
    const auto misfits = misfits_of(check);
    double squares = 0;
    for (const auto& misfit : misfits) {
        squares += misfit.off_px.squaredNorm();
    }
    const double usual =
        misfits.empty() ? 0 : std::sqrt(squares / static_cast<double>(misfits.size()));
    MisfitScale scale;
    scale.bar_px = usual > 0 ? tick_step(5 * 2 * usual) : 1;
    scale.enlarged = bar_long / scale.bar_px / Frame(check).unit;
    scale.longest_px = longest / bar_long * scale.bar_px;
    scale.longer = static_cast<std::size_t>(std::count_if(
        misfits.begin(), misfits.end(),
        [&](const Misfit& misfit) { return misfit.off_px.norm() > scale.longest_px; }));
    return scale;
}

std::string misfits_svg(const PhoneCheck& check) {
    const Frame frame(check);
    const MisfitScale scale = misfit_scale(check);
    FinePath lines;
    std::string rings;
    for (const auto& misfit : misfits_of(check)) {
        const Eigen::Vector2d from = frame(misfit.at_px);
        const double size_px = misfit.off_px.norm();
        const double drawn =
            bar_long / scale.bar_px * (size_px > scale.longest_px ? scale.longest_px / size_px : 1);
        lines.move(from);
        lines.line(from + drawn * misfit.off_px);
        if (size_px > scale.longest_px) {
            rings += fmt::format(R"(<circle cx="{:.1f}" cy="{:.1f}" r="4" fill="none" stroke="{}" )"
                                 R"(stroke-width="1.5"/>)",
                                 from.x(), from.y(), ink);
        }
    }
    const double y = frame.bottom() + 34;
    std::string body =
        frame.outline() + frame.words() + lines.drawn("#1b4f8f", 0.8) + rings +
        line_at(frame.left, y, frame.left + bar_long, y, 3) +
        text_at(frame.left + bar_long + 6, y + 4, fmt::format("{:g} px", scale.bar_px),
                {13, "start", true}) +
        text_at(frame.left + frame.width, y + 4,
                fmt::format("drawn {:.0f} times enlarged", scale.enlarged), {13, "end"});
    return picture(static_cast<int>(wide), static_cast<int>(frame.total()),
                   "how far each corner lies off, enlarged", body);
}

std::string pointing_svg(const PhoneCheck& check) {
    const Frame frame(check);
    const Eigen::MatrixXd map = 2 * pointing_map_deg(check, map_columns, map_rows);
    const auto steps = map_steps(map);
    std::string fields, numbers;
    for (int row = 0; row < map_rows; ++row) {
        for (int column = 0; column < map_columns; ++column) {
            const Field field = field_of(frame, row, column, map_rows, map_columns);
            const double value = map(row, column);
            if (!std::isfinite(value)) {
                fields += hatched(field);
                continue;
            }
            const std::size_t shade = shade_of(value, steps);
            fields += filled(field, shades[shade]);
            numbers += number_in(field, value, shade);
        }
    }
    std::vector<Eigen::Vector2d> seen;
    for (const auto& misfit : misfits_of(check)) {
        seen.push_back(frame(misfit.at_px));
    }
    const std::string body = fields + frame.outline() + frame.words() +
                             closed_path(outline_of(seen), "#fff", 4, "") +
                             closed_path(outline_of(seen), ink, 2, "7 4") + numbers +
                             map_legend(steps, frame.bottom() + 8);
    return picture(static_cast<int>(wide), static_cast<int>(frame.total()),
                   "give or take of where the phone points, in degrees, over the picture", body);
}

std::string lens_share_svg(const PhoneVerdict& verdict, Axis axis) {
    const bool yaw = axis == Axis::yaw;
    const double lens = 2 * (yaw ? verdict.from_lens.yaw_deg : verdict.from_lens.pitch_deg);
    const double whole = 2 * (yaw ? verdict.aim.yaw_deg : verdict.aim.pitch_deg);
    const double limit = 2 * (yaw ? verdict.limit.yaw_deg : verdict.limit.pitch_deg);
    const double highest = std::max({lens, whole, limit});
    const Scale x{0, highest, 2, 290};
    const bool at_right = x(limit) > 180;
    const auto bar = [&](double y, double value, const char* colour, const char* words) {
        return fmt::format(
                   R"(<rect x="2" y="{:.1f}" width="{:.1f}" height="18" fill="{}" stroke="{}" )"
                   R"(stroke-width="1.5"/>)",
                   y, x(value) - 2, colour, ink) +
               text_at(x(value) + 6, y + 14, fine_words(value), {13, "start", true}) +
               text_at(2, y - 5, words, {13});
    };
    const std::string body =
        bar(36, lens, "#1b4f8f", "the lens alone") +
        bar(82, whole, "#fff", "a whole measurement in this bay") +
        line_at(x(limit), 18, x(limit), 60, 3) +
        text_at(x(limit) + (at_right ? 2 : -2), 13, "limit of the lens " + fine_words(limit),
                {13, at_right ? "end" : "start", true});
    return picture(360, 108,
                   yaw ? "the lens's share of the side-to-side give or take, in degrees"
                       : "the lens's share of the up-down give or take, in degrees",
                   body);
}

}  // namespace squaresight
