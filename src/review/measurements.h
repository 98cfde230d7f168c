#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "adjust/decision.h"
#include "agreement/agreement.h"
#include "job/headline.h"
#include "records/figures.h"
#include "records/signature.h"

/// Measurements of many jobs, kept so small that a million jobs fit into memory.
namespace squaresight {

/// Texts by number, each kept once; 0 is the empty one.
class Names {
  public:
    Names() { number(""); }
    Names(Names&&) = default;
    Names& operator=(Names&&) = default;

    int number(const std::string& text);
    /// Nothing for a text that was never numbered.
    std::optional<int> find(const std::string& text) const;
    const std::string& operator[](int number) const {
        return *texts_[static_cast<std::size_t>(number)];
    }
    std::size_t count() const { return texts_.size(); }

  private:
    std::unordered_map<std::string, int> numbers_;
    std::vector<const std::string*> texts_;  ///< the keys, which stay where they are
};

/// A day counted from 1970-01-01; 0 where there is none.
using Day = int;

/// "2026-03-05" (also the beginning of a time, and as EXIF writes it); 0 for anything else.
Day day_of(const std::string& text);
/// "2026-03-05"; empty for 0.
std::string day_text(Day day);

enum class Stage : std::uint8_t { as_found, adjusted, as_left };
const char* stage_text(Stage stage);

/// One axis of a measurement, deg; NaN where there is none.
struct AxisMeasurement {
    double vision_deg, vision_u_deg;  ///< by photos, with its standard uncertainty
    double tape_deg, tape_u_deg;
    double expanded_95_deg;  ///< of the difference photos minus tape
    double tolerance_deg;
    std::optional<Call> vision_call, tape_call;
    std::optional<AgreementCall> agreement;

    double difference_deg() const { return vision_deg - tape_deg; }
};

/// One stage of a revision of a job. Texts are numbers of Measurements::names.
struct Measurement {
    AxisMeasurement yaw, pitch;
    double cradle_offset_left_deg, cradle_offset_up_deg;  ///< NaN where there is none
    int job, vehicle, technician, bay, mount, phone, cradle, board;
    int findings;  ///< codes parted by spaces
    int state;     ///< of Measurements::states
    int revision;
    int stops;
    int repeated_readings, readings_alike;  ///< records/figures.h
    Day day;                                ///< of its first photo, else when it was stored
    Day camera_day, cradle_day, board_day;  ///< calibrated, determined, checked
    Stage stage;
    bool locked;
    std::optional<Headline> headline;  ///< of its job; nothing where none was kept
    int check_standard;                ///< 0 for a vehicle
    /// Of Measurements::scatter: from the first up to, but not including, the second.
    std::uint32_t scatter_begin, scatter_end;

    /// Under a stop a number may be anything; where the difference is not known to better than the
    /// tolerance one method hardly measured. Whether they agree must not decide.
    bool can_be_averaged(const AxisMeasurement& axis) const {
        return stops == 0 && !(axis.expanded_95_deg > axis.tolerance_deg);
    }
    /// In tolerance about both axes, by photos where they answer, else by tape.
    bool in_tolerance() const;
};

/// The figures that Measurements::add looks at.
const FigureColumns& measurement_columns();

/// Readings of one kind of one job (KindScatter of records/reading_scatter.h), small.
struct SmallScatter {
    int kind;  ///< of Measurements::names
    std::uint16_t readings, set_aside;
    float squares, redundancy;
    double limit, value;
};

/// In the order of the chain.
struct Measurements {
    std::vector<Measurement> list;
    std::vector<SmallScatter> scatter;
    Names names;
    std::vector<ReviewState> states{{}};

    void add(const SightingFigures& figures, const ReviewState& state);
    /// "2026-03-05 job 1042 as-left"
    std::string name_of(std::size_t index) const;
};

/// Which measurements count; an empty text asks for nothing. Days as 2026-03-05, both included.
struct ReviewSelection {
    std::string from{}, to{};
    std::string phone{}, cradle{}, bay{}, technician{}, mount{}, vehicle{};
};

/// InputError for a day that is none, or a period that ends before it begins.
void check_selection(const ReviewSelection& selection);

/// Indices of measurements.
using Rows = std::vector<std::uint32_t>;

/// Selected measurements of the newest revision of each job, by day. InputError for a name that is
/// on none of all measurements.
Rows newest_rows(const Measurements& all, const ReviewSelection& selection);

}  // namespace squaresight
