#include "bay/pictures.h"

#include <fmt/format.h>

#include <cmath>
#include <map>
#include <regex>

#include "bay/phrases.h"
#include "report/svg.h"

namespace squaresight::bay {
namespace {

using svg::line_at;
using svg::picture;
using svg::text_at;

/// Places in the drawing from above.
constexpr double middle = 180, face = 74, board = 250, board_half = 52, bumper_half = 120;
constexpr double hook_off = 90, point_off = 70, laser = 150;

constexpr const char* asked = "#0b3d91";

std::string box(double x, double y, double width, double height, const char* fill) {
    return fmt::format(R"(<rect x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}" fill="{}"/>)",
                       x, y, width, height, fill);
}

std::string arrowhead(double x, double y, double along_x, double along_y) {
    return fmt::format(R"(<path d="M{:.1f} {:.1f}L{:.1f} {:.1f} {:.1f} {:.1f}z" fill="{}"/>)", x, y,
                       x - 12 * along_x - 6 * along_y, y - 12 * along_y + 6 * along_x,
                       x - 12 * along_x + 6 * along_y, y - 12 * along_y - 6 * along_x, asked);
}

/// What is asked for: a heavy line with heads at both ends.
std::string dimension(double x1, double y1, double x2, double y2) {
    const double length = std::hypot(x2 - x1, y2 - y1);
    const double along_x = (x2 - x1) / length, along_y = (y2 - y1) / length;
    return fmt::format(R"(<path d="M{:.1f} {:.1f}L{:.1f} {:.1f}" stroke="{}" stroke-width="5"/>)",
                       x1, y1, x2, y2, asked) +
           arrowhead(x1, y1, -along_x, -along_y) + arrowhead(x2, y2, along_x, along_y);
}

std::string ring(double x, double y) {
    return fmt::format(
        R"(<circle cx="{:.1f}" cy="{:.1f}" r="6" fill="#fff" stroke="#111" stroke-width="2.5"/>)",
        x, y);
}

class Plan {
  public:
    explicit Plan(Language language) : language_(language) {}

    std::string words(double x, double y, const char* key, const char* anchor = "middle") const {
        return text_at(x, y, message(language_, key), {14, anchor, true});
    }
    std::string sides() const {
        return words(4, 16, "picture_right", "start") + words(356, 16, "picture_left", "end");
    }
    /// Truck with its rails above, mount in its bumper; `mount_off` to the truck's left.
    std::string truck(double mount_off = 0) const {
        return box(middle - 42, 0, 12, 60, "#ccc") + box(middle + 30, 0, 12, 60, "#ccc") +
               box(middle - bumper_half, 56, 2 * bumper_half, 18, "#aaa") +
               box(middle + mount_off - 11, 52, 22, 24, svg::ink);
    }
    std::string line() const {
        return line_at(middle, 0, middle, 292, 2, "7 5") +
               words(middle + 8, 290, "picture_line", "start");
    }
    /// `off` to the truck's left.
    std::string target(double off = 0) const {
        return line_at(middle + off - board_half, board, middle + off + board_half, board, 8) +
               words(middle + off - board_half - 6, board + 20, "target", "end");
    }
    std::string drawn(const std::string& title, const std::string& body) const {
        return picture(360, 300, title, body);
    }
    std::string title(const char* key) const {
        return message(language_, key) + ": " + message(language_, "picture_from_above");
    }

