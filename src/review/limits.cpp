#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "records/reading_scatter.h"
#include "review/review_parts.h"

namespace squaresight {
namespace {

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

BayLimits called(const std::string& bay, std::map<std::string, KindLimits> kinds) {
    BayLimits limits{bay, {}};
    for (auto& [kind, of] : kinds) {
        of.kind = kind;
        of.test = variance_component(of.sums);
        limits.kinds.push_back(std::move(of));
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
    if (kind == "plumb") {
        return fmt::format("line: {{base: {:.6g} mm, plumb: {}}}", value, limit_text);
    }
    if (kind == "passes" || kind == "face_level") {
        return fmt::format("{}: {}", kind == "passes" ? "pass" : "face", limit_text);
    }
    return fmt::format("{}: {:.6g} {} +/- {}", kind == "tapes" ? "length" : kind, value, unit(),
                       limit_text);
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
    for (auto& [bay, kinds] : bays) {
        review.limits.push_back(called(all.names[bay], std::move(kinds)));
    }
    std::stable_sort(
        review.limits.begin(), review.limits.end(),
        [](const BayLimits& a, const BayLimits& b) { return readings_of(a) > readings_of(b); });
}

}  // namespace squaresight
