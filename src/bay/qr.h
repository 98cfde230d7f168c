#pragma once
#include <string>

namespace squaresight::bay {

/// A QR code (ISO/IEC 18004, by libqrencode, error correction M) of a text as SVG, black on white
/// with its quiet zone of four modules. `title` is read out in its place.
std::string qr_svg(const std::string& text, const std::string& title);

/// The same for a terminal: lines of half blocks, black on white by its own escape sequences
/// whatever the terminal's colours, with the quiet zone.
std::string qr_blocks(const std::string& text);

}  // namespace squaresight::bay
