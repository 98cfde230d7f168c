#pragma once
#include <array>
#include <cstddef>
#include <optional>

#include "adjust/decision.h"
#include "agreement/interval.h"

namespace squaresight {

/// How often two methods called the same angle the same, counted.
class CallTable {
  public:
    void add(Call vision, Call tape);

    std::size_t count(Call vision, Call tape) const;
    std::size_t total() const;
    std::size_t same() const;
    std::size_t differing() const { return total() - same(); }
    /// One method says in tolerance, the other out of tolerance: not a matter of doubt.
    std::size_t contradicting() const;

    /// Cohen's kappa (Cohen 1960, Educational and Psychological Measurement 20: 37-46): agreement
    /// beyond what the same shares of calls would give by chance; 1 where all are the same.
    /// Standard error of large samples: Fleiss, Cohen & Everitt (1969), Psychological Bulletin 72:
    /// 323-327; interval +/- 1.96 of it, not beyond 1. Nothing where all calls of both are one.
    std::optional<Estimated> kappa() const;

  private:
    std::array<std::array<std::size_t, 3>, 3> counts_{};  ///< [vision][tape]
};

}  // namespace squaresight
