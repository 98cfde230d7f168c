#include "bay/form.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

namespace squaresight::bay {
namespace {

constexpr double mm_per_sixteenth = mm_per_inch / 16;
constexpr double longest_mm = 60000;

bool is_control(char c) { return static_cast<unsigned char>(c) < 32 || c == 127; }

/// "1,234" is a thousand to one reader and a decimal to another.
bool looks_like_thousands(const std::string& text) {
    const auto mark = text.find_first_of(",.");
    return mark != std::string::npos && mark > 0 && text[0] != '0' && text.size() - mark == 4;
}

}  // namespace

std::string label_of(const std::string& name) { return name.substr(0, name.find('.')); }

std::string Form::get(const std::string& name) const {
    const auto found = values_.find(name);
    return found == values_.end() ? "" : found->second;
}

std::string Form::text(const std::string& name, std::size_t longest, bool needed) const {
    std::string value = get(name);
    std::erase_if(value, is_control);
    const auto begin = value.find_first_not_of(' ');
    value = begin == std::string::npos
                ? ""
                : value.substr(begin, value.find_last_not_of(' ') - begin + 1);
    if (value.size() > longest) {
        throw FormError(label_of(name), "too_long");
    }
    if (value.empty() && needed) {
        throw FormError(label_of(name), "needed");
    }
    return value;
}

std::string Form::part_text(const std::string& name, const std::string& part) const {
    std::string value = text(name + part, 40, false);
    if (looks_like_thousands(value)) {
        throw FormError(label_of(name), "thousands");
    }
    std::replace(value.begin(), value.end(), ',', '.');
    return value;
}

std::optional<double> Form::number(const std::string& name, const std::string& part,
                                   const char* problem_key) const {
    const std::string value = part_text(name, part);
    if (value.empty()) {
        return std::nullopt;
    }
    double parsed = 0;
    const auto [end, error] = std::from_chars(value.data(), value.data() + value.size(), parsed,
                                              std::chars_format::fixed);
    if (error != std::errc() || end != value.data() + value.size() || !std::isfinite(parsed)) {
        throw FormError(label_of(name), problem_key);
    }
    if (parsed < 0) {
        throw FormError(label_of(name), "out_of_range");
    }
    return parsed;
}

std::optional<double> Form::length_part_mm(const std::string& name, const std::string& part,
                                           double mm_per_unit) const {
    const std::string value = part_text(name, part);
    const bool plain = value.find_first_not_of("0123456789.-") == std::string::npos;
    if (plain) {
        const auto size = number(name, part, "no_length");
        return size ? std::optional(*size * mm_per_unit) : std::nullopt;
    }
    const bool has_unit = value.find_first_not_of("0123456789./ -") != std::string::npos;
    try {
        const Quantity length = has_unit ? parse_quantity(value, Dimension::length)
                                         : Quantity{parse_number(value) * mm_per_unit, {}};
        if (length.limit) {
            throw FormError(label_of(name), "no_length");
        }
        if (length.value < 0) {
            throw FormError(label_of(name), "out_of_range");
        }
        return length.value;
    } catch (const std::invalid_argument&) {
        throw FormError(label_of(name), "no_length");
    }
}

std::optional<double> Form::length_mm(const std::string& name) const {
    const auto mm = length_part_mm(name, ".mm", 1);
    const auto feet_mm = length_part_mm(name, ".ft", 12 * mm_per_inch);
    const auto inches_mm = length_part_mm(name, ".in", mm_per_inch);
    const auto sixteenths = number(name, ".16", "no_length");
    const bool imperial = feet_mm || inches_mm || sixteenths.value_or(0) > 0;
    if (mm && imperial) {
        throw FormError(label_of(name), "two_units");
    }
    if (!mm && !imperial) {
        return std::nullopt;
    }
    if (feet_mm.value_or(0) > 0 && inches_mm.value_or(0) >= 12 * mm_per_inch) {
        throw FormError(label_of(name), "inches_over");
    }
    const double length_mm = mm ? *mm
                                : feet_mm.value_or(0) + inches_mm.value_or(0) +
                                      mm_per_sixteenth * sixteenths.value_or(0);
    if (length_mm > longest_mm) {
        throw FormError(label_of(name), "out_of_range");
    }
    return length_mm;
}

std::optional<double> Form::angle_deg(const std::string& name, double widest_deg) const {
    const auto angle = number(name, ".deg", "no_angle");
    if (angle && *angle > widest_deg) {
        throw FormError(label_of(name), "out_of_range");
    }
    return angle;
}

std::optional<double> Form::with_side(const std::string& name, std::optional<double> size) const {
    const std::string side = get(name + ".side");
    if (!size && !side.empty()) {
        throw FormError(label_of(name), "size_missing");
    }
    if (!size || *size == 0) {
        return size;
    }
    if (side != "plus" && side != "minus") {
        throw FormError(label_of(name), "side_missing");
    }
    return side == "plus" ? *size : -*size;
}

std::optional<double> Form::sided_length_mm(const std::string& name) const {
    return with_side(name, length_mm(name));
}

std::optional<double> Form::sided_angle_deg(const std::string& name) const {
    return with_side(name, angle_deg(name));
}

void Form::put_length(const std::string& name, double length_mm, LengthUnit unit) {
    const double sixteenths = length_mm / mm_per_sixteenth;
    const double whole = std::round(sixteenths);
    if (unit == LengthUnit::mm || std::abs(sixteenths - whole) > 1e-6) {
        set(name + ".mm", fmt::format("{:.9g}", length_mm));
        return;
    }
    const int count = static_cast<int>(whole);
    set(name + ".ft", fmt::format("{}", count / 192));
    set(name + ".in", fmt::format("{}", count % 192 / 16));
    set(name + ".16", fmt::format("{}", count % 16));
}

void Form::put_angle(const std::string& name, double angle_deg) {
    set(name + ".deg", fmt::format("{:.9g}", angle_deg));
}

void Form::put_sided_length(const std::string& name, double length_mm, LengthUnit unit) {
    put_length(name, std::abs(length_mm), unit);
    put_side(name, length_mm);
}

void Form::put_sided_angle(const std::string& name, double angle_deg) {
    put_angle(name, std::abs(angle_deg));
    put_side(name, angle_deg);
}

void Form::put_side(const std::string& name, double signed_size) {
    set(name + ".side", signed_size < 0 ? "minus" : signed_size > 0 ? "plus" : "");
}

}  // namespace squaresight::bay
