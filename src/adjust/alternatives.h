#pragma once
#include <string>
#include <vector>

#include "adjust/reliability.h"

/// Which readings may be the wrong ones, where tests cannot tell: detection, identification and
/// adaptation as one (Teunissen 2018, "Distributional theory for the DIA method", Journal of
/// Geodesy 92: 59-80). Internal to `adjust`.
namespace squaresight {

/// Readings whose removal, together, makes the rest fit.
struct Suspects {
    std::vector<std::string> keys;  ///< as `reading_key`
    double statistic = 0;           ///< chi-square that goes with them
};

/// How an angle would change, and how uncertain it would be, without some readings.
struct Without {
    double change_deg = 0;
    double standard_uncertainty_deg = 0;
};

/// Every other set of readings whose removal fits nearly as well as that of `blamed`: statistic
/// within 9 of its own, where a set with one reading more must explain 16 more. Single readings,
/// pairs, and `blamed` with one of its readings exchanged.
/// `solution` and `checks` are those before anything was set aside.
std::vector<Suspects> alternatives_to(const Solution& solution,
                                      const std::vector<ReadingCheck>& checks,
                                      const std::vector<std::string>& blamed);

/// An angle without these readings, from a solution that has them (rows that it does not have are
/// left out).
Without without(const Solution& solution, const std::vector<ReadingCheck>& checks,
                const std::vector<std::string>& keys, const Eigen::VectorXd& gradient);

}  // namespace squaresight
