#include "agreement/gauge_study.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <boost/math/special_functions/gamma.hpp>
#include <cmath>
#include <map>
#include <span>

#include "agreement/control_charts.h"
#include "agreement/descriptive.h"
#include "units/error.h"

namespace squaresight {
namespace {

double square(double value) { return value * value; }

/// Readings of one part by one appraiser, [part][appraiser][trial], from the first reading.
struct Cells {
    std::vector<std::vector<std::vector<double>>> values;
    int parts = 0, appraisers = 0, trials = 0;
};

int index_of(std::map<std::string, int>& names, const std::string& name) {
    return names.try_emplace(name, static_cast<int>(names.size())).first->second;
}

void require_balance(const std::map<std::string, int>& parts,
                     const std::map<std::string, int>& appraisers, const Cells& cells) {
    const std::size_t trials = cells.values[0][0].size();
    for (const auto& [part, p] : parts) {
        for (const auto& [appraiser, a] : appraisers) {
            const std::size_t here =
                cells.values[static_cast<std::size_t>(p)][static_cast<std::size_t>(a)].size();
            if (here != trials || here < 2) {
                throw InputError(
                    "gauge study",
                    fmt::format("part '{}' was measured {} times by '{}', the first part {} times",
                                part, here, appraiser, trials),
                    "every appraiser measures every part equally often and at least twice: take "
                    "the missing readings or leave that part out everywhere");
            }
        }
    }
}

Cells cells_of(const std::vector<GaugeReading>& readings) {
    std::map<std::string, int> parts, appraisers;
    for (const auto& reading : readings) {
        if (!all_finite({&reading.value, 1})) {
            throw InputError("gauge study",
                             fmt::format("a reading of part '{}' by '{}' is no number",
                                         reading.part, reading.appraiser),
                             "give its value, or leave that part out everywhere");
        }
        index_of(parts, reading.part);
        index_of(appraisers, reading.appraiser);
    }
    const std::size_t fewest = std::min(parts.size(), appraisers.size());
    const std::size_t most = std::max(parts.size(), appraisers.size());
    if (fewest < 2 || most > static_cast<std::size_t>(most_values_in_range)) {
        throw InputError("gauge study",
                         fmt::format("{} part(s) and {} appraiser(s) were given", parts.size(),
                                     appraisers.size()),
                         fmt::format("a crossed study needs 2 to {} of each, better ten parts and "
                                     "three appraisers",
                                     most_values_in_range));
    }
    Cells cells;
    cells.parts = static_cast<int>(parts.size());
    cells.appraisers = static_cast<int>(appraisers.size());
    cells.values.assign(parts.size(), std::vector<std::vector<double>>(appraisers.size()));
    for (const auto& reading : readings) {
        cells
            .values[static_cast<std::size_t>(parts[reading.part])]
                   [static_cast<std::size_t>(appraisers[reading.appraiser])]
            .push_back(reading.value - readings[0].value);
    }
    require_balance(parts, appraisers, cells);
    cells.trials = static_cast<int>(cells.values[0][0].size());
    return cells;
}

struct Means {
    std::vector<double> part, appraiser;
    std::vector<std::vector<double>> cell;
    double all = 0;
};

Means means_of(const Cells& cells) {
    Means means;
    means.part.assign(static_cast<std::size_t>(cells.parts), 0.0);
    means.appraiser.assign(static_cast<std::size_t>(cells.appraisers), 0.0);
    for (std::size_t p = 0; p < cells.values.size(); ++p) {
        means.cell.emplace_back();
        for (std::size_t a = 0; a < cells.values[p].size(); ++a) {
            CarefulSum sum;
            for (const double value : cells.values[p][a]) {
                sum.add(value);
            }
            const double mean = sum.value() / cells.trials;
            means.cell[p].push_back(mean);
            means.part[p] += mean / cells.appraisers;
            means.appraiser[a] += mean / cells.parts;
            means.all += mean / (cells.parts * cells.appraisers);
        }
    }
    return means;
}

void test_against(AnovaRow& row, const AnovaRow& error) {
    const FTest test = f_test(row.mean_square(), row.degrees_of_freedom, error.mean_square(),
                              error.degrees_of_freedom);
    row.f = test.f;
    row.p = test.p;
}

CrossedAnova anova_of(const Cells& cells, const Means& means, double keep_up_to_p) {
    CarefulSum part, appraiser, interaction, error;
    for (std::size_t p = 0; p < means.part.size(); ++p) {
        part.add(square(means.part[p] - means.all));
        for (std::size_t a = 0; a < means.appraiser.size(); ++a) {
            interaction.add(
                square(means.cell[p][a] - means.part[p] - means.appraiser[a] + means.all));
            for (const double value : cells.values[p][a]) {
                error.add(square(value - means.cell[p][a]));
            }
        }
    }
    for (const double mean : means.appraiser) {
        appraiser.add(square(mean - means.all));
    }
    const int parts = cells.parts, appraisers = cells.appraisers, trials = cells.trials;
    CrossedAnova anova;
    anova.parts = parts;
    anova.appraisers = appraisers;
    anova.trials = trials;
    anova.part = {parts - 1.0, appraisers * trials * part.value()};
    anova.appraiser = {appraisers - 1.0, parts * trials * appraiser.value()};
    anova.interaction = {(parts - 1.0) * (appraisers - 1.0), trials * interaction.value()};
    anova.repeatability = {parts * appraisers * (trials - 1.0), error.value()};
    test_against(anova.interaction, anova.repeatability);
    anova.interaction_kept = anova.interaction.p <= keep_up_to_p;
    if (!anova.interaction_kept) {
        anova.repeatability.degrees_of_freedom += anova.interaction.degrees_of_freedom;
        anova.repeatability.sum_of_squares += anova.interaction.sum_of_squares;
    }
    const AnovaRow& error_row = anova.interaction_kept ? anova.interaction : anova.repeatability;
    test_against(anova.part, error_row);
    test_against(anova.appraiser, error_row);
    return anova;
}

struct Variances {
    double repeatability = 0, appraiser = 0, interaction = 0, part = 0;

