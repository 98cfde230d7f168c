#include "review/measurements.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <limits>
#include <set>

#include "job/result.h"
#include "records/reading_scatter.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

int digits(const std::string& text, std::size_t from, std::size_t count) {
    int value = 0;
    for (std::size_t i = from; i < from + count; ++i) {
        if (text[i] < '0' || text[i] > '9') {
            return -1;
        }
        value = 10 * value + (text[i] - '0');
    }
    return value;
}

void check_day(const std::string& day, const char* option) {
    if (!day.empty() && (day.size() != 10 || day_of(day) == 0)) {
        throw InputError("review", fmt::format("{} '{}' is no day", option, day),
                         "write it as 2026-03-05");
    }
}

template <class Choice>
std::optional<Choice> choice_of(const std::string& text, std::initializer_list<Choice> choices) {
    for (const Choice choice : choices) {
        if (text == call_text(choice)) {
            return choice;
        }
    }
    return std::nullopt;
}

std::optional<Call> call_of(const std::string& text) {
    return choice_of(text, {Call::in_tolerance, Call::out_of_tolerance, Call::too_close_to_call});
}

std::optional<AgreementCall> agreement_of(const std::string& text) {
    return choice_of(text,
                     {AgreementCall::agree, AgreementCall::disagree, AgreementCall::cannot_tell});
}

Stage stage_of(const std::string& text) {
    return text == "as-left"    ? Stage::as_left
           : text == "adjusted" ? Stage::adjusted
                                : Stage::as_found;
}

AxisMeasurement yaw_of(const SightingFigures& f) {
    return {f.vision_yaw_left_deg.value_or(none),
            f.vision_yaw_standard_uncertainty_deg.value_or(none),
            f.tape_yaw_left_deg.value_or(none),
            f.tape_yaw_standard_uncertainty_deg.value_or(none),
            f.difference_yaw_expanded_95_deg.value_or(none),
            f.tolerance_yaw_deg.value_or(none),
            call_of(f.vision_yaw_call),
            call_of(f.tape_yaw_call),
            agreement_of(f.yaw_agreement)};
}

AxisMeasurement pitch_of(const SightingFigures& f) {
    return {f.vision_pitch_up_deg.value_or(none),
            f.vision_pitch_standard_uncertainty_deg.value_or(none),
            f.tape_pitch_up_deg.value_or(none),
            f.tape_pitch_standard_uncertainty_deg.value_or(none),
            f.difference_pitch_expanded_95_deg.value_or(none),
            f.tolerance_pitch_deg.value_or(none),
            call_of(f.vision_pitch_call),
            call_of(f.tape_pitch_call),
            agreement_of(f.pitch_agreement)};
}

/// Neighbours in the chain are stages of one job, so the last state is nearly always the one.
int state_of(std::vector<ReviewState>& states, const ReviewState& state) {
    if (state == states.front()) {
        return 0;
    }
    if (!(state == states.back())) {
        states.push_back(state);
    }
    return static_cast<int>(states.size()) - 1;
}

SmallScatter small(const KindScatter& of, Names& names) {
    return {names.number(of.kind),
            static_cast<std::uint16_t>(of.sums.readings),
            static_cast<std::uint16_t>(of.set_aside),
            static_cast<float>(of.sums.squares),
            static_cast<float>(of.sums.redundancy),
            of.limit,
            of.value};
}

/// What a selection asks of the numbers of one text; nothing where it asks for nothing.
struct Wanted {
    int Measurement::*member;
    int number;
};

/// A name that nothing was measured with is a slip of the keyboard: an empty page would say that
/// all is well.
InputError no_such_name(const char* flag, const std::string& name, const Measurements& all,
                        int Measurement::*member) {
    constexpr std::size_t most_told = 12;
    std::set<std::string> known;
    for (const auto& one : all.list) {
        known.insert(all.names[one.*member]);
    }
    known.erase("");
    std::string told;
    std::size_t count = 0;
    for (const auto& one : known) {
        if (++count > most_told) {
            told += ", ...";
            break;
        }
        told += (told.empty() ? "" : ", ") + one;
    }
    return {flag, fmt::format("'{}' is on no measurement that is stored", name),
            told.empty() ? "leave it out: no measurement tells one" : "give one of: " + told};
}

