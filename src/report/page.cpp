#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "job/headline.h"
#include "job/words.h"
#include "report/annotate.h"
#include "report/figures.h"
#include "report/page_parts.h"
#include "report/page_template.h"
#include "report/report.h"
#include "report/summary.h"

namespace squaresight {

namespace {

using data = PageData;

/// What two printed pages hold; the screen shows everything.
constexpr std::size_t printed_findings = 3;
constexpr std::size_t printed_again = 3;
constexpr std::size_t printed_stages = 4;
constexpr std::size_t printed_responses = 1;
constexpr std::size_t printed_reviews = 2;
constexpr std::size_t printed_photos = 4;
constexpr std::size_t printed_readings = 8;
constexpr int budget_rows = 6;

std::string more_sentence(std::size_t count, std::size_t printed) {
    return count > printed ? fmt::format("{} more on the screen's page.", count - printed) : "";
}

std::string base64(const std::string& bytes) {
    static constexpr char digits[] =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";  // RFC 4648, 4
    std::string out;
    out.reserve((bytes.size() + 2) / 3 * 4);
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        unsigned group = 0;
        for (std::size_t k = 0; k < 3; ++k) {
            group =
                group << 8 | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0u);
        }
        for (std::size_t k = 0; k < 4; ++k) {
            out += i + k <= bytes.size() ? digits[group >> (18 - 6 * k) & 63] : '=';
        }
    }
    return out;
}

data axis_card(const AxisAnswer& answer, Axis axis) {
    auto card = record({{"sign", mark_svg(answer.mark)},
                        {"title", axis == Axis::yaw ? "Side-to-side aim" : "Up-down aim"},
                        {"term", axis == Axis::yaw ? "yaw" : "pitch"},
                        {"points", answer.points},
                        {"call", answer.call},
                        {"should_point", answer.should_point},
                        {"give_or_take", answer.give_or_take},
                        {"sure", answer.sure}});
    card.set("held", answer.mark == Mark::stop);
    return card;
}

void add_mark(ScaleDrawing& drawing, const char* label, const Estimate& angle, bool filled) {
    if (std::isfinite(angle.value) && std::isfinite(angle.standard_uncertainty)) {
        drawing.marks.push_back({label, angle, filled});
    }
}

std::optional<ScaleDrawing> scale_drawing(const JobResult& result, const SightingResult& sighting,
                                          Axis axis) {
    const bool yaw = axis == Axis::yaw;
    const auto& mount = result.mount;
    ScaleDrawing drawing;
    drawing.axis = axis;
    drawing.aim_deg = yaw ? mount.aim_yaw_left_deg : mount.aim_pitch_up_deg;
    drawing.tolerance_deg = yaw ? mount.tolerance_yaw_deg : mount.tolerance_pitch_deg;
    if (answered_by_photos(sighting)) {
        const auto& stage = sighting.vision->stage;
        add_mark(drawing, "Photos", yaw ? stage.yaw_left_deg : stage.pitch_up_deg, true);
    }
    if (sighting.tape_and_level) {
        const auto& tape = sighting.tape_and_level->outcome;
        if (yaw && tape.has_yaw) {
            add_mark(drawing, "Tape", tape.yaw_left_deg, false);
            drawing.service_limit_deg = tape.service_limit.yaw_equivalent_deg;
        } else if (!yaw && tape.has_pitch) {
            add_mark(drawing, "Level", tape.pitch_up_deg, false);
        }
    }
    return drawing.marks.empty() ? std::nullopt : std::optional(drawing);
}

/// "2026-03-05" of EXIF's "2026:03:05 09:12:40".
std::string date_words(const std::string& taken_at) {
    std::string date = taken_at.substr(0, std::min<std::size_t>(10, taken_at.size()));
    std::replace(date.begin(), date.end(), ':', '-');
    return date;
}