    double reproducibility() const { return appraiser + interaction; }
    double gauge() const { return repeatability + reproducibility(); }
    double total() const { return gauge() + part; }
    double categories() const { return 1.41 * std::sqrt(part / gauge()); }
};

/// Independent estimates of variances, each as a chi-square quantity over its degrees of freedom.
struct Squares {
    static constexpr std::size_t count = 4;
    std::array<double, count> value{};
    std::array<double, count> degrees_of_freedom{1, 1, 1, 1};
};

/// The `k`-th of numbers spread evenly between 0 and 1 (Halton 1960, Numerische Mathematik 2:
/// 84-90).
double halton(int k, int base) {
    double number = 0, place = 1;
    for (; k > 0; k /= base) {
        place /= base;
        number += place * (k % base);
    }
    return number;
}

/// Figures of a study, as they are and as they might as well be.
class Spread {
  public:
    template <typename ToVariances>
    Spread(const Squares& squares, ToVariances variances_of) {
        constexpr int draws = 4'000;
        constexpr std::array<int, Squares::count> bases{2, 3, 5, 7};
        drawn_.reserve(draws);
        for (int k = 1; k <= draws; ++k) {
            std::array<double, Squares::count> value{};
            for (std::size_t i = 0; i < Squares::count; ++i) {
                const double dof = squares.degrees_of_freedom[i];
                value[i] =
                    squares.value[i] == 0
                        ? 0
                        : squares.value[i] * dof / chi_square_quantile(halton(k, bases[i]), dof);
            }
            drawn_.push_back(variances_of(value));
        }
        estimate_ = variances_of(squares.value);
    }

    const Variances& estimate() const { return estimate_; }

    template <typename Figure>
    WithInterval of(Figure figure) const {
        std::vector<double> figures;
        figures.reserve(drawn_.size());
        for (const auto& variances : drawn_) {
            figures.push_back(figure(variances));
        }
        std::sort(figures.begin(), figures.end());
        const auto at = [&](double share) {
            return figures[static_cast<std::size_t>(share * static_cast<double>(figures.size()))];
        };
        return {figure(estimate_), {at(0.025), at(0.975)}};
    }

