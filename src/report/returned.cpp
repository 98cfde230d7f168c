#include <fmt/format.h>

#include "job/headline.h"
#include "report/page_parts.h"
#include "report/report.h"

namespace squaresight {
namespace {

constexpr const char* banner = R"page(
<header class="banner"><div><p class="heading">RETURNED</p><h1>{{reviewer}}: {{reason}}</h1>
<p class="after">This holds until a new revision of the job is sent to the reviewer.</p></div></header>
)page";

}  // namespace

std::string returned_report(std::string report, const std::string& reviewer,
                            const std::string& reason) {
    const std::string top = "<section class=\"sheet\">";
    const auto at = report.find(top);
    if (at != std::string::npos) {
        report.insert(at + top.size(), kainjow::mustache::mustache(banner).render(
                                           record({{"reviewer", reviewer}, {"reason", reason}})));
    }
    const std::string done = fmt::format("<header class=\"banner\" data-headline=\"{}\">",
                                         headline_text(Headline::done));
    const std::string end = "</header>";
    if (const auto banner_at = report.find(done); banner_at != std::string::npos) {
        // What was returned is not done, whatever it measured.
        report.erase(banner_at, report.find(end, banner_at) + end.size() - banner_at);
    }
    // More than its first page holds: the rest follows without a nearly empty sheet between.
    const std::string plain = "<main>";
    if (const auto main = report.find(plain); main != std::string::npos) {
        report.replace(main, plain.size(), "<main class=\"flowing\">");
    }
    return report;
}

}  // namespace squaresight
