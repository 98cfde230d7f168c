#include "bay/assets.h"

#include "report/page_parts.h"

namespace squaresight::bay {

const std::string& style_sheet() {
    static const std::string sheet = std::string(page_style) + R"style(
html { font-size: 112.5%; }
.top { display: flex; flex-wrap: wrap; gap: 0 1rem; padding: 0 0.7rem; background: #111; }
.top a { color: #fff; display: inline-flex; align-items: center; min-height: 44px; }
main { padding-bottom: 4rem; }
main > h1 { font-size: 1.6rem; line-height: 1.2; margin: 0.6rem 0; overflow-wrap: anywhere; }
p { margin: 0.5rem 0; }
.button, button { display: inline-flex; align-items: center; justify-content: center; width: 100%;
  min-height: 56px; padding: 0.4rem 1rem; border: 3px solid #0b3d91; border-radius: 8px;
  background: #0b3d91; color: #fff; font: inherit; font-weight: 700; text-decoration: none;
  text-align: center; cursor: pointer; }
.button.quiet, button.quiet { background: #fff; color: #0b3d91; }
a:focus-visible, button:focus-visible, input:focus-visible, select:focus-visible,
summary:focus-visible { outline: 4px solid #d97a00; outline-offset: 2px; }
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
.size { display: flex; flex-wrap: wrap; gap: 0.5rem 1rem; }
.size input { width: 8rem; font-size: 1.2rem; }
.size input.short { width: 4.5rem; }
.ways { display: flex; flex-wrap: wrap; gap: 0.2rem 1.4rem; }
.ways label { display: inline-flex; align-items: center; min-height: 48px; }
.problem { padding: 0.5rem 0.7rem; border: 4px solid #a30000; background: #fff0ee; color: #111; }
.caution { color: #111; }
.caution h2 { margin: 0.2rem 0; border: 0; }
.say { font-size: 1.3rem; font-weight: 700; line-height: 1.25; }
.axis { display: flex; gap: 0.7rem; }
.axis p { margin: 0.1rem 0; }
.screws { display: grid; grid-template-columns: repeat(auto-fit, minmax(9rem, 1fr)); gap: 0.8rem; }
.screws figure { text-align: center; max-width: 16rem; }
.screws b { font-size: 1.1rem; }
summary { min-height: 48px; padding: 0.6rem 0; font-weight: 700; cursor: pointer; }
.photo { margin: 1rem 0; padding: 0.5rem; border: 3px solid #666; }
.photo.good { border-color: #1a6b1a; }
.photo.bad { border-color: #a30000; border-style: dashed; }
.photo img { display: block; max-width: 100%; height: auto; }
.code { font-size: 2.2rem; font-weight: 700; letter-spacing: 0.08em; }
.qr { max-width: 18rem; }
progress { width: 100%; height: 1.5rem; }
dl { margin: 0; } dt { font-weight: 700; } dd { margin: 0 0 0.4rem; overflow-wrap: anywhere; }
.unseen { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
[hidden] { display: none; }
@media (min-width: 44rem) { .button, button { width: auto; min-width: 16rem; } }
@media (prefers-color-scheme: dark) {
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
  .row, fieldset { border-color: #bbb; }
  figure svg, .sign svg { background: #fff; border-radius: 6px; }
  figure svg { padding: 0.3rem; }
}
)style";
    return sheet;
}

const char* const page_script = R"script("use strict";
(() => {
  const wait = ms => new Promise(done => setTimeout(done, ms));

  const watched = document.querySelector("[data-working]");
  const watch = async () => {
    for (;;) {
      await wait(1000);
      try {
        const state = await (await fetch(watched.dataset.working)).json();
        if (!state.working) { location.reload(); return; }
      } catch { await wait(3000); }
    }
  };
  if (watched) watch();

  const form = document.querySelector("form[data-upload]");
  if (!form) return;
  const piece = 512 * 1024;
  const bar = form.querySelector("progress");
  const words = form.querySelector("[role=status]");
  const button = form.querySelector("button");
  const post = (url, body, type) => fetch(url, { method: "POST", body,
    headers: { "Content-Type": type, "X-Form-Token": form.elements.token.value } });

  const begin = async file => {
    const query = new URLSearchParams({ token: form.elements.token.value,
      cradle: form.elements.cradle.value, size: file.size });
    for (;;) {
      try {
        return await post(form.dataset.upload, query.toString(), "application/x-www-form-urlencoded");
      } catch { words.textContent = form.dataset.waiting; await wait(2000); }
    }
  };

  const send = async file => {
    const begun = await begin(file);
    const first = await begun.json();
    if (!begun.ok) return first.problem;
    const place = form.dataset.upload + "/" + first.upload;
    let offset = 0;
    while (offset < file.size) {
      words.textContent = form.dataset.sending;
      try {
        const answer = await post(place + "?offset=" + offset, file.slice(offset, offset + piece),
          "application/octet-stream");
        const now = await answer.json();
        if (!answer.ok && answer.status !== 409) return now.problem;
        offset = now.received;
        bar.value = offset / file.size;
      } catch {
        words.textContent = form.dataset.waiting;
        await wait(2000);
      }
    }
    return "";
  };

  form.addEventListener("submit", async event => {
    event.preventDefault();
    const file = form.elements.photo.files[0];
    if (!file) return;
    button.disabled = true;
    bar.parentElement.hidden = false;
    const problem = await send(file);
    if (!problem) { location.reload(); return; }
    words.textContent = problem;
    button.disabled = false;
  });
})();
)script";

}  // namespace squaresight::bay
