#include "job/corners_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <string_view>

#include "units/entry.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

constexpr std::string_view schema = "squaresight/corners/1";
constexpr std::string_view ending = ".corners.yaml";
constexpr std::uintmax_t largest_bytes = 4 << 20;
constexpr double least_variance_px2 = 1e-8;
constexpr double largest_variance_px2 = 1e6;

/// Index, x, y, and the three numbers of the covariance.
using Row = std::array<double, 6>;

/// The list under `corners:`, which is the bulk of the file: read here and not by the YAML parser,
/// which takes longer over it than everything else in a job.
class Rows {
  public:
    Rows(const std::filesystem::path& file, std::string_view text, int line)
        : file_(file), rest_(text), line_(line) {}

    /// The next row; nothing at the end of the list.
    std::optional<Row> next() {
        if (first_) {
            first_ = false;
            in_brackets_ = take('[');
        } else if (in_brackets_ && !take(',')) {
            return at_end();
        }
        if (in_brackets_ ? peek() == ']' : peek() == '\0') {
            return at_end();
        }
        if (!in_brackets_) {
            expect('-');
        }
        return row();
    }

    [[noreturn]] void fail(const std::string& wrong, const std::string& where = "") const {
        throw InputError(
            fmt::format("{}:{}: corners{}", file_.string(), line_, where), wrong,
            "write each corner as [index, x, y, sxx, sxy, syy], in pixels and square pixels");
    }

  private:
    char peek() {
        while (!rest_.empty()) {
            const char c = rest_.front();
            if (c == '#') {
                rest_.remove_prefix(std::min(rest_.find('\n'), rest_.size()));
            } else if (c == ' ' || c == '\t' || c == '\r' || c == '\n') {
                line_ += c == '\n' ? 1 : 0;
                rest_.remove_prefix(1);
            } else {
                return c;
            }
        }
        return '\0';
    }

    bool take(char wanted) {
        if (peek() != wanted) {
            return false;
        }
        rest_.remove_prefix(1);
        return true;
    }

    void expect(char wanted) {
        if (!take(wanted)) {
            fail(peek() == '\0' ? std::string("ends too early: was the file copied completely?")
                                : fmt::format("has '{}' where '{}' is needed", peek(), wanted));
        }
    }

    std::optional<Row> at_end() {
        if (in_brackets_) {
            expect(']');
        }
        if (peek() != '\0') {
            fail("is followed by more; the corners stand last in the file");
        }
        return std::nullopt;
    }

    Row row() {
        Row row{};
        for (std::size_t i = 0; i < row.size(); ++i) {
            expect(i == 0 ? '[' : ',');
            row[i] = number();
        }
        expect(']');
        return row;
    }

    double number() {
        peek();
        double value = 0;
        const auto [end, error] = std::from_chars(rest_.data(), rest_.data() + rest_.size(), value);
        if (error != std::errc{} || !std::isfinite(value)) {
            std::string found(
                rest_.substr(0, std::min<std::size_t>(rest_.find_first_of(",]"), 20)));
            std::replace_if(
                found.begin(), found.end(), [](char c) { return c < 0x20 || c == 0x7f; }, '?');
            fail(fmt::format("has '{}' in place of a number", found));
        }
        rest_.remove_prefix(static_cast<std::size_t>(end - rest_.data()));
        return value;
    }

    std::filesystem::path file_;
    std::string_view rest_;
    int line_;
    bool first_ = true;
    bool in_brackets_ = false;
};

