#include "target/sheets.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "units/error.h"

namespace squaresight {
namespace {

/// Through whole tenths of a millimetre, so that 24 in is written as 609.6 mm.
SheetSize inches(const char* name, double short_in, double long_in) {
    const double tenths_per_inch = 254;
    return {name, short_in * tenths_per_inch / 10, long_in * tenths_per_inch / 10};
}

/// "arch-d", "ARCH D" and "archD" are one name.
std::string folded(const std::string& name) {
    std::string text;
    for (const char c : name) {
        if (std::isalnum(static_cast<unsigned char>(c)) != 0) {
            text += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
        }
    }
    return text;
}

std::string without_trade_name(const std::string& name) {
    const std::pair<const char*, const char*> trade_names[] = {
        {"LETTER", "ANSIA"}, {"TABLOID", "ANSIB"}, {"24X36", "ARCHD"}, {"24X36IN", "ARCHD"}};
    for (const auto& [trade, standard] : trade_names) {
        if (name == trade) {
            return standard;
        }
    }
    return name;
}

}  // namespace

const std::vector<SheetSize>& sheet_sizes() {
    static const std::vector<SheetSize> all{
        {"A0", 841, 1189},        {"A1", 594, 841},          {"A2", 420, 594},
        {"A3", 297, 420},         {"A4", 210, 297},          {"B0", 1000, 1414},
        {"B1", 707, 1000},        {"B2", 500, 707},          {"B3", 353, 500},
        {"B4", 250, 353},         inches("ANSI A", 8.5, 11), inches("ANSI B", 11, 17),
        inches("ANSI C", 17, 22), inches("ANSI D", 22, 34),  inches("ANSI E", 34, 44),
        inches("ARCH A", 9, 12),  inches("ARCH B", 12, 18),  inches("ARCH C", 18, 24),
        inches("ARCH D", 24, 36), inches("ARCH E", 36, 48),  inches("ARCH E1", 30, 42)};
    return all;
}

SheetSize sheet_size(const std::string& name, const std::string& where) {
    const std::string wanted = without_trade_name(folded(name));
    std::string known;
    for (const auto& sheet : sheet_sizes()) {
        if (folded(sheet.name) == wanted) {
            return sheet;
        }
        known += (known.empty() ? "" : ", ") + sheet.name;
    }
    throw InputError(where, fmt::format("'{}' is no known sheet", name), "name one of: " + known);
}

std::string sheet_name(double width_mm, double height_mm) {
    for (const auto& sheet : sheet_sizes()) {
        if (std::abs(std::min(width_mm, height_mm) - sheet.short_mm) < 0.1 &&
            std::abs(std::max(width_mm, height_mm) - sheet.long_mm) < 0.1) {
            return sheet.name;
        }
    }
    return {};
}

}  // namespace squaresight
