#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "records/reading_scatter.h"
#include "review/review_parts.h"

namespace squaresight {
namespace {

/// Kinds that measure the same thing: along the line, across it, up, and slopes.
const std::array<std::vector<std::string>, 4> kinds_of_one_thing{
    {{"distance", "tapes"},
     {"line", "plumb", "target_left", "mount_left", "passes"},
     {"target_height", "mount_height"},
     {"floor_rise", "target_lean_back", "rail_zero", "face_level"}}};

bool measure_one_thing(const std::string& a, const std::string& b) {
    const auto holds = [](const std::vector<std::string>& group, const std::string& kind) {
        return std::find(group.begin(), group.end(), kind) != group.end();
    };
    return std::any_of(kinds_of_one_thing.begin(), kinds_of_one_thing.end(),
                       [&](const auto& group) { return holds(group, a) && holds(group, b); });
}

/// Those of `kinds` that are checked together with `kind`.
std::vector<std::string> sharing_with(const std::string& kind,
                                      const std::map<std::string, KindLimits>& kinds) {
    std::vector<std::string> sharing;
    for (const auto& [other, of] : kinds) {
        if (other != kind && of.sums.readings > 0 && measure_one_thing(kind, other)) {
            sharing.push_back(other);
        }
    }
    return sharing;
}

double rounded_up_to_two_digits(double value) {
    const double scale = std::pow(10.0, 1 - std::floor(std::log10(value)));
    return std::ceil(value * scale - 1e-6) / scale;
}

void take(const SmallScatter& one, KindLimits& into) {
    into.sums.add({one.readings, one.squares, one.redundancy});
    into.set_aside += one.set_aside;
    into.limit = one.limit;  // rows come by day: the newest stays
    into.value = one.value;
}

double factor_or_nothing(const KindLimits& kind) {
    return kind.test ? kind.test->factor.value : -1;
}

BayLimits called(const std::string& bay, const std::map<std::string, KindLimits>& kinds) {
    BayLimits limits{bay, {}};
    for (const auto& [kind, of] : kinds) {
        limits.kinds.push_back(of);
        limits.kinds.back().kind = kind;
        limits.kinds.back().test = variance_component(of.sums);
        limits.kinds.back().shares_with = sharing_with(kind, kinds);
    }
    std::stable_sort(limits.kinds.begin(), limits.kinds.end(),
                     [](const KindLimits& a, const KindLimits& b) {
                         return factor_or_nothing(a) > factor_or_nothing(b);
                     });
    return limits;
}

std::size_t readings_of(const BayLimits& bay) {
    std::size_t count = 0;
    for (const auto& kind : bay.kinds) {
        count += kind.sums.readings;
    }
    return count;
}

}  // namespace

std::optional<double> KindLimits::offered() const {
    if (!test || test->call == StatedUncertainty::as_stated || !(limit * test->factor.value > 0)) {
        return std::nullopt;
    }
    const double fitting = rounded_up_to_two_digits(limit * test->factor.value);
    const bool changes = test->call == StatedUncertainty::too_small || fitting < limit;
    return changes ? std::optional(fitting) : std::nullopt;
}

const char* KindLimits::unit() const { return is_angle_kind(kind) ? "deg" : "mm"; }

const char* KindLimits::bay_map() const {
    return kind == "passes" || kind == "face_level" ? "tape_and_level"
           : kind == "tapes"                        ? "setup: each of tapes"
                                                    : "setup";
}

std::string KindLimits::bay_line(double new_limit) const {
    const std::string limit_text = fmt::format("{:.6g} {}", new_limit, unit());
    const std::string value_text =
        is_angle_kind(kind) ? fmt::format("{:.2f} deg", value) : fmt::format("{:.0f} mm", value);
    if (kind == "plumb") {
        return fmt::format("line: {{base: {}, plumb: {}}}", value_text, limit_text);
    }
    if (kind == "passes" || kind == "face_level") {
        return fmt::format("{}: {}", kind == "passes" ? "pass" : "face", limit_text);
    }
    return fmt::format("{}: {} +/- {}", kind == "tapes" ? "length" : kind, value_text, limit_text);
}

void add_limits(const Rows& rows, Review& review) {
    const Measurements& all = review.of;
    std::map<int, std::map<std::string, KindLimits>> bays;
    for (const auto row : rows) {
        const Measurement& one = all.list[row];
        for (auto i = one.scatter_begin; i < one.scatter_end; ++i) {
            take(all.scatter[i], bays[one.bay][all.names[all.scatter[i].kind]]);
        }
    }
    for (const auto& [bay, kinds] : bays) {
        review.limits.push_back(called(all.names[bay], kinds));
    }
    std::stable_sort(
        review.limits.begin(), review.limits.end(),
        [](const BayLimits& a, const BayLimits& b) { return readings_of(a) > readings_of(b); });
}

}  // namespace squaresight
