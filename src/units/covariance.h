#pragma once
#include <Eigen/Core>
#include <string>

#include "units/entry.h"

namespace squaresight {

/// A covariance matrix written as `size` rows of `size` numbers. It may be singular (what is known
/// exactly has zeros). InputError if it is not square, not symmetric or not positive
/// semi-definite beyond the rounding of its digits.
Eigen::MatrixXd covariance_of(const Entry& entry, int size);

/// The same as YAML, one row a line, to stand under a key.
std::string covariance_yaml(const Eigen::MatrixXd& covariance);

}  // namespace squaresight
