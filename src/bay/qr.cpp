#include "bay/qr.h"

#include <fmt/format.h>
#include <qrencode.h>

#include <memory>
#include <stdexcept>

#include "report/figures.h"

namespace squaresight::bay {
namespace {

/// The modules of a code with its quiet zone.
class Modules {
  public:
    explicit Modules(const std::string& text)
        : code_(QRcode_encodeString(text.c_str(), 0, QR_ECLEVEL_M, QR_MODE_8, 1), QRcode_free) {
        if (!code_) {
            throw std::runtime_error("the text is too long for a QR code");
        }
    }

    int side() const { return code_->width + 2 * quiet; }
    bool is_dark(int row, int column) const {
        const int r = row - quiet, c = column - quiet;
        const bool inside = r >= 0 && c >= 0 && r < code_->width && c < code_->width;
        return inside && (code_->data[r * code_->width + c] & 1) != 0;
    }

  private:
    static constexpr int quiet = 4;
    std::unique_ptr<QRcode, decltype(&QRcode_free)> code_;
};

}  // namespace

std::string qr_svg(const std::string& text, const std::string& title) {
    const Modules modules(text);
    std::string dark;
    for (int row = 0; row < modules.side(); ++row) {
        for (int column = 0; column < modules.side(); ++column) {
            if (modules.is_dark(row, column)) {
                dark += fmt::format("M{} {}h1v1h-1z", column, row);
            }
        }
    }
    return fmt::format(
        R"(<svg viewBox="0 0 {0} {0}" role="img" shape-rendering="crispEdges"><title>{1}</title>)"
        R"(<rect width="{0}" height="{0}" fill="#fff"/><path d="{2}" fill="#000"/></svg>)",
        modules.side(), escaped(title), dark);
}

std::string qr_blocks(const std::string& text) {
    const Modules modules(text);
    std::string lines;
    for (int row = 0; row < modules.side(); row += 2) {
        lines += "\x1b[38;5;16;48;5;231m";
        for (int column = 0; column < modules.side(); ++column) {
            const bool upper = modules.is_dark(row, column);
            const bool lower = modules.is_dark(row + 1, column);
            lines += upper && lower ? "\u2588" : upper ? "\u2580" : lower ? "\u2584" : " ";
        }
        lines += "\x1b[0m\n";
    }
    return lines;
}

}  // namespace squaresight::bay
