#include "mount/round_check.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

namespace squaresight {
namespace {

/// Strong evidence on the scale of Jeffreys (Theory of Probability, 1961, appendix B).
const double strong_evidence = std::log(10.0);
/// A squared distance that two normal variables exceed once in a thousand times.
constexpr double does_not_fit = 13.8;
constexpr double known_lever = 0.15;   ///< u of a lever that earlier rounds have measured
constexpr double loose_share = 0.1;    ///< of its turns, that a dead screw may still move the face
constexpr double share_scatter = 0.1;  ///< standard, of "about half"

enum class Fault { none, dead, reversed, both_reversed, swapped, not_made, half_made };

constexpr int both = -1;

struct Hypothesis {
    Fault fault = Fault::none;
    int screw = both;
    Pair turns;  ///< what would be seen, without the measurement's own uncertainty
    double log_likelihood = 0;
    double distance = 0;  ///< squared, in standard uncertainties
};

Eigen::Vector2d told_turns(const Round& round) {
    return {round.turns_clockwise.at(0), round.turns_clockwise.at(1)};
}

bool is_known(const Response& response, int screw) {
    return response.lever(screw).standard_uncertainty < known_lever;
}

Hypothesis dead(const Response& response, Eigen::Vector2d turns, int screw) {
    const double loose_turns = loose_share * turns[screw];
    turns[screw] = 0;
    Hypothesis one{Fault::dead, screw, response.effective_turns(turns)};
    one.turns.covariance(screw, screw) += loose_turns * loose_turns;
    return one;
}

Hypothesis reversed(const Response& response, Eigen::Vector2d turns, int screw) {
    turns[screw] *= -1;
    return {Fault::reversed, screw, response.effective_turns(turns)};
}

/// Half of both screws' turns, or of those of one.
Hypothesis half_made(const Response& response, const Eigen::Vector2d& turns,
                     const Eigen::Vector2d& share, int screw) {
    Hypothesis one{Fault::half_made, screw, response.effective_turns(turns.cwiseProduct(share))};
    const Eigen::Vector2d scatter =
        response.effect() *
        (2 * share_scatter * turns.cwiseProduct(Eigen::Vector2d::Ones() - share));
    one.turns.covariance += scatter * scatter.transpose();
    return one;
}

/// As told first, then every fault that would show in these turns.
std::vector<Hypothesis> hypotheses(const Response& response, const Eigen::Vector2d& turns) {
    std::vector<Hypothesis> all{{Fault::none, both, response.effective_turns(turns)}};
    const double enough = ResponsePrior().largest_backlash_turns;
    const bool tells[] = {std::abs(turns[0]) >= enough, std::abs(turns[1]) >= enough};
    for (const int screw : {0, 1}) {
        if (tells[screw]) {
            all.push_back(dead(response, turns, screw));
            all.push_back(reversed(response, turns, screw));
        }
    }
    if (tells[0] && tells[1]) {
        all.push_back({Fault::both_reversed, both, response.effective_turns(-turns)});
    }
    if (tells[0] || tells[1]) {
        all.push_back({Fault::swapped, both, response.effective_turns(turns.reverse())});
        all.push_back({Fault::not_made, both, {}});
    }
    // A lever that is not known yet may be half as good as its profile says; hardly both of them.
    if (tells[0] && tells[1]) {
        all.push_back(half_made(response, turns, {0.5, 0.5}, both));
    }
    for (const int screw : {0, 1}) {
        if (tells[screw] && is_known(response, screw)) {
            const Eigen::Vector2d share =
                Eigen::Vector2d::Ones() - 0.5 * Eigen::Vector2d::Unit(screw);
            all.push_back(half_made(response, turns, share, screw));
        }
    }
    return all;
}

void weigh(Hypothesis& one, const Pair& seen) {
    const Eigen::LLT<Eigen::Matrix2d> factor(one.turns.covariance + seen.covariance);
    const Eigen::Matrix2d lower = factor.matrixL();
    one.distance =
        lower.triangularView<Eigen::Lower>().solve(seen.value - one.turns.value).squaredNorm();
    one.log_likelihood = -one.distance / 2 - std::log(lower(0, 0) * lower(1, 1));
}

/// The faults to name: far likelier than turns made as told, and not far behind the likeliest.
std::vector<Hypothesis> named(const std::vector<Hypothesis>& all) {
    const auto less = [](const Hypothesis& a, const Hypothesis& b) {
        return a.log_likelihood < b.log_likelihood;
    };
    const double likeliest = std::max_element(all.begin(), all.end(), less)->log_likelihood;
    std::vector<Hypothesis> faults;
    for (const auto& one : all) {
        if (one.log_likelihood > all.front().log_likelihood + strong_evidence &&
            one.log_likelihood > likeliest - strong_evidence && one.distance < does_not_fit) {
            faults.push_back(one);
        }
    }
    return faults;
}

/// Words for the findings of one round.
class Teller {
  public:
    Teller(const Response& response, const Eigen::Vector2d& told, const Eigen::Vector2d& seen)
        : response_(response), told_(told), seen_(seen) {}

    Finding finding(const Hypothesis& fault) const {
        switch (fault.fault) {
            case Fault::dead:
                return dead(fault.screw);
            case Fault::reversed:
                return reversed(fault.screw);
            case Fault::both_reversed:
                return both_reversed();
            case Fault::swapped:
                return {Level::warning, "screws-swapped",
                        fmt::format("it looks as if screw '{}' was turned in place of screw '{}', "
                                    "and the other way round: look which is which in the picture "
                                    "of the mount, and write on the job sheet what was turned",
                                    name(0), name(1))};
            case Fault::not_made:
                return not_made("the face did not move", "none of those were made");
            default:
                return half_made(fault.screw);
        }
    }

