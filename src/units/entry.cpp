#include "units/entry.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <yaml-cpp/yaml.h>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <stdexcept>

#include "units/error.h"
#include "units/files.h"

namespace squaresight {

struct Entry::Source {
    std::filesystem::path file;
};

namespace {

constexpr std::uintmax_t largest_file_bytes = 1 << 20;

void refuse_binary(const std::filesystem::path& file, const std::string& bytes) {
    const bool binary = std::any_of(bytes.begin(), bytes.end(), [](char c) {
        const auto byte = static_cast<unsigned char>(c);
        return byte < 0x20 && byte != '\n' && byte != '\r' && byte != '\t';
    });
    if (binary) {
        throw InputError(file.string(), "is not a text file",
                         "name a YAML file; is this a photo or a PDF?");
    }
}

/// A key as part of a message: a stray one may be long or hold line breaks.
std::string on_one_line(std::string text) {
    std::replace_if(
        text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20; }, ' ');
    return text.size() <= 80 ? text : text.substr(0, 77) + "...";
}

}  // namespace

Entry::Entry(std::shared_ptr<const Source> source, const YAML::Node& node, std::string key,
             int line)
    : source_(std::move(source)),
      node_(std::make_shared<const YAML::Node>(node)),
      key_(std::move(key)),
      line_(line) {}

Entry Entry::load(const std::filesystem::path& file, std::string_view schema) {
    return parse(read_file(file, largest_file_bytes), file, schema);
}

Entry Entry::parse(const std::string& bytes, const std::filesystem::path& file,
                   std::string_view schema) {
    refuse_binary(file, bytes);
    std::vector<YAML::Node> documents;
    try {
        documents = YAML::LoadAll(bytes);
    } catch (const YAML::Exception& error) {
        throw InputError(fmt::format("{}:{}", file.string(), error.mark.line + 1),
                         fmt::format("is not valid YAML ({})", error.msg),
                         "check indentation (spaces, no tabs), colons and quotes on this line");
    }
    if (documents.size() > 1) {
        throw InputError(file.string(), "holds more than one YAML document",
                         "keep one and take out the lines '---' between them");
    }
    const YAML::Node root = documents.empty() ? YAML::Node() : documents.front();
    Entry entry(std::make_shared<const Source>(Source{file}), root, "", 1);
    if (!root.IsMap()) {
        entry.fail("holds no keys",
                   fmt::format("a file of this kind begins with 'schema: {}'", schema));
    }
    if (!entry.has("schema")) {
        entry.fail("has no 'schema'", fmt::format("begin the file with 'schema: {}'", schema));
    }
    const std::string found = entry.at("schema").text();
    if (found != schema) {
        entry.at("schema").fail(fmt::format("is '{}'", found),
                                fmt::format("a file with 'schema: {}' is needed here", schema));
    }
    return entry;
}

const Entry& Entry::expect_keys(const std::vector<std::string_view>& known) const {
    if (!node_->IsMap()) {
        fail("needs keys under it", fmt::format("write some of: {}", fmt::join(known, ", ")));
    }
    std::vector<std::string> seen;
    for (const auto& [name, entry] : items()) {
        if (std::find(known.begin(), known.end(), name) == known.end()) {
            const std::string near = nearest_name(name, known);
            entry.fail("is not a key that is known here",
                       near.empty() ? fmt::format("known are: {}", fmt::join(known, ", "))
                                    : fmt::format("did you mean '{}'?", near));
        }
        if (std::find(seen.begin(), seen.end(), name) != seen.end()) {
            entry.fail("stands here twice", "keep one of the two");
        }
        seen.push_back(name);
    }
    return *this;
}

bool Entry::is_map() const { return node_->IsMap(); }
bool Entry::is_list() const { return node_->IsSequence(); }

bool Entry::is_empty_list() const { return is_list() && node_->size() == 0; }

bool Entry::has(std::string_view key) const { return find(key).has_value(); }

std::optional<Entry> Entry::find(std::string_view key) const {
    if (!node_->IsMap()) {
        return std::nullopt;
    }
    for (const auto& [name, entry] : items()) {
        if (name == key) {
            return entry;
        }
    }
    return std::nullopt;
}

Entry Entry::at(std::string_view key) const {
    const auto entry = find(key);
    if (!entry) {
        fail(fmt::format("has no '{}'", key), fmt::format("add '{}: ...'", key));
    }
    return *entry;
}

std::vector<Entry> Entry::list() const {
    if (!node_->IsSequence()) {
        fail("is not a list", "begin each item with '- ' or write [a, b]");
    }
    if (node_->size() == 0) {
        fail("is an empty list", "add at least one item");
    }
    std::vector<Entry> entries;
    std::size_t index = 0;
    for (const auto& node : *node_) {
        entries.push_back(
            Entry(source_, node, fmt::format("{}[{}]", key_, ++index), node.Mark().line + 1));
    }
    return entries;
}

std::vector<std::pair<std::string, Entry>> Entry::items() const {
    std::vector<std::pair<std::string, Entry>> found;
    if (!node_->IsMap()) {
        return found;
    }
    for (const auto& pair : *node_) {
        if (!pair.first.IsScalar()) {
            fail("has a key that is not a word", "write keys as plain words");
        }
        const std::string name = pair.first.Scalar();
        found.emplace_back(name,
                           Entry(source_, pair.second, key_.empty() ? name : key_ + "." + name,
                                 pair.first.Mark().line + 1));
    }
    return found;
}

