#pragma once
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "agreement/bland_altman.h"
#include "agreement/call_table.h"
#include "agreement/check_standard.h"
#include "agreement/control_charts.h"
#include "agreement/deming.h"
#include "agreement/en_calibration.h"
#include "agreement/passing_bablok.h"
#include "agreement/variance_components.h"
#include "review/measurements.h"

/// Many jobs side by side: whether photos and tape agree, and what drifts.
namespace squaresight {

/// Jobs of one vehicle begun within so many days of each other are one repair, and jobs of it that
/// did not pass are attempts at it (common practice, no source).
constexpr int same_repair_days = 7;
/// A vehicle that comes again within so many days of a finished job (common practice, no source).
constexpr int comeback_days = 90;
/// Revisions of one job, from which on it is asked why.
constexpr int many_revisions = 3;
/// So many readings of one job that repeat an earlier one, all exactly alike, look copied: with a
/// scale that shows the same in every second repeat that is one honest job in 64 (common practice,
/// no source).
constexpr int fewest_alike = 6;
/// A phone's check, a cradle's file and a board's check bars are good for a year (of the phone: as
/// the finding calibration-old has it; of the others common practice, no source).
constexpr int equipment_lasts_days = 365;

/// Photos against tape about one axis, over all measurements that have both. Calls are counted of
/// all; the rest stands on those that are under no stop, and whose difference is known to better
/// than the tolerance, whatever it came to. Lines and scatter stand on the first such measurement
/// of each job: its stages share errors, and what takes them as independent is too sure.
struct AxisReview {
    std::vector<double> vision_deg, tape_deg;
    std::vector<double> difference_deg;         ///< photos minus tape
    std::optional<LimitsOfAgreement> limits;    ///< all taken as independent
    std::optional<RepeatedAgreement> repeated;  ///< several measurements of one vehicle
    std::optional<ProportionalBias> proportional;
    double variance_ratio = 1;  ///< of the stated variances, tape over photos
    std::optional<LineWithBothInError> deming;
    std::optional<PassingBablok> passing_bablok;
    double passing_bablok_unbiased_slope = 1;  ///< which unequal uncertainties alone would give
    std::optional<EnCalibration> stated;  ///< whether they scatter as their uncertainties promise
    int agree = 0, disagree = 0, cannot_tell = 0;
    CallTable calls;  ///< of measurements that both methods called

    /// To believe: several measurements of one vehicle counted as such. Only where `limits` are.
    const LimitsOfAgreement& best_limits() const { return repeated ? repeated->limits : *limits; }
};

/// One quantity of one phone, cradle, bay or technician over time. Of differences the first of each
/// job is a point, since its stages share errors; of a cradle's offset every value that is not the
/// one before in the same job.
struct DriftChart {
    std::string kind;      ///< "phone", "cradle", "bay", "technician"
    std::string name;      ///< which
    std::string quantity;  ///< "photos minus tape, side to side"
    Rows points;           ///< measurements, by day
    std::vector<double> values_deg;
    IndividualsChart individuals;
    std::optional<EwmaChart> ewma;  ///< absent where nothing scatters
};

/// Readings of one kind in one bay against the limits that job sheets state of them.
struct KindLimits {
    std::string kind;  ///< records/reading_scatter.h; with `limit` in mm or deg
    ScatterSums sums;
    int set_aside = 0;                ///< blunders, not in `sums`
    double limit = 0;                 ///< as the newest job states it
    double value = 0;                 ///< as the newest job read it
    std::optional<ScatterTest> test;  ///< absent while it is too early
    /// Kinds of the same bay that check it and are checked by it: what one of them scatters too
    /// much shows in all.
    std::vector<std::string> shares_with;

