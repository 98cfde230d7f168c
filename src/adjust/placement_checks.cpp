#include "adjust/placement_checks.h"

#include <Eigen/Eigenvalues>
#include <boost/math/distributions/chi_squared.hpp>

namespace squaresight {
namespace {

constexpr double false_alarm = 0.001;  ///< of a whole job
/// A shift of which the photos see less than this share (of its variance) is not tested.
constexpr double least_seen = 0.02;
constexpr double alike_correlation = 0.9;
constexpr double cannot_tell_apart = 9;  ///< difference in chi-square, as for the mirror poses

/// Unknowns whose priors a mishap would shift together: one list for each part of the shift.
struct Suspect {
    MishapCheck check;
    std::vector<std::vector<int>> unknowns;
    double standard_uncertainty = 0;  ///< of one unknown's prior, in the shift's unit
};

class SuspectList {
  public:
    SuspectList(const Model& model, const ModelOptions& known) : model_(model), known_(known) {}

    std::vector<Suspect> all() {
        for (std::size_t i = 0; i < model_.placements.size(); ++i) {
            if (!known_.loose_placements.contains(model_.placements[i].key)) {
                add_unseated(static_cast<int>(i));
            }
        }
        for (std::size_t sighting = 1; sighting < model_.stages.size(); ++sighting) {
            if (model_.stages[sighting].yaw < 0) {
                continue;
            }
            if (!known_.knocked_before.contains(static_cast<int>(sighting))) {
                add_knocked(static_cast<int>(sighting));
            }
            add_setup_moved(static_cast<int>(sighting));
        }
        return std::move(suspects_);
    }

  private:
    void add_unseated(int index) {
        const Placement& placement = model_.placements[static_cast<std::size_t>(index)];
        Suspect suspect;
        suspect.check.kind = Mishap::unseated;
        suspect.check.placement = index;
        suspect.check.sighting = placement.sighting;
        suspect.unknowns = {{placement.seating_left}, {placement.seating_up}};
        suspect.standard_uncertainty = unit_of(placement);
        add(std::move(suspect));
    }

    void add_knocked(int sighting) {
        Suspect suspect;
        suspect.check.kind = Mishap::knocked;
        suspect.check.sighting = sighting;
        suspect.unknowns.resize(2);
        for (const auto& placement : model_.placements) {
            const bool usual = !known_.loose_placements.contains(placement.key);
            if (placement.sighting >= sighting && usual) {
                suspect.unknowns[0].push_back(placement.seating_left);
                suspect.unknowns[1].push_back(placement.seating_up);
                suspect.standard_uncertainty = unit_of(placement);
            }
        }
        add(std::move(suspect));
    }

    void add_setup_moved(int sighting) {
        Suspect suspect;
        suspect.check.kind = Mishap::setup_moved;
        suspect.check.sighting = sighting;
        suspect.unknowns.resize(1);
        const int setup = model_.stages[static_cast<std::size_t>(sighting)].setup;
        for (std::size_t later = static_cast<std::size_t>(sighting); later < model_.stages.size();
             ++later) {
            const StageUnknowns& stage = model_.stages[later];
            if (stage.setup == setup && stage.face_ahead >= 0) {
                suspect.unknowns[0].push_back(stage.face_ahead);
                suspect.standard_uncertainty =
                    model_.unknowns[static_cast<std::size_t>(stage.face_ahead)]
                        .standard_uncertainty;
            }
        }
        add(std::move(suspect));
    }

    double unit_of(const Placement& placement) const {
        return model_.unknowns[static_cast<std::size_t>(placement.seating_left)]
            .standard_uncertainty;
    }

    void add(Suspect suspect) {
        if (!suspect.unknowns[0].empty() && suspect.standard_uncertainty > 0) {
            suspects_.push_back(std::move(suspect));
        }
    }