void set_head(data& page, const JobResult& result) {
    const auto line = first_line(result);
    page.set("sign", mark_svg(line.mark));
    page.set("headline", headline_text(headline_of(result)));
    page.set("heading", line.heading);
    page.set("first_line", unbroken(line.text));
    const auto cause = instruction_of(result).cause;
    data also(data::type::list);
    for (const auto& [finding, stages] : placed_findings(result)) {
        if (finding.level == Level::stop &&
            !(cause && cause->code == finding.code && in_shop_words(cause->text) == finding.text)) {
            also.push_back(data(unbroken(finding.text)));
        }
    }
    page.set("also", also);
    if (!answer_is_yes(result)) {
        page.set("after", "Still open: " + joined(open_items(result), "; ") + ".");
    }
    page.set("job", result.sheet.job);
    set_unless_empty(page, "vehicle", result.sheet.vehicle);
    set_unless_empty(page, "technician", result.sheet.technician);
    page.set("mount", result.mount.name);
    if (!result.sightings.empty() && !result.sightings.back().photos.empty()) {
        const auto& taken = result.sightings.back().photos.front().facts.taken_at;
        set_unless_empty(page, "taken", date_words(taken));
    }
}

void set_answer(data& page, const JobResult& result, const SightingResult& sighting) {
    data axes(data::type::list);
    for (const auto axis : {Axis::yaw, Axis::pitch}) {
        if (const auto answer = axis_answer(result, sighting, axis)) {
            axes.push_back(axis_card(*answer, axis));
        }
    }
    page.set("axes", axes);
    if (!axes.is_empty_list()) {
        page.set("method", answered_by_photos(sighting) ? "Measured from the photos."
                                                        : "Measured with tape and level alone.");
    }
}

void set_screws(data& page, const JobResult& result, const SightingResult& sighting) {
    page.set("turns", turns_wanted(result));
    if (!turns_wanted(result)) {
        return;
    }
    data screws(data::type::list);
    for (const auto& correction : by_size(*sighting.corrections)) {
        screws.push_back(record({{"picture", screw_svg(correction)},
                                 {"name", correction.screw},
                                 {"turns", unbroken(turns_words(correction))}}));
    }
    page.set("screws", screws);
    page.set("mount_picture", mount_svg(result.mount));
    page.set("advice", list_of(turning_advice(result, sighting)));
}

void set_scales(data& page, const JobResult& result, const SightingResult& sighting) {
    data scales(data::type::list);
    bool photos = false;
    bool tape = false;
    bool service = false;
    for (const auto axis : {Axis::yaw, Axis::pitch}) {
        if (const auto drawing = scale_drawing(result, sighting, axis)) {
            scales.push_back(data(scale_svg(*drawing)));
            for (const auto& mark : drawing->marks) {
                (mark.filled ? photos : tape) = true;
            }
            service = service || drawing->service_limit_deg;
        }
    }
    page.set("drawn", !scales.is_empty_list());
    page.set("scales", scales);
    page.set("scale_title",
             photos && tape ? "Photos beside tape and level" : "On the scale of the limit");
    page.set("legend", std::string(photos ? "Disc: photos. " : "") +
                           (tape ? "Diamond: tape and level. " : "") +
                           (service ? "Triangles: the tape's 1/8 in rule. " : ""));
    page.set("agreement", list_of(agreement_sentences(sighting)));
    auto sensor = sensor_sentences(sighting);
    std::transform(sensor.begin(), sensor.end(), sensor.begin(), unbroken);
    page.set("sensor", list_of(sensor));
    page.set("service", list_of(service_limit_sentences(result, sighting)));
}

/// "0.47 deg (0.04)": an angle's size and, in brackets, its give or take.
std::string short_words(const std::string& angle, const Estimate& estimate) {
    return fmt::format("{} ({:.2f})", angle, estimate.expanded_95());
}

std::string change_words(const AdjustedStage& stage) {
    if (!stage.yaw_change_left_deg || !stage.pitch_change_up_deg) {
        return "";
    }
    const auto& yaw = *stage.yaw_change_left_deg;
    const auto& pitch = *stage.pitch_change_up_deg;
    return short_words(angle_words(yaw.value) + (yaw.value > 0 ? " to the left" : " to the right"),
                       yaw) +
           ", " +
           short_words(angle_words(pitch.value) + (pitch.value > 0 ? " up" : " down"), pitch);
}