std::vector<Wanted> wanted_of(const ReviewSelection& selection, const Measurements& all) {
    struct Asked {
        const char* flag;
        const std::string& name;
        int Measurement::*member;
    };
    const Asked every[] = {{"--phone", selection.phone, &Measurement::phone},
                           {"--cradle", selection.cradle, &Measurement::cradle},
                           {"--bay", selection.bay, &Measurement::bay},
                           {"--technician", selection.technician, &Measurement::technician},
                           {"--mount", selection.mount, &Measurement::mount},
                           {"--vehicle", selection.vehicle, &Measurement::vehicle}};
    std::vector<Wanted> wanted;
    for (const auto& [flag, name, member] : every) {
        if (name.empty()) {
            continue;
        }
        const auto number = all.names.find(name);
        if (!number || std::none_of(all.list.begin(), all.list.end(),
                                    [&, of = member](auto& one) { return one.*of == *number; })) {
            throw no_such_name(flag, name, all, member);
        }
        wanted.push_back({member, *number});
    }
    return wanted;
}

}  // namespace

int Names::number(const std::string& text) {
    const auto [place, is_new] = numbers_.try_emplace(text, static_cast<int>(texts_.size()));
    if (is_new) {
        texts_.push_back(&place->first);
    }
    return place->second;
}

std::optional<int> Names::find(const std::string& text) const {
    const auto found = numbers_.find(text);
    return found == numbers_.end() ? std::nullopt : std::optional(found->second);
}

Day day_of(const std::string& text) {
    if (text.size() < 10 || (text[4] != '-' && text[4] != ':') || text[7] != text[4]) {
        return 0;
    }
    const int year = digits(text, 0, 4), month = digits(text, 5, 2), day = digits(text, 8, 2);
    if (year < 0 || month < 0 || day < 0) {
        return 0;
    }
    const std::chrono::year_month_day date{std::chrono::year(year),
                                           std::chrono::month(static_cast<unsigned>(month)),
                                           std::chrono::day(static_cast<unsigned>(day))};
    return date.ok() ? static_cast<Day>(std::chrono::sys_days(date).time_since_epoch().count()) : 0;
}

std::string day_text(Day day) {
    if (day == 0) {
        return "";
    }
    const std::chrono::year_month_day date{std::chrono::sys_days(std::chrono::days(day))};
    return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date.year()),
                       static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()));
}

const char* stage_text(Stage stage) {
    constexpr const char* texts[] = {"as-found", "adjusted", "as-left"};
    return texts[static_cast<std::size_t>(stage)];
}

bool Measurement::in_tolerance() const {
    const auto passes = [](const std::optional<Call>& call) {
        return call && *call == Call::in_tolerance;
    };
    const bool photos = yaw.vision_call.has_value();
    return stops == 0 && passes(photos ? yaw.vision_call : yaw.tape_call) &&
           passes(photos ? pitch.vision_call : pitch.tape_call);
}