    std::string in_short(const Hypothesis& fault) const {
        switch (fault.fault) {
            case Fault::dead:
                return fmt::format("screw '{}' does not respond", name(fault.screw));
            case Fault::reversed:
                return fmt::format("screw '{}' was turned backwards", name(fault.screw));
            case Fault::both_reversed:
                return "both screws were turned backwards";
            case Fault::swapped:
                return "the screws were taken for each other";
            case Fault::not_made:
                return "the turns were not made";
            default:
                return fault.screw == both
                           ? "half of the turns were made"
                           : fmt::format("half of the turns of screw '{}' were made",
                                         name(fault.screw));
        }
    }

    Finding unexplained() const {
        return {Level::warning, "turns-unexplained",
                fmt::format("{} should not have moved the face as it did (as by {}), and no one "
                            "mistake explains it: check what was turned, and that nothing else "
                            "moved mount, phone, board or truck since the measurement before",
                            told_words(), words(seen_))};
    }

  private:
    const std::string& name(int screw) const {
        return response_.mount().screws[static_cast<std::size_t>(screw)].name;
    }
    std::string words(const Eigen::Vector2d& turns) const {
        return fmt::format("'{}' {}, '{}' {}", name(0), turns_words(turns[0]), name(1),
                           turns_words(turns[1]));
    }
    std::string told_words() const { return "the turns on the job sheet (" + words(told_) + ")"; }

    Finding dead(int screw) const {
        return {Level::warning, "screw-not-responding",
                fmt::format("screw '{}' was turned {}, and the face hardly moved (as by {}): look "
                            "for a stripped or seized screw, a loose retainer, or another screw "
                            "that was turned in its place",
                            name(screw), turns_words(told_[screw]), turns_words(seen_[screw]))};
    }

    Finding reversed(int screw) const {
        return {Level::warning, "screw-reversed",
                fmt::format("screw '{}' was turned {}, and the face moved as if it had been turned "
                            "{}: do not turn it again; {}",
                            name(screw), turns_words(told_[screw]), turns_words(seen_[screw]),
                            who_is_wrong(is_known(response_, screw), "'clockwise' of this screw"))};
    }

    Finding both_reversed() const {
        return {Level::warning, "screw-reversed",
                fmt::format("{} were made, and the face moved as if both screws had been turned "
                            "the other way ({}): do not turn them again; {}",
                            told_words(), words(seen_),
                            who_is_wrong(is_known(response_, 0) && is_known(response_, 1),
                                         "'clockwise' of both screws (it is as seen facing the "
                                         "screw's head)"))};
    }

    static std::string who_is_wrong(bool worked_before, const std::string& key) {
        const std::string sheet = "write on the job sheet which way it was really turned";
        return worked_before
                   ? "it answered as its profile says before, so it was likely turned the wrong "
                     "way this time: " +
                         sheet
                   : "either the mount's profile has " + key +
                         " wrong: correct it there; or it was turned the wrong way: " + sheet;
    }

    Finding half_made(int screw) const {
        const std::string of = screw == both ? "" : fmt::format(" of screw '{}'", name(screw));
        return not_made(screw == both ? "the face moved about half as far as it should"
                                      : "the face moved less far than it should",
                        fmt::format("about half of those{} were made", of));
    }

    Finding not_made(const std::string& face, const std::string& made) const {
        return {Level::warning, "turns-not-made",
                fmt::format("{}, after {}: it looks as if {}. Write on the job sheet what was "
                            "turned; if all of it was, look for a screw that slips, or a profile "
                            "whose points or threads are not those of this mount",
                            face, told_words(), made)};
    }

    const Response& response_;
    Eigen::Vector2d told_;
    Eigen::Vector2d seen_;
};

Findings findings_of(const Teller& teller, const std::vector<Hypothesis>& faults) {
    Findings findings;
    for (const auto& fault : faults) {
        Finding finding = teller.finding(fault);
        std::vector<std::string> others;
        for (const auto& other : faults) {
            if (&other != &fault) {
                others.push_back(teller.in_short(other));
            }
        }
        if (!others.empty()) {
            finding.text +=
                fmt::format(". The measurement cannot tell this from: {}", fmt::join(others, "; "));
        }
        findings.push_back(std::move(finding));
    }
    return findings;
}

}  // namespace

RoundCheck check_round(const Response& response, const Round& round) {
    const Eigen::Vector2d told = told_turns(round);
    RoundCheck check;
    check.expected_deg = response.expected_change_deg(round.before_deg, told);
    check.actual_deg = {round.change_deg, round.covariance_deg2};
    const Pair seen = seen_turns(response.mount(), round);
    std::vector<Hypothesis> all = hypotheses(response, told);
    if (all.size() == 1 || !seen.value.allFinite() || !seen.covariance.allFinite()) {
        return check;
    }
    for (auto& one : all) {
        weigh(one, seen);
    }
    const Teller teller(response, told, seen.value);
    check.findings = findings_of(teller, named(all));
    if (check.findings.empty() && all.front().distance > does_not_fit) {
        check.findings = {teller.unexplained()};
    }
    check.call = check.findings.empty() ? RoundCall::as_told : RoundCall::not_as_told;
    check.withhold_next =
        std::any_of(check.findings.begin(), check.findings.end(),
                    [](const Finding& one) { return one.code == "screw-reversed"; });
    return check;
}

}  // namespace squaresight
