#include "bay/assets.h"

#include "report/page_parts.h"

namespace squaresight::bay {

const std::string& style_sheet() {
    static const std::string sheet = std::string(page_style) + R"style(
html { font-size: 112.5%; }
.top { display: flex; flex-wrap: wrap; gap: 0 1rem; padding: 0 0.7rem; background: #111; }
.top a { color: #fff; display: inline-flex; align-items: center; min-height: 44px; }
main { padding-bottom: 4rem; overflow-wrap: anywhere; }
main > h1 { font-size: 1.6rem; line-height: 1.2; margin: 0.6rem 0; overflow-wrap: anywhere; }
p { margin: 0.5rem 0; }
.button, button { display: inline-flex; align-items: center; justify-content: center; width: 100%;
  min-height: 56px; padding: 0.4rem 1rem; border: 3px solid #0b3d91; border-radius: 8px;
  background: #0b3d91; color: #fff; font: inherit; font-weight: 700; text-decoration: none;
  text-align: center; cursor: pointer; }
.button.quiet, button.quiet { background: #fff; color: #0b3d91; }
input[type=date]:focus-within { outline: 4px solid #b85c00; outline-offset: 2px; }
.top a:focus-visible { outline-offset: -4px; }
main:focus { outline: none; }
.skip { position: absolute; top: -10rem; left: 0.7rem; }
.skip:focus { top: 0.4rem; }
.list { list-style: none; padding: 0; margin: 0.8rem 0; }
.row { display: flex; flex-wrap: wrap; gap: 0 0.8rem; align-items: center; min-height: 56px;
  padding: 0.3rem 0.6rem; border: 2px solid #666; border-radius: 8px; color: inherit;
  text-decoration: none; }
.row .state { margin-left: auto; font-weight: 700; }
a.row { border-color: #0b3d91; }
fieldset { margin: 0.9rem 0; padding: 0.4rem 0.6rem 0.6rem; border: 2px solid #666;
  border-radius: 8px; min-width: 0; }
legend, .field label { font-weight: 700; padding: 0 0.2rem; }
.field { margin: 0.9rem 0; }
.field label { display: block; }
input, select { font: inherit; color: inherit; background: #fff; min-height: 48px;
  padding: 0.2rem 0.5rem; border: 2px solid #444; border-radius: 6px; max-width: 100%; }
.field input, .field select, .reason input { width: 100%; }
.reason { display: block; }
input[type=radio] { width: 1.5rem; min-height: 1.5rem; height: 1.5rem; margin: 0 0.4rem 0 0; flex: none; }
p.way { margin: 0.2rem 0; }
progress.way { display: block; height: 0.7rem; }
.drawing { max-width: 24rem; margin: 0.5rem auto; padding: 0.3rem; background: #fff; color: #111;
  border: 2px solid #666; border-radius: 8px; }
.drawing img { display: block; width: 100%; height: auto; }
.drawing img.floor { max-width: 26rem; margin: 0 auto; }
.layout li { margin: 0.6rem 0; } .layout li p { margin: 0.2rem 0; }
.parts { display: flex; flex-wrap: wrap; gap: 0.5rem; }
.part { flex: 1; min-width: min(4.4rem, 100%); display: grid; gap: 0.4rem; }
.mm .part, .deg .part { grid-template-columns: repeat(6, 1fr); }
.mm .part button { grid-column: span 2; }
.deg .part button { grid-column: span 3; }
.part label { grid-column: 1 / -1; display: flex; align-items: center; gap: 0.3rem; }
.part input, .part select { flex: 1; width: 100%; min-width: 0; min-height: 60px; padding: 0.2rem;
  font-size: 1.5rem; font-weight: 700; text-align: center; }
.part button { min-height: 60px; min-width: 0; padding: 0.2rem; font-size: 1.3rem; }
.part select { appearance: none; padding: 0; }
.part:has(select) { min-width: min(7rem, 100%); }
.inch .digits { display: none; }
.doubt { font-weight: 700; }
.doubt:not(:empty) { padding: 0.4rem 0.6rem; border: 3px solid #111; background: #ffd75e; color: #111; }
.sides { display: flex; flex-wrap: wrap; gap: 0.5rem; margin-top: 0.6rem; }
.sides label { display: flex; flex: 1 1 8rem; align-items: center; min-width: min-content;
  min-height: 64px; padding: 0.3rem 0.5rem; border: 3px solid #666; border-radius: 8px;
  font-weight: 700; overflow-wrap: normal; }
.sides label:has(:checked) { border-color: #0b3d91; outline: 3px solid #0b3d91; }
.sides label:has(:focus-visible) { outline: 4px solid #b85c00; outline-offset: 2px; }
input[type=file] { padding: 0; }
::file-selector-button { font: inherit; font-weight: 700; color: inherit; background: transparent;
  min-height: 60px; margin-right: 0.6rem; padding: 0 0.8rem; border: 0; border-right: 2px solid; }
.filters { display: grid; grid-template-columns: repeat(auto-fit, minmax(8rem, 1fr)); gap: 0.4rem; }
.filters button { min-width: 0; padding: 0.2rem 0.4rem; }
.filters .chosen { border-width: 6px; }
.search { margin: 0.8rem 0; }
.leave { margin-top: 1.6rem; padding: 0.2rem 0.7rem; border: 2px dashed #666; border-radius: 8px; }
.steps { display: flex; gap: 0.6rem; margin-top: 1rem; }
.steps .button, .steps button { flex: 1; width: auto; min-width: 0; }
.entries > div { display: flex; flex-wrap: wrap; gap: 0 0.8rem; padding: 0.3rem 0;
  border-bottom: 1px solid #999; }
.entries dt { font-weight: 400; }
.entries dd { margin: 0 0 0 auto; font-weight: 700; text-align: right; }
.size { display: block; }
.item { display: flex; flex-wrap: wrap; gap: 0 0.8rem; }
.facts { display: flex; flex-wrap: wrap; gap: 0.2rem 1.4rem; }
.facts dt { font-weight: 400; }
.facts dd { font-weight: 700; margin: 0; }
.stages { table-layout: fixed; }
.stages td::before { font-weight: 400; }
@media (min-width: 44rem) { .stages td::before { content: none; } }
@media print { .stages td::before { content: none; } }
.signs { display: flex; gap: 2rem; margin-top: 2.5rem; }
.signs p { flex: 1; border-top: 2px solid; padding-top: 0.2rem; }
@media print {
  .top, .steps { display: none; }
  html { font-size: 9pt; }
  main { padding: 0; }
  main > h1 { font-size: 1.4rem; margin: 0; }
  h2 { margin: 0.6rem 0 0.2rem; border-bottom-width: 1.5px; }
  .banner { border-width: 3px; padding: 0.3rem 0.5rem; }
  .returned { margin-bottom: 0.6rem; }
.say { font-size: 1.1rem; }
}
@page { margin: 12mm; }
.ways { display: flex; flex-wrap: wrap; gap: 0.2rem 1.4rem; }
.ways label { display: inline-flex; align-items: center; min-height: 48px; }
.problem { padding: 0.5rem 0.7rem; border: 4px solid #a30000; background: #fff0ee; color: #111; }
.caution { color: #111; }
.caution h2 { margin: 0.2rem 0; border: 0; }
.say { font-size: 1.3rem; font-weight: 700; line-height: 1.25; }
.axis { display: flex; gap: 0.7rem; margin-top: 0.8rem; }
.axis p { margin: 0.1rem 0; }
.screws { display: grid; grid-template-columns: repeat(auto-fit, minmax(9rem, 1fr)); gap: 0.8rem; }
.screws figure { text-align: center; max-width: 16rem; }
.screws b { font-size: 1.1rem; }
.screws + h3 { margin-top: 0.8rem; }
@media (max-width: 43.9rem) { .screws figure:last-child { grid-column: 1 / -1; margin: 0 auto; width: 16rem; } }
summary { min-height: 48px; padding: 0.6rem 0; font-weight: 700; cursor: pointer; }
.photo { margin: 1rem 0; padding: 0.5rem; border: 3px solid #666; }
.photo.good { border-color: #1a6b1a; }
.photo.bad { border-color: #a30000; border-style: dashed; }
ul.plain { list-style: none; padding: 0; }
.photo h2 { border: 0; margin: 0.2rem 0; }
.photo img { display: block; max-width: 100%; height: auto; }
fieldset .field:last-child { margin-bottom: 0; }
.code { font-size: 2.2rem; font-weight: 700; letter-spacing: 0.08em; }
.qr { max-width: 18rem; }
progress { width: 100%; height: 1.5rem; }
dl { margin: 0; } dt { font-weight: 700; } dd { margin: 0 0 0.4rem; overflow-wrap: anywhere; }
.unseen { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
[hidden] { display: none; }
@media (min-width: 44rem) {
  .button, button { width: auto; min-width: 16rem; }
  .part button { min-width: 0; }
  .steps .button, .steps button { flex: none; min-width: 12rem; }
}
@media (min-width: 60rem) {
  .ask { display: flex; gap: 1.5rem; align-items: flex-start; }
  .ask > * { flex: 1; min-width: 0; }
  .ask > .answer:only-child { max-width: 34rem; }
  .seen .drawing { max-width: none; }
  .ask .entries dt { max-width: 60%; }
  .ask > .photo { flex: 1.3; margin-top: 0.5rem; }
}
@media (prefers-color-scheme: dark) {
  :root { color-scheme: dark; }
  body { color: #f2f2f2; background: #161616; }
  small, .small { color: #ccc; }
  h2 { border-color: #f2f2f2; }
  .banner, .word { border-color: #f2f2f2; }
  .word.WARNING { color: #111; }
  input, select { background: #262626; border-color: #bbb; }
  a { color: #9cc4ff; }
  .top { background: #000; }
  .button, button { background: #9cc4ff; border-color: #9cc4ff; color: #111; }
  .button.quiet, button.quiet { background: #161616; color: #9cc4ff; }
  .row, fieldset, .sides label { border-color: #bbb; }
  a.row { border-color: #9cc4ff; }
  .sides label:has(:checked) { border-color: #9cc4ff; outline-color: #9cc4ff; }
  .photo.good { border-color: #6fd06f; }
  .photo.bad { border-color: #ff9a8f; }
  figure svg, .sign svg { background: #fff; border-radius: 6px; }
  figure svg { padding: 0.3rem; }
}
)style";
    return sheet;
}

const char* const page_icon =
    R"(<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><rect width="32" height="32" rx="6" )"
    R"(fill="#0b3d91"/><path d="M16 5v22M5 16h22" stroke="#fff" stroke-width="3"/><circle cx="16" )"
    R"(cy="16" r="7" fill="none" stroke="#fff" stroke-width="3"/></svg>)";

const char* const page_script = R"script("use strict";
(() => {
  const wait = ms => new Promise(done => setTimeout(done, ms));

  const watched = document.querySelector("[data-working]");
  const watch = async () => {
    for (;;) {
      await wait(1000);
      try {
        const answer = await fetch(watched.dataset.working);
        if (answer.redirected) { location.reload(); return; }  // nobody any more: it says so
        const state = await answer.json();
        if (!state.working) { location.reload(); return; }
      } catch { await wait(3000); }
    }
  };
  if (watched) watch();

  const print = document.querySelector("[data-print]");
  if (print) {
    print.hidden = false;
    print.addEventListener("click", () => window.print());
  }

  const number = one => Number(one.value.trim().replace(",", ".") || "0");
  const mmPerSixteenth = 25.4 / 16;

  const setUpSize = box => {
    const parts = [...box.querySelectorAll("input:not([type]), select")];
    const inch = box.dataset.size === "inch";
    const doubt = box.querySelector("[data-doubt]");
    const total = () => inch ? 192 * number(parts[0]) + 16 * number(parts[1]) + number(parts[2])
      : number(parts[0]);
    const put = value => {
      if (inch) {
        const whole = Math.round(value);
        parts[0].value = Math.floor(whole / 192);
        parts[1].value = Math.floor(whole % 192 / 16);
        parts[2].value = whole % 16;
      } else parts[0].value = Number(value.toFixed(2));
    };
    const check = () => {
      if (!doubt) return;
      const empty = parts.every(part => part.value.trim() === "" || part.value === "0");
      const size = inch ? total() * mmPerSixteenth : total();
      const odd = size < Number(box.dataset.low) || size > Number(box.dataset.high);
      doubt.textContent = !empty && odd ? doubt.dataset.doubt : "";
    };
    const step = by => {
      const now = total();
      if (!Number.isFinite(now)) return;
      put(Math.max(0, now + by));
      check();
    };
    for (const button of box.querySelectorAll("[data-step]")) {
      const by = Number(button.dataset.step);
      let timer = 0;
      const end = () => clearInterval(timer);
      button.hidden = false;
      button.addEventListener("click", () => step(by));
      button.addEventListener("pointerdown", () => {
        end();
        const begun = Date.now();
        timer = setInterval(() => { if (Date.now() - begun > 500) step(by); }, 120);
      });
      for (const event of ["pointerup", "pointerleave", "pointercancel"]) {
        button.addEventListener(event, end);
      }
    }
    box.addEventListener("input", check);
    if (!document.querySelector("main > .problem")) check();  // which says it
  };
  document.querySelectorAll("[data-size]").forEach(setUpSize);

  const form = document.querySelector("form[data-upload]");
  if (!form) return;
  const piece = 512 * 1024;
  const bar = form.querySelector("progress");
  const words = form.querySelector("[role=status]");
  const button = form.querySelector("button");
  const tell = (text, manner, language) => {
    words.textContent = text;
    words.className = manner;
    words.lang = language || document.documentElement.lang;
  };
  // Who is nobody any more, or whose job is gone, is told so by the page itself.
  const post = async (url, body, type) => {
    const answer = await fetch(url, { method: "POST", body,
      headers: { "Content-Type": type, "X-Form-Token": form.elements.token.value } });
    const isTold = answer.headers.get("Content-Type") === "application/json";
    if (!isTold && answer.status < 500) { location.reload(); await new Promise(() => {}); }
    return { ok: answer.ok, status: answer.status, told: await answer.json() };
  };

  const begin = async (file, cradle) => {
    const query = new URLSearchParams({ token: form.elements.token.value, cradle,
      size: file.size });
    for (;;) {
      try {
        return await post(form.dataset.upload, query.toString(), "application/x-www-form-urlencoded");
      } catch { tell(form.dataset.waiting, "doubt"); await wait(2000); }
    }
  };

  const send = async (file, cradle, done) => {
    const begun = await begin(file, cradle);
    if (!begun.ok) return begun.told;
    const place = form.dataset.upload + "/" + begun.told.upload;
    let offset = 0;
    while (offset < file.size) {
      tell(form.dataset.sending, "");
      try {
        const answer = await post(place + "?offset=" + offset, file.slice(offset, offset + piece),
          "application/octet-stream");
        if (!answer.ok && answer.status !== 409) return answer.told;
        offset = answer.told.received;
        done(offset / file.size);
      } catch {
        tell(form.dataset.waiting, "doubt");
        await wait(2000);
      }
    }
    return null;
  };

  form.elements.photo.addEventListener("change", event => {
    if (event.target.files.length && !button.disabled) form.requestSubmit();
  });
  // When it was taken, as its head has it in plain letters; else when its file was written.
  const timeOf = async file => {
    const found = (await file.slice(0, 262144).text()).match(/\d{4}:\d\d:\d\d \d\d:\d\d:\d\d/);
    const two = number => String(number).padStart(2, "0");
    const at = new Date(file.lastModified);
    return found ? found[0] : `${at.getFullYear()}:${two(at.getMonth() + 1)}:${two(at.getDate())} ` +
      `${two(at.getHours())}:${two(at.getMinutes())}:${two(at.getSeconds())}`;
  };
  const byTime = async files => {
    const timed = await Promise.all(files.map(async file => [await timeOf(file), file]));
    return timed.sort((a, b) => a[0] < b[0] ? -1 : a[0] > b[0] ? 1 : 0).map(one => one[1]);
  };
  const showRefused = refused => {
    tell(refused.problem, "problem", refused.lang);
    form.elements.photo.focus();
  };
  const kept = sessionStorage.getItem("refused");
  sessionStorage.removeItem("refused");
  if (kept) showRefused(JSON.parse(kept));

  form.addEventListener("submit", async event => {
    event.preventDefault();
    const files = [...form.elements.photo.files];
    if (!files.length) return;
    button.disabled = true;
    bar.parentElement.hidden = false;
    // Of several each tells by itself how the phone stood.
    const cradle = files.length > 1 ? "" : form.elements.cradle.value;
    const all = files.length > 1 ? await byTime(files) : files;
    let refused = null, sent = 0;
    for (const [number, file] of all.entries()) {
      const problem = await send(file, cradle, share => { bar.value = (number + share) / all.length; });
      if (!problem) ++sent;
      else refused = { lang: problem.lang,
        problem: (all.length > 1 ? file.name + ": " : "") + problem.problem };
    }
    if (sent) {  // the page shows them, and what was refused beside them
      if (refused) sessionStorage.setItem("refused", JSON.stringify(refused));
      location.reload();
      return;
    }
    bar.parentElement.hidden = true;
    button.disabled = false;
    form.elements.photo.value = "";
    showRefused(refused);
  });
})();
)script";

}  // namespace squaresight::bay
