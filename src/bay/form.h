#pragma once
#include <map>
#include <optional>
#include <stdexcept>
#include <string>

#include "units/quantity.h"

namespace squaresight::bay {

/// What is wrong with an entry of a form: keys of the catalogue (bay/messages.h) for the entry's
/// label and for the problem.
struct FormError : std::runtime_error {
    FormError(std::string label_key, const std::string& problem_key)
        : std::runtime_error(problem_key), label(std::move(label_key)) {}
    std::string label;
};

/// Names and values of a form as they were sent.
///
/// A length named `distance` is sent as `distance.mm`, or as `distance.ft`, `distance.in` and
/// `distance.16` (sixteenths); an angle as `NAME.deg`; where it has a side that is `NAME.side`,
/// "plus" or "minus". So a unit is never guessed. A part of a length may also hold a fraction, or
/// a length with its own unit as units/quantity.h reads it (16' 4 1/2").
class Form {
  public:
    std::string get(const std::string& name) const;
    bool has(const std::string& name) const { return !get(name).empty(); }
    void set(const std::string& name, const std::string& value) { values_[name] = value; }
    const std::map<std::string, std::string>& values() const { return values_; }

    /// Plain text without control characters, at most `longest` characters; FormError if `needed`
    /// and empty.
    std::string text(const std::string& name, std::size_t longest, bool needed) const;
    /// A length in mm, or nothing where all its parts are empty. FormError as by `out_of_range`.
    std::optional<double> length_mm(const std::string& name) const;
    std::optional<double> angle_deg(const std::string& name, double widest_deg = 90) const;
    /// The same with a sign by its side; zero needs none. FormError for a side without a size.
    std::optional<double> sided_length_mm(const std::string& name) const;
    std::optional<double> sided_angle_deg(const std::string& name) const;

    /// The entries of a length as the shop's tape shows it; in mm where it is no whole number of
    /// sixteenths. Zero lies on no side: none is chosen for it.
    void put_length(const std::string& name, double length_mm, LengthUnit unit);
    void put_angle(const std::string& name, double angle_deg);
    void put_sided_length(const std::string& name, double length_mm, LengthUnit unit);
    void put_sided_angle(const std::string& name, double angle_deg);

  private:
    /// What stands in an entry's part, a point for a comma.
    std::string part_text(const std::string& name, const std::string& part) const;
    std::optional<double> number(const std::string& name, const std::string& part,
                                 const char* problem_key) const;
    std::optional<double> length_part_mm(const std::string& name, const std::string& part,
                                         double mm_per_unit) const;
    void put_side(const std::string& name, double signed_size);
    std::optional<double> with_side(const std::string& name, std::optional<double> size) const;
    std::map<std::string, std::string> values_;
};

/// The label of an entry "passes.2.left" is that of "passes": what stands before the first dot.
std::string label_of(const std::string& name);

}  // namespace squaresight::bay