const FigureColumns& measurement_columns() {
    static const FigureColumns columns = [] {
        static const std::set<std::string> names{"job",
                                                 "revision",
                                                 "recorded_at",
                                                 "stage",
                                                 "taken_at",
                                                 "technician",
                                                 "vehicle",
                                                 "bay",
                                                 "mount",
                                                 "camera",
                                                 "cradle",
                                                 "target",
                                                 "tolerance_yaw_deg",
                                                 "tolerance_pitch_deg",
                                                 "vision_yaw_left_deg",
                                                 "vision_yaw_standard_uncertainty_deg",
                                                 "vision_pitch_up_deg",
                                                 "vision_pitch_standard_uncertainty_deg",
                                                 "vision_yaw_call",
                                                 "vision_pitch_call",
                                                 "tape_yaw_left_deg",
                                                 "tape_yaw_standard_uncertainty_deg",
                                                 "tape_pitch_up_deg",
                                                 "tape_pitch_standard_uncertainty_deg",
                                                 "tape_yaw_call",
                                                 "tape_pitch_call",
                                                 "difference_yaw_expanded_95_deg",
                                                 "difference_pitch_expanded_95_deg",
                                                 "yaw_agreement",
                                                 "pitch_agreement",
                                                 "cradle_offset_left_deg",
                                                 "cradle_offset_up_deg",
                                                 "stops",
                                                 "findings",
                                                 "locked",
                                                 "repeated_readings",
                                                 "readings_alike",
                                                 "camera_date",
                                                 "cradle_date",
                                                 "target_checked_on",
                                                 "headline",
                                                 "check_standard",
                                                 "reading_scatter"};
        FigureColumns found;
        for (const auto& column : figure_columns()) {
            if (names.contains(column.name)) {
                found.push_back(column);
            }
        }
        return found;
    }();
    return columns;
}

void Measurements::add(const SightingFigures& f, const ReviewState& state) {
    const Day taken = day_of(f.taken_at);
    const auto scatter_begin = static_cast<std::uint32_t>(scatter.size());
    for (const auto& kind : parse_scatter(f.reading_scatter)) {
        scatter.push_back(small(kind, names));
    }
    list.push_back({yaw_of(f),
                    pitch_of(f),
                    f.cradle_offset_left_deg.value_or(none),
                    f.cradle_offset_up_deg.value_or(none),
                    names.number(f.job),
                    names.number(f.vehicle),
                    names.number(f.technician),
                    names.number(f.bay),
                    names.number(f.mount),
                    names.number(f.camera),
                    names.number(f.cradle),
                    names.number(f.target),
                    names.number(f.findings),
                    state_of(states, state),
                    f.revision,
                    f.stops,
                    f.repeated_readings,
                    f.readings_alike,
                    taken != 0 ? taken : day_of(f.recorded_at),
                    day_of(f.camera_date),
                    day_of(f.cradle_date),
                    day_of(f.target_checked_on),
                    stage_of(f.stage),
                    f.locked == "yes",
                    parse_headline(f.headline),
                    names.number(f.check_standard),
                    scatter_begin,
                    static_cast<std::uint32_t>(scatter.size())});
}

std::string Measurements::name_of(std::size_t index) const {
    const Measurement& one = list[index];
    return fmt::format("{} job {} {}", day_text(one.day), names[one.job], stage_text(one.stage));
}

void check_selection(const ReviewSelection& selection) {
    check_day(selection.from, "--from");
    check_day(selection.to, "--to");
    if (!selection.from.empty() && !selection.to.empty() && selection.to < selection.from) {
        throw InputError("review", "the period ends before it begins", "exchange --from and --to");
    }
}

Rows newest_rows(const Measurements& all, const ReviewSelection& selection) {
    std::vector<int> newest(all.names.count(), 0);
    for (const auto& one : all.list) {
        int& revision = newest[static_cast<std::size_t>(one.job)];
        revision = std::max(revision, one.revision);
    }
    const auto wanted = wanted_of(selection, all);
    const Day from = day_of(selection.from);
    const Day to = selection.to.empty() ? std::numeric_limits<Day>::max() : day_of(selection.to);
    Rows rows;
    for (std::size_t i = 0; i < all.list.size(); ++i) {
        const Measurement& one = all.list[i];
        const bool selected = one.revision == newest[static_cast<std::size_t>(one.job)] &&
                              (selection.from.empty() || one.day >= from) && one.day <= to &&
                              std::all_of(wanted.begin(), wanted.end(), [&](const Wanted& asked) {
                                  return one.*asked.member == asked.number;
                              });
        if (selected) {
            rows.push_back(static_cast<std::uint32_t>(i));
        }
    }
    std::stable_sort(rows.begin(), rows.end(), [&](std::uint32_t a, std::uint32_t b) {
        return all.list[a].day < all.list[b].day;
    });
    return rows;
}

}  // namespace squaresight
