#include "report/page_parts.h"

#include <regex>

namespace squaresight {

const char* const page_style = R"style(
* { box-sizing: border-box; }
html { font-size: 18px; scroll-padding: 0.8rem; }
:focus-visible { outline: 4px solid #b85c00; outline-offset: 2px; }
body { margin: 0; color: #111; background: #fff; font-family: Arial, Helvetica, sans-serif;
  line-height: 1.35; }
main { max-width: 60rem; margin: 0 auto; padding: 0.7rem; }
svg { display: block; width: 100%; height: auto; font-family: inherit; }
h1, h2, h3, p, ul, figure, table { margin: 0; padding: 0; }
h2 { font-size: 1.15rem; margin: 1.3rem 0 0.4rem; padding-bottom: 0.1rem;
  border-bottom: 3px solid #111; }
h3 { font-size: 1rem; }
small, .small { font-size: 0.82rem; font-weight: 400; color: #444; }
ul { padding-left: 1.1rem; }
li { margin: 0.2rem 0; overflow-wrap: anywhere; }
.sign { flex: none; width: 3rem; }
.banner { display: flex; gap: 0.8rem; padding: 0.7rem 0.8rem; border: 5px solid #111;
  align-items: flex-start; }
.banner h1 { font-size: 1.55rem; line-height: 1.2; overflow-wrap: anywhere; }
.heading { font-size: 1rem; font-weight: 700; letter-spacing: 0.08em; }
.after { margin-top: 0.3rem; }
.columns { display: grid; grid-template-columns: 1fr; gap: 0.8rem 1.4rem; }
.big { font-size: 1.75rem; font-weight: 700; line-height: 1.15; }
.call { font-weight: 700; text-transform: uppercase; }
.word { font-weight: 700; padding: 0 0.35em; border: 2px solid #111; }
.word.STOP { background: #a30000; border-color: #a30000; color: #fff; }
.word.WARNING { background: #ffd75e; }
.caution { margin-top: 0.4rem; padding: 0.2rem 0.5rem; border: 2px solid #111;
  background: #ffd75e; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: 0.2rem 0.7rem 0.2rem 0;
  border-bottom: 1px solid #999; overflow-wrap: break-word; }
.wide { overflow-x: auto; }
@media screen and (max-width: 43.9rem) {
  .banner { display: block; padding: 0.5rem; }
  .banner .sign { float: left; width: 2.2rem; margin: 0 0.6rem 0.1rem 0; }
  .banner h1 { font-size: 1.35rem; }
  .big { font-size: 1.5rem; }
  .stacked tr:first-child { display: none; }
  .stacked tr { display: block; padding: 0.3rem 0; border-bottom: 1px solid #999; }
  .stacked td { display: block; border: 0; padding: 0.1rem 0; }
  .stacked td:empty { display: none; }
  .stacked td::before { content: attr(data-label); }
}
@media (min-width: 44rem) { .columns { grid-template-columns: 1fr 1fr; } }
@media print {
  html { font-size: 11.5px; }
  main { max-width: none; padding: 0; }
  * { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
  h2 { break-after: avoid; }
  li, figure, tr { break-inside: avoid; }
  .columns { grid-template-columns: 1fr 1fr; }
}
)style";

std::string unbroken(const std::string& text) {
    static const std::regex gap("([0-9]) (?=%|[0-9]+/[0-9]|(deg|mm|in|ft)\\b)");
    return std::regex_replace(text, gap, "$1\u00a0");
}

PageData list_of(const std::vector<std::string>& texts) {
    PageData list(PageData::type::list);
    for (const auto& text : texts) {
        list.push_back(PageData(text));
    }
    return list;
}

PageData record(std::initializer_list<std::pair<const char*, std::string>> fields) {
    PageData object;
    for (const auto& [name, text] : fields) {
        object.set(name, text);
    }
    return object;
}

void set_unless_empty(PageData& page, const char* name, const std::string& text) {
    if (!text.empty()) {
        page.set(name, text);
    }
}

std::string rendered(const char* page_template, PageData page) {
    page.set("style", page_style);
    return kainjow::mustache::mustache(page_template).render(page);
}

}  // namespace squaresight
