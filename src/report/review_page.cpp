#include "report/review_page.h"

#include <fmt/format.h>

#include <cctype>
#include <set>

#include "report/page_parts.h"

namespace squaresight {
namespace {

const char* const review_template = R"page(<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Review {{period}}</title>
<style>{{{style}}}
@page { margin: 12mm; }
.summary li { font-size: 1.05rem; margin: 0.35rem 0; }
.summary .urgent { font-weight: 700; }
a { color: #0b3a7a; }
p { margin-top: 0.3rem; }
.chart { margin-top: 0.9rem; break-inside: avoid; }
.chart figure { max-width: 44rem; overflow-x: auto; }
@media screen { .chart svg { min-width: 32rem; } }
@media screen and (max-width: 35rem) {
  .chart figure::before { content: "wider than this screen: slide it sideways"; position: sticky; left: 0; font-size: 0.8rem; }
}
caption, figcaption { text-align: left; font-weight: 700; padding: 0.3rem 0; }
.numbers { font-size: 0.8rem; font-variant-numeric: tabular-nums; }
.numbers td, .numbers th { padding: 0.1rem 0.7rem 0.1rem 0; }
.chart .numbers td:not(:last-child), .chart .numbers th { white-space: nowrap; }
.parts { columns: 16rem; }
@media print {
  .parts { display: none; }
  h2 { margin-top: 0.9rem; }
  .chart { margin-top: 0.5rem; }
  .chart figure { max-width: 112mm; }
  .numbers { font-size: 0.66rem; line-height: 1.15; }
  .numbers tr, section > ul > li { break-inside: avoid; }
}
</style>
</head>
<body>
<main>
<header class="banner"><div><p class="heading">{{heading}}</p>
<h1>{{period}}</h1>
{{#selection}}<p>{{selection}}</p>{{/selection}}
<ul class="summary">{{#summary}}<li{{#urgent}} class="urgent"{{/urgent}}>{{#urgent}}<span class="word WARNING">TODAY</span> {{/urgent}}{{text}}{{#part}} <a href="#{{part}}">{{part_title}}</a>{{/part}}</li>
{{/summary}}</ul></div></header>
<nav><ul class="parts">{{#parts}}<li><a href="#{{id}}">{{title}}</a></li>{{/parts}}</ul></nav>
{{#parts}}<section id="{{id}}"><h2>{{title}}</h2>
<ul>{{#sentences}}<li>{{before}}{{#job}}<a href="#{{row}}">{{job}}</a>{{/job}}{{after}}</li>{{/sentences}}</ul>
{{#charts}}<div class="chart"><figure tabindex="0"><figcaption>{{caption}}</figcaption>{{{svg}}}</figure>
{{>table}}</div>
{{/charts}}{{#tables}}{{>table}}
{{/tables}}</section>
{{/parts}}
<h2>About these numbers</h2>
<ul>{{#notes}}<li>{{.}}</li>{{/notes}}</ul>
</main>
</body>
</html>
)page";

const char* const table_template =
    R"page(<div class="wide" tabindex="0"><table class="numbers">{{#table_caption}}<caption>{{table_caption}}</caption>{{/table_caption}}<tr>{{#head}}<th>{{.}}</th>{{/head}}</tr>
{{#rows}}<tr{{#row}} id="{{row}}"{{/row}}>{{#cells}}<td>{{.}}</td>{{/cells}}</tr>
{{/rows}}</table></div>)page";

/// The id of a job's row: letters and digits, others by their bytes.
std::string row_id(const std::string& job) {
    std::string id = "job-";
    for (const char c : job) {
        const bool plain = std::isalnum(static_cast<unsigned char>(c)) != 0;
        id += plain ? std::string(1, c) : fmt::format("-{:02x}", static_cast<unsigned char>(c));
    }
    return id;
}

void set_table(PageData& object, const ChartTable& table,
               std::optional<std::size_t> job_column = std::nullopt) {
    object.set("head", list_of(table.head));
    PageData rows(PageData::type::list);
    for (const auto& cells : table.rows) {
        PageData row;
        row.set("cells", list_of(cells));
        if (job_column) {
            row.set("row", row_id(cells.at(*job_column)));
        }
        rows.push_back(row);
    }
    object.set("rows", rows);
}

/// Jobs that have a row in one of the tables.
std::set<std::string> jobs_with_row(const ReviewLayout& layout) {
    std::set<std::string> jobs;
    for (const auto& part : layout.parts) {
        for (const auto& one : part.tables) {
            for (const auto& cells : one.table.rows) {
                if (one.job_column) {
                    jobs.insert(cells.at(*one.job_column));
                }
            }
        }
    }
    return jobs;
}

/// A sentence in which the name of its job leads to the job's row, where it has one.
PageData sentence_data(const PartSentence& sentence, const std::set<std::string>& with_row) {
    const auto& [text, job] = sentence;
    const auto at = with_row.contains(job) ? text.find(job) : std::string::npos;
    PageData data = record({{"before", text.substr(0, at)}});
    if (at != std::string::npos) {
        data.set("job", job);
        data.set("row", row_id(job));
        data.set("after", text.substr(at + job.size()));
    }
    return data;
}

PageData part_data(const ReviewPart& part, const std::set<std::string>& with_row) {
    PageData object = record({{"id", part.id}, {"title", part.title}});
    PageData sentences(PageData::type::list);
    for (const auto& sentence : part.sentences) {
        sentences.push_back(sentence_data(sentence, with_row));
    }
    object.set("sentences", sentences);
    PageData charts(PageData::type::list);
    for (const auto& [caption, chart] : part.charts) {
        PageData one = record({{"caption", caption}, {"svg", chart.svg}});
        set_table(one, chart.table);
        charts.push_back(one);
    }
    object.set("charts", charts);
    PageData tables(PageData::type::list);
    for (const auto& [caption, table, job_column] : part.tables) {
        PageData one = record({{"table_caption", caption}});
        set_table(one, table, job_column);
        tables.push_back(one);
    }
    object.set("tables", tables);
    return object;
}

}  // namespace

std::string review_page(const ReviewLayout& layout) {
    PageData page = record({{"heading", layout.heading}, {"period", layout.period}});
    set_unless_empty(page, "selection", layout.selection);
    PageData summary(PageData::type::list);
    for (const auto& sentence : layout.summary) {
        PageData one = record({{"text", sentence.text}});
        for (const auto& part : layout.parts) {
            if (part.id == sentence.part) {
                one.set("part", part.id);
                one.set("part_title", part.title);
            }
        }
        one.set("urgent", sentence.urgent);
        summary.push_back(one);
    }
    page.set("summary", summary);
    const auto with_row = jobs_with_row(layout);
    PageData parts(PageData::type::list);
    for (const auto& part : layout.parts) {
        parts.push_back(part_data(part, with_row));
    }
    page.set("parts", parts);
    page.set("notes", list_of(layout.notes));
    page.set("table",
             PageData(kainjow::mustache::partial{[] { return std::string(table_template); }}));
    return rendered(review_template, page);
}

std::string layout_text(const ReviewLayout& layout) {
    std::string text = fmt::format("{}: {}\n", layout.heading, layout.period);
    for (const auto& sentence : layout.summary) {
        text += fmt::format("  {}{}\n", sentence.urgent ? "TODAY: " : "", sentence.text);
    }
    return text + fmt::format("  ({})\n", layout.notes.front());
}

nlohmann::ordered_json layout_tables(const ReviewLayout& layout) {
    auto tables = nlohmann::ordered_json::array();
    const auto add = [&](const ReviewPart& part, const std::string& caption,
                         const ChartTable& table) {
        tables.push_back({{"part", part.id},
                          {"caption", caption},
                          {"columns", table.head},
                          {"rows", table.rows}});
    };
    for (const auto& part : layout.parts) {
        for (const auto& [caption, chart] : part.charts) {
            add(part, caption, chart.table);
        }
        for (const auto& one : part.tables) {
            add(part, one.caption, one.table);
        }
    }
    return tables;
}

std::string counted(std::size_t count, const char* one, const char* many) {
    return fmt::format("{} {}", count, count == 1 ? one : many);
}

}  // namespace squaresight
