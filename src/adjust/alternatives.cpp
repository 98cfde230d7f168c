#include "adjust/alternatives.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

namespace squaresight {
namespace {

constexpr double nearly_as_well = 9;  ///< difference in chi-square, as for the mirror pose
/// What one more wrong reading must explain, in chi-square. Any two readings explain nearly
/// anything where only two or three are redundant, yet two are rarely wrong at once: one in a
/// hundred (assumption, no source; 9.2), and of sizes that just fit together: one in thirty (6.8).
constexpr double another_blunder = 16;
/// Two errors at once that are each larger than this would be seen without a tape (common practice,
/// no source).
constexpr double largest_of_two_mm = 12 * mm_per_inch;
constexpr double largest_of_two_deg = 5;

using Chosen = std::vector<const ReadingCheck*>;

/// Residuals of some readings, and their covariance: what a removal changes. A removed reading
/// keeps a trace of weight, as `set_aside_factor` leaves it.
struct Removal {
    Eigen::VectorXd residuals;
    Eigen::LLT<Eigen::MatrixXd> covariance;

    Removal(const Solution& solution, const Chosen& chosen)
        : residuals(static_cast<Eigen::Index>(chosen.size())) {
        const auto count = static_cast<Eigen::Index>(chosen.size());
        Eigen::MatrixXd matrix(count, count);
        for (Eigen::Index i = 0; i < count; ++i) {
            const int row = chosen[static_cast<std::size_t>(i)]->row;
            residuals[i] = solution.residuals[row];
            for (Eigen::Index j = 0; j < count; ++j) {
                matrix(i, j) =
                    solution.residual_covariance(row, chosen[static_cast<std::size_t>(j)]->row);
            }
            matrix(i, i) += 1 / (set_aside_factor * set_aside_factor);
        }
        covariance.compute(matrix);
    }

    /// Of each reading, in its standard uncertainties, minus.
    Eigen::VectorXd errors() const { return covariance.solve(residuals); }
    double statistic() const { return residuals.dot(errors()); }
};

bool is_in(const ReadingCheck& check, const std::vector<std::string>& keys) {
    return std::find(keys.begin(), keys.end(), check.key()) != keys.end();
}

Chosen chosen_by(const std::vector<ReadingCheck>& checks, const std::vector<std::string>& keys) {
    Chosen chosen;
    for (const auto& check : checks) {
        if (is_in(check, keys)) {
            chosen.push_back(&check);
        }
    }
    return chosen;
}

std::vector<std::string> keys_of(const Chosen& chosen) {
    std::vector<std::string> keys;
    for (const auto* one : chosen) {
        keys.push_back(one->key());
    }
    return keys;
}

/// Whether two errors at once may be this large.
bool is_likely(const Chosen& pair, const Eigen::VectorXd& errors) {
    for (std::size_t i = 0; i < pair.size(); ++i) {
        const double size =
            std::abs(errors[static_cast<Eigen::Index>(i)]) * pair[i]->standard_uncertainty;
        if (size > (pair[i]->shown.unit == "mm" ? largest_of_two_mm : largest_of_two_deg)) {
            return false;
        }
    }
    return true;
}

class Search {
  public:
    Search(const Solution& solution, const std::vector<ReadingCheck>& checks,
           const std::vector<std::string>& blamed)
        : solution_(solution),
          blamed_(blamed),
          least_(score(chosen_by(checks, blamed)) - nearly_as_well) {
        for (const auto& check : checks) {
            if (check.testable()) {
                testable_.push_back(&check);
            }
        }
    }

    std::vector<Suspects> found() {
        for (const auto* one : testable_) {
            if (fits({one})) {
                add({one});
            }
        }
        for (std::size_t i = 0; i < testable_.size(); ++i) {
            for (std::size_t j = i + 1; j < testable_.size(); ++j) {
                try_pair({testable_[i], testable_[j]});
            }
        }
        if (blamed_.size() > 2) {
            exchange_one();
        }
        return std::move(found_);
    }

  private:
    double score(const Chosen& chosen) const {
        return Removal(solution_, chosen).statistic() -
               another_blunder * static_cast<double>(chosen.size());
    }

    bool fits(const Chosen& chosen) const { return score(chosen) >= least_; }

    void try_pair(const Chosen& pair) {
        if (fits(pair) && is_likely(pair, Removal(solution_, pair).errors())) {
            add(pair);
        }
    }

    void exchange_one() {
        for (const auto& left_out : blamed_) {
            Chosen rest;
            for (const auto* one : testable_) {
                if (is_in(*one, blamed_) && one->key() != left_out) {
                    rest.push_back(one);
                }
            }
            for (const auto* other : testable_) {
                if (!is_in(*other, blamed_)) {
                    Chosen exchanged = rest;
                    exchanged.push_back(other);
                    if (fits(exchanged)) {
                        add(exchanged);
                    }
                }
            }
        }
    }

    void add(const Chosen& chosen) {
        const bool is_blamed =
            chosen.size() == blamed_.size() &&
            std::all_of(chosen.begin(), chosen.end(),
                        [&](const ReadingCheck* one) { return is_in(*one, blamed_); });
        if (!is_blamed) {
            found_.push_back({keys_of(chosen), Removal(solution_, chosen).statistic()});
        }
    }

    const Solution& solution_;
    const std::vector<std::string>& blamed_;
    double least_;
    Chosen testable_;
    std::vector<Suspects> found_;
};

}  // namespace

std::vector<Suspects> alternatives_to(const Solution& solution,
                                      const std::vector<ReadingCheck>& checks,
                                      const std::vector<std::string>& blamed) {
    return blamed.empty() ? std::vector<Suspects>() : Search(solution, checks, blamed).found();
}

Without without(const Solution& solution, const std::vector<ReadingCheck>& checks,
                const std::vector<std::string>& keys, const Eigen::VectorXd& gradient) {
    Chosen chosen = chosen_by(checks, keys);
    std::erase_if(chosen,
                  [&](const ReadingCheck* one) { return one->row >= solution.residuals.size(); });
    double variance = solution.variance(gradient);
    if (chosen.empty()) {
        return {0, std::sqrt(variance)};
    }
    Eigen::VectorXd pulls(static_cast<Eigen::Index>(chosen.size()));
    for (std::size_t i = 0; i < chosen.size(); ++i) {
        pulls[static_cast<Eigen::Index>(i)] = solution.pull(gradient, chosen[i]->row);
    }
    const Removal removal(solution, chosen);
    variance += pulls.dot(removal.covariance.solve(pulls));
    return {pulls.dot(removal.errors()), std::sqrt(variance)};
}

}  // namespace squaresight
