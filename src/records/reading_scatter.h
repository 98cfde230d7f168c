#pragma once
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "agreement/variance_components.h"
#include "job/sheet.h"

namespace squaresight {

/// How the readings of one kind came out in one job, and what its sheet states of them. Lengths in
/// mm, angles in deg (`is_angle_kind`).
struct KindScatter {
    /// A key of the job sheet: `line` (an angle) or `plumb` (of the marks it was drawn through),
    /// `distance`, `target_left`, ...; `tapes`; `passes` and `face_level` of tape-and-level.
    std::string kind;
    ScatterSums sums;
    int set_aside = 0;  ///< blunders: not in `sums`
    double limit = 0;   ///< limit of error that the sheet states, the largest of several
    double value = 0;   ///< the newest as read; of `plumb` the base between the marks
};

bool is_angle_kind(const std::string& kind);

/// The readings of each stage of a result (squaresight/result/1). Those of a setup stand with its
/// first stage that was solved, and no others; none stand with a stage under a stop, unless the
/// only one is that the readings do not fit together ("inconsistent"): scatter alone makes that.
/// One a kind, by name.
std::vector<std::vector<KindScatter>> reading_scatter(const nlohmann::ordered_json& result,
                                                      const JobSheet& sheet);

/// "distance 1 0 0.31 0.42 5 5003; tapes 4 1 2.2 1.9 3 2503": kind, readings, set aside, squares,
/// redundancy, limit, value. Empty for none; and read again. InputError for another text.
std::string scatter_text(const std::vector<KindScatter>& kinds);
std::vector<KindScatter> parse_scatter(const std::string& text);

}  // namespace squaresight
