#include "bay/page_templates.h"

namespace squaresight::bay::templates {

const char* const frame = R"page(<!doctype html>
<html lang="{{lang}}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{title}} - {{t.program}}</title>
<link rel="stylesheet" href="/style.css">
<script src="/bay.js" defer></script>
</head>
<body>
<header class="top"><a href="/">{{t.all_jobs}}</a>{{#job_id}}<a href="/job/{{job_id}}">{{t.job}} {{job_name}}{{#vehicle}}, {{vehicle}}{{/vehicle}}</a>{{/job_id}}</header>
<main>
<h1>{{title}}</h1>
{{#problem}}<p class="problem" role="alert"><b>{{t.please_check}}:</b> {{problem}}</p>{{/problem}}
{{{body}}}
</main>
</body>
</html>
)page";

const char* const pair = R"page(<p>{{t.pair_words}}</p>
<form method="post" action="/pair">
<p class="field"><label for="code">{{t.code}}</label>
<input id="code" name="code" value="{{code}}" autocomplete="off" autocapitalize="characters" spellcheck="false" maxlength="20" required></p>
<p><button>{{t.pair_button}}</button></p>
</form>
)page";

const char* const jobs =
    R"page({{#may_work}}<p><a class="button" href="/new">{{t.new_job}}</a></p>{{/may_work}}
<ul class="list">
{{#jobs}}<li>{{#problem}}<span class="row"><b>{{id}}</b> <span>{{t.cannot_be_read}}: {{problem}}</span></span>{{/problem}}{{^problem}}<a class="row" href="/job/{{id}}"><b>{{job}}</b> <span>{{vehicle}}</span> <span class="state">{{stage}}</span></a>{{/problem}}</li>
{{/jobs}}
</ul>
{{^jobs}}<p>{{t.no_jobs}}</p>{{/jobs}}
{{#may_pair}}<p><a class="button quiet" href="/shop">{{t.shop_page}}</a></p>{{/may_pair}}
<form method="post" action="/leave"><input type="hidden" name="token" value="{{token}}"><button class="quiet">{{t.leave}}</button></form>
)page";

const char* const form = R"page({{#words}}<p>{{.}}</p>{{/words}}
{{#has_cautions}}<section class="caution" aria-labelledby="caution"><h2 id="caution">{{t.caution}}</h2><ul>{{#cautions}}<li>{{.}}</li>{{/cautions}}</ul></section>{{/has_cautions}}
<form method="post" action="{{action}}">
<input type="hidden" name="token" value="{{token}}">
<input type="hidden" name="version" value="{{version}}">
{{#fields}}
{{#is_text}}<p class="field"><label for="{{name}}">{{label}}</label>
<input id="{{name}}" name="{{name}}" value="{{value}}" maxlength="200" autocomplete="off"{{#needed}} required{{/needed}}></p>{{/is_text}}
{{#is_choice}}<p class="field"><label for="{{name}}">{{label}}</label>
<select id="{{name}}" name="{{name}}">{{^needed}}<option value="">{{t.as_in_bay}}</option>{{/needed}}{{#options}}<option value="{{value}}"{{#chosen}} selected{{/chosen}}>{{label}}</option>{{/options}}</select></p>{{/is_choice}}
{{#is_answer}}<fieldset><legend>{{label}}</legend>
<span class="ways"><label><input type="radio" name="{{name}}" value="yes"{{#is_yes}} checked{{/is_yes}}> {{t.yes}}</label><label><input type="radio" name="{{name}}" value="no"{{#is_no}} checked{{/is_no}}> {{t.no}}</label></span>
<label class="reason">{{t.reason}} <input name="{{name}}.reason" value="{{reason}}" maxlength="200" autocomplete="off"></label></fieldset>{{/is_answer}}
{{#is_size}}<fieldset><legend>{{label}}</legend>
<span class="size">{{#is_mm}}<label><input name="{{name}}.mm" value="{{mm}}" inputmode="decimal" autocomplete="off"> mm</label>{{/is_mm}}{{#is_inch}}<label><input class="short" name="{{name}}.ft" value="{{ft}}" inputmode="numeric" autocomplete="off"> ft</label><label><input class="short" name="{{name}}.in" value="{{in}}" inputmode="decimal" autocomplete="off"> in</label><label><select name="{{name}}.16">{{#sixteenths}}<option value="{{value}}"{{#chosen}} selected{{/chosen}}>{{label}}</option>{{/sixteenths}}</select> in</label>{{/is_inch}}{{#is_deg}}<label><input name="{{name}}.deg" value="{{deg}}" inputmode="decimal" autocomplete="off"> deg</label>{{/is_deg}}</span>
{{#sided}}<span class="ways"><label><input type="radio" name="{{name}}.side" value="plus"{{#is_plus}} checked{{/is_plus}}> {{plus}}</label><label><input type="radio" name="{{name}}.side" value="minus"{{#is_minus}} checked{{/is_minus}}> {{minus}}</label></span>{{/sided}}</fieldset>{{/is_size}}
{{/fields}}
{{#notes}}<p><b>{{.}}</b></p>{{/notes}}
<p class="last"><button>{{button}}</button></p>
</form>
)page";

const char* const job =
    R"page({{#first}}<section class="banner"><div class="sign">{{{sign}}}</div><div><p class="heading">{{heading}}</p><p class="say" lang="en">{{text}}</p></div></section>{{/first}}
{{#next}}<p><a class="button" href="{{href}}">{{t.next_step}}: {{name}}</a></p>{{/next}}
<ol class="list">{{#steps}}<li><a class="row" href="{{href}}"><b>{{name}}</b> <span class="state">{{state}}</span></a></li>{{/steps}}</ol>
<p>{{t.stage}}: <b>{{stage}}</b></p>
{{#has_report}}<p><a class="button quiet" href="/job/{{job_id}}/report">{{t.report}}</a></p>{{/has_report}}
)page";

const char* const photos = R"page(<p class="heading">{{stage}}</p>
<p>{{t.photos_words}}</p>
{{#same}}<p>{{t.photos_same}}</p>{{/same}}
{{#can_move}}<form method="post" action="/job/{{job_id}}/moved"><input type="hidden" name="token" value="{{token}}"><input type="hidden" name="version" value="{{version}}"><p><button class="quiet">{{t.moved_button}}</button></p></form>{{/can_move}}
{{#may_work}}<form method="post" action="/job/{{job_id}}/photos" enctype="multipart/form-data" data-upload="/job/{{job_id}}/upload" data-sending="{{t.sending}}" data-waiting="{{t.waiting_network}}">
<input type="hidden" name="token" value="{{token}}">
<fieldset><legend>{{t.phone_stands}}</legend><span class="ways">
<label><input type="radio" name="cradle" value="upright"{{#next_upright}} checked{{/next_upright}}> {{t.upright}}</label>
<label><input type="radio" name="cradle" value="inverted"{{^next_upright}} checked{{/next_upright}}> {{t.inverted}}</label>
<label><input type="radio" name="cradle" value=""> {{t.read_from_photo}}</label></span></fieldset>
<p class="field"><label for="photo">{{t.photo_file}}</label>
<input id="photo" type="file" name="photo" accept="image/*" capture="environment" required></p>
<p><button>{{t.send_photo}}</button></p>
<p class="progress" hidden><progress max="1" value="0" aria-label="{{t.sending}}"></progress> <span role="status"></span></p>
</form>{{/may_work}}
{{#has_photos}}<h2>{{t.photos_here}}</h2>{{/has_photos}}
{{#working}}<p role="status" data-working="/job/{{job_id}}/state">{{t.working}} <a href="/job/{{job_id}}/photos">{{t.look_again}}</a></p>{{/working}}
{{#photos}}<section class="photo {{class}}"><h3>{{name}}: {{call}}</h3>
{{#stands}}<p>{{t.phone_stands}}: {{stands}}</p>{{/stands}}
{{#words}}<p lang="en">{{words}}</p>{{/words}}
{{#advice}}<p lang="en"><b>{{advice}}</b></p>{{/advice}}
{{#picture}}<img src="{{picture}}" alt="{{t.photo_alt}}" loading="lazy">{{/picture}}
{{#may_work}}<form method="post" action="/job/{{job_id}}/photos/out"><input type="hidden" name="token" value="{{token}}"><input type="hidden" name="version" value="{{version}}"><input type="hidden" name="file" value="{{file}}"><button class="quiet">{{t.take_out}}<span class="unseen"> {{name}}</span></button></form>{{/may_work}}
</section>
{{/photos}}
{{#has_photos}}<p class="last"><a class="button" href="/job/{{job_id}}">{{t.back_to_job}}</a></p>{{/has_photos}}
)page";

const char* const answer =
    R"page({{#working}}<p role="status" data-working="/job/{{job_id}}/state">{{t.working}} <a href="/job/{{job_id}}/answer">{{t.look_again}}</a></p>{{/working}}
{{#crowded}}<p>{{t.crowded}}</p>{{/crowded}}
{{#nothing}}<p class="problem" role="alert"><b>{{t.nothing_yet}}:</b> <span lang="en">{{nothing}}</span></p>{{/nothing}}
{{#answer}}
<section class="banner"><div class="sign">{{{sign}}}</div><div><p class="heading">{{heading}}</p><p class="say" lang="en">{{text}}</p></div></section>
{{#has_turns}}<section><h2>{{t.screws}}</h2><p class="caution">{{t.caution_vehicle}}</p>
<div class="screws">{{#turns}}<figure>{{{picture}}}<figcaption><b>{{screw}}</b><br>{{words}}</figcaption></figure>{{/turns}}
<figure>{{{mount_picture}}}<figcaption>{{t.from_front}}</figcaption></figure></div>
{{#may_work}}<form method="post" action="/job/{{job_id}}/turned">
<input type="hidden" name="token" value="{{token}}"><input type="hidden" name="version" value="{{version}}">
{{#turns}}<input type="hidden" name="turns.{{index}}" value="{{eighths}}"><input type="hidden" name="way.{{index}}" value="{{way}}">{{/turns}}
<p><button>{{t.turned_as_told}}</button></p></form>
<details><summary>{{t.turned_otherwise}}</summary><form method="post" action="/job/{{job_id}}/turned">
<input type="hidden" name="token" value="{{token}}"><input type="hidden" name="version" value="{{version}}">
{{#turns}}<fieldset><legend>{{screw}}</legend><span class="size"><label>{{t.turn_many}} <select name="turns.{{index}}">{{#choices}}<option value="{{value}}"{{#chosen}} selected{{/chosen}}>{{label}}</option>{{/choices}}</select></label></span>
<span class="ways"><label><input type="radio" name="way.{{index}}" value="clockwise"{{#is_clockwise}} checked{{/is_clockwise}}> {{t.clockwise}}</label><label><input type="radio" name="way.{{index}}" value="counter-clockwise"{{^is_clockwise}} checked{{/is_clockwise}}> {{t.counter-clockwise}}</label></span></fieldset>{{/turns}}
<p><button>{{t.save_turned}}</button></p></form></details>{{/may_work}}
</section>{{/has_turns}}
{{#to_lock}}<section><h2>{{t.lock_title}}</h2><p>{{t.lock_words}}</p><form method="post" action="/job/{{job_id}}/lock">
<input type="hidden" name="token" value="{{token}}"><input type="hidden" name="version" value="{{version}}"><p><button>{{t.lock_button}}</button></p></form></section>{{/to_lock}}
{{#to_finish}}<p><a class="button" href="/job/{{job_id}}/finish">{{t.step_finish}}</a></p>{{/to_finish}}
<div class="columns">{{#axes}}<section class="axis"><div class="sign">{{{sign}}}</div><div lang="en"><h2 lang="{{lang}}">{{title}} <small>{{term}}</small></h2><p class="big">{{points}}</p><p class="call">{{call}}</p><p>{{t.should_point}} {{should_point}}</p><p>{{give_or_take}}</p><p>{{sure}}</p></div></section>{{/axes}}</div>
{{#has_advice}}<h2>{{t.advice}}</h2><ul lang="en">{{#advice}}<li>{{.}}</li>{{/advice}}{{#responses}}<li>{{.}}</li>{{/responses}}</ul>{{/has_advice}}
{{#has_agreement}}<h2>{{t.agreement}}</h2><ul lang="en">{{#agreement}}<li>{{.}}</li>{{/agreement}}{{#service}}<li>{{.}}</li>{{/service}}</ul>{{/has_agreement}}
{{#has_open}}<h2>{{t.open_items}}</h2><ul lang="en">{{#open}}<li>{{.}}</li>{{/open}}{{#unready}}<li>{{.}}</li>{{/unready}}</ul>{{/has_open}}
{{#has_findings}}<h2>{{t.found}}</h2><ul lang="en">{{#findings}}<li><span class="word {{level}}">{{level}}</span> {{text}} <small>{{stages}}</small></li>{{/findings}}</ul>{{/has_findings}}
<p><a class="button quiet" href="/job/{{job_id}}/report">{{t.report}}</a></p>
{{/answer}}
<p class="last"><a class="button quiet" href="/job/{{job_id}}">{{t.back_to_job}}</a></p>
)page";

const char* const shop = R"page(<section><h2>{{t.pair_device}}</h2>
{{#code}}<p>{{t.pair_device_words}}</p><p class="code">{{code}}</p><p>{{address}} ({{role}})</p><div class="qr">{{{qr}}}</div>{{/code}}
<form method="post" action="/shop/code"><input type="hidden" name="token" value="{{token}}">
<fieldset><legend>{{t.role}}</legend><span class="ways"><label><input type="radio" name="role" value="technician" checked> {{t.technician_role}}</label><label><input type="radio" name="role" value="reviewer"> {{t.reviewer_role}}</label><label><input type="radio" name="role" value="shop"> {{t.shop_role}}</label></span></fieldset>
<p><button>{{t.new_code}}</button></p></form></section>
<section><h2>{{t.equipment}}</h2>{{#groups}}<h3>{{title}}</h3><ul>{{#items}}<li>{{name}} <small>{{date}}</small></li>{{/items}}</ul>{{/groups}}</section>
)page";

const char* const notice = R"page(<p>{{words}}</p>
{{#href}}<p><a class="button" href="{{href}}">{{t.open_again}}</a></p>{{/href}}
)page";

const char* const stale = R"page(<p>{{t.stale_words}}</p>
<div class="columns"><section><h2>{{t.stale_theirs}}</h2><dl>{{#theirs}}<dt>{{name}}</dt><dd>{{value}}</dd>{{/theirs}}</dl></section>
<section><h2>{{t.stale_yours}}</h2><dl>{{#yours}}<dt>{{name}}</dt><dd>{{value}}</dd>{{/yours}}</dl></section></div>
<p><a class="button" href="{{href}}">{{t.open_again}}</a></p>
)page";

}  // namespace squaresight::bay::templates
