#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "agreement/bland_altman.h"
#include "agreement/call_table.h"
#include "agreement/control_charts.h"
#include "agreement/deming.h"
#include "agreement/en_calibration.h"
#include "agreement/passing_bablok.h"
#include "records/export.h"
#include "records/figures.h"

/// Many jobs side by side: whether photos and tape agree, and what drifts.
namespace squaresight {

/// Which measurements count; an empty text asks for nothing. Days as 2026-03-05, both included.
struct ReviewSelection {
    std::string from{}, to{};
    std::string phone{}, cradle{}, bay{}, technician{}, mount{}, vehicle{};
};

/// One measurement with where the review of its job stands.
struct ReviewedSighting {
    SightingFigures figures;
    ReviewState state;
};

/// The day of a measurement: its first photo's, else that on which it was stored.
std::string day_of(const SightingFigures& figures);

bool is_selected(const SightingFigures& figures, const ReviewSelection& selection);

/// InputError for a day that is none, or a period that ends before it begins.
void check_selection(const ReviewSelection& selection);

/// Photos against tape about one axis, over all measurements that have both. Calls are counted of
/// all; the rest stands on those that are under no stop, and whose difference is known to better
/// than the tolerance, whatever it came to.
struct AxisReview {
    std::vector<double> vision_deg, tape_deg;
    std::vector<double> difference_deg;  ///< photos minus tape
    std::vector<std::string> names;      ///< job and day of each
    std::optional<LimitsOfAgreement> limits;
    std::optional<RepeatedAgreement> repeated;  ///< several measurements of one vehicle
    std::optional<ProportionalBias> proportional;
    double variance_ratio = 1;  ///< of the stated variances, tape over photos
    std::optional<LineWithBothInError> deming;
    std::optional<PassingBablok> passing_bablok;
    double passing_bablok_unbiased_slope = 1;  ///< which unequal uncertainties alone would give
    std::optional<EnCalibration> stated;  ///< whether they scatter as their uncertainties promise
    int agree = 0, disagree = 0, cannot_tell = 0;
    CallTable calls;  ///< of measurements that both methods called
};

/// One quantity of one phone, cradle, bay or technician over time.
struct DriftChart {
    std::string kind;      ///< "phone", "cradle", "bay", "technician"
    std::string name;      ///< which
    std::string quantity;  ///< "photos minus tape, side to side"
    std::vector<double> values_deg;
    std::vector<std::string> names;  ///< job and day of each
    IndividualsChart individuals;
    std::optional<EwmaChart> ewma;  ///< absent where nothing scatters
};

/// Something that a person should look at.
struct ReviewFlag {
    std::string job;
    std::string text;    ///< one sentence
    bool today = false;  ///< cannot wait
};

/// A job in the list.
struct ReviewedJob {
    std::string job, day, vehicle, technician, last_stage;
    int revisions = 1;
    int stages = 0;
    int rounds = 0;             ///< of turning
    int stops = 0;              ///< findings of level stop in its newest revision
    bool finished = false;      ///< an as-left measurement
    bool in_tolerance = false;  ///< its last measurement, both axes, by photos else by tape
    std::string yaw_agreement, pitch_agreement;  ///< of its last measurement that has both
    ReviewState state;
};

struct Review {
    ReviewSelection selection;
    std::string first_day, last_day;
    std::vector<ReviewedJob> jobs;  ///< newest first
    std::size_t measurements = 0;
    AxisReview yaw, pitch;
    std::vector<DriftChart> charts;
    std::map<std::string, int> too_few;       ///< "phone A": points, where there is no chart
    std::map<std::string, int> finding_jobs;  ///< jobs by finding code
    std::map<int, int> right_after_rounds;    ///< finished in tolerance: jobs by rounds of turning
    int abandoned = 0;                        ///< without an as-left measurement
    std::vector<ReviewFlag> flags;            ///< what needs a person today first
};

/// `all` holds the measurements of every revision in the order of the chain; those of the newest
/// revision of a job count, the earlier ones as attempts.
Review review(const std::vector<ReviewedSighting>& all, const ReviewSelection& selection);

/// All of it (schema squaresight/review/1), ending in a newline; points of charts left out.
std::string review_json(const Review& review);

}  // namespace squaresight