    std::string distance() const {
        return drawn(title("distance"),
                     truck() + line() + target() + sides() +
                         dimension(middle - 34, face + 2, middle - 34, board - 5) +
                         line_at(middle - 44, face, middle - 11, face, 1.5));
    }
    std::string line_base() const {
        return drawn(title("line_base"), truck() + line() + target() + sides() + ring(middle, 8) +
                                             ring(middle, 46) +
                                             dimension(middle + 20, 4, middle + 20, 50) +
                                             line_at(middle + 6, 8, middle + 28, 8, 1.5) +
                                             line_at(middle + 6, 46, middle + 28, 46, 1.5));
    }
    std::string target_left() const {
        constexpr double off = 44;
        return drawn(title("target_left"),
                     truck() + line() + target(off) + sides() +
                         line_at(middle + off, board - 60, middle + off, board, 1.5) +
                         dimension(middle, board - 30, middle + off, board - 30));
    }
    std::string mount_left() const {
        constexpr double off = 44;
        return drawn(title("mount_left"),
                     truck(off) + line() + target() + sides() +
                         line_at(middle + off, face, middle + off, face + 60, 1.5) +
                         dimension(middle, face + 40, middle + off, face + 40));
    }
    /// `from` and `to` are the truck's sides: 1 left, -1 right.
    std::string tape(int from, int to) const {
        const double x = middle + from * hook_off, end = middle + to * board_half;
        return drawn(title("tape_from"), truck() + line() + target() +
                                             box(x - 6, face - 2, 12, 10, svg::ink) +
                                             dimension(x, face + 8, end, board - 5) + sides());
    }
    std::string point() const {
        std::string body = truck() + line() + target() + sides();
        for (const double side : {-1.0, 1.0}) {
            const double x = middle + side * hook_off;
            body += box(x - 6, face - 22, 12, 10, svg::ink) +
                    line_at(x, face - 12, x, face + 46, 1.5) +
                    dimension(middle + side * 2, face + 36, x, face + 36) +
                    line_at(x, face - 17, x + side * 40, face - 17, 1.5) +
                    line_at(middle + side * 11, face + 2, x + side * 40, face + 2, 1.5) +
                    dimension(x + side * 30, face - 17, x + side * 30, face + 2);
        }
        return drawn(title("point"), body);
    }
    std::string points() const {
        std::string body = truck() + line() + target() + sides();
        for (const double side : {-1.0, 1.0}) {
            const double x = middle + side * point_off;
            body += line_at(x, face, x, face + 46, 1.5) +
                    dimension(middle + side * 2, face + 32, x, face + 32);
        }
        return drawn(title("points"), body);
    }
    std::string pass() const {
        std::string body = truck() + target() + sides() +
                           line_at(middle - 150, laser, middle + 150, laser, 3, "12 4") +
                           words(middle, laser + 22, "picture_laser");
        for (const double side : {-1.0, 1.0}) {
            const double x = middle + side * point_off;
            body += dimension(x, face + 1, x, laser - 2);
        }
        return drawn(title("pass"), body);
    }

    /// One line that leans over, and a beam that leans the same way on both sides once it is
    /// turned.
    std::string laser_kinds() const {
        constexpr double line_y = 96, beam_y = 210, lean = 14, reach = 150;
        const auto part = [&](double y, double left_rise, double right_rise, const char* key) {
            return box(middle - 30, y - 18, 60, 14, "#aaa") +
                   line_at(middle, y, middle + reach, y - left_rise, 3, "12 4") +
                   line_at(middle, y, middle - reach, y - right_rise, 3, "12 4") +
                   words(middle, y + 34, key);
        };
        return picture(360, 260, title("laser"),
                       part(line_y, -lean, lean, "picture_one_line") +
                           part(beam_y, -lean, -lean, "picture_turned_beam") + sides());
    }

    // --- from the side: board at the left hand, truck at the right

