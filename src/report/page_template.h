#pragma once

namespace squaresight {

/// The report's page as a mustache template; {{name}} is escaped, {{{name}}} holds our own SVG.
extern const char* const page_template;

}  // namespace squaresight