std::string Entry::text() const {
    if (!node_->IsScalar() || node_->Scalar().empty()) {
        fail("has no value", "write a value after the colon");
    }
    std::string value = node_->Scalar();
    if (value.size() > 500 || std::any_of(value.begin(), value.end(), [](char c) {
            return static_cast<unsigned char>(c) < 0x20;
        })) {
        fail("is not a short text on one line", "write at most 500 characters on one line");
    }
    return value;
}

std::string Entry::word(const std::vector<std::string_view>& allowed) const {
    std::string value = text();
    if (std::find(allowed.begin(), allowed.end(), value) == allowed.end()) {
        const std::string near = nearest_name(value, allowed);
        fail(fmt::format("is '{}'", value),
             near.empty()
                 ? fmt::format("write one of: {}", fmt::join(allowed, ", "))
                 : fmt::format("did you mean '{}'? Allowed: {}", near, fmt::join(allowed, ", ")));
    }
    return value;
}

bool Entry::yes_no() const {
    const std::string value = text();
    if (value != "yes" && value != "no") {
        fail(fmt::format("is '{}'", value), "write one of: yes, no");
    }
    return value == "yes";
}

double Entry::number(double low, double high) const {
    const std::string value = text();
    double number = 0;
    const char* begin = value.data() + (value.front() == '+' ? 1 : 0);
    const char* end = value.data() + value.size();
    const auto [stop, error] = std::from_chars(begin, end, number);
    if (error != std::errc{} || stop != end || std::isnan(number)) {
        fail(fmt::format("'{}' is not a number", value), "write plain digits, without a unit");
    }
    if (!std::isfinite(number) || number < low || number > high) {
        fail(fmt::format("{} is out of range", value),
             fmt::format("write a number from {:g} to {:g}", low, high));
    }
    return number;
}

int Entry::whole(int low, int high) const {
    const double value = number(low, high);
    if (std::floor(value) != value) {
        fail(fmt::format("'{}' is not a whole number", text()),
             fmt::format("write a whole number from {} to {}", low, high));
    }
    return static_cast<int>(value);
}

Quantity Entry::quantity(Dimension dimension, double low, double high) const {
    const std::string value = text();
    Quantity quantity;
    try {
        quantity = parse_quantity(value, dimension);
    } catch (const std::invalid_argument& error) {
        throw InputError(where() + ": " + error.what());
    }
    const auto shown = [&](double bound) {
        return dimension == Dimension::angle ? fmt::format("{:g} deg", bound)
               : quantity.in_inches          ? feet_inches_text(bound)
                                             : fmt::format("{:g} mm", bound);
    };
    if (quantity.value < low || quantity.value > high) {
        fail(fmt::format("'{}' is out of range", value),
             fmt::format("a value from {} to {} is expected; check digits and unit", shown(low),
                         shown(high)));
    }
    if (quantity.limit && *quantity.limit > high - low) {
        fail(fmt::format("'{}' has limits wider than any possible value", value),
             "check the digits and the unit after +/-");
    }
    return quantity;
}

double Entry::length_mm(double low, double high) const {
    const Quantity value = quantity(Dimension::length, low, high);
    if (value.limit) {
        fail("takes no limits", "leave out '+/-' here");
    }
    return value.value;
}

double Entry::angle_deg(double low, double high) const {
    const Quantity value = quantity(Dimension::angle, low, high);
    if (value.limit) {
        fail("takes no limits", "leave out '+/-' here");
    }
    return value.value;
}

std::string Entry::date() const {
    std::string value = text();
    if (!is_date(value)) {
        fail(fmt::format("'{}' is not a date", value), "write the day as 2026-03-05");
    }
    return value;
}

std::filesystem::path Entry::path() const {
    return (source_->file.parent_path() / text()).lexically_normal();
}

const std::filesystem::path& Entry::file() const { return source_->file; }

std::string Entry::where() const {
    const std::string place = fmt::format("{}:{}", source_->file.string(), line());
    return key_.empty() ? place : place + ": " + on_one_line(key_);
}

void Entry::fail(const std::string& wrong, const std::string& next) const {
    throw InputError(where(), wrong, next);
}

bool is_date(const std::string& text) {
    int year = 0, month = 0, day = 0, used = 0;
    if (text.size() != 10 ||
        std::sscanf(text.c_str(), "%4d-%2d-%2d%n", &year, &month, &day, &used) != 3) {
        return false;
    }
    using namespace std::chrono;
    const year_month_day written{std::chrono::year(year),
                                 std::chrono::month(static_cast<unsigned>(month)),
                                 std::chrono::day(static_cast<unsigned>(day))};
    return used == 10 && written.ok() && year >= 1900;
}

std::string yaml_text(std::string_view text) {
    const auto is_letter = [](char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0; };
    const auto is_plain = [](char c) {
        return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == ' ' || c == '-' ||
               c == '_' || c == '.';
    };
    if (!text.empty() && is_letter(text.front()) && text.back() != ' ' && text != "null" &&
        text != "Null" && text != "NULL" && std::all_of(text.begin(), text.end(), is_plain)) {
        return std::string(text);
    }
    std::string quoted = "'";
    for (const char c : text) {
        quoted += c == '\'' ? "''" : std::string(1, c);
    }
    return quoted + "'";
}

std::string yaml_number(double value) { return fmt::format("{}", value); }

}  // namespace squaresight
