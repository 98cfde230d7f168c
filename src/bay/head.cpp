#include "bay/head.h"

#include <algorithm>
#include <cctype>
#include <vector>

namespace squaresight::bay {
namespace {

constexpr std::string_view line_end = "\r\n";

bool is_letter_or_digit(char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0; }

/// RFC 9110, 5.6.2.
bool is_token(std::string_view text) {
    constexpr std::string_view signs = "!#$%&'*+-.^_`|~";
    return !text.empty() && std::all_of(text.begin(), text.end(), [&](char c) {
        return is_letter_or_digit(c) || signs.find(c) != std::string_view::npos;
    });
}

bool is_visible(char c) { return c > 32 && c < 127; }

bool is_target(std::string_view text) {
    return !text.empty() && text[0] == '/' && std::all_of(text.begin(), text.end(), is_visible);
}

bool is_request_line(std::string_view line) {
    const auto first = line.find(' ');
    const auto last = line.rfind(' ');
    if (first == std::string_view::npos || first == last) {
        return false;
    }
    const auto version = line.substr(last + 1);
    return is_token(line.substr(0, first)) && is_target(line.substr(first + 1, last - first - 1)) &&
           (version == "HTTP/1.1" || version == "HTTP/1.0");
}

bool is_value(std::string_view text) {
    return std::all_of(text.begin(), text.end(), [](char c) {
        const auto byte = static_cast<unsigned char>(c);
        return byte == '\t' || (byte >= 32 && byte != 127);
    });
}

bool is_field(std::string_view line) {
    const auto colon = line.find(':');
    return colon != std::string_view::npos && is_token(line.substr(0, colon)) &&
           is_value(line.substr(colon + 1));
}

/// The lines of a head, without their ends and without the empty last one.
std::vector<std::string_view> lines_of(std::string_view head) {
    std::vector<std::string_view> lines;
    while (!head.empty()) {
        const auto end = head.find(line_end);
        if (end == 0 || end == std::string_view::npos) {
            break;
        }
        lines.push_back(head.substr(0, end));
        head.remove_prefix(end + line_end.size());
    }
    return lines;
}

bool is_named(std::string_view line, std::string_view name) {
    return line.size() > name.size() && line[name.size()] == ':' &&
           std::equal(name.begin(), name.end(), line.begin(), [](char wanted, char c) {
               return wanted == static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
           });
}

}  // namespace

bool has_bare_line_end(std::string_view bytes) {
    for (auto at = bytes.find('\n'); at != std::string_view::npos; at = bytes.find('\n', at + 1)) {
        if (at == 0 || bytes[at - 1] != '\r') {
            return true;
        }
    }
    return false;
}

bool is_plain_head(std::string_view head) {
    const auto lines = lines_of(head);
    return !has_bare_line_end(head) && !lines.empty() && is_request_line(lines.front()) &&
           std::all_of(lines.begin() + 1, lines.end(), is_field);
}

std::string without_field(std::string_view head, std::string_view name) {
    std::string kept;
    for (const auto line : lines_of(head)) {
        if (!is_named(line, name)) {
            kept.append(line).append(line_end);
        }
    }
    return kept.append(line_end);
}

}  // namespace squaresight::bay