std::string turned_words(const JobResult& result, std::size_t index) {
    if (index >= result.sheet.sightings.size()) {
        return "";
    }
    std::vector<std::string> parts;
    for (const auto& [screw, turns] : result.sheet.sightings[index].turned_clockwise) {
        parts.push_back(screw + " " + turns_words(turns));
    }
    return joined(parts, ", ");
}

/// One angle of one stage with its give or take; empty where it was not measured.
std::string stage_angle(const SightingResult& sighting, Axis axis) {
    const bool yaw = axis == Axis::yaw;
    const auto words = [&](const Estimate& angle) {
        return short_words(yaw ? side_words(angle.value) : nose_words(angle.value), angle);
    };
    if (answered_by_photos(sighting)) {
        const auto& stage = sighting.vision->stage;
        return words(yaw ? stage.yaw_left_deg : stage.pitch_up_deg);
    }
    if (sighting.tape_and_level) {
        const auto& tape = sighting.tape_and_level->outcome;
        if (yaw ? tape.has_yaw : tape.has_pitch) {
            return words(yaw ? tape.yaw_left_deg : tape.pitch_up_deg) + " (tape and level)";
        }
    }
    return "not measured";
}

void set_stages(data& page, const JobResult& result) {
    data stages(data::type::list);
    const std::size_t count = result.sightings.size();
    for (std::size_t i = 0; i < count; ++i) {
        const auto& sighting = result.sightings[i];
        auto row =
            record({{"name", stage_words(result, i)},
                    {"side", stage_angle(sighting, Axis::yaw)},
                    {"nose", stage_angle(sighting, Axis::pitch)},
                    {"change", answered_by_photos(sighting) ? change_words(sighting.vision->stage)
                                                            : std::string()},
                    {"turned", unbroken(turned_words(result, i))}});
        row.set("extra", i > 0 && i + printed_stages - 1 < count);
        stages.push_back(row);
    }
    page.set("stages", stages);
    data responses(data::type::list);
    const auto sentences = response_sentences(result);
    for (std::size_t i = 0; i < sentences.size(); ++i) {
        auto row = record({{"words", sentences[i]}});
        row.set("extra", i + printed_responses < sentences.size());
        responses.push_back(row);
    }
    page.set("responses", responses);
}

data finding_row(const PlacedFinding& placed, bool extra) {
    auto row = record({{"level", level_words(placed.finding.level)},
                       {"text", placed.finding.text},
                       {"stages", placed.stages.empty() ? "" : "(" + placed.stages + ")"}});
    row.set("extra", extra);
    row.set("short", placed.finding.level != Level::stop);
    return row;
}

void set_findings(data& page, const JobResult& result) {
    data again(data::type::list);
    data findings(data::type::list);
    std::size_t again_count = 0;
    std::size_t finding_count = 0;
    for (const auto& placed : placed_findings(result)) {
        if (asks_for_reading(placed.finding)) {
            again.push_back(finding_row(placed, again_count++ >= printed_again));
        } else {
            findings.push_back(finding_row(placed, finding_count++ >= printed_findings));
        }
    }
    page.set("has_again", again_count > 0);
    page.set("again", again);
    set_unless_empty(page, "again_more", more_sentence(again_count, printed_again));
    page.set("has_findings", finding_count > 0);
    page.set("findings", findings);
    set_unless_empty(page, "findings_more", more_sentence(finding_count, printed_findings));
}

/// Pictures of the ways a board can stand wrong, for those that a finding speaks of.
void set_poses(data& page, const JobResult& result) {
    struct Named {
        BoardPose pose;
        const char* key;
        const char* words;
    };
    static constexpr std::array<Named, 3> all{{
        {BoardPose::turned, "target_turned_left", "board turned (from above)"},
        {BoardPose::leaning, "target_lean_back", "board leaning (from the side)"},
        {BoardPose::tilted, "target_roll_clockwise", "board tilted (from the truck)"},
    }};
    data poses(data::type::list);
    for (const auto& named : all) {
        for (const auto& placed : placed_findings(result)) {
            const auto& text = placed.finding.text;
            if (text.find(named.key) != std::string::npos ||
                text.find(reading_words(named.key)) != std::string::npos) {
                poses.push_back(
                    record({{"picture", board_svg(named.pose)}, {"words", named.words}}));
                break;
            }
        }
    }
    page.set("poses", poses);
}

