#include "bay/qr.h"

#include <fmt/format.h>
#include <qrencode.h>

#include <memory>
#include <stdexcept>

#include "report/figures.h"

namespace squaresight::bay {

std::string qr_svg(const std::string& text, const std::string& title) {
    const std::unique_ptr<QRcode, decltype(&QRcode_free)> code(
        QRcode_encodeString(text.c_str(), 0, QR_ECLEVEL_M, QR_MODE_8, 1), QRcode_free);
    if (!code) {
        throw std::runtime_error("the text is too long for a QR code");
    }
    constexpr int quiet = 4;
    std::string dark;
    for (int row = 0; row < code->width; ++row) {
        for (int column = 0; column < code->width; ++column) {
            if ((code->data[row * code->width + column] & 1) != 0) {
                dark += fmt::format("M{} {}h1v1h-1z", column + quiet, row + quiet);
            }
        }
    }
    const int side = code->width + 2 * quiet;
    return fmt::format(
        R"(<svg viewBox="0 0 {0} {0}" role="img" shape-rendering="crispEdges"><title>{1}</title>)"
        R"(<rect width="{0}" height="{0}" fill="#fff"/><path d="{2}" fill="#000"/></svg>)",
        side, escaped(title), dark);
}

}  // namespace squaresight::bay
