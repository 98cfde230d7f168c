#include "report/limits_part.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>

#include "job/words.h"

namespace squaresight {
namespace {

constexpr std::size_t most_bays = 4;  // those with most readings

struct KindWords {
    const char* kind;
    const char* words;  ///< plural
};
constexpr std::array<KindWords, 4> plural_kinds{{{"tapes", "tapes"},
                                                 {"plumb", "plumb marks"},
                                                 {"passes", "tape passes to the beam"},
                                                 {"face_level", "levels of the face"}}};

const char* plural_words(const std::string& kind) {
    const auto* found = std::find_if(plural_kinds.begin(), plural_kinds.end(),
                                     [&](const KindWords& one) { return kind == one.kind; });
    return found == plural_kinds.end() ? nullptr : found->words;
}

std::string kind_words(const std::string& kind) {
    const char* words = plural_words(kind);
    return words != nullptr ? words : reading_words(kind);
}

std::string capitalised(std::string text) {
    text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    return text;
}

std::string bay_words(const BayLimits& bay) { return bay.bay.empty() ? "no bay named" : bay.bay; }

bool has_call(const KindLimits& kind, StatedUncertainty call) {
    return kind.test && kind.test->call == call;
}

/// Too small, and others that check the same may be the ones that scatter.
bool may_be_others(const KindLimits& kind) {
    return has_call(kind, StatedUncertainty::too_small) && !kind.shares_with.empty();
}

std::string others_words(const KindLimits& kind) {
    std::string others;
    for (const auto& other : kind.shares_with) {
        others += (others.empty() ? "" : ", ") + kind_words(other);
    }
    return fmt::format(" (or {})", others);
}

/// "Tapes (or distance to the board) scatter 2.0 times what you state"
std::string factor_words(const KindLimits& kind) {
    return fmt::format("{}{} {} {:.1f} times what you state", capitalised(kind_words(kind.kind)),
                       may_be_others(kind) ? others_words(kind) : "",
                       plural_words(kind.kind) != nullptr ? "scatter" : "scatters",
                       kind.test->factor.value);
}

std::string whole_words(const KindLimits& kind) {
    const Interval& interval = kind.test->factor.interval_95;
    return fmt::format("{} ({:.1f} to {:.1f}, {}).{}", factor_words(kind), interval.low,
                       interval.high, counted(kind.sums.readings, "reading", "readings"),
                       may_be_others(kind) ? " Find out which before you change a limit." : "");
}

const char* call_words(const KindLimits& kind) {
    if (!kind.test) {
        return "too early";
    }
    switch (kind.test->call) {
        case StatedUncertainty::too_small:
            return "limit too small";
        case StatedUncertainty::too_large:
            return "limit larger than needed";
        case StatedUncertainty::as_stated:
            break;
    }
    return "as stated";
}

/// One sentence of all kinds that have nothing to be changed.
std::string listed(const BayLimits& bay, const char* what, bool early) {
    std::string names;
    for (const auto& kind : bay.kinds) {
        if (early ? !kind.test : has_call(kind, StatedUncertainty::as_stated)) {
            names += (names.empty() ? "" : ", ") + kind_words(kind.kind);
        }
    }
    return names.empty() ? "" : fmt::format("{}: {}.", what, names);
}

CaptionedTable kinds_table(const BayLimits& bay) {
    ChartTable table{{"reading", "call", "factor", "95 % from", "to", "readings",
                      "degrees of freedom", "set aside", "stated limit"},
                     {}};
    for (const auto& kind : bay.kinds) {
        const auto figure = [&](double value) {
            return kind.test ? fmt::format("{:.2f}", value) : std::string();
        };
        const Estimated factor = kind.test ? kind.test->factor : Estimated{};
        table.rows.push_back(
            {kind_words(kind.kind), call_words(kind), figure(factor.value),
             figure(factor.interval_95.low), figure(factor.interval_95.high),
             std::to_string(kind.sums.readings), fmt::format("{:.1f}", kind.sums.redundancy),
             std::to_string(kind.set_aside), fmt::format("{:.3g} {}", kind.limit, kind.unit())});
    }
    return {bay_words(bay) + ": scatter of readings over what is stated", table, {}};
}

CaptionedChart factors_chart(const BayLimits& bay) {
    BarChart chart;
    chart.x_words = "times what is stated, with 95 % intervals";
    chart.limit = {1, "as stated", true};
    for (const auto& kind : bay.kinds) {
        if (kind.test) {
            const Estimated& factor = kind.test->factor;
            chart.bars.push_back(
                {kind_words(kind.kind), factor.value, fmt::format("{:.1f}", factor.value),
                 std::array<double, 2>{factor.interval_95.low, factor.interval_95.high}});
        }
    }
    CaptionedTable table = kinds_table(bay);
    chart.title = table.caption;
    chart.table = std::move(table.table);
    return {table.caption, bar_chart(chart)};
}

/// New limits, for who keeps the bay's file.
CaptionedTable offers_table(const BayLimits& bay) {
    ChartTable table{
        {"reading", "stated limit", "new limit", "in the bay file, under", "write", "change it"},
        {}};
    for (const auto& kind : bay.kinds) {
        if (const auto offer = kind.offered()) {
            table.rows.push_back({kind_words(kind.kind),
                                  fmt::format("{:.3g} {}", kind.limit, kind.unit()),
                                  fmt::format("{:.3g} {}", *offer, kind.unit()), kind.bay_map(),
                                  kind.bay_line(*offer),
                                  has_call(kind, StatedUncertainty::too_large) ? "if you like"
                                  : may_be_others(kind) ? "if these are the ones"
                                                        : "yes"});
        }
    }
    return {bay_words(bay) + ": limits that fit", table, {}};
}

void add_bay(const BayLimits& bay, bool only_one, ReviewPart& part) {
    const auto say = [&](const std::string& sentence) {
        if (!sentence.empty()) {
            part.sentences.emplace_back(only_one ? sentence : bay_words(bay) + ": " + sentence);
        }
    };
    std::size_t aside = 0;
    for (const auto& kind : bay.kinds) {
        aside += static_cast<std::size_t>(kind.set_aside);
        if (kind.test && !has_call(kind, StatedUncertainty::as_stated)) {
            say(whole_words(kind));
        }
    }
    say(listed(bay, "As stated", false));
    say(listed(bay, "Too early to call", true));
    if (aside > 0) {
        say(fmt::format("{} set aside as blunders and not counted.",
                        counted(aside, "reading was", "readings were")));
    }
    if (!bay.kinds.empty() && bay.kinds.front().test) {
        part.charts.push_back(factors_chart(bay));
    } else {
        part.tables.push_back(kinds_table(bay));
    }
    CaptionedTable offers = offers_table(bay);
    if (!offers.table.rows.empty()) {
        part.tables.push_back(std::move(offers));
    }
}

}  // namespace

std::string limits_summary(const Review& review) {
    bool called = false;
    for (const auto& bay : review.limits) {
        for (const auto& kind : bay.kinds) {
            called = called || kind.test;
            if (has_call(kind, StatedUncertainty::too_small)) {  // the largest factor comes first
                return fmt::format("{}{}.", review.limits.size() == 1 ? "" : bay_words(bay) + ": ",
                                   factor_words(kind));
            }
        }
    }
    return called ? "No kind of reading scatters more than you state."
                  : "Too early to say whether readings scatter as you state.";
}

ReviewPart limits_part(const Review& review) {
    ReviewPart part{"limits", "Limits of your readings", {}, {}, {}};
    for (std::size_t i = 0; i < std::min(most_bays, review.limits.size()); ++i) {
        add_bay(review.limits[i], review.limits.size() == 1, part);
    }
    if (review.limits.empty()) {
        part.sentences.emplace_back(
            "No job here holds the scatter of its readings yet. Measure with photos, then store "
            "the job.");
    } else if (review.limits.size() > most_bays) {
        part.sentences.push_back(
            fmt::format("And {}, in --json.",
                        counted(review.limits.size() - most_bays, "more bay", "more bays")));
    }
    part.sentences.emplace_back(
        "Change one limit at a time, and look again after some ten jobs. Readings that check each "
        "other share what one of them scatters too much.");
    return part;
}

}  // namespace squaresight