void set_budget(data& page, const SightingResult& sighting) {
    const bool photos = answered_by_photos(sighting);
    const auto& lines = photos ? sighting.vision->stage.budget
                               : (sighting.tape_and_level ? sighting.tape_and_level->outcome.budget
                                                          : std::vector<BudgetLine>{});
    page.set("has_budget", !lines.empty());
    if (lines.empty()) {
        return;
    }
    data budget(data::type::list);
    for (const auto axis : {Axis::yaw, Axis::pitch}) {
        budget.push_back(record({{"title", axis == Axis::yaw ? "Side-to-side aim" : "Up-down aim"},
                                 {"bars", budget_svg(lines, axis, budget_rows)}}));
    }
    page.set("budget", budget);
    page.set("budget_of", photos ? "photos" : "tape and level");
}

void set_photos(data& page, const JobResult& result) {
    data photos(data::type::list);
    std::size_t count = 0;
    for (std::size_t i = result.sightings.size(); i-- > 0;) {
        for (const auto& photo : result.sightings[i].photos) {
            if (const auto picture = annotated_photo(result, i, photo, 520, false)) {
                auto row = record({{"jpeg", base64(jpeg_bytes(*picture, 70))},
                                   {"words", stage_words(result, i) + ", " +
                                                 photo_words(result.sightings[i], photo)}});
                row.set("extra", count++ >= printed_photos);
                photos.push_back(row);
            }
        }
    }
    page.set("has_photos", count > 0);
    page.set("photos", photos);
}

data review_row(const std::string& stage, const std::string& method, const Estimate& yaw,
                const Estimate& pitch, const AxisVerdicts& verdict,
                const std::string& correlation) {
    const auto number = [](double value) { return fmt::format("{:.3f}", value); };
    return record({{"stage", stage},
                   {"method", method},
                   {"yaw", number(yaw.value)},
                   {"yaw_u", number(yaw.standard_uncertainty)},
                   {"yaw_p", number(verdict.yaw.probability)},
                   {"pitch", number(pitch.value)},
                   {"pitch_u", number(pitch.standard_uncertainty)},
                   {"pitch_p", number(verdict.pitch.probability)},
                   {"correlation", correlation}});
}

/// Difference of both methods, half its expanded uncertainty, and E_n where the others have p.
data difference_row(const std::string& stage, const MethodsResult& agreement) {
    data row = record({{"stage", stage}, {"method", "photos minus tape"}, {"correlation", ""}});
    const auto set = [&](const std::string& axis, const std::optional<Agreement>& of) {
        row.set(axis, of ? fmt::format("{:+.3f}", of->difference_deg) : "");
        row.set(axis + "_u", of ? fmt::format("{:.3f}", of->expanded_95_deg / 2) : "");
        row.set(axis + "_p", of ? fmt::format("E_n {:.2f}: {}", of->en, call_text(of->call)) : "");
    };
    set("yaw", agreement.yaw);
    set("pitch", agreement.pitch);
    return row;
}

void set_review_rows(data& page, const JobResult& result) {
    data rows(data::type::list);
    const std::size_t count = result.sightings.size();
    for (std::size_t i = 0; i < count; ++i) {
        const auto& sighting = result.sightings[i];
        const bool extra = i + printed_reviews < count;
        if (answered_by_photos(sighting)) {
            const auto& stage = sighting.vision->stage;
            auto row =
                review_row(stage_words(result, i), "photos", stage.yaw_left_deg, stage.pitch_up_deg,
                           sighting.vision->verdict, fmt::format("{:.2f}", stage.correlation));
            row.set("extra", extra);
            rows.push_back(row);
        }
        if (sighting.tape_and_level) {
            const auto& tape = sighting.tape_and_level->outcome;
            auto row = review_row(stage_words(result, i), "tape and level", tape.yaw_left_deg,
                                  tape.pitch_up_deg, sighting.tape_and_level->verdict, "");
            row.set("extra", extra);
            rows.push_back(row);
        }
        if (sighting.agreement) {
            auto row = difference_row(stage_words(result, i), *sighting.agreement);
            row.set("extra", extra);
            rows.push_back(row);
        }
    }
    page.set("review", rows);
}

