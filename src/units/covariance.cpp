#include "units/covariance.h"

#include <fmt/format.h>

#include <Eigen/Eigenvalues>
#include <cmath>

namespace squaresight {
namespace {

/// Of correlations: what a file with six digits a number may be off.
constexpr double rounding = 1e-6;

Eigen::MatrixXd matrix_of(const Entry& entry, int size) {
    const auto needed = static_cast<std::size_t>(size);
    const auto rows = entry.list();
    if (rows.size() != needed) {
        entry.fail(fmt::format("has {} rows", rows.size()),
                   fmt::format("write {} rows of {} numbers", size, size));
    }
    Eigen::MatrixXd matrix(size, size);
    for (int i = 0; i < size; ++i) {
        const auto& row = rows[static_cast<std::size_t>(i)];
        const auto cells = row.list();
        if (cells.size() != needed) {
            row.fail(fmt::format("has {} numbers", cells.size()),
                     fmt::format("write {} rows of {} numbers", size, size));
        }
        for (int j = 0; j < size; ++j) {
            matrix(i, j) = cells[static_cast<std::size_t>(j)].number(-1e12, 1e12);
        }
    }
    return matrix;
}

/// Standard uncertainties off the diagonal's roots, 1 where the variance is zero.
Eigen::VectorXd scale_of(const Entry& entry, const Eigen::MatrixXd& matrix) {
    Eigen::VectorXd scale(matrix.rows());
    for (int i = 0; i < matrix.rows(); ++i) {
        if (matrix(i, i) < 0) {
            entry.fail(fmt::format("has a negative variance in row {}", i + 1),
                       "the diagonal holds squares of standard uncertainties");
        }
        scale(i) = matrix(i, i) > 0 ? std::sqrt(matrix(i, i)) : 1;
    }
    return scale;
}

}  // namespace

Eigen::MatrixXd covariance_of(const Entry& entry, int size) {
    const Eigen::MatrixXd written = matrix_of(entry, size);
    const Eigen::VectorXd scale = scale_of(entry, written);
    const Eigen::MatrixXd correlation =
        scale.cwiseInverse().asDiagonal() * written * scale.cwiseInverse().asDiagonal();
    for (int i = 0; i < size; ++i) {
        for (int j = 0; j < i; ++j) {
            if (std::abs(correlation(i, j) - correlation(j, i)) > rounding) {
                entry.fail(fmt::format("is not symmetric (row {}, number {})", i + 1, j + 1),
                           "copy the matrix from the calibration again");
            }
        }
    }
    const Eigen::MatrixXd symmetric = (correlation + correlation.transpose()) / 2;
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(symmetric);
    if (solver.eigenvalues().minCoeff() < -rounding * size) {
        entry.fail("is no covariance (it has a negative eigenvalue)",
                   "copy the matrix from the calibration again");
    }
    if (solver.eigenvalues().minCoeff() >= 0) {
        return (written + written.transpose()) / 2;
    }
    const Eigen::MatrixXd rounded_up = solver.eigenvectors() *
                                       solver.eigenvalues().cwiseMax(0).asDiagonal() *
                                       solver.eigenvectors().transpose();
    return scale.asDiagonal() * rounded_up * scale.asDiagonal();
}

std::string covariance_yaml(const Eigen::MatrixXd& covariance) {
    std::string text;
    for (const auto& row : covariance.rowwise()) {
        std::string cells;
        for (const double value : row) {
            cells += (cells.empty() ? "" : ", ") + yaml_number(value);
        }
        text += fmt::format("  - [{}]\n", cells);
    }
    return text;
}

}  // namespace squaresight