  private:
    Variances estimate_;
    std::vector<Variances> drawn_;
};

template <typename Variance>
GaugeSource source_of(const Spread& spread, std::optional<double> tolerance_width,
                      Variance variance) {
    GaugeSource source;
    source.standard_deviation =
        spread.of([&](const Variances& v) { return std::sqrt(variance(v)); });
    source.percent_of_variation =
        spread.of([&](const Variances& v) { return 100 * std::sqrt(variance(v) / v.total()); });
    source.percent_of_variance = 100 * variance(spread.estimate()) / spread.estimate().total();
    if (tolerance_width) {
        const double scale = 600 / *tolerance_width;
        const WithInterval& sd = source.standard_deviation;
        source.percent_of_tolerance = WithInterval{
            scale * sd.value, {scale * sd.interval_95.low, scale * sd.interval_95.high}};
    }
    return source;
}

GaugeResult result_of(const Spread& spread, std::optional<double> tolerance_width) {
    if (!(spread.estimate().gauge() > 0)) {
        throw InputError("gauge study", "no reading differs from its repeats",
                         "read more finely, and check that none was copied from another");
    }
    GaugeResult result;
    const auto source = [&](auto variance) { return source_of(spread, tolerance_width, variance); };
    result.repeatability = source([](const Variances& v) { return v.repeatability; });
    result.reproducibility = source([](const Variances& v) { return v.reproducibility(); });
    result.gauge = source([](const Variances& v) { return v.gauge(); });
    result.part = source([](const Variances& v) { return v.part; });
    result.total = source([](const Variances& v) { return v.total(); });
    result.appraiser_standard_deviation = std::sqrt(spread.estimate().appraiser);
    result.interaction_standard_deviation = std::sqrt(spread.estimate().interaction);
    result.distinct_categories_unrounded =
        spread.of([](const Variances& v) { return v.categories(); });
    const double most = 1000;  // beyond, the number says nothing more
    result.distinct_categories = static_cast<int>(
        std::clamp(std::floor(result.distinct_categories_unrounded.value), 1.0, most));
    return result;
}

GaugeResult by_anova(const CrossedAnova& anova, std::optional<double> tolerance_width) {
    Squares squares;
    std::size_t k = 0;
    for (const AnovaRow* row :
         {&anova.repeatability, &anova.appraiser, &anova.part, &anova.interaction}) {
        squares.value[k] = row->mean_square();
        squares.degrees_of_freedom[k++] = row->degrees_of_freedom;
    }
    const bool kept = anova.interaction_kept;
    const double parts = anova.parts, appraisers = anova.appraisers, trials = anova.trials;
    const Spread spread(squares, [=](const std::array<double, Squares::count>& mean_square) {
        const auto [repeatability, appraiser, part, interaction] = mean_square;
        const double between = kept ? interaction : repeatability;
        Variances variances;
        variances.repeatability = repeatability;
        variances.appraiser = std::max(0.0, appraiser - between) / (parts * trials);
        variances.part = std::max(0.0, part - between) / (appraisers * trials);
        variances.interaction = kept ? std::max(0.0, interaction - repeatability) / trials : 0;
        return variances;
    });
    return result_of(spread, tolerance_width);
}

double range_of(std::span<const double> values) {
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    return *high - *low;
}

/// Degrees of freedom of the chi quantity that varies as the mean of so many ranges does.
double equivalent_degrees_of_freedom(int values, int ranges) {
    const RangeConstants constants = range_constants(values);
    const double wanted = square(constants.d3 / constants.d2) / ranges;
    const auto relative_variance = [](double dof) {
        return dof / 2 * square(boost::math::tgamma_delta_ratio(dof / 2, 0.5)) - 1;
    };
    double low = 0.1, high = 1e6;
    for (int k = 0; k < 100; ++k) {
        const double middle = std::sqrt(low * high);
        (relative_variance(middle) > wanted ? low : high) = middle;
    }
    return std::sqrt(low * high);
}

GaugeResult by_ranges(const Cells& cells, const Means& means, const RangeFactors& factors,
                      std::optional<double> tolerance_width) {
    double mean_range = 0;
    for (const auto& part : cells.values) {
        for (const auto& trials : part) {
            mean_range += range_of(trials) / (cells.parts * cells.appraisers);
        }
    }
    Squares squares;
    squares.value = {square(mean_range * factors.trials),
                     square(range_of(means.appraiser) * factors.appraisers),
                     square(range_of(means.part) * factors.parts), 0};
    squares.degrees_of_freedom = {
        equivalent_degrees_of_freedom(cells.trials, cells.parts * cells.appraisers),
        equivalent_degrees_of_freedom(cells.appraisers, 1),
        equivalent_degrees_of_freedom(cells.parts, 1), 1};
    const double readings_each = cells.parts * cells.trials;
    const Spread spread(squares, [=](const std::array<double, Squares::count>& squared) {
        const auto [repeatability, appraiser, part, none] = squared;
        return Variances{repeatability, std::max(0.0, appraiser - repeatability / readings_each), 0,
                         part};
    });
    return result_of(spread, tolerance_width);
}

void require_tolerance(std::optional<double> width) {
    if (width && !(*width > 0 && std::isfinite(*width))) {
        throw InputError("gauge study", "the tolerance has no width",
                         "give the whole width, above 0, or leave it out");
    }
}

}  // namespace

RangeFactors range_factors(int trials, int appraisers, int parts) {
    return {1 / range_constants(trials).d2, 1 / range_constants(appraisers).d2_star,
            1 / range_constants(parts).d2_star};
}

GaugeStudy gauge_study(const std::vector<GaugeReading>& readings,
                       std::optional<double> tolerance_width, double keep_interaction_up_to_p) {
    require_tolerance(tolerance_width);
    const Cells cells = cells_of(readings);
    const Means means = means_of(cells);
    GaugeStudy study;
    study.anova = anova_of(cells, means, keep_interaction_up_to_p);
    study.by_anova = by_anova(study.anova, tolerance_width);
    study.by_ranges = by_ranges(
        cells, means, range_factors(cells.trials, cells.appraisers, cells.parts), tolerance_width);
    return study;
}

GaugeResult gauge_by_ranges(const std::vector<GaugeReading>& readings,
                            std::optional<double> tolerance_width, const RangeFactors& factors) {
    require_tolerance(tolerance_width);
    const Cells cells = cells_of(readings);
    return by_ranges(cells, means_of(cells), factors, tolerance_width);
}

}  // namespace squaresight
