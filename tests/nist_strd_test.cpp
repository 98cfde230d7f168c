#include <ceres/dynamic_autodiff_cost_function.h>
#include <gtest/gtest.h>

#include <cmath>

#include "adjust/least_squares.h"
#include "support/linear_term.h"

// NIST/ITL Statistical Reference Datasets (StRD), nonlinear regression
// (https://www.itl.nist.gov/div898/strd/): data, the two starts, and certified parameters, standard
// deviations and residual sums of squares, all as published. BoxBOD and MGH09 are of NIST's higher
// level of difficulty: start 1 tries the solver's steps, not its digits.
namespace squaresight {
namespace {

struct Certified {
    std::vector<double> x, y;
    std::vector<double> start_1, start_2;
    std::vector<double> parameters, standard_deviations;
    double sum_of_squares;
};

template <typename Model>
struct Residuals {
    Model model;
    std::vector<double> x, y;
    template <typename T>
    bool operator()(T const* const* b, T* residuals) const {
        for (std::size_t i = 0; i < x.size(); ++i) {
            residuals[i] = model(b, x[i]) - y[i];
        }
        return true;
    }
};

template <typename Model>
Term term_of(const Certified& set, Model model) {
    using Function = Residuals<Model>;
    auto cost = std::make_shared<ceres::DynamicAutoDiffCostFunction<Function>>(
        new Function{model, set.x, set.y});
    std::vector<int> unknowns;
    for (std::size_t k = 0; k < set.parameters.size(); ++k) {
        cost->AddParameterBlock(1);
        unknowns.push_back(static_cast<int>(k));
    }
    cost->SetNumResiduals(static_cast<int>(set.x.size()));
    return {cost, unknowns, "all"};
}

/// Digits to which they agree (log relative error).
double digits(double ours, double certified) {
    return -std::log10(std::abs(ours - certified) / std::abs(certified));
}

/// Through what the adjustment of a job calls: `minimise`, then `linearise`. NIST weighs nothing:
/// the standard deviations are those of unit weight times the residual standard deviation.
/// `idle_unknowns` take no part; with many of them the solver that large jobs need is taken.
template <typename Model>
void expect_six_digits(const Certified& set, Model model, const std::vector<double>& start,
                       int idle_unknowns) {
    const auto count = static_cast<int>(start.size());
    std::vector<Term> terms{term_of(set, model)};
    for (int k = 0; k < idle_unknowns; ++k) {
        terms.push_back(linear({count + k}, {1}, 0, 1));
    }
    Eigen::VectorXd z = Eigen::VectorXd::Zero(count + idle_unknowns);
    z.head(count) = Eigen::Map<const Eigen::VectorXd>(start.data(), count);
    bool converged = false;
    z = minimise(terms, z, converged);
    ASSERT_TRUE(converged);
    const Solution solution = linearise(terms, z);
    ASSERT_TRUE(solution.solved);
    const double dof = static_cast<double>(set.x.size() - start.size());
    const double s0 = std::sqrt(solution.chi_square() / dof);
    EXPECT_GT(digits(solution.chi_square(), set.sum_of_squares), 6);
    for (int k = 0; k < count; ++k) {
        const auto i = static_cast<std::size_t>(k);
        const double sd = s0 * std::sqrt(solution.covariance(k, k));
        EXPECT_GT(digits(z[k], set.parameters[i]), 6) << "b" << k + 1;
        EXPECT_GT(digits(sd, set.standard_deviations[i]), 6) << "b" << k + 1;
    }
}

template <typename Model>
void expect_certified(const Certified& set, Model model) {
    for (const int idle_unknowns : {0, 50}) {
        SCOPED_TRACE(::testing::Message() << idle_unknowns << " idle unknowns");
        {
            SCOPED_TRACE("start 1");
            expect_six_digits(set, model, set.start_1, idle_unknowns);
        }
        {
            SCOPED_TRACE("start 2");
            expect_six_digits(set, model, set.start_2, idle_unknowns);
        }
    }
}

using std::exp;
using std::pow;

TEST(NistStrd, Misra1a) {
    const Certified set{{77.6, 114.9, 141.1, 190.8, 239.9, 289, 332.8, 378.4, 434.8, 477.3, 536.8,
                         593.1, 689.1, 760},
                        {10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05,
                         61.01, 66.4, 75.47, 81.78},
                        {500, 0.0001},
                        {250, 0.0005},
                        {2.3894212918e+02, 5.5015643181e-04},
                        {2.7070075241e+00, 7.2668688436e-06},
                        1.2455138894e-01};
    expect_certified(set, [](auto b, double x) { return b[0][0] * (1.0 - exp(-b[1][0] * x)); });
}

TEST(NistStrd, DanWood) {
    const Certified set{{1.309, 1.471, 1.49, 1.565, 1.611, 1.68},
                        {2.138, 3.421, 3.597, 4.34, 4.882, 5.66},
                        {1, 5},
                        {0.7, 4},
                        {7.6886226176e-01, 3.8604055871e+00},
                        {1.8281973860e-02, 5.1726610913e-02},
                        4.3173084083e-03};
    expect_certified(set, [](auto b, double x) { return b[0][0] * pow(x, b[1][0]); });
}

// NIST's file prints 9 degrees of freedom; 15 - 4 = 11 is what its own residual standard deviation
// (28.262414662) and these standard deviations use.
TEST(NistStrd, Rat43) {
    const Certified set{{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15},
                        {16.08, 33.83, 65.8, 97.2, 191.55, 326.2, 386.87, 520.53, 590.03, 651.92,
                         724.93, 699.56, 689.96, 637.56, 717.41},
                        {100, 10, 1, 1},
                        {700, 5, 0.75, 1.3},
                        {6.9964151270e+02, 5.2771253025e+00, 7.5962938329e-01, 1.2792483859e+00},
                        {1.6302297817e+01, 2.0828735829e+00, 1.9566123451e-01, 6.8761936385e-01},
                        8.7864049080e+03};
    expect_certified(set, [](auto b, double x) {
        return b[0][0] / pow(1.0 + exp(b[1][0] - b[2][0] * x), 1.0 / b[3][0]);
    });
}

TEST(NistStrd, Eckerle4) {
    const Certified set{
        {400,   405, 410,   415, 420,   425, 430,   435, 436.5, 438, 439.5, 441,
         442.5, 444, 445.5, 447, 448.5, 450, 451.5, 453, 454.5, 456, 457.5, 459,
         460.5, 462, 463.5, 465, 470,   475, 480,   485, 490,   495, 500},
        {0.0001575, 0.0001699, 0.000235,  0.0003102, 0.0004917, 0.000871,  0.0017418,
         0.00464,   0.0065895, 0.0097302, 0.0149002, 0.023731,  0.0401683, 0.0712559,
         0.1264458, 0.2073413, 0.2902366, 0.3445623, 0.3698049, 0.3668534, 0.3106727,
         0.2078154, 0.1164354, 0.0616764, 0.03372,   0.0194023, 0.0117831, 0.0074357,
         0.0022732, 0.00088,   0.0004579, 0.0002345, 0.0001586, 0.0001143, 7.1e-05},
        {1, 10, 500},
        {1.5, 5, 450},
        {1.5543827178e+00, 4.0888321754e+00, 4.5154121844e+02},
        {1.5408051163e-02, 4.6803020753e-02, 4.6800518816e-02},
        1.4635887487e-03};
    expect_certified(set, [](auto b, double x) {
        const auto off = (x - b[2][0]) / b[1][0];
        return b[0][0] / b[1][0] * exp(-0.5 * off * off);
    });
}

// Start 1 is far: beside the minimum there is a plateau (b2 large, the mean of all, sum of squares
// 9771) on which a solver that takes too long a first step ends.
TEST(NistStrd, BoxBOD) {
    const Certified set{{1, 2, 3, 5, 7, 10},
                        {109, 149, 149, 191, 213, 224},
                        {1, 1},
                        {100, 0.75},
                        {2.1380940889e+02, 5.4723748542e-01},
                        {1.2354515176e+01, 1.0455993237e-01},
                        1.1680088766e+03};
    expect_certified(set, [](auto b, double x) { return b[0][0] * (1.0 - exp(-b[1][0] * x)); });
}

TEST(NistStrd, Thurber) {
    const Certified set{
        {-3.067, -2.981, -2.921, -2.912, -2.84,  -2.797, -2.702, -2.699, -2.633, -2.481,
         -2.363, -2.322, -1.501, -1.46,  -1.274, -1.212, -1.1,   -1.046, -0.915, -0.714,
         -0.566, -0.545, -0.4,   -0.309, -0.109, -0.103, 0.01,   0.119,  0.377,  0.79,
         0.963,  1.006,  1.115,  1.572,  1.841,  2.047,  2.2},
        {80.574,   84.248,   87.264,   87.195,   89.076,   89.608,   89.868,   90.101,
         92.405,   95.854,   100.696,  101.06,   401.672,  390.724,  567.534,  635.316,
         733.054,  759.087,  894.206,  990.785,  1090.109, 1080.914, 1122.643, 1178.351,
         1260.531, 1273.514, 1288.339, 1327.543, 1353.863, 1414.509, 1425.208, 1421.384,
         1442.962, 1464.35,  1468.705, 1447.894, 1457.628},
        {1000, 1000, 400, 40, 0.7, 0.3, 0.03},
        {1300, 1500, 500, 75, 1, 0.4, 0.05},
        {1.2881396800e+03, 1.4910792535e+03, 5.8323836877e+02, 7.5416644291e+01, 9.6629502864e-01,
         3.9797285797e-01, 4.9727297349e-02},
        {4.6647963344e+00, 3.9571156086e+01, 2.8698696102e+01, 5.5675370270e+00, 3.1333340687e-02,
         1.4984928198e-02, 6.5842344623e-03},
        5.6427082397e+03};
    expect_certified(set, [](auto b, double x) {
        return (b[0][0] + x * (b[1][0] + x * (b[2][0] + x * b[3][0]))) /
               (1.0 + x * (b[4][0] + x * (b[5][0] + x * b[6][0])));
    });
}

TEST(NistStrd, MGH09) {
    const Certified set{
        {4, 2, 1, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625},
        {0.1957, 0.1947, 0.1735, 0.16, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246},
        {25, 39, 41.5, 39},
        {0.25, 0.39, 0.415, 0.39},
        {1.9280693458e-01, 1.9128232873e-01, 1.2305650693e-01, 1.3606233068e-01},
        {1.1435312227e-02, 1.9633220911e-01, 8.0842031232e-02, 9.0025542308e-02},
        3.0750560385e-04};
    expect_certified(set, [](auto b, double x) {
        return b[0][0] * (x * x + x * b[1][0]) / (x * x + x * b[2][0] + b[3][0]);
    });
}

}  // namespace
}  // namespace squaresight
