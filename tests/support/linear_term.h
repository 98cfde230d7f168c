#pragma once
#include <ceres/cost_function.h>

#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "adjust/least_squares.h"

/// Observations for adjustments that are published as linear ones.
namespace squaresight {

/// One observation that is a linear function of the unknowns.
class LinearCost : public ceres::CostFunction {
  public:
    LinearCost(std::vector<double> coefficients, double observed, double standard_uncertainty)
        : coefficients_(std::move(coefficients)), observed_(observed), u_(standard_uncertainty) {
        set_num_residuals(1);
        mutable_parameter_block_sizes()->assign(coefficients_.size(), 1);
    }
    bool Evaluate(double const* const* parameters, double* residuals,
                  double** jacobians) const override {
        residuals[0] = -observed_ / u_;
        for (std::size_t k = 0; k < coefficients_.size(); ++k) {
            residuals[0] += coefficients_[k] * parameters[k][0] / u_;
            if (jacobians != nullptr && jacobians[k] != nullptr) {
                jacobians[k][0] = coefficients_[k] / u_;
            }
        }
        return true;
    }

  private:
    std::vector<double> coefficients_;
    double observed_, u_;
};

inline Term linear(std::vector<int> unknowns, std::vector<double> coefficients, double observed,
                   double standard_uncertainty, const std::string& source = "") {
    return {std::make_shared<LinearCost>(std::move(coefficients), observed, standard_uncertainty),
            std::move(unknowns), source};
}

}  // namespace squaresight
