#include "report/page_template.h"

namespace squaresight {

const char* const page_template = R"page(<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Mount aim, job {{job}}</title>
<style>{{{style}}}
@page { margin: 8mm; }
.job { display: flex; flex-wrap: wrap; gap: 0.1rem 1.2rem; margin-top: 0.5rem; }
.newspaper { column-gap: 1.4rem; }
.newspaper li { break-inside: avoid; }
.axis p::first-letter { text-transform: uppercase; }
.axis { display: flex; gap: 0.7rem; }
.axis .sign { width: 2.4rem; }
.held .big { color: #666; font-weight: 400; }
.screws { display: flex; flex-wrap: wrap; gap: 0.6rem 1.6rem; align-items: flex-start; }
.screws figure { width: 9rem; text-align: center; }
.screws figure.mount { width: 11rem; }
.screws .advice { flex: 1 1 15rem; }
.boxes { list-style: none; padding: 0; column-gap: 1.4rem; }
.boxes li { display: inline-block; width: 100%; position: relative; padding-left: 1.4em; }
.boxes li::before { content: ""; position: absolute; left: 0; top: 0.2em; width: 0.85em;
  height: 0.85em; border: 0.12em solid #111; }
.boxes li.done::before { background: #111; box-shadow: inset 0 0 0 0.12em #fff; }
.again { display: flex; flex-wrap: wrap; gap: 0.4rem 1rem; }
.again ul { flex: 1 1 18rem; }
.again figure { width: 7rem; text-align: center; line-height: 1.1; }
.photos { display: grid; grid-template-columns: repeat(2, 1fr); gap: 0.6rem; }
.photos img { display: block; width: 100%; border: 1px solid #111; }
.stage { font-weight: 700; white-space: nowrap; }
.reviewer { font-size: 0.8rem; }
.reviewer td, .reviewer th { padding: 0.05rem 0.6rem 0.05rem 0; }
.print-only { display: none; }
@media (min-width: 44rem) {
  .newspaper, .boxes { column-count: 2; }
  .photos { grid-template-columns: repeat(4, 1fr); }
}
@media print {
  .sheet { break-after: page; }
  .flowing { zoom: 0.93; }
  .flowing .sheet { break-after: auto; }
  .evidence { font-size: 0.92rem; line-height: 1.2; }
  .evidence h2 { font-size: 1.05rem; margin: 0.4rem 0 0.15rem; }
  h2 { margin: 0.55rem 0 0.25rem; border-bottom-width: 2px; }
  li { margin: 0.1rem 0; }
  .newspaper { column-count: 2; }
  .boxes { column-count: 3; }
  .short { display: -webkit-box; -webkit-box-orient: vertical; -webkit-line-clamp: 3;
    overflow: hidden; }
  .again figure { width: 5.5rem; }
  .stages { font-size: 0.93rem; line-height: 1.2; }
  .photos img { width: auto; max-width: 100%; height: 19mm; }
  .photos figure { line-height: 1.1; }
  .banner { border-width: 4px; padding: 0.5rem 0.7rem; }
  .banner h1 { font-size: 1.45rem; }
  .screws figure { width: 8.6rem; line-height: 1.15; }
  .screws figure svg { width: 85%; margin: 0 auto; }
  .scales svg { width: 90%; }
  .screws figure.mount { width: 9.5rem; }
  .columns { gap: 0 1.4rem; }
  .photos { grid-template-columns: repeat(4, 1fr); }
  .budget svg { width: 62%; }
  .reviewer { font-size: 0.7rem; line-height: 1.15; }
  .reviewer li { margin: 0; font-size: 0.66rem; }
  .screen-only { display: none; }
  .print-only { display: revert; }
}
</style>
</head>
<body>
<main{{#notes}} class="flowing"{{/notes}}>
<section class="sheet">
<header class="banner" data-headline="{{headline}}">
<div class="sign">{{{sign}}}</div>
<div><p class="heading">{{heading}}</p><h1>{{first_line}}</h1>
{{#also}}<p class="after"><span class="word STOP">STOP</span> {{.}}</p>{{/also}}
{{#after}}<p class="after">{{after}}</p>{{/after}}</div>
</header>
<p class="caution"><b>Safety first:</b> {{cautions_first}}</p>
<p class="job"><span>Job <b>{{job}}</b></span>{{#vehicle}}<span>Vehicle <b>{{vehicle}}</b></span>{{/vehicle}}{{#technician}}<span>Technician <b>{{technician}}</b></span>{{/technician}}<span>Mount <b>{{mount}}</b></span>{{#taken}}<span>Photos of <b>{{taken}}</b></span>{{/taken}}</p>
{{#notes}}
<h2>Review</h2>
<p><b>{{state}}</b></p>
<ul>{{#signatures}}<li>{{.}}</li>{{/signatures}}</ul>
<h3>Still open</h3>
<ul>{{#open}}<li>{{.}}</li>{{/open}}{{^open}}<li>Nothing: locking, codes, electronic calibration and drive are recorded.</li>{{/open}}</ul>
<h3>Edited after it was first stored</h3>
<ul>{{#edits}}<li>{{.}}</li>{{/edits}}{{^edits}}<li>Nothing.</li>{{/edits}}</ul>
{{#has_shared}}<h3>What agreement of photos and tape would not show</h3>
<ul>{{#shared}}<li>{{.}}</li>{{/shared}}</ul>{{/has_shared}}
<h3>What it was measured with, and how it was stored</h3>
<ul>{{#equipment}}<li>{{.}}</li>{{/equipment}}{{#stored}}<li>{{.}}</li>{{/stored}}</ul>
{{/notes}}

<h2>Where the mount points, {{stage}}</h2>
<div class="columns">
{{#axes}}
<div class="axis{{#held}} held{{/held}}"><div class="sign">{{{sign}}}</div><div>
<h3>{{title}} <small>{{term}}</small></h3>
<p class="big">{{points}}</p>
<p class="call">{{call}}</p>
<p>Should point {{should_point}}</p>
<p>{{give_or_take}}</p>
<p>{{sure}}</p>
</div></div>
{{/axes}}
</div>
{{^axes}}<p>Nothing could be worked out at this stage. The findings below say why.</p>{{/axes}}
<p class="small">{{method}} Left and right are the truck's own, as seated in the cab.</p>

{{#turns}}
<h2>The screws</h2>
<div class="screws">
{{#screws}}<figure>{{{picture}}}<b>{{name}} screw</b><br>{{turns}}</figure>{{/screws}}
<figure class="mount">{{{mount_picture}}}<small>mount from the front</small></figure>
<ul class="advice">{{#advice}}<li>{{.}}</li>{{/advice}}</ul>
</div>
{{/turns}}

{{#drawn}}
<h2>{{scale_title}}</h2>
<div class="columns scales">{{#scales}}<figure>{{{.}}}</figure>{{/scales}}</div>
<p class="small">Drawn as seen by someone who faces the truck. {{legend}}Bars: give or take. Dashed: the aim.</p>
{{/drawn}}
<ul class="newspaper">
{{#agreement}}<li>{{.}}</li>{{/agreement}}
{{#service}}<li><b>{{.}}</b></li>{{/service}}{{#sensor}}<li>{{.}}</li>{{/sensor}}
</ul>

<h2>Measurements of this job</h2>
<table class="stages stacked">
<tr><th></th><th>Side to side <small>(give or take)</small></th><th>Up-down <small>(give or take)</small></th><th>Change since the one before</th><th>Then turned</th></tr>
{{#stages}}<tr{{#extra}} class="screen-only"{{/extra}}><td class="stage">{{name}}</td><td data-label="Side to side (give or take): ">{{side}}</td><td data-label="Up-down (give or take): ">{{nose}}</td><td data-label="Change: ">{{change}}</td><td data-label="Then turned: ">{{turned}}</td></tr>
{{/stages}}
</table>
<ul>{{#responses}}<li{{#extra}} class="screen-only"{{/extra}}>{{words}}</li>{{/responses}}</ul>
</section>

<section class="evidence">
<h2>Open items</h2>
<ul class="boxes">{{#open}}<li>{{.}}</li>{{/open}}{{^open}}<li class="done">Locking, codes, electronic calibration and drive are recorded.</li>{{/open}}{{#unready}}<li>{{.}}</li>{{/unready}}{{^unready}}<li class="done">Level ground, tyres, ride height, bracket, face and codes were checked before.</li>{{/unready}}</ul>

{{#has_again}}
<h2>Readings to take again or to check</h2>
<div class="again">
<ul>{{#again}}<li{{#extra}} class="screen-only"{{/extra}}><div{{#short}} class="short"{{/short}}><span class="word {{level}}">{{level}}</span> {{text}} <small>{{stages}}</small></div></li>{{/again}}{{#again_more}}<li class="print-only">{{again_more}}</li>{{/again_more}}</ul>
{{#poses}}<figure>{{{picture}}}<small>{{words}}</small></figure>{{/poses}}
</div>
{{/has_again}}
{{#has_findings}}
<h2>What was found</h2>
<ul>{{#findings}}<li{{#extra}} class="screen-only"{{/extra}}><div{{#short}} class="short"{{/short}}><span class="word {{level}}">{{level}}</span> {{text}} <small>{{stages}}</small></div></li>{{/findings}}{{#findings_more}}<li class="print-only">{{findings_more}}</li>{{/findings_more}}</ul>
{{/has_findings}}

{{#has_budget}}
<h2>Where the error comes from <small>{{budget_of}}: shares of the give or take squared, together 100 %</small></h2>
<div class="columns budget">{{#budget}}<div><h3>{{title}}</h3>{{{bars}}}</div>{{/budget}}</div>

{{/has_budget}}

{{#has_photos}}
<h2>Photos</h2>
<div class="photos">{{#photos}}<figure{{#extra}} class="screen-only"{{/extra}}><img alt="{{words}}" src="data:image/jpeg;base64,{{{jpeg}}}"><small>{{words}}</small></figure>{{/photos}}</div>
{{/has_photos}}

<div class="columns">
<div><h2>Cautions</h2>
<ul>{{#cautions}}<li>{{.}}</li>{{/cautions}}</ul></div>
<div><h2>Where the numbers come from</h2>
<ul>{{#sources}}<li>{{.}}</li>{{/sources}}</ul></div>
</div>

<div class="reviewer" id="reviewer">
<h2>For the reviewer</h2>
<div class="wide" tabindex="0">
<table>
<tr><th>Stage</th><th>Method</th><th>yaw left, deg</th><th>u</th><th>p</th><th>pitch up, deg</th><th>u</th><th>p</th><th>corr.</th></tr>
{{#review}}<tr{{#extra}} class="screen-only"{{/extra}}><td>{{stage}}</td><td>{{method}}</td><td>{{yaw}}</td><td>{{yaw_u}}</td><td>{{yaw_p}}</td><td>{{pitch}}</td><td>{{pitch_u}}</td><td>{{pitch_p}}</td><td>{{correlation}}</td></tr>
{{/review}}
</table>
</div>
<p>{{review_text}}</p>
{{#has_readings}}
<p>Readings, {{stage}}, largest w first (w: standardised residual; r: redundancy; finds: the smallest error that the test would find):</p>
<ul class="newspaper">{{#readings}}<li{{#extra}} class="screen-only"{{/extra}}>{{words}}</li>{{/readings}}{{#readings_more}}<li class="print-only">{{readings_more}}</li>{{/readings_more}}</ul>
{{/has_readings}}
</div>
</section>
</main>
</body>
</html>
)page";

}  // namespace squaresight