Corner checked_corner(const Row& row, const Rows& rows, const ReducedPhoto& photo,
                      const Pattern& pattern) {
    const auto [index, x, y, sxx, sxy, syy] = row;
    const std::string where = fmt::format("[{:g}]", index);
    if (std::floor(index) != index || index < 0 || index >= pattern.corner_count()) {
        rows.fail(fmt::format("is no corner of this board, which has 0 to {}",
                              pattern.corner_count() - 1),
                  where);
    }
    if (x < -0.5 || y < -0.5 || x > photo.width_px - 0.5 || y > photo.height_px - 0.5) {
        rows.fail("lies outside the picture", where);
    }
    const bool usual =
        std::min(sxx, syy) >= least_variance_px2 && std::max(sxx, syy) <= largest_variance_px2;
    if (!usual || sxy * sxy >= sxx * syy * (1 - 1e-9)) {
        rows.fail("has no usable covariance (positive definite, in square pixels)", where);
    }
    Corner corner{static_cast<int>(index), {x, y}, {}};
    corner.covariance_px2 << sxx, sxy, sxy, syy;
    return corner;
}

std::vector<Corner> read_corners(Rows rows, const ReducedPhoto& photo, const Pattern& pattern) {
    std::vector<Corner> corners;
    std::vector<bool> seen(static_cast<std::size_t>(pattern.corner_count()), false);
    while (const auto row = rows.next()) {
        corners.push_back(checked_corner(*row, rows, photo, pattern));
        const auto index = static_cast<std::size_t>(corners.back().index);
        if (seen[index]) {
            rows.fail("stands here twice", fmt::format("[{}]", index));
        }
        seen[index] = true;
    }
    std::sort(corners.begin(), corners.end(),
              [](const Corner& a, const Corner& b) { return a.index < b.index; });
    return corners;
}

std::string optional_text(const Entry& entry, std::string_view key) {
    const auto found = entry.find(key);
    return found ? found->text() : "";
}

CameraIdentity read_identity(const Entry& entry) {
    entry.expect_keys({"make", "model", "lens", "focal_length", "focal_length_35mm"});
    CameraIdentity identity;
    identity.make = optional_text(entry, "make");
    identity.model = optional_text(entry, "model");
    identity.lens = optional_text(entry, "lens");
    if (const auto focal = entry.find("focal_length")) {
        identity.focal_length_mm = focal->length_mm(0.1, 1000);
    }
    if (const auto equivalent = entry.find("focal_length_35mm")) {
        identity.focal_length_35mm_mm = equivalent->length_mm(1, 10000);
    }
    return identity;
}

void read_facts(const Entry& root, PhotoFacts& facts) {
    if (const auto camera = root.find("camera")) {
        facts.identity = read_identity(*camera);
    }
    if (const auto orientation = root.find("orientation")) {
        facts.orientation = orientation->whole(1, 8);
    }
    if (const auto zoom = root.find("digital_zoom")) {
        facts.digital_zoom = zoom->number(0.01, 1000);
    }
    facts.taken_at = optional_text(root, "taken_at");
    if (const auto offset = root.find("utc_offset_minutes")) {
        facts.utc_offset_min = offset->whole(-24 * 60, 24 * 60);
    }
    if (const auto stated = root.find("stated_size")) {
        stated->expect_keys({"width", "height"});
        facts.stated_width_px = stated->at("width").whole(1, 1000000);
        facts.stated_height_px = stated->at("height").whole(1, 1000000);
    }
    facts.has_metadata = root.has("camera") || root.has("orientation") || root.has("taken_at") ||
                         root.has("digital_zoom") || root.has("stated_size");
}

std::string read_digest(const Entry& root, const std::string& bytes) {
    const auto given = root.find("digest");
    if (!given) {
        return sha256_hex(bytes);
    }
    std::string digest = given->text();
    if (digest.size() != 64 || digest.find_first_not_of("0123456789abcdef") != std::string::npos) {
        given->fail("is no SHA-256 digest", "give its 64 hexadecimal digits, or leave it out");
    }
    return digest;
}

/// Where the line "corners:" begins; the end of the text where there is none.
std::size_t corners_line(const std::string& text) {
    constexpr std::string_view key = "corners:";
    const std::size_t at = text.compare(0, key.size(), key) == 0 ? 0 : text.find("\ncorners:");
    return at == std::string::npos ? text.size() : at + (at == 0 ? 0 : 1);
}

}  // namespace