    std::string side_truck() const {
        return box(282, 104, 16, 60, "#aaa") + box(298, 108, 62, 26, "#ccc") +
               R"(<circle cx="342" cy="180" r="30" fill="#ccc"/>)" +
               box(276, 120, 14, 26, svg::ink) + words(318, 96, "picture_truck");
    }
    std::string side_title(const char* key) const {
        return message(language_, key) + ": " + message(language_, "picture_from_side");
    }
    std::string heights() const {
        return picture(360, 230, side_title("heights"),
                       line_at(0, 212, 360, 212, 3) + side_truck() + line_at(70, 60, 70, 190, 8) +
                           line_at(64, 125, 100, 125, 2) + line_at(240, 133, 276, 133, 2) +
                           dimension(94, 127, 94, 210) + dimension(246, 135, 246, 210) +
                           words(70, 50, "target") + text_at(104, 178, "1", {20, "start", true}) +
                           text_at(234, 182, "2", {20, "end", true}));
    }
    std::string floor_rise() const {
        return picture(360, 230, side_title("floor_rise"),
                       line_at(200, 212, 360, 212, 3) + line_at(0, 212, 200, 212, 1.5, "6 5") +
                           line_at(0, 182, 200, 212, 4) + side_truck() +
                           line_at(60, 46, 60, 186, 8) + dimension(20, 188, 20, 210) +
                           words(70, 40, "target", "start") + words(150, 172, "rises"));
    }
    std::string face_level() const {
        return picture(
            360, 200, side_title("face_level"),
            box(220, 40, 20, 130, "#aaa") + box(240, 60, 110, 40, "#ccc") +
                R"(<path d="M208 66L222 60 222 150 214 152z" fill="#111"/>)" +
                R"(<path d="M190 74L206 68 214 140 198 146z" fill="#fff" stroke="#0b3d91" )"
                R"(stroke-width="5"/>)" +
                line_at(150, 108, 60, 84, 3) + arrowhead(60, 84, -0.966, -0.258) +
                words(20, 70, "nose_up", "start") + words(300, 50, "picture_truck") +
                words(180, 176, "picture_level", "end"));
    }

    std::string leaning() const {
        return picture(360, 230, side_title("target_lean_back"),
                       line_at(0, 212, 360, 212, 3) + side_truck() +
                           line_at(120, 212, 120, 40, 2, "7 5") + line_at(120, 212, 76, 46, 9) +
                           dimension(118, 52, 82, 52) + words(64, 34, "target"));
    }
    std::string tilted() const {
        return picture(
            360, 230,
            message(language_, "target_roll_clockwise") + ": " + message(language_, "clockwise"),
            line_at(0, 212, 360, 212, 3) + line_at(180, 20, 180, 212, 2, "7 5") +
                R"(<path d="M100 60H260V172H100z" fill="none" stroke="#666" stroke-width="2" )"
                R"(stroke-dasharray="7 5"/>)"
                R"(<path d="M112.4 46.9L269.9 74.7 250.4 185 92.9 157.3z" fill="none" )"
                R"(stroke="#111" stroke-width="8"/>)" +
                dimension(269, 52, 262, 84));
    }

  private:
    Language language_;
};

}  // namespace

std::string question_picture(const std::string& name, Language language) {
    static const std::map<std::string, std::string (Plan::*)() const> pictures{
        {"distance", &Plan::distance},
        {"line_base", &Plan::line_base},
        {"target_left", &Plan::target_left},
        {"mount_left", &Plan::mount_left},
        {"heights", &Plan::heights},
        {"floor_rise", &Plan::floor_rise},
        {"point", &Plan::point},
        {"points", &Plan::points},
        {"pass", &Plan::pass},
        {"laser", &Plan::laser_kinds},
        {"face_level", &Plan::face_level},
        {"target_lean_back", &Plan::leaning},
        {"target_roll_clockwise", &Plan::tilted}};
    if (const auto found = pictures.find(name); found != pictures.end()) {
        return (Plan(language).*found->second)();
    }
    if (name.starts_with("tape ")) {
        return Plan(language).tape(name.starts_with("tape left") ? 1 : -1,
                                   name.ends_with("left edge") ? 1 : -1);
    }
    return "";
}

std::string with_words_in(const std::string& svg, Language language) {
    if (language == Language::english) {
        return svg;
    }
    static const std::regex words("(aria-label=\"|>)([^<>\"]+)");
    std::string drawn;
    auto from = svg.begin();
    for (std::sregex_iterator at(svg.begin(), svg.end(), words), end; at != end; ++at) {
        drawn.append(from, (*at)[2].first);
        const std::string label = (*at)[2].str();
        const auto behind_name = label.find(": ") == std::string::npos ? 0 : label.find(": ") + 2;
        drawn +=
            label.substr(0, behind_name) + translated(label.substr(behind_name), language).text;
        from = (*at)[2].second;
    }
    return drawn.append(from, svg.end());
}

}  // namespace squaresight::bay