    const Model& model_;
    const ModelOptions& known_;
    std::vector<Suspect> suspects_;
};

/// Residuals of a suspect's priors and their covariance, summed over each part. A prior observes
/// its unknown to be zero: its residual is the unknown itself.
struct Evidence {
    Eigen::VectorXd sum;
    Eigen::MatrixXd covariance;
};

Eigen::MatrixXd covariance_between(const Solution& solution, const Suspect& a, const Suspect& b) {
    Eigen::MatrixXd covariance(a.unknowns.size(), b.unknowns.size());
    for (std::size_t i = 0; i < a.unknowns.size(); ++i) {
        for (std::size_t j = 0; j < b.unknowns.size(); ++j) {
            double sum = 0;
            for (const int own : a.unknowns[i]) {
                for (const int other : b.unknowns[j]) {
                    sum += (own == other ? 1 : 0) - solution.covariance(own, other);
                }
            }
            covariance(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = sum;
        }
    }
    return covariance;
}

Evidence evidence_of(const Solution& solution, const Suspect& suspect) {
    Evidence evidence;
    evidence.sum = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(suspect.unknowns.size()));
    for (std::size_t i = 0; i < suspect.unknowns.size(); ++i) {
        for (const int unknown : suspect.unknowns[i]) {
            evidence.sum[static_cast<Eigen::Index>(i)] += solution.z[unknown];
        }
    }
    evidence.covariance = covariance_between(solution, suspect, suspect);
    return evidence;
}

/// Statistic and shift of a suspect; false where the photos hardly see it.
bool test(const Solution& solution, Suspect& suspect) {
    const Evidence evidence = evidence_of(solution, suspect);
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> parts(evidence.covariance);
    const double count = static_cast<double>(suspect.unknowns[0].size());
    if (parts.eigenvalues().minCoeff() < least_seen * count) {
        return false;
    }
    const Eigen::VectorXd shift = parts.eigenvectors() *
                                  parts.eigenvalues().cwiseInverse().asDiagonal() *
                                  parts.eigenvectors().transpose() * evidence.sum;
    suspect.check.statistic = evidence.sum.dot(shift);
    suspect.check.shift.head(shift.size()) = shift * suspect.standard_uncertainty;
    return true;
}

/// Other placements whose tests say nearly the same as this one's.
std::vector<int> alike_placements(const Solution& solution, const std::vector<Suspect>& suspects,
                                  const Suspect& worst) {
    std::vector<int> alike;
    const double own = covariance_between(solution, worst, worst).norm();
    for (const auto& other : suspects) {
        if (other.check.kind != Mishap::unseated ||
            other.check.placement == worst.check.placement) {
            continue;
        }
        const double theirs = covariance_between(solution, other, other).norm();
        const double shared = covariance_between(solution, worst, other).norm();
        if (shared > alike_correlation * std::sqrt(own * theirs)) {
            alike.push_back(other.check.placement);
        }
    }
    return alike;
}

/// The earliest knock that the photos favour nearly as much: a stage between, with upright photos
/// only, cannot say on which side of it the knock was, and must not be trusted.
MishapCheck earliest_like(const std::vector<Suspect>& suspects, const MishapCheck& worst) {
    for (const auto& suspect : suspects) {
        if (suspect.check.kind == Mishap::knocked &&
            suspect.check.statistic > worst.statistic - cannot_tell_apart) {
            return suspect.check;
        }
    }
    return worst;
}

}  // namespace

std::optional<MishapCheck> worst_mishap(const Model& model, const Solution& solution,
                                        const ModelOptions& known) {
    std::vector<Suspect> suspects = SuspectList(model, known).all();
    std::erase_if(suspects, [&](Suspect& suspect) { return !test(solution, suspect); });
    const Suspect* worst = nullptr;
    for (auto& suspect : suspects) {
        const boost::math::chi_squared expected(static_cast<double>(suspect.unknowns.size()));
        suspect.check.limit = boost::math::quantile(
            boost::math::complement(expected, false_alarm / static_cast<double>(suspects.size())));
        if (suspect.check.ratio() > 1 &&
            (worst == nullptr || suspect.check.ratio() > worst->check.ratio())) {
            worst = &suspect;
        }
    }
    if (worst == nullptr) {
        return std::nullopt;
    }
    MishapCheck found = worst->check;
    if (found.kind == Mishap::knocked) {
        return earliest_like(suspects, found);
    }
    if (found.kind == Mishap::unseated) {
        found.alike = alike_placements(solution, suspects, *worst);
    }
    return found;
}

}  // namespace squaresight
