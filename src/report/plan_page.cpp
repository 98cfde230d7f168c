#include "report/plan_page.h"

#include <fmt/format.h>

#include <cmath>
#include <functional>

#include "job/words.h"
#include "report/figures.h"
#include "report/page_parts.h"
#include "report/plan_figures.h"
#include "report/plan_words.h"

namespace squaresight {
namespace {

using data = PageData;

constexpr int budget_rows = 6;
constexpr std::size_t improvement_rows = 8;

const char* const plan_template = R"page(<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Bay plan: {{bay}}</title>
<style>{{{style}}}
@page { margin: 10mm; }
h3 { margin-bottom: 0.5rem; }
.first { font-size: 1.1rem; font-weight: 700; margin-top: 0.6rem; }
.after { margin-top: 0.7rem; }
.effort { white-space: nowrap; }
caption { text-align: left; font-weight: 700; padding: 0.2rem 0; }
td.number, th.number { text-align: right; white-space: nowrap; }
tr.planned td, td.planned { font-weight: 700; background: #eee; }
.layout { max-width: 44rem; border: 1px solid #999; }
.caution { margin-top: 1rem; }
@media print { .sheet { break-before: page; } }
</style>
</head>
<body>
<main>
<div class="banner"><div class="sign">{{{sign}}}</div><div>
<p><b>BAY PLAN: {{bay}}</b></p>
<h1>{{verdict}}</h1>
<p>{{setting}}</p>
</div></div>
<p class="first">{{advice}}</p>
<div class="columns">
{{#axes}}<section><h2>{{title}} <small>({{term}})</small></h2>
<p class="big">{{spread}}</p><p><b>{{limit}}</b></p><p>{{sure}}</p></section>
{{/axes}}</div>
<p class="after">{{change}}</p>
{{#base}}<p class="after">{{base}}</p>{{/base}}
{{#notes}}<p class="small after">Note: {{.}}</p>{{/notes}}
<h2>What would make it better</h2>
<div class="wide"><table>
<tr><th>Do this</th><th>Effort</th><th class="number">side to side</th><th class="number">up-down</th></tr>
<tr class="planned"><td>as planned</td><td></td><td class="number">{{yaw_now}}</td><td class="number">{{pitch_now}}</td></tr>
{{#improvements}}<tr><td>{{what}}</td><td class="effort">{{effort}}</td><td class="number">{{yaw}}</td><td class="number">{{pitch}}</td></tr>
{{/improvements}}</table></div>
<p class="small">Give or take, degrees. The first line brings most for its effort; the order of effort is a rule of thumb.</p>
<h2>How sure a call will be</h2>
<div class="columns"><figure><h3>Side-to-side aim</h3>{{{yaw_power}}}</figure>
<figure><h3>Up-down aim</h3>{{{pitch_power}}}</figure></div>
<h2>Where the error comes from</h2>
<div class="columns"><figure><h3>Side-to-side aim</h3>{{{yaw_budget}}}</figure>
<figure><h3>Up-down aim</h3>{{{pitch_budget}}}</figure></div>
<h2>Board and distance</h2>
<div class="columns"><figure><h3>Side-to-side aim</h3>{{{yaw_boards}}}</figure>
<figure><h3>Up-down aim</h3>{{{pitch_boards}}}</figure></div>
<div class="wide"><table><caption>Give or take side to side / up-down, degrees</caption>
<tr><th>Board</th>{{#distances}}<th class="number">{{.}}</th>{{/distances}}</tr>
{{#boards}}<tr><td>{{board}}</td>{{#cells}}<td class="number{{#planned}} planned{{/planned}}">{{text}}</td>{{/cells}}</tr>
{{/boards}}</table></div>
<p class="small">{{#problems}}{{.}} {{/problems}}</p>
<h2>Line and photos</h2>
<div class="columns">
<table><caption>Plumb marks apart</caption>
<tr><th>Base</th><th class="number">side to side</th><th class="number">up-down</th></tr>
{{#lines}}<tr{{#planned}} class="planned"{{/planned}}><td>{{name}}</td><td class="number">{{yaw}}</td><td class="number">{{pitch}}</td></tr>
{{/lines}}</table>
<table><caption>Photos, half of them upside down</caption>
<tr><th>Photos</th><th class="number">side to side</th><th class="number">up-down</th></tr>
{{#photos}}<tr{{#planned}} class="planned"{{/planned}}><td>{{name}}</td><td class="number">{{yaw}}</td><td class="number">{{pitch}}</td></tr>
{{/photos}}</table>
</div>
<p class="small">Give or take, degrees.</p>
<h2>What would be found if it was misread</h2>
<div class="wide"><table>
<tr><th>Reading</th><th class="number">planned</th><th class="number">checked by the rest</th><th class="number">smallest error found</th></tr>
{{#readings}}<tr><td>{{name}}</td><td class="number">{{value}}</td><td class="number">{{redundancy}}</td><td class="number">{{findable}}</td></tr>
{{/readings}}</table></div>
<p class="small">"Checked by the rest": 0 % is checked by nothing else, 100 % is not needed.</p>
<section class="sheet"><h2>Floor layout</h2>
<div class="layout">{{{layout}}}</div></section>
<p class="caution">Vehicle parked, wheels chocked, engine off, key out. Never look into the laser. The vehicle maker's service information comes first. These are predictions: each job states its own give-or-take.</p>
</main>
</body>
</html>
)page";

/// Give or take, in the digits that count.
std::string spread_words(double u_deg) {
    const double spread = 2 * u_deg;
    return spread < 0.0995 ? fmt::format("{:.3f}", spread) : fmt::format("{:.2f}", spread);
}

void set_words(data& page, const BayPlan& plan) {
    page.set("bay", plan.bay.name);
    page.set("sign", mark_svg(plan.reaches() ? Mark::ok : Mark::stop));
    page.set("verdict", plan_verdict(plan));
    page.set("setting", plan_setting(plan));
    page.set("advice", plan_advice(plan));
    page.set("change", plan_change(plan));
    if (const std::string base = plan_base(plan); !base.empty()) {
        page.set("base", base);
    }
    data axes(data::type::list);
    for (const Axis axis : {Axis::yaw, Axis::pitch}) {
        const AxisForecast one = plan_forecast(plan, axis);
        axes.push_back(record({{"title", one.title},
                               {"term", one.term},
                               {"spread", one.spread},
                               {"limit", one.limit},
                               {"sure", one.sure}}));
    }
    page.set("axes", axes);
    data notes(data::type::list);
    for (const auto& note : plan_notes(plan)) {
        notes.push_back(data(note));
    }
    page.set("notes", notes);
}

void set_improvements(data& page, const BayPlan& plan) {
    page.set("yaw_now", spread_words(plan.aim.yaw_deg));
    page.set("pitch_now", spread_words(plan.aim.pitch_deg));
    data rows(data::type::list);
    for (std::size_t i = 0; i < std::min(plan.improvements.size(), improvement_rows); ++i) {
        const Improvement& one = plan.improvements[i];
        rows.push_back(record({{"what", one.what},
                               {"effort", effort_words(one.effort)},
                               {"yaw", spread_words(one.aim.yaw_deg)},
                               {"pitch", spread_words(one.aim.pitch_deg)}}));
    }
    page.set("improvements", rows);
}

void set_figures(data& page, const BayPlan& plan) {
    page.set("yaw_power", power_svg(plan, Axis::yaw));
    page.set("pitch_power", power_svg(plan, Axis::pitch));
    page.set("yaw_budget", budget_svg(plan.stage.budget, Axis::yaw, budget_rows));
    page.set("pitch_budget", budget_svg(plan.stage.budget, Axis::pitch, budget_rows));
    page.set("yaw_boards", boards_svg(plan, Axis::yaw));
    page.set("pitch_boards", boards_svg(plan, Axis::pitch));
}

std::string cell_words(const Alternative& row) {
    return row.aim ? spread_words(row.aim->yaw_deg) + " / " + spread_words(row.aim->pitch_deg)
                   : "\u2013";
}

/// Board by board, one column a distance.
void set_boards(data& page, const BayPlan& plan) {
    data distances(data::type::list), boards(data::type::list), problems(data::type::list);
    std::size_t count = 0;
    while (count < plan.boards.size() && plan.boards[count].board == plan.boards[0].board) {
        distances.push_back(data(length_words(plan.boards[count].distance_mm, plan.bay.unit)));
        ++count;
    }
    for (std::size_t first = 0; first < plan.boards.size(); first += count) {
        data cells(data::type::list);
        for (std::size_t i = first; i < first + count; ++i) {
            const Alternative& row = plan.boards[i];
            data cell = record({{"text", cell_words(row)}});
            cell.set("planned", row.planned);
            cells.push_back(cell);
            if (!row.aim) {
                problems.push_back(
                    data(fmt::format("{} at {}: {}.", row.board,
                                     length_words(row.distance_mm, plan.bay.unit), row.problem)));
            }
        }
        data board = record({{"board", plan.boards[first].board}});
        board.set("cells", cells);
        boards.push_back(board);
    }
    page.set("distances", distances);
    page.set("boards", boards);
    page.set("problems", problems);
}

data alternatives(const std::vector<Alternative>& rows,
                  const std::function<std::string(const Alternative&)>& name) {
    data list(data::type::list);
    for (const auto& row : rows) {
        data one = record({{"name", name(row)},
                           {"yaw", row.aim ? spread_words(row.aim->yaw_deg) : row.problem},
                           {"pitch", row.aim ? spread_words(row.aim->pitch_deg) : ""}});
        one.set("planned", row.planned);
        list.push_back(one);
    }
    return list;
}

std::string value_words(double value, const std::string& unit, const BayPlan& plan) {
    if (!std::isfinite(value)) {
        return "none";
    }
    return unit == "mm" ? length_words(value, plan.bay.unit) : fmt::format("{:.2g} deg", value);
}

void set_readings(data& page, const BayPlan& plan) {
    data rows(data::type::list);
    for (const auto& one : plan.stage.readings) {
        rows.push_back(record({{"name", reading_words(one.name)},
                               {"value", value_words(one.value, one.unit, plan)},
                               {"redundancy", fmt::format("{:.0f} %", 100 * one.redundancy)},
                               {"findable", value_words(one.findable, one.unit, plan)}}));
    }
    page.set("readings", rows);
}

/// What stands before the picture in an SVG file has no place in a page.
std::string without_prolog(const std::string& svg_file) {
    const auto begin = svg_file.find("<svg");
    return begin == std::string::npos ? "" : svg_file.substr(begin);
}

}  // namespace

std::string plan_html(const BayPlan& plan, const std::string& floor_layout_svg) {
    data page;
    set_words(page, plan);
    set_improvements(page, plan);
    set_figures(page, plan);
    set_boards(page, plan);
    page.set("lines", alternatives(plan.lines, [&](const Alternative& row) {
                 return length_both_ways(row.line_base_mm, plan.bay.unit);
             }));
    page.set("photos", alternatives(plan.photos, [](const Alternative& row) {
                 return std::to_string(row.photos);
             }));
    set_readings(page, plan);
    page.set("layout", without_prolog(floor_layout_svg));
    return rendered(plan_template, std::move(page));
}

}  // namespace squaresight
