#pragma once
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "units/quantity.h"

namespace YAML {
class Node;
}

/// Strict reading of the project's YAML files. Every error is an InputError that names file, line,
/// key, what is wrong and what to do next; unknown keys name the nearest known one.
namespace squaresight {

/// One node of a YAML file together with where it stands. Cheap to copy.
class Entry {
  public:
    /// Reads a whole file and checks its first duty, `schema: <schema>`.
    /// Refuses a missing, empty, binary, oversized (1 MiB) or unparsable file, and a folder.
    static Entry load(const std::filesystem::path& file, std::string_view schema);
    /// The same of text at hand; `file` is what messages call it and paths are relative to.
    static Entry parse(const std::string& text, const std::filesystem::path& file,
                       std::string_view schema);

    /// Checks that this is a map which holds only `known` keys, each once. Returns *this.
    const Entry& expect_keys(const std::vector<std::string_view>& known) const;

    bool is_map() const;
    bool is_list() const;
    bool is_empty_list() const;
    bool has(std::string_view key) const;
    /// The entry under `key`; an InputError if it is not there.
    Entry at(std::string_view key) const;
    /// The entry under `key`, or nothing.
    std::optional<Entry> find(std::string_view key) const;
    /// The entries of a list; an InputError if this is no list or an empty one.
    std::vector<Entry> list() const;
    /// Keys of a map with their entries, in the file's order.
    std::vector<std::pair<std::string, Entry>> items() const;

    /// Plain text, not empty, at most 500 characters, no control characters.
    std::string text() const;
    /// One of `allowed`.
    std::string word(const std::vector<std::string_view>& allowed) const;
    bool yes_no() const;
    /// A finite number within [low, high].
    double number(double low, double high) const;
    int whole(int low, int high) const;
    /// A length in mm or an angle in deg whose value lies within [low, high].
    Quantity quantity(Dimension dimension, double low, double high) const;
    double length_mm(double low, double high) const;
    double angle_deg(double low, double high) const;
    /// A day that exists, as 2026-03-05.
    std::string date() const;
    /// A path, taken relative to the folder of the file that names it.
    std::filesystem::path path() const;

    const std::filesystem::path& file() const;
    /// The line of the key, or of a list's item; from 1.
    int line() const { return line_; }
    const std::string& key() const { return key_; }
    /// "file:line: key", for messages.
    std::string where() const;
    [[noreturn]] void fail(const std::string& wrong, const std::string& next) const;

  private:
    struct Source;
    Entry(std::shared_ptr<const Source> source, const YAML::Node& node, std::string key, int line);
    std::shared_ptr<const Source> source_;
    std::shared_ptr<const YAML::Node> node_;
    std::string key_;
    int line_;
};

/// Whether this is a day that exists, as 2026-03-05.
bool is_date(const std::string& text);

/// Free text as a YAML value that reads back as the same text; quoted where it has to be.
std::string yaml_text(std::string_view text);

/// A number in the fewest digits that read back as the same number.
std::string yaml_number(double value);

}  // namespace squaresight
