#pragma once
#include <string>

/// What every page of the bay links to. Internal to `bay`.
namespace squaresight::bay {

/// The reports' style, and what the bay page adds: large targets, dark and light.
const std::string& style_sheet();

/// Photos in pieces that go on after a break of the network, and pages that look again by
/// themselves. Every page works without it.
extern const char* const page_script;
extern const char* const page_icon;  ///< SVG

}  // namespace squaresight::bay