bool is_corners_file(const std::filesystem::path& file) { return file.string().ends_with(ending); }

ReducedPhoto load_corners(const std::filesystem::path& file, const Pattern& pattern) {
    const std::string bytes = read_file(file, largest_bytes);
    const std::size_t corners_at = corners_line(bytes);
    const Entry root = Entry::parse(bytes.substr(0, corners_at), file, schema);
    root.expect_keys({"schema", "image", "camera", "orientation", "taken_at", "utc_offset_minutes",
                      "digital_zoom", "stated_size", "digest"});
    if (corners_at == bytes.size()) {
        root.fail("has no 'corners'", "add 'corners:' as the last key of the file");
    }
    ReducedPhoto photo;
    const Entry image = root.at("image");
    image.expect_keys({"width", "height"});
    photo.width_px = image.at("width").whole(16, 100000);
    photo.height_px = image.at("height").whole(16, 100000);
    read_facts(root, photo.facts);
    photo.digest = read_digest(root, bytes);
    const auto line = 1 + std::count(bytes.begin(), bytes.begin() + corners_at, '\n');
    const auto list =
        std::string_view(bytes).substr(corners_at + std::string_view("corners:").size());
    photo.corners = read_corners(Rows(file, list, static_cast<int>(line)), photo, pattern);
    return photo;
}

std::string corners_yaml(const ReducedPhoto& photo) {
    const PhotoFacts& facts = photo.facts;
    std::string text = fmt::format("schema: {}\nimage: {{width: {}, height: {}}}\n", schema,
                                   photo.width_px, photo.height_px);
    std::string identity;
    const auto add = [&](const char* key, const std::string& value) {
        if (!value.empty()) {
            identity += fmt::format("  {}: {}\n", key, value);
        }
    };
    add("make", facts.identity.make.empty() ? "" : yaml_text(facts.identity.make));
    add("model", facts.identity.model.empty() ? "" : yaml_text(facts.identity.model));
    add("lens", facts.identity.lens.empty() ? "" : yaml_text(facts.identity.lens));
    if (facts.identity.focal_length_mm) {
        add("focal_length", fmt::format("{} mm", *facts.identity.focal_length_mm));
    }
    if (facts.identity.focal_length_35mm_mm) {
        add("focal_length_35mm", fmt::format("{} mm", *facts.identity.focal_length_35mm_mm));
    }
    if (!identity.empty()) {
        text += "camera:\n" + identity;
    }
    if (facts.orientation) {
        text += fmt::format("orientation: {}\n", *facts.orientation);
    }
    if (!facts.taken_at.empty()) {
        text += fmt::format("taken_at: {}\n", yaml_text(facts.taken_at));
    }
    if (facts.utc_offset_min) {
        text += fmt::format("utc_offset_minutes: {}\n", *facts.utc_offset_min);
    }
    if (facts.digital_zoom) {
        text += fmt::format("digital_zoom: {}\n", *facts.digital_zoom);
    }
    if (facts.stated_width_px && facts.stated_height_px) {
        text += fmt::format("stated_size: {{width: {}, height: {}}}\n", *facts.stated_width_px,
                            *facts.stated_height_px);
    }
    if (!photo.digest.empty()) {
        text += fmt::format("digest: {}\n", yaml_text(photo.digest));
    }
    text += photo.corners.empty() ? "corners: []\n" : "corners:  # index, x, y, sxx, sxy, syy\n";
    for (const auto& corner : photo.corners) {
        fmt::format_to(std::back_inserter(text), "  - [{}, {}, {}, {}, {}, {}]\n", corner.index,
                       corner.pixel.x(), corner.pixel.y(), corner.covariance_px2(0, 0),
                       corner.covariance_px2(0, 1), corner.covariance_px2(1, 1));
    }
    return text;
}

}  // namespace squaresight
