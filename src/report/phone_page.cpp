#include "report/phone_page.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "job/words.h"
#include "report/figures.h"
#include "report/page_parts.h"
#include "report/phone_figures.h"
#include "report/phone_words.h"
#include "report/summary.h"

namespace squaresight {
namespace {

using data = PageData;

const char* const phone_template = R"page(<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Phone check: {{name}}</title>
<style>{{{style}}}
@page { margin: 10mm; }
h3 { margin-top: 0.6rem; }
p { margin-top: 0.2rem; }
.banner p, .banner h1 { margin-top: 0; }
.banner .first { font-size: 1.1rem; font-weight: 700; margin: 0.2rem 0 0.4rem; }
.share figure { margin-top: 0.6rem; }
.next { margin-top: 0.8rem; padding: 0.5rem 0.8rem; border: 3px solid #111; }
.next p { font-size: 1.1rem; font-weight: 700; }
.next p.small { font-size: 0.82rem; font-weight: 400; }
details { margin-top: 0.5rem; }
summary { font-weight: 700; cursor: pointer; padding: 0.3rem 0; }
.grid td { text-align: right; padding: 0.1rem 0.35rem; font-size: 0.75rem; white-space: nowrap;
  border: 1px solid #999; }
.number { text-align: right; }
td.number { white-space: nowrap; }
.file { overflow-wrap: anywhere; min-width: 11rem; }
tr.out td { background: #eee; }
.command { white-space: nowrap; }
.engineer { font-size: 0.85rem; }
.engineer td, .engineer th { padding: 0.1rem 0.5rem 0.1rem 0; }
.engineer td.number { font-variant-numeric: tabular-nums; }
@media screen and (max-width: 43.9rem) {
  .photos td.number { display: inline-block; text-align: left; margin-right: 0.7rem; }
  .photos td.number:empty { display: none; }
  .photos td.file, .photos td.use { font-weight: 700; }
}
@media print {
  .figure { break-inside: avoid; }
  .engineer { break-before: page; }
  .figure figure { width: 88%; }
  .grid td { font-size: 0.68rem; }
  .photos td { padding-top: 0.1rem; padding-bottom: 0.1rem; }
  .banner h1 { font-size: 1.9rem; }
  details::details-content { content-visibility: visible; display: block; height: auto; }
}
</style>
</head>
<body>
<main>
<header class="banner">
<div class="sign">{{{sign}}}</div>
<div><p class="heading">PHONE CHECK: {{name}}</p>
<h1>{{call}}</h1>
<p class="first">{{first}}</p>
{{#reason}}<p>{{reason}}</p>{{/reason}}
<p class="after"><b>{{dates}}</b></p></div>
</header>

<h2>What it means</h2>
<p>In the bay that this phone is for, the board stands {{distance}} ahead. How far the lens alone can put a measurement off there:</p>
<div class="columns share">
{{#axes}}<section><h3>{{title}} <small>{{term}}</small></h3>
<p class="big">{{share}}</p>
<p class="call">{{call}}</p>
<p>{{whole}}</p>
<figure>{{{picture}}}</figure></section>
{{/axes}}</div>
<p class="small">The lens may take up a quarter of the largest give or take that can still decide. Shares add as squares, so it counts for less than its length.</p>
{{#cost}}<p class="caution">{{cost}}</p>{{/cost}}
{{^next_on_top}}<div class="next"><h3>The next photo to take</h3>
{{#next}}<p>{{next}}</p>{{/next}}{{^next}}<p>None: no further photo would tell much more.</p>{{/next}}
{{#gain}}<p class="small">{{gain}}</p>{{/gain}}</div>{{/next_on_top}}

<h2>What was found</h2>
{{^has_findings}}<p>Nothing against the boards, the photos or the tapes.</p>{{/has_findings}}
<ul>{{#findings}}<li><span class="word {{level}}">{{level}}</span> {{text}}</li>
{{/findings}}</ul>

{{#figures}}<section class="figure"><h2>{{title}}</h2>
<div class="columns"><figure>{{{picture}}}</figure>
<div><ul>{{#words}}<li>{{.}}</li>{{/words}}</ul>
<details><summary>{{table_title}}</summary>
<div class="wide"><table class="grid">{{#rows}}<tr>{{#cells}}<td>{{#lines}}{{.}}<br>{{/lines}}</td>{{/cells}}</tr>
{{/rows}}</table></div></details></div></div></section>
{{/figures}}

<h2>Photos</h2>
<table class="stacked photos">
<tr><th>No.</th><th>Photo</th><th>Board</th><th class="number">Distance</th><th class="number">Tilt</th><th class="number">Corners</th><th class="number">Misfit, px</th><th class="number">Without it, px</th><th>Use</th></tr>
{{#photos}}<tr{{#out}} class="out"{{/out}}><td data-label="Photo ">{{number}}</td><td class="file">{{file}}</td><td data-label="Board: ">{{board}}</td><td class="number" data-label="Distance: ">{{distance}}</td><td class="number" data-label="Tilt: ">{{tilt}}</td><td class="number" data-label="Corners: ">{{corners}}</td><td class="number" data-label="Misfit, px: ">{{misfit}}</td><td class="number" data-label="Misfit without it, px: ">{{held_out}}</td><td class="use">{{use}}</td></tr>
{{/photos}}</table>
<p class="small">Misfit: how far corners lie off, root mean square of each axis. Without it: the same by a lens that was found without this photo. Distance: from the lens to the middle of the board. Tilt: of the board, off square-on to the line of sight.</p>

<div class="engineer" id="engineer">
<h2>Details for the engineer</h2>
<div class="columns">
<div><h3>Lens</h3>
<table><tr><th>Term</th><th class="number">value</th><th class="number">standard uncertainty</th></tr>
{{#terms}}<tr><td>{{term}}</td><td class="number">{{value}}</td><td class="number">{{u}}</td></tr>
{{/terms}}</table>
<p class="small">Focal lengths and principal point in pixels, pixel centres at whole numbers. OpenCV's order and meaning.</p></div>
<div><h3>Model and fit</h3>
<ul>{{#model}}<li>{{.}}</li>{{/model}}</ul>
<h3>Focus, sag, jitter</h3>
<ul>{{#steadiness}}<li>{{.}}</li>{{/steadiness}}</ul></div>
</div>
<h3>Correlations</h3>
<div class="wide"><table class="grid"><tr><td></td>{{#names}}<td><b>{{.}}</b></td>{{/names}}</tr>
{{#correlations}}<tr><td><b>{{name}}</b></td>{{#cells}}<td>{{.}}</td>{{/cells}}</tr>
{{/correlations}}</table></div>
<h3>Boards</h3>
<div class="wide"><table><tr><th>Board</th><th class="number">print scale across</th><th class="number">down</th><th class="number">bow across</th><th class="number">bow down</th><th class="number">twist</th><th class="number">flat within</th></tr>
{{#boards}}<tr><td>{{name}}</td><td class="number">{{across}}</td><td class="number">{{down}}</td><td class="number">{{bow_across}}</td><td class="number">{{bow_down}}</td><td class="number">{{twist}}</td><td class="number">{{flat}}</td></tr>
{{/boards}}</table></div>
<p class="small">As found; in brackets what the board's file says. Bow and twist at the edge of the sheet.</p>
<div class="columns">
<div><h3>Taped distances</h3><ul>{{#tapes}}<li>{{.}}</li>{{/tapes}}</ul></div>
<div><h3>Identity</h3><ul>{{#identity}}<li>{{.}}</li>{{/identity}}</ul></div>
</div>
<details><summary>Photos, further figures</summary>
<div class="wide"><table><tr><th>No.</th><th class="number">corners found</th><th class="number">corners in use</th><th class="number">focal length over the lens's</th><th class="number">noise over what was stated</th></tr>
{{#views}}<tr><td>{{number}}</td><td class="number">{{found}}</td><td class="number">{{used}}</td><td class="number">{{scale}}</td><td class="number">{{noise}}</td></tr>
{{/views}}</table></div></details>
</div>

<h2>Cautions</h2>
<ul>
<li>The phone was dropped, has a new case or a cover over the lens, or new software: run <b>squaresight <span class="command">calibrate --check</span></b> with the camera file and a few new photos of a board before the next job.</li>
<li>It holds for this lens of the phone without zoom, and for original photos. Another lens, zoom, or photos sent through a messenger are another camera.</li>
<li>The vehicle maker's service information decides. This page says only how well the phone knows where it points.</li>
</ul>
</main>
</body>
</html>
)page";

constexpr std::array term_names{"fx", "fy", "cx", "cy", "k1", "k2",  "p1",
                                "p2", "k3", "k4", "k5", "k6", "skew"};

void set_head(data& page, const PhoneCheck& check) {
    const Mark mark = is_fit(check)              ? Mark::ok
                      : has_stop(check.findings) ? Mark::stop
                                                 : Mark::not_yet;
    page.set("name", check.camera.name);
    page.set("sign", mark_svg(mark));
    page.set("call", phone_call(check));
    const std::string first = phone_first(check);
    page.set("first", first);
    if (const std::string reason = phone_reason(check); reason != first) {
        set_unless_empty(page, "reason", reason);
    }
    page.set("dates", phone_dates(check));
}

void set_meaning(data& page, const PhoneCheck& check) {
    const PhoneVerdict& verdict = check.verdict;
    page.set("distance", length_words(verdict.distance_mm, check.unit));
    data axes(data::type::list);
    for (const Axis axis : {Axis::yaw, Axis::pitch}) {
        const LensShareWords words = lens_share_words(verdict, axis);
        axes.push_back(
            record({{"title", words.title},
                    {"term", words.term},
                    {"share", words.share},
                    {"call", words.call},
                    {"whole", words.whole},
                    {"picture", is_predicted(verdict) ? lens_share_svg(verdict, axis) : ""}}));
    }
    page.set("axes", axes);
    set_unless_empty(page, "cost", verdict.cost_of_no_tape);
    page.set("next_on_top", check.next && check.next->words == phone_first(check));
    if (check.next) {
        page.set("next", check.next->words);
        if (check.next->gain > 0) {
            page.set("gain", fmt::format("It would take about {:.0f} % off the give or take of "
                                         "where the phone points.",
                                         100 * check.next->gain));
        }
    }
}

void set_findings(data& page, const PhoneCheck& check) {
    data findings(data::type::list);
    for (const Level level : {Level::stop, Level::warning, Level::note}) {
        for (const auto& finding : check.findings) {
            if (finding.level == level) {
                findings.push_back(record({{"level", level_words(level)}, {"text", finding.text}}));
            }
        }
    }
    page.set("has_findings", !check.findings.empty());
    page.set("findings", findings);
}

/// Rows of a table from what stands in each field of a picture.
template <class Lines>
data grid(int rows, int columns, const Lines& lines_of) {
    data table(data::type::list);
    for (int row = 0; row < rows; ++row) {
        data cells(data::type::list);
        for (int column = 0; column < columns; ++column) {
            data cell;
            cell.set("lines", list_of(lines_of(row, column)));
            cells.push_back(cell);
        }
        data line;
        line.set("cells", cells);
        table.push_back(line);
    }
    return table;
}

data figure(const char* title, const std::string& picture, const std::vector<std::string>& words,
            const char* table_title, const data& rows) {
    data one = record({{"title", title}, {"picture", picture}, {"table_title", table_title}});
    one.set("words", list_of(words));
    one.set("rows", rows);
    return one;
}

std::vector<std::string> misfit_lines(const PictureFields& fields, int row, int column) {
    if (fields.corners(row, column) == 0) {
        return {"\u2013"};
    }
    const double right = fields.mean_right_px(row, column);
    const double down = fields.mean_down_px(row, column);
    return {fmt::format("{:.3f}", fields.rms_px(row, column)),
            fmt::format("{}{:.3f}", right < 0 ? "\u2190" : "\u2192", std::abs(right)),
            fmt::format("{}{:.3f}", down < 0 ? "\u2191" : "\u2193", std::abs(down))};
}

void set_figures(data& page, const PhoneCheck& check) {
    const PictureFields covered = fields_of(check, coverage_columns, coverage_rows);
    const PictureFields fields = fields_of(check, map_columns, map_rows);
    const Eigen::MatrixXd map = 2 * pointing_map_deg(check, map_columns, map_rows);
    data figures(data::type::list);
    figures.push_back(figure("Where corners were found", coverage_svg(check), coverage_words(check),
                             "Corners in each field",
                             grid(coverage_rows, coverage_columns, [&](int row, int column) {
                                 return std::vector{std::to_string(covered.corners(row, column))};
                             })));
    figures.push_back(figure(
        "How far corners lie off", misfits_svg(check), misfit_words(check),
        "Misfit in each field: root mean square per axis, then mean sideways and up or down, "
        "px",
        grid(map_rows, map_columns,
             [&](int row, int column) { return misfit_lines(fields, row, column); })));
    figures.push_back(figure("How well it knows where it points", pointing_svg(check),
                             pointing_words(check), "Give or take in each field, degrees",
                             grid(map_rows, map_columns, [&](int row, int column) {
                                 return std::vector{std::isfinite(map(row, column))
                                                        ? number_words(map(row, column), 4)
                                                        : std::string("no ray")};
                             })));
    page.set("figures", figures);
}

std::string board_name(const PhoneCheck& check, int board) {
    const auto index = static_cast<std::size_t>(board);
    return board >= 0 && index < check.boards.size() ? check.boards[index].name : "";
}

void set_photos(data& page, const PhoneCheck& check) {
    data photos(data::type::list);
    for (std::size_t i = 0; i < check.photos.size(); ++i) {
        const PhotoUse& photo = check.photos[i];
        const bool out = !photo.left_out.empty();
        data row = record({{"number", std::to_string(i + 1)},
                           {"file", photo.file},
                           {"board", board_name(check, photo.board)}});
        row.set("out", out);
        row.set("use", out ? "left out: " + photo.left_out
                           : std::string(photo.taped ? "used, taped" : "used"));
        row.set("distance", out ? "" : length_words(photo.distance_mm, check.unit));
        row.set("tilt", out ? "" : number_words(photo.tilt_deg, 0) + "\u00A0deg");
        row.set("corners", out ? "" : std::to_string(photo.corners));
        row.set("misfit", out ? "" : number_words(photo.rms_px, 3));
        row.set("held_out", out ? "" : number_words(photo.held_out_rms_px, 3));
        photos.push_back(row);
    }
    page.set("photos", photos);
}

/// Terms that were estimated; the others are zero.
std::vector<int> estimated_terms(const CalibrationSolution& solution) {
    std::vector<int> terms;
    for (int term = 0; term < Lens::term_count; ++term) {
        if (solution.covariance(term, term) > 0) {
            terms.push_back(term);
        }
    }
    return terms;
}

const char* name_of(int term) { return term_names[static_cast<std::size_t>(term)]; }

void set_lens(data& page, const CalibrationSolution& solution) {
    const auto values = solution.lens.terms();
    const auto terms = estimated_terms(solution);
    data rows(data::type::list), names(data::type::list), correlations(data::type::list);
    for (const int term : terms) {
        const double u = std::sqrt(solution.covariance(term, term));
        rows.push_back(record({{"term", name_of(term)},
                               {"value", number_words(values[static_cast<std::size_t>(term)], u)},
                               {"u", number_words(u, u)}}));
        names.push_back(data(name_of(term)));
        data cells(data::type::list);
        for (const int other : terms) {
            if (other > term) {
                break;
            }
            const double u_other = std::sqrt(solution.covariance(other, other));
            cells.push_back(data(number_words(solution.covariance(term, other) / u / u_other, 2)));
        }
        data row = record({{"name", name_of(term)}});
        row.set("cells", cells);
        correlations.push_back(row);
    }
    page.set("terms", rows);
    page.set("names", names);
    page.set("correlations", correlations);
}

void set_boards(data& page, const PhoneCheck& check) {
    data boards(data::type::list);
    for (std::size_t b = 0; b < std::min(check.data.boards.size(), check.solution.sheets.size());
         ++b) {
        const CalibrationBoard& board = check.data.boards[b];
        const SheetInputs& found = check.solution.sheets[b];
        const auto scale = [&](double value, double stated) {
            return fmt::format("{} ({}{})", number_words(value, 5), number_words(stated, 4),
                               board.print_checked ? "" : ", not checked");
        };
        const auto size = [&](double size_mm, int digits) {
            const bool inches = check.unit == LengthUnit::in;
            return inches ? number_words(std::abs(size_mm) / mm_per_inch, digits + 1) + "\u00A0in"
                          : number_words(std::abs(size_mm), digits) + "\u00A0mm";
        };
        boards.push_back(record({{"name", board.name},
                                 {"across", scale(found[0], board.printed.x())},
                                 {"down", scale(found[1], board.printed.y())},
                                 {"bow_across", size(found[2], 2)},
                                 {"bow_down", size(found[3], 2)},
                                 {"twist", size(found[4], 2)},
                                 {"flat", size(board.flatness_mm, 1)}}));
    }
    page.set("boards", boards);
}

void set_views(data& page, const PhoneCheck& check) {
    data views(data::type::list);
    for (std::size_t i = 0; i < check.photos.size(); ++i) {
        const auto v = static_cast<std::size_t>(check.photos[i].solution_view);
        if (check.photos[i].solution_view < 0 ||
            v >= std::min(check.solution.views.size(), check.data.views.size())) {
            continue;
        }
        const CalibratedView& view = check.solution.views[v];
        views.push_back(record({{"number", std::to_string(i + 1)},
                                {"found", std::to_string(check.data.views[v].corners.size())},
                                {"used", std::to_string(view.corners.size())},
                                {"scale", number_words(view.focal_scale, 5)},
                                {"noise", number_words(view.noise_factor, 2)}}));
    }
    page.set("views", views);
}

}  // namespace

std::string phone_page(const PhoneCheck& check) {
    data page;
    set_head(page, check);
    set_meaning(page, check);
    set_findings(page, check);
    set_figures(page, check);
    set_photos(page, check);
    set_lens(page, check.solution);
    set_boards(page, check);
    set_views(page, check);
    page.set("model", list_of(model_words(check)));
    page.set("steadiness", list_of(steadiness_words(check)));
    page.set("tapes", list_of(tape_words(check)));
    page.set("identity", list_of(identity_words(check)));
    return rendered(phone_template, std::move(page));
}

}  // namespace squaresight