    /// The limit times the factor, rounded up to two digits. Absent where it is as stated, too
    /// early, or would not be tighter after all.
    std::optional<double> offered() const;
    const char* unit() const;  ///< "mm" or "deg"
    /// The map of the bay file that holds it, and the line to write there with the limit offered.
    const char* bay_map() const;
    std::string bay_line(double limit) const;
};

struct BayLimits {
    std::string bay;                ///< empty where sheets name none
    std::vector<KindLimits> kinds;  ///< the largest factor first, then those too early to call
};

/// One angle of a check standard over time, by photos: the first stage of each job.
struct CheckChart {
    std::string name;
    std::string quantity;  ///< "side to side"
    Rows points;           ///< measurements, by day
    std::vector<double> values_deg;
    int left_out = 0;  ///< measurements under a stop, and those that photos do not answer
    std::optional<CheckStandard> check;  ///< absent while there are too few
    bool left_its_limits() const { return check && check->left_its_limits(values_deg.size()); }
};

/// How old a phone's check, a cradle's file or a board's check was when it was last used.
struct EquipmentAge {
    std::string kind;  ///< "phone", "cradle", "board"
    std::string name;
    Day dated = 0;         ///< 0 where its file does not tell
    Day last_used = 0;     ///< in the selection
    int measurements = 0;  ///< in the selection
    int past_date = 0;     ///< of these, made when it was older than `equipment_lasts_days`
    int age_days() const { return last_used - dated; }
    bool is_past_date() const { return dated != 0 && age_days() > equipment_lasts_days; }
};

/// How often one technician's repeated readings by tape and level are exactly as the one before:
/// every scale repeats itself now and then; much oftener than others' means that they were not
/// taken.
struct RepeatedReadings {
    std::string technician;
    int readings = 0;
    int alike = 0;  ///< of these
};

/// Something that a person should look at.
struct ReviewFlag {
    std::string job;
    std::string text;    ///< one sentence
    bool today = false;  ///< cannot wait
};

/// A job in the list.
struct ReviewedJob {
    std::uint32_t last = 0;  ///< its last measurement, in Review::of
    int revisions = 1;
    int stages = 0;
    int rounds = 0;             ///< of turning
    int attempts = 1;           ///< measurements as left of all revisions, and others dropped since
    int stops = 0;              ///< findings of level stop in its newest revision
    bool finished = false;      ///< an as-left measurement
    bool in_tolerance = false;  ///< its last measurement, both axes, by photos else by tape
    /// Of its last measurement that has both methods.
    std::optional<AgreementCall> yaw_agreement, pitch_agreement;

    bool passed() const { return finished && in_tolerance; }
};

/// How jobs ended.
struct JobOutcomes {
    int passed = 0;                          ///< as left, in tolerance
    int failed = 0;                          ///< as left, not shown to be in tolerance
    int abandoned = 0;                       ///< without an as-left measurement
    std::map<int, int> passed_after_rounds;  ///< jobs by rounds of turning
    /// Passed after at most one round of turning, at the first attempt, of all jobs; with the 95 %
    /// interval of the share.
    int first_time = 0;
    Interval first_time_share_95{0, 1};
};

struct Review {
    Measurements of;  ///< all, of every revision
    ReviewSelection selection;
    Day first_day = 0, last_day = 0;
    std::vector<ReviewedJob> jobs;  ///< newest first
    std::size_t measurements = 0;   ///< that count
    AxisReview yaw, pitch;
    std::vector<DriftChart> charts;
    std::vector<BayLimits> limits;       ///< most readings first
    std::vector<CheckChart> checks;      ///< whatever days are selected, from the first on; by name
    std::map<std::string, int> too_few;  ///< "phone A, offset up": points, where there is no chart
    std::vector<EquipmentAge> equipment;      ///< the oldest first
    std::vector<RepeatedReadings> readings;   ///< the largest share first
    std::map<std::string, int> finding_jobs;  ///< jobs by finding code
    JobOutcomes outcomes;
    std::vector<ReviewFlag> flags;  ///< what needs a person today first
};

/// The newest revision of a job counts, earlier ones as attempts. Jobs on a check standard are in
/// `checks` alone.
Review review(Measurements all, const ReviewSelection& selection);

/// All of it (schema squaresight/review/1), ending in a newline; of charts' points the tables that
/// the page shows (review_tables in report/review_report.h).
std::string review_json(const Review& review, const nlohmann::ordered_json& tables);

}  // namespace squaresight