std::string review_text(const JobResult& result, const SightingResult& sighting) {
    std::string text =
        "p: probability of conformity (JCGM 106, no prior). u: standard uncertainty. Yaw is "
        "positive to the left, pitch positive nose up (ISO 8855 counts pitch positive nose down).";
    if (result.degrees_of_freedom > 0) {
        text += fmt::format(
            " Global test of the readings: chi-square {:.2f} on {:.2f} degrees of "
            "freedom.",
            result.chi_square, result.degrees_of_freedom);
    }
    if (answered_by_photos(sighting)) {
        text += fmt::format(" Cradle offset: left {:+.3f}, up {:+.3f} deg.",
                            sighting.vision->cradle_offset_deg.x(),
                            sighting.vision->cradle_offset_deg.y());
        for (const auto& photo : sighting.vision->stage.photos) {
            text += fmt::format(" {}: {} corners, rms {:.3f} px, roll {:.1f} deg.", photo.file,
                                photo.corners, photo.rms_px, photo.roll_deg);
        }
    }
    return text;
}

/// Numbers of a reading in its unit, lengths of an inch shop in inches.
std::string reading_review(const CheckedReading& reading, LengthUnit shown) {
    const bool inches = reading.unit == "mm" && shown == LengthUnit::in;
    const double scale = inches ? 1 / mm_per_inch : 1;
    const std::string findable =
        std::isfinite(reading.findable) ? fmt::format("{:.4g}", scale * reading.findable) : "none";
    return fmt::format("{}{} {:.5g} {}: residual {:.3f}, w {:.1f}, r {:.2f}, finds {}",
                       reading.name, reading.set_aside ? " (set aside)" : "", scale * reading.value,
                       inches ? "in" : reading.unit, scale * reading.residual, reading.w,
                       reading.redundancy, findable);
}

void set_readings(data& page, const SightingResult& sighting, LengthUnit shown) {
    data items(data::type::list);
    std::size_t count = 0;
    if (answered_by_photos(sighting)) {
        auto readings = sighting.vision->stage.readings;
        std::stable_sort(readings.begin(), readings.end(), [](const auto& a, const auto& b) {
            return std::abs(a.w) > std::abs(b.w);
        });
        for (const auto& reading : readings) {
            auto item = record({{"words", reading_review(reading, shown)}});
            item.set("extra", count++ >= printed_readings);
            items.push_back(item);
        }
    }
    page.set("has_readings", count > 0);
    page.set("readings", items);
    set_unless_empty(page, "readings_more", more_sentence(count, printed_readings));
}

void set_notes(data& page, const JobResult& result, const ReviewerNotes& notes) {
    data object = record({{"state", notes.state}});
    object.set("signatures", list_of(notes.signatures));
    object.set("edits", list_of(notes.edits));
    object.set("equipment", list_of(notes.equipment));
    object.set("stored", list_of(notes.stored));
    const auto shared = shared_by_both(result);
    object.set("has_shared", !shared.empty());
    object.set("shared", list_of(shared));
    page.set("notes", object);
}

}  // namespace

std::string report_html(const JobResult& result, const ReviewerNotes* notes) {
    static const SightingResult none;
    const auto& last = result.sightings.empty() ? none : result.sightings.back();
    data page;
    set_head(page, result);
    if (notes != nullptr) {
        set_notes(page, result, *notes);
    }
    page.set("stage", result.sightings.empty() ? "not measured"
                                               : stage_words(result, result.sightings.size() - 1));
    set_answer(page, result, last);
    set_screws(page, result, last);
    set_scales(page, result, last);
    set_stages(page, result);
    page.set("open", list_of(open_items(result)));
    page.set("unready", list_of(unready_items(result)));
    set_findings(page, result);
    set_poses(page, result);
    set_budget(page, last);
    set_photos(page, result);
    page.set("cautions_first", joined(cautions_at_the_truck(), " "));
    page.set("cautions", list_of(cautions_of_the_answer()));
    page.set("sources", list_of(source_sentences(result)));
    set_review_rows(page, result);
    page.set("review_text", review_text(result, last));
    set_readings(page, last, result.sheet.unit);
    return rendered(page_template, std::move(page));
}

}  // namespace squaresight
