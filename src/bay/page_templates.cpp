#include "bay/page_templates.h"

namespace squaresight::bay::templates {

const std::vector<std::pair<const char*, const char*>>& parts() {
    static const std::vector<std::pair<const char*, const char*>>
        list{
            // what makes a form one of this page, for this version of the sheet
            {"keys",
             R"page(<input type="hidden" name="token" value="{{token}}"><input type="hidden" name="version" value="{{version}}">)page"},
            {"question_keys",
             R"page(<input type="hidden" name="question" value="{{question}}">{{#saves}}{{>keys}}{{/saves}}{{#then}}<input type="hidden" name="then" value="{{then}}">{{/then}}{{#carried}}<input type="hidden" name="{{name}}" value="{{value}}">{{/carried}})page"},
            {"banner",
             R"page({{#first}}<section class="banner"><div class="sign">{{{sign}}}</div><div>{{#heading}}<p class="heading" lang="{{lang}}">{{text}}</p>{{/heading}}{{#say}}<p class="say" lang="{{lang}}">{{text}}</p>{{/say}}</div></section>{{/first}})page"},
            {"entry_list",
             R"page(<dl class="entries">{{#entries}}<div><dt>{{name}}</dt><dd>{{value}}</dd></div>{{/entries}}</dl>)page"},
            {"size",
             R"page(<fieldset class="size {{kind}}" data-size="{{kind}}"{{#doubt}} data-low="{{low}}" data-high="{{high}}"{{/doubt}}><legend{{#single}} class="unseen"{{/single}}>{{label}}</legend>
<div class="parts">{{#parts}}<div class="part">
{{#steps}}<button type="button" class="more" data-step="{{.}}" hidden>+<span class="digits">{{.}}</span><span class="unseen"> {{unit}}: {{t.more}}</span></button>{{/steps}}
<label>{{#is_sixteenths}}<select name="{{part}}">{{#sixteenths}}<option value="{{value}}"{{#chosen}} selected{{/chosen}}>{{label}}</option>{{/sixteenths}}</select>{{/is_sixteenths}}{{^is_sixteenths}}<input name="{{part}}" value="{{value}}" inputmode="{{#whole}}numeric{{/whole}}{{^whole}}decimal{{/whole}}" autocomplete="off" maxlength="24">{{/is_sixteenths}} <span class="unit">{{unit}}</span></label>
{{#steps}}<button type="button" class="less" data-step="-{{.}}" hidden>&minus;<span class="digits">{{.}}</span><span class="unseen"> {{unit}}: {{t.less}}</span></button>{{/steps}}
</div>{{/parts}}</div>
{{#doubt}}<p class="doubt" role="status" data-doubt="{{doubt}}"></p>{{/doubt}}
{{#sided}}<div class="sides"><label><input type="radio" name="{{name}}.side" value="minus"{{#is_minus}} checked{{/is_minus}}> <span>{{minus}}</span></label><label><input type="radio" name="{{name}}.side" value="plus"{{#is_plus}} checked{{/is_plus}}> <span>{{plus}}</span></label></div>{{/sided}}</fieldset>)page"},
            {"inputs", R"page({{#fields}}
{{#is_text}}<p class="field"><label for="{{name}}">{{label}}</label>
<input id="{{name}}" name="{{name}}" value="{{value}}" maxlength="200" autocomplete="off"{{#needed}} required{{/needed}}></p>{{/is_text}}
{{#is_choice}}<p class="field"><label for="{{name}}">{{label}}</label>
<select id="{{name}}" name="{{name}}">{{#options}}<option value="{{value}}"{{#chosen}} selected{{/chosen}}>{{label}}</option>{{/options}}</select></p>{{/is_choice}}
{{#is_size}}{{>size}}{{/is_size}}
{{/fields}})page"},
            {"photo",
             R"page(<section class="photo {{class}}"><h2>{{call}} <small>{{name}}</small></h2>
{{#wrong_way}}<p class="problem"><b>{{t.wrong_way}} {{really_words}}.</b></p>
{{#may_work}}<form method="post" action="/job/{{job_id}}/photos/stands">{{>keys}}<input type="hidden" name="file" value="{{file}}"><p><button name="cradle" value="{{really}}">{{t.it_was}} {{really_words}}</button></p></form>{{/may_work}}{{/wrong_way}}
<ul class="plain">{{#problems}}<li lang="{{lang}}"><span class="word {{level}}">{{level_word}}</span> {{text}}</li>{{/problems}}</ul>
{{#stands}}<p>{{t.phone_stands}}: {{stands}}</p>{{/stands}}
{{#picture}}<img src="{{picture}}" alt="{{t.photo_alt}}" loading="lazy">{{/picture}}
{{#may_work}}<form method="post" action="/job/{{job_id}}/photos/out">{{>keys}}<input type="hidden" name="file" value="{{file}}"><p><button class="quiet">{{t.take_out}}<span class="unseen"> {{name}}</span></button></p></form>{{/may_work}}
</section>
)page"},
            {"stage_table",
             R"page(<table class="stages stacked"><tr><th scope="col">{{t.stage}}</th><th scope="col">{{t.yaw}}</th><th scope="col">{{t.pitch}}</th><th scope="col">{{t.turned_after}}</th></tr>{{#stages}}<tr><th scope="row">{{name}}</th>{{#axes}}<td data-label="{{title}} ">{{#points}}<b lang="{{lang}}">{{text}}</b>{{/points}}<br>{{#give_or_take}}<small lang="{{lang}}">{{text}}</small>{{/give_or_take}}<br>{{#call}}<span lang="{{lang}}">{{text}}</span>{{/call}}</td>{{/axes}}<td data-label="{{t.turned_after}} ">{{turned}}</td></tr>{{/stages}}</table>)page"},
            {"beside_photos",
             R"page({{#has_agreement}}<h2>{{t.agreement}}</h2><ul>{{#agreement}}<li lang="{{lang}}">{{text}}</li>{{/agreement}}{{#service}}<li lang="{{lang}}">{{text}}</li>{{/service}}</ul>{{/has_agreement}}{{#has_sensor}}<h2>{{t.reading}}</h2><ul>{{#sensor}}<li lang="{{lang}}">{{text}}</li>{{/sensor}}</ul>{{/has_sensor}}{{>left_out_list}})page"},
            {"turn_fields",
             R"page({{#turns}}<fieldset><legend>{{screw}}</legend><span class="size"><label>{{t.turn_many}} <select name="turns.{{index}}">{{#choices}}<option value="{{value}}"{{#chosen}} selected{{/chosen}}>{{label}}</option>{{/choices}}</select></label></span>
<span class="ways"><label><input type="radio" name="way.{{index}}" value="clockwise"{{#is_clockwise}} checked{{/is_clockwise}}> {{t.clockwise}}</label><label><input type="radio" name="way.{{index}}" value="counter-clockwise"{{^is_clockwise}} checked{{/is_clockwise}}> {{t.counter-clockwise}}</label></span></fieldset>{{/turns}})page"},
            {"undo",
             R"page({{#last_entry}}<form method="post" action="/job/{{job_id}}/undo">{{>keys}}<p>{{t.last_entry}}: {{deed}} <small>{{at}}</small></p><p><button class="quiet">{{t.undo}}: {{deed}}</button></p></form>{{/last_entry}})page"},
            {"left_out_list",
             R"page({{#left_out}}<p>{{t.tape_left_out_at}}: <b>{{.}}</b></p>{{/left_out}})page"},
            {"still_open",
             R"page({{#has_open}}<h2>{{t.open_items}}</h2><ul>{{#open}}<li lang="{{lang}}">{{text}}</li>{{/open}}{{#unready}}<li lang="{{lang}}">{{text}}</li>{{/unready}}</ul>{{/has_open}})page"},
            {"finding_list",
             R"page({{#has_findings}}<h2>{{t.found}}</h2><ul class="plain">{{#findings}}<li lang="{{lang}}"><span class="word {{level}}">{{level_word}}</span> {{text}} <small>{{stages}}</small></li>{{/findings}}</ul>{{/has_findings}})page"},
            {"set_aside_list",
             R"page({{#has_set_aside}}<section><h2>{{t.set_aside}}</h2><p>{{t.set_aside_words}}</p><ul>{{#set_aside}}<li>{{.}}</li>{{/set_aside}}</ul><p><a class="button quiet" href="/job/{{job_id}}/photos">{{t.to_photos}}</a></p></section>{{/has_set_aside}})page"},
            {"report_link",
             R"page(<p><a class="button quiet" href="/job/{{job_id}}/report" hreflang="en">{{t.report}}</a>{{#not_english}}<br><small>{{t.report_language}}</small>{{/not_english}}</p>)page"},
            {"nothing_measured",
             R"page({{#is_nothing_measured}}<p>{{t.measure_first}}</p><p><a class="button" href="/job/{{job_id}}/photos">{{t.step_photos}}</a></p>{{/is_nothing_measured}})page"},
            {"order_twice",
             R"page({{#folders}}<p class="problem" role="alert"><b>{{t.order_twice}}: {{folders}}.</b> {{t.order_twice_words}}</p>{{/folders}})page"},
            {"keeping_failed",
             R"page({{#not_kept}}<p class="problem" role="alert"><span lang="{{lang}}">{{text}}</span></p>{{/not_kept}})page"},
            {"no_answer",
             R"page({{#nothing}}<p class="problem" role="alert"><b>{{t.nothing_yet}}:</b> <span lang="{{lang}}">{{text}}</span></p>{{/nothing}})page"},
        };
    return list;
}

const char* const frame = R"page(<!doctype html>
<html lang="{{lang}}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{title}} - {{t.program}}</title>
<link rel="icon" href="/icon.svg">
<link rel="stylesheet" href="/style.css">
<script src="/bay.js" defer></script>
</head>
<body>
<a class="button skip" href="#main">{{t.to_content}}</a>
<header class="top"><a href="/">{{t.all_jobs}}</a>{{#job_id}}<a href="/job/{{job_id}}">{{t.job}} {{job_name}}{{#vehicle}}, {{vehicle}}{{/vehicle}}</a>{{/job_id}}</header>
<main id="main" tabindex="-1">
<h1>{{title}}</h1>
{{#returned}}<section class="banner returned" role="status"><div class="sign">{{{sign}}}</div><div><p class="heading">{{t.returned_heading}}</p><p class="say">{{reviewer}}: {{reason}}</p>{{#may_work}}<p class="steps"><a class="button quiet" href="{{send}}">{{t.send_again}}</a></p>{{/may_work}}</div></section>{{/returned}}
{{#problem}}<p class="problem" role="alert" tabindex="-1" autofocus><b>{{t.please_check}}:</b> <span lang="{{lang}}">{{text}}</span></p>{{/problem}}
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
{{#has_jobs}}<form class="search" method="get" action="/" role="search"><p class="field"><label for="find">{{t.find}}</label><input id="find" name="find" type="search" value="{{find}}" maxlength="60" autocomplete="off"></p>
<p><button class="quiet" name="show" value="{{show}}">{{t.find_button}}</button></p>
<div class="filters" role="group" aria-label="{{t.filter}}">{{#filters}}<button class="quiet{{#chosen}} chosen{{/chosen}}" name="show" value="{{value}}">{{name}}{{#chosen}}<span class="unseen"> ({{t.chosen}})</span>{{/chosen}}</button>{{/filters}}</div></form>{{/has_jobs}}
<ul class="list">
{{#jobs}}<li>{{#problem}}<span class="row"><b>{{id}}</b> <span>{{t.cannot_be_read}}: <span lang="{{lang}}">{{text}}</span></span></span>{{/problem}}{{^problem}}<a class="row" href="/job/{{id}}"><b>{{job}}</b> <span>{{vehicle}}</span> {{#returned}}<span class="word WARNING">{{t.returned_heading}}</span> <span>{{reviewer}}: {{reason}}</span>{{/returned}} <span class="state">{{state}}</span></a>{{/problem}}</li>
{{/jobs}}
</ul>
{{^jobs}}<p>{{#has_jobs}}{{t.none_found}}{{/has_jobs}}{{^has_jobs}}{{t.no_jobs}}{{/has_jobs}}</p>{{/jobs}}
<p class="caution">{{t.caution_not_calibration}}</p>
{{#may_review}}<p><a class="button quiet" href="/review">{{t.review_list}}</a></p>{{/may_review}}
{{#may_pair}}<p><a class="button quiet" href="/shop">{{t.shop_page}}</a></p>{{/may_pair}}
<form method="post" action="/leave"><input type="hidden" name="token" value="{{token}}"><button class="quiet">{{t.leave}}</button></form>
)page";

const char* const question =
    R"page(<p class="way"><b>{{step}}</b>: {{number}} {{t.of}} {{count}}</p>
<progress class="way" max="{{count}}" value="{{number}}" aria-label="{{step}}"></progress>
{{#has_cautions}}<section class="caution" aria-label="{{t.caution}}"><ul>{{#cautions}}<li>{{.}}</li>{{/cautions}}</ul></section>{{/has_cautions}}
{{#words}}<p>{{.}}</p>{{/words}}
<div class="ask">
{{#has_seen}}<div class="seen">{{#picture}}<div class="drawing">{{{picture}}}</div>{{/picture}}{{#drawing_of}}<p>{{t.mount}}: <b>{{drawing_of}}</b> ({{t.from_front}}). {{t.is_it_this}}</p>{{/drawing_of}}
{{#is_floor}}<p class="drawing"><img class="floor" src="/job/{{job_id}}/floor.svg?of=picture" alt="{{t.floor_alt}}"></p>
<p><a class="button quiet" href="/job/{{job_id}}/floor.svg">{{t.floor_large}}</a></p>{{/is_floor}}</div>{{/has_seen}}
<div class="answer">
{{#has_lengths}}<p>{{t.floor_usual}}</p><dl class="entries">{{#lengths}}<div><dt>{{name}}</dt><dd>{{value}}</dd></div>{{/lengths}}</dl>
<details class="layout"><summary>{{t.floor_steps}}</summary>
<section class="caution" lang="{{floor_caution.lang}}">{{floor_caution.text}}</section>
<ol>{{#floor_steps}}<li>{{#heading}}<b lang="{{lang}}">{{text}}</b>{{/heading}}{{#sentences}}<p lang="{{lang}}">{{text}}</p>{{/sentences}}{{#tapes}}{{>entry_list}}{{/tapes}}</li>{{/floor_steps}}</ol></details>{{/has_lengths}}
{{#has_remembered}}<p>{{t.remembered_words}} <b>{{remembered_from}}</b></p><dl class="entries">{{#remembered}}<div><dt>{{name}}</dt><dd>{{value}}</dd></div>{{/remembered}}</dl>
<form method="post" action="{{action}}">{{>question_keys}}
{{>inputs}}
{{#doubted}}<p><button name="as_before" value="sure">{{t.sure_button}}</button></p>{{/doubted}}
<p><button name="as_before" value="1"{{#doubted}} class="quiet"{{/doubted}}>{{t.remembered_yes}}</button></p>
<p><button class="quiet" name="no" value="1">{{t.remembered_no}}</button></p></form>{{/has_remembered}}
{{#own_buttons}}{{#fields}}<form method="post" action="{{action}}">{{>question_keys}}
{{#is_answer}}<p><button name="{{name}}" value="yes"{{#is_yes}} class="chosen"{{/is_yes}}>{{t.yes_so}}{{#is_yes}} ({{t.chosen}}){{/is_yes}}</button></p>{{/is_answer}}
{{#is_pick}}{{#picks}}<p><button name="{{name}}" value="{{value}}"{{#quiet}} class="quiet"{{/quiet}}>{{label}}{{#chosen}} ({{t.chosen}}){{/chosen}}</button></p>{{/picks}}{{/is_pick}}</form>
{{#may_be_typed}}<form method="post" action="{{action}}">{{>question_keys}}
{{#is_answer}}<p class="field"><label for="{{name}}.reason">{{t.reason}}</label><input id="{{name}}.reason" name="{{name}}.reason" value="{{reason}}" maxlength="200" autocomplete="off"></p>
<p><button class="quiet" name="{{name}}" value="no">{{t.no_so}}{{#is_no}} ({{t.chosen}}){{/is_no}}</button></p>{{/is_answer}}
{{#is_pick}}<p class="field"><label for="{{name}}.text">{{#is_date}}{{t.other_day}}{{/is_date}}{{^is_date}}{{t.other_answer}}{{/is_date}}</label><input id="{{name}}.text" name="{{name}}.text" value="{{typed}}" maxlength="200" autocomplete="off"{{#is_date}} type="date"{{/is_date}}></p>
<p><button class="quiet">{{t.save_written}}</button></p>{{/is_pick}}</form>{{/may_be_typed}}{{/fields}}{{/own_buttons}}
{{#plain}}<form method="{{method}}" action="{{action}}">{{>question_keys}}
{{#unfolded}}{{>inputs}}{{/unfolded}}
{{#folded}}{{>entry_list}}
<details><summary>{{t.change}}</summary>{{>inputs}}</details>{{/folded}}
{{#notes}}<p><b>{{.}}</b></p>{{/notes}}
{{#doubted}}<p><button name="sure" value="1">{{t.sure_button}}</button></p>{{/doubted}}
<p><button{{#doubted}} class="quiet"{{/doubted}}>{{button}}</button></p>
{{#may_be_skipped}}<p><button class="quiet" name="skip" value="1">{{t.skip}}</button></p>{{/may_be_skipped}}
</form>{{/plain}}
{{#leave_out}}<form class="leave" method="post" action="/job/{{job_id}}/tape/left_out">{{>keys}}<p>{{leave_out_words}}</p><p><button class="quiet">{{t.leave_out}}</button></p></form>{{/leave_out}}
<nav class="steps" aria-label="{{t.steps}}">{{#back}}<a class="button quiet" href="{{back}}">{{t.back}}</a>{{/back}}{{#all}}<a class="button quiet" href="{{all}}">{{t.all_entries}}</a>{{/all}}</nav>
</div></div>
)page";

const char* const entries = R"page({{#notes}}<p><b>{{.}}</b></p>{{/notes}}
<ul class="list">{{#entries}}<li><a class="row" href="{{href}}"><span>{{name}}</span> <span class="state">{{value}}</span></a></li>{{/entries}}</ul>
<p><a class="button" href="{{next}}">{{button}}</a></p>
<nav class="steps" aria-label="{{t.steps}}"><a class="button quiet" href="{{first}}">{{t.from_the_start}}</a><a class="button quiet" href="/job/{{job_id}}">{{t.back_to_job}}</a></nav>
)page";

const char* const job =
    R"page({{#abandoned}}<section class="banner abandoned"><div><p class="heading">{{t.abandoned_heading}}</p><p class="say">{{reason}}</p></div></section>
{{#may_work}}<form method="post" action="/job/{{job_id}}/taken_up">{{>keys}}<p><button>{{t.take_up}}</button></p></form>{{/may_work}}{{/abandoned}}
{{^abandoned}}{{>banner}}
{{#next}}<p><a class="button" href="{{href}}">{{t.next_step}}: {{name}}</a></p>{{/next}}{{/abandoned}}
<ol class="list">{{#steps}}<li><a class="row" href="{{href}}"><b>{{name}}</b> <span class="state">{{state}}</span></a></li>{{/steps}}</ol>
<h2>{{t.measurements}}</h2>
<ul class="list">{{#stages}}<li><a class="row" href="/job/{{job_id}}/stage?stage={{number}}"><span>{{name}}</span> <span class="state">{{holds}}</span></a></li>{{/stages}}</ul>
<p><a class="button quiet" href="/job/{{job_id}}/notes">{{t.notes}}{{#notes_count}}: {{notes_count}}{{/notes_count}}</a></p>
{{#may_work}}{{>undo}}{{/may_work}}
{{#has_report}}<p><a class="button quiet" href="/job/{{job_id}}/handover">{{t.handover}}</a></p>
{{>report_link}}{{/has_report}}
{{#may_review}}<p><a class="button quiet" href="/job/{{job_id}}/review">{{t.review_title}}</a></p>{{/may_review}}
)page";

const char* const stage =
    R"page(<p>{{t.stage_words}}</p>
<ul class="list">{{#parts}}<li><a class="row" href="{{href}}"><span>{{name}}</span> <span class="state">{{state}}</span></a></li>{{/parts}}</ul>
{{#may_work}}{{#has_turned}}<section><h2>{{t.turned_after}}</h2><p>{{turned}}</p>
<details><summary>{{t.turned_otherwise}}</summary><form method="post" action="/job/{{job_id}}/turned"><input type="hidden" name="stage" value="{{number}}">
{{>keys}}{{>turn_fields}}
<p><button>{{t.save_turned}}</button></p></form></details></section>{{/has_turned}}
{{#photos}}<section class="photo"><h2>{{name}} <small>{{stands}}</small></h2><form method="post" action="/job/{{job_id}}/photos/out">{{>keys}}<input type="hidden" name="stage" value="{{number}}"><input type="hidden" name="file" value="{{file}}"><p><button class="quiet">{{t.take_out}}<span class="unseen"> {{name}}</span></button></p></form></section>{{/photos}}{{/may_work}}
<nav class="steps" aria-label="{{t.steps}}"><a class="button quiet" href="/job/{{job_id}}">{{t.back_to_job}}</a></nav>
)page";

const char* const notes =
    R"page(<ul class="plain">{{#notes}}<li>{{.}}</li>{{/notes}}</ul>
{{#may_work}}<form method="post" action="/job/{{job_id}}/notes">{{>keys}}
<p class="field"><label for="note">{{t.note}}</label><input id="note" name="note" maxlength="300" autocomplete="off" required></p>
<p><button>{{t.note_button}}</button></p></form>{{/may_work}}
<h2>{{t.pictures}}</h2>
<p>{{t.pictures_words}}</p>
<ul class="list">{{#pictures}}<li><a class="row" href="/job/{{job_id}}/picture?of={{.}}">{{.}}</a></li>{{/pictures}}</ul>
{{#may_work}}<form method="post" action="/job/{{job_id}}/photos" enctype="multipart/form-data" data-upload="/job/{{job_id}}/upload" data-sending="{{t.sending}}" data-waiting="{{t.waiting_network}}">
<input type="hidden" name="token" value="{{token}}"><input type="hidden" name="cradle" value="picture">
<p class="field"><label for="photo">{{t.picture_file}}</label>
<input id="photo" type="file" name="photo" accept="image/*" required></p>
<p><button>{{t.send_picture}}</button></p>
<p class="progress" hidden><progress max="1" value="0" aria-label="{{t.sending}}"></progress></p>
<p role="status"></p>
</form>
{{^abandoned}}<details><summary>{{t.abandon}}</summary><form method="post" action="/job/{{job_id}}/abandoned">{{>keys}}
<p>{{t.abandon_words}}</p>
<p class="field"><label for="abandon_reason">{{t.abandon_reason}}</label><input id="abandon_reason" name="abandon_reason" maxlength="200" autocomplete="off" required></p>
<p><button>{{t.abandon_button}}</button></p></form></details>{{/abandoned}}{{/may_work}}
<nav class="steps" aria-label="{{t.steps}}"><a class="button quiet" href="/job/{{job_id}}">{{t.back_to_job}}</a></nav>
)page";

const char* const photos = R"page(<p class="way"><b>{{stage}}</b>: {{taken}} {{t.of}} {{count}}</p>
<progress class="way" max="{{count}}" value="{{taken}}" aria-label="{{t.step_photos}}"></progress>
{{#working}}<p role="status" data-working="/job/{{job_id}}/state?of=photos">{{t.looking}} <a href="/job/{{job_id}}/photos">{{t.look_again}}</a></p>{{/working}}
{{#crowded}}<p>{{t.crowded}} <a href="/job/{{job_id}}/photos">{{t.look_again}}</a></p>{{/crowded}}
<div class="ask">
{{#newest}}{{>photo}}{{/newest}}
<div class="answer">
{{#enough}}<p><a class="button" href="/job/{{job_id}}/{{after}}">{{after_words}}</a></p>{{/enough}}
{{#same}}<p>{{t.photos_same}}</p>{{/same}}
{{#can_move}}<form method="post" action="/job/{{job_id}}/moved">{{>keys}}<p><button class="quiet">{{t.moved_button}}</button></p></form>{{/can_move}}
{{>undo}}
{{#may_work}}<section><h2>{{next_words}}{{#enough}}{{t.next_more}}{{/enough}}</h2>
<p>{{t.photos_words}}</p>
<p>{{t.photos_several}}</p>
<form method="post" action="/job/{{job_id}}/photos" enctype="multipart/form-data" data-upload="/job/{{job_id}}/upload" data-sending="{{t.sending}}" data-waiting="{{t.waiting_network}}">
<input type="hidden" name="token" value="{{token}}">
<fieldset><legend>{{t.phone_stands}}</legend><span class="ways">
{{#ways}}<label><input type="radio" name="cradle" value="{{value}}"{{#checked}} checked{{/checked}}> {{words}}</label>
{{/ways}}<label><input type="radio" name="cradle" value=""{{#enough}} checked{{/enough}}> {{t.read_from_photo}}</label></span></fieldset>
<p class="field"><label for="photo">{{t.photo_file}}</label>
<input id="photo" type="file" name="photo" accept="image/*" multiple required></p>
<p><button>{{t.send_photo}}</button></p>
<p class="progress" hidden><progress max="1" value="0" aria-label="{{t.sending}}"></progress></p>
<p role="status"></p>
</form></section>{{/may_work}}
</div></div>
{{#has_before}}<details><summary>{{t.photos_here}}</summary>{{#before}}{{>photo}}{{/before}}</details>{{/has_before}}
<nav class="steps" aria-label="{{t.steps}}"><a class="button quiet" href="/job/{{job_id}}">{{t.back_to_job}}</a>{{#not_enough}}<a class="button quiet" href="/job/{{job_id}}/{{after}}">{{after_words}}</a>{{/not_enough}}</nav>
)page";

const char* const answer =
    R"page({{#working}}<p role="status" data-working="/job/{{job_id}}/state">{{t.working}} <a href="/job/{{job_id}}/answer">{{t.look_again}}</a></p>{{/working}}
{{#crowded}}<p>{{t.crowded}}</p>{{/crowded}}
{{>no_answer}}
{{>nothing_measured}}
{{#answer}}
{{>banner}}
{{#awaits}}<p><a class="button" href="/job/{{job_id}}/{{next}}">{{next_words}}</a></p>
{{>undo}}
<h2>{{t.measured_before}}</h2>{{/awaits}}
{{>set_aside_list}}
{{#has_turns}}<section><h2>{{t.screws}}</h2><p class="caution">{{t.caution_vehicle}} {{t.loosen_words}}</p>
<div class="screws">{{#turns}}<figure>{{{picture}}}<figcaption><b>{{screw}}</b><br>{{words}}</figcaption></figure>{{/turns}}
<figure>{{{mount_picture}}}<figcaption>{{t.from_front}}</figcaption></figure></div>
{{#has_advice}}<h3>{{t.advice}}</h3><ul>{{#advice}}<li lang="{{lang}}">{{text}}</li>{{/advice}}</ul>{{/has_advice}}
{{#may_work}}<form method="post" action="/job/{{job_id}}/turned">
{{>keys}}
{{#turns}}<input type="hidden" name="turns.{{index}}" value="{{eighths}}"><input type="hidden" name="way.{{index}}" value="{{way}}">{{/turns}}
<p><button>{{t.turned_as_told}}</button></p></form>
<details><summary>{{t.turned_otherwise}}</summary><form method="post" action="/job/{{job_id}}/turned">
{{>keys}}
{{>turn_fields}}
<p><button>{{t.save_turned}}</button></p></form></details>{{/may_work}}
</section>{{/has_turns}}
{{#to_lock}}<section><h2>{{t.lock_title}}</h2><p>{{t.lock_words}}</p><form method="post" action="/job/{{job_id}}/lock">
{{>keys}}<p>{{t.ride_height_left_words}}</p><p><button name="ride_height_left" value="yes">{{t.lock_button}}</button></p>
<p><button class="quiet" name="ride_height_left" value="no">{{t.lock_button_unsure}}</button></p></form></section>{{/to_lock}}
{{#to_finish}}<p><a class="button" href="/job/{{job_id}}/finish">{{t.step_finish}}</a></p>{{/to_finish}}
{{#has_responses}}<section><h2>{{t.responses}}</h2><ul>{{#responses}}<li lang="{{lang}}">{{text}}</li>{{/responses}}</ul></section>{{/has_responses}}
<div class="columns">{{#axes}}<section class="axis"><div class="sign">{{{sign}}}</div><div><h2>{{title}} <small lang="en">{{term}}</small></h2>{{#points}}<p class="big" lang="{{lang}}">{{text}}</p>{{/points}}{{#call}}<p class="call" lang="{{lang}}">{{text}}</p>{{/call}}{{#should_point}}<p>{{t.should_point}}: <span lang="{{lang}}">{{text}}</span></p>{{/should_point}}{{#give_or_take}}<p lang="{{lang}}">{{text}}</p>{{/give_or_take}}{{#sure}}<p lang="{{lang}}">{{text}}</p>{{/sure}}</div></section>{{/axes}}</div>
{{#has_settles}}<section class="settles"><h2>{{t.settles}}</h2><ul>{{#settles}}<li lang="{{lang}}"><b>{{title}}</b>: {{text}}</li>{{/settles}}</ul></section>{{/has_settles}}
{{>beside_photos}}
{{>still_open}}
{{>finding_list}}
<p><a class="button quiet" href="/job/{{job_id}}/handover">{{t.handover}}</a></p>
{{>report_link}}
{{/answer}}
<p class="last"><a class="button quiet" href="/job/{{job_id}}">{{t.back_to_job}}</a></p>
)page";

const char* const handover =
    R"page({{#working}}<p role="status" data-working="/job/{{job_id}}/state">{{t.working}} <a href="/job/{{job_id}}/handover">{{t.look_again}}</a></p>{{/working}}
{{>no_answer}}
{{>nothing_measured}}
{{#answer}}<div class="sheet">
<dl class="facts"><div><dt>{{t.shop_title}}</dt><dd>{{shop}}</dd></div><div><dt>{{t.job}}</dt><dd>{{job_name}}</dd></div><div><dt>{{t.vehicle}}</dt><dd>{{vehicle}}</dd></div><div><dt>{{t.technician}}</dt><dd>{{technician}}</dd></div><div><dt>{{t.photos_of}}</dt><dd>{{date}}</dd></div></dl>
{{>banner}}
<h2>{{t.where_it_points}}</h2>
{{>stage_table}}
<div class="columns"><section><h2>{{t.step_finish}}</h2>{{>entry_list}}</section>
<section>{{>still_open}}
{{>beside_photos}}</section></div>
{{>finding_list}}
{{#has_notes}}<section><h2>{{t.notes}}</h2><ul>{{#notes}}<li>{{.}}</li>{{/notes}}</ul></section>{{/has_notes}}
<section class="caution"><ul><li>{{t.caution_maker}}</li><li>{{t.handover_mount}}</li></ul></section>
<p class="small">{{#sources}}<span lang="{{lang}}">{{text}}</span> {{/sources}}</p>
<div class="signs"><p>{{t.sign_technician}}</p><p>{{t.sign_date}}</p></div>
</div>
{{/answer}}
<nav class="steps" aria-label="{{t.steps}}">{{#answer}}<button class="quiet" type="button" data-print hidden>{{t.print}}</button>{{/answer}}<a class="button quiet" href="/job/{{job_id}}">{{t.back_to_job}}</a></nav>
)page";

const char* const review_list =
    R"page(<ul class="list">{{#jobs}}<li><a class="row" href="/job/{{id}}/review"><b>{{job}}</b> <span>{{vehicle}}</span> <span>{{stage}}</span> <span class="state">{{state}}</span>{{#folders}}<span class="word WARNING">{{t.order_twice}}: {{folders}}</span>{{/folders}}</a></li>{{/jobs}}</ul>
{{^jobs}}<p>{{t.no_jobs}}</p>{{/jobs}}
)page";

const char* const review =
    R"page({{#working}}<p role="status" data-working="/job/{{job_id}}/state?of=review">{{t.working}} <a href="/job/{{job_id}}/review">{{t.look_again}}</a></p>{{/working}}
{{>no_answer}}
{{>keeping_failed}}
{{>order_twice}}
<p>{{t.review_state}}: <b>{{state}}</b>{{#signed}} ({{reviewer}}){{/signed}}{{#reason}}: {{reason}}{{/reason}}</p>
{{>banner}}
{{>stage_table}}
{{>finding_list}}
{{>report_link}}
{{#may_sign}}<form method="post" action="/job/{{job_id}}/review">{{>keys}}<input type="hidden" name="entry" value="{{entry}}">
{{#needs_reason}}<p><b>{{t.review_not_done}}</b></p>{{/needs_reason}}
<p class="field"><label for="reviewer">{{t.reviewer_code}}</label><input id="reviewer" name="reviewer" value="{{typed_reviewer}}" maxlength="60" autocomplete="off" required></p>
<p class="field"><label for="reason">{{t.review_reason}}</label><input id="reason" name="reason" value="{{typed_reason}}" maxlength="500" autocomplete="off"></p>
<p><button name="decision" value="accepted">{{t.accept}}</button></p>
<p><button class="quiet" name="decision" value="returned">{{t.return_job}}</button></p></form>{{/may_sign}}
<nav class="steps" aria-label="{{t.steps}}"><a class="button quiet" href="/review">{{t.review_list}}</a><a class="button quiet" href="/job/{{job_id}}">{{t.back_to_job}}</a></nav>
)page";

const char* const sent =
    R"page({{#working}}<p role="status" data-working="/job/{{job_id}}/state?of=review">{{t.working}} <a href="/job/{{job_id}}/send">{{t.look_again}}</a></p>{{/working}}
{{>keeping_failed}}
{{>order_twice}}
{{#sent}}<p role="status"><b>{{t.sent_words}}</b></p>{{/sent}}
{{#unchanged}}<p>{{t.send_unchanged}}</p>{{/unchanged}}
{{^sent}}{{^working}}{{^unchanged}}{{^folders}}<p>{{t.send_words}}</p>
<form method="post" action="/job/{{job_id}}/send">{{>keys}}<p><button>{{t.send_again}}</button></p></form>{{/folders}}{{/unchanged}}{{/working}}{{/sent}}
<p><a class="button quiet" href="/job/{{job_id}}">{{t.back_to_job}}</a></p>
)page";

const char* const shop = R"page(<section><h2>{{t.pair_device}}</h2>
{{#code}}<p>{{t.pair_device_words}}</p><p class="code">{{code}}</p><p>{{#address}}{{address}} {{/address}}({{role}})</p>{{#alone}}<p class="problem">{{t.not_reachable}}</p>{{/alone}}{{#qr}}<div class="qr">{{{qr}}}</div>{{/qr}}{{/code}}
<form method="post" action="/shop/code"><input type="hidden" name="token" value="{{token}}">
<fieldset><legend>{{t.role}}</legend><span class="ways"><label><input type="radio" name="role" value="technician" checked> {{t.technician_role}}</label><label><input type="radio" name="role" value="reviewer"> {{t.reviewer_role}}</label><label><input type="radio" name="role" value="shop"> {{t.shop_role}}</label></span></fieldset>
<p><button>{{t.new_code}}</button></p></form></section>
<section><h2>{{t.equipment}}</h2>{{#shop_problem}}<p class="problem" role="alert">{{t.shop_trouble}} <span lang="{{lang}}">{{text}}</span></p>{{/shop_problem}}{{#groups}}<h3>{{title}}</h3><ul class="plain">{{#items}}<li class="item"><b>{{name}}</b> <span>{{date}}</span>{{#next}} <span class="state{{#late}} word WARNING{{/late}}">{{next}}</span>{{/next}}</li>{{/items}}{{^items}}<li>{{t.none_yet}}</li>{{/items}}</ul>{{/groups}}<p>{{t.equipment_words}}</p></section>
)page";

const char* const notice = R"page(<p>{{words}}</p>
{{#detail}}<p lang="{{lang}}">{{text}}</p>{{/detail}}
{{#href}}<p><a class="button" href="{{href}}">{{link}}</a></p>{{/href}}
)page";

const char* const stale = R"page(<p>{{t.stale_words}}</p>
<div class="columns"><section><h2>{{t.stale_theirs}}</h2><dl>{{#theirs}}<dt>{{name}}</dt><dd>{{value}}</dd>{{/theirs}}</dl></section>
<section><h2>{{t.stale_yours}}</h2><dl>{{#yours}}<dt>{{name}}</dt><dd>{{value}}</dd>{{/yours}}</dl></section></div>
<p><a class="button" href="{{href}}">{{t.open_again}}</a></p>
)page";

}  // namespace squaresight::bay::templates
