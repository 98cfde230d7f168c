#include "records/reading_scatter.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <sstream>

#include "adjust/model.h"
#include "units/error.h"

namespace squaresight {
namespace {

using Json = nlohmann::ordered_json;

double limit_of(const Reading& reading) { return std::sqrt(3.0) * reading.standard_uncertainty; }

/// What a sheet states of one kind of reading.
struct Stated {
    double limit = 0, value = 0;
};

Stated stated_of(const Reading& reading) { return {limit_of(reading), reading.value}; }

/// What the setup and tape-and-level of a stage state, by kind.
std::map<std::string, Stated> stated_by(const SheetSetup& setup, const TapeAndLevel* tape) {
    std::map<std::string, Stated> stated;
    for (const auto& entry : setup_reading_names) {
        stated[entry.name] = stated_of(setup.readings.*entry.reading);
    }
    if (setup.line_marks) {
        stated["plumb"] = {setup.line_marks->plumb_limit_mm, setup.line_marks->base_mm};
    }
    for (const auto& one : setup.tapes) {
        Stated& tapes = stated["tapes"];
        tapes = {std::max(tapes.limit, limit_of(one.length_mm)), one.length_mm.value};
    }
    if (tape != nullptr) {
        stated["passes"].limit = tape->pass_limit_mm;
        stated["face_level"].limit = tape->face_level_limit_deg;
    }
    return stated;
}

/// "tape left hook to left edge" is of the kind "tapes", "passes, as-left" of "passes".
std::string kind_of(const std::string& name, bool by_marks) {
    if (name.starts_with("tape ")) {
        return "tapes";
    }
    return name == "line" && by_marks ? "plumb" : name.substr(0, name.find(','));
}

bool has_other_stop(const Json& findings) {
    return std::any_of(findings.begin(), findings.end(), [](const Json& finding) {
        return finding.at("level") == "stop" && finding.at("code") != "inconsistent";
    });
}

bool counts(const Json& result, const Json& sighting) {
    const Json& vision = sighting.at("vision");
    return !vision.is_null() && !vision.at("readings").empty() &&
           !has_other_stop(result.at("findings")) && !has_other_stop(sighting.at("findings")) &&
           !has_other_stop(vision.at("findings"));
}

/// A reading without redundancy has no w (null).
double number(const Json& json) { return json.is_number() ? json.get<double>() : 0; }

std::vector<KindScatter> scatter_of(const Json& readings, const SheetSetup& setup,
                                    const TapeAndLevel* tape) {
    const auto stated = stated_by(setup, tape);
    std::map<std::string, KindScatter> kinds;
    for (const auto& reading : readings) {
        const std::string kind = kind_of(reading.at("name"), setup.line_marks.has_value());
        KindScatter& of = kinds[kind];
        of.kind = kind;
        if (reading.value("set_aside", false)) {
            ++of.set_aside;
        } else {
            of.sums.add(number(reading.at("w")), number(reading.at("redundancy")));
        }
        if (const auto found = stated.find(kind); found != stated.end()) {
            of.limit = found->second.limit;
            of.value = found->second.value;
        }
    }
    std::vector<KindScatter> found;
    for (auto& [kind, of] : kinds) {
        found.push_back(std::move(of));
    }
    return found;
}

}  // namespace

bool is_angle_kind(const std::string& kind) {
    constexpr std::array angles{"line",
                                "floor_rise",
                                "rail_zero",
                                "target_lean_back",
                                "face_level",
                                "target_turned_left",
                                "target_roll_clockwise"};
    return std::find(angles.begin(), angles.end(), kind) != angles.end();
}

std::vector<std::vector<KindScatter>> reading_scatter(const Json& result, const JobSheet& sheet) {
    std::vector<std::vector<KindScatter>> stages;
    const SheetSetup* setup = nullptr;  // whose readings were not taken yet
    for (std::size_t i = 0; i < sheet.sightings.size(); ++i) {
        const SheetSighting& stage = sheet.sightings[i];
        const Json& sighting = result.at("sightings").at(i);
        stages.emplace_back();
        if (!stage.same_setup) {
            setup = stage.setup ? &*stage.setup : nullptr;
        }
        if (setup != nullptr && counts(result, sighting)) {
            stages.back() = scatter_of(sighting.at("vision").at("readings"), *setup,
                                       stage.tape_and_level ? &*stage.tape_and_level : nullptr);
            setup = nullptr;
        }
    }
    return stages;
}

std::string scatter_text(const std::vector<KindScatter>& kinds) {
    std::string text;
    for (const auto& [kind, sums, set_aside, limit, value] : kinds) {
        text +=
            fmt::format("{}{} {} {} {:.6g} {:.6g} {:.6g} {:.6g}", text.empty() ? "" : "; ", kind,
                        sums.readings, set_aside, sums.squares, sums.redundancy, limit, value);
    }
    return text;
}

std::vector<KindScatter> parse_scatter(const std::string& text) {
    std::vector<KindScatter> kinds;
    std::istringstream all(text);
    for (std::string part; std::getline(all, part, ';');) {
        std::istringstream in(part);
        KindScatter one;
        in >> one.kind >> one.sums.readings >> one.set_aside >> one.sums.squares >>
            one.sums.redundancy >> one.limit >> one.value;
        if (!in) {
            throw InputError("records", "the scatter of a job's readings cannot be read",
                             "run squaresight records verify");
        }
        kinds.push_back(std::move(one));
    }
    return kinds;
}

}  // namespace squaresight
