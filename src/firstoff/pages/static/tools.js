"use strict";
// A tool is chosen in the rack; acts, today's jobs and the control's tables answer in place: what cannot be done says why, and nothing typed is lost.
const KEPT = "firstoff-said";
const asPage = async (answer) => new DOMParser().parseFromString(await answer.text(), "text/html");
const swap = (page, id) => { const made = page.getElementById(id), now = document.getElementById(id); if (made && now) now.replaceWith(made); return made; };
const told = (faults) => (faults || [{ what: "This cannot be done" }]).map((one) =>
  [/^[a-z]+\S*[-_.0-9]/.test(one.what) ? one.what : one.what.charAt(0).toUpperCase() + one.what.slice(1), one.value && `: ${one.value}`, one.allowed && `. Allowed: ${one.allowed}`, one.file && `. In ${one.file}${one.line ? `, line ${one.line}` : ""}`, one.do && `. ${one.do}`].filter(Boolean).join("")).join(" ");
const say = (form, words, refused) => { const said = form.querySelector(".act-said"); said.textContent = words; said.classList.toggle("act-refused", Boolean(refused)); said.scrollIntoView({ block: "nearest", behavior: "instant" }); };

// What is of one tool is fetched as soon as a finger comes down or a pointer comes near, and once for as long as the page stands.
const fetched = new Map();
const query = (link) => new URL(link.href).searchParams;
const parts = (link) => {
  const asks = query(link), address = `/tools/${encodeURIComponent(asks.get("tool"))}/chosen?act=${asks.get("act") || ""}`;
  if (!fetched.has(address)) fetched.set(address, fetch(address).then((answer) => (answer.ok ? answer.text() : Promise.reject(answer.status))));
  return fetched.get(address);
};
for (const kind of ["pointerover", "pointerdown", "focusin"]) document.addEventListener(kind, (event) => {
  const link = event.target.closest && event.target.closest("[data-choose-tool]");
  if (link) parts(link).catch(() => {});
});
let asked = 0;
async function choose(link) {
  const mine = ++asked, name = query(link).get("tool");
  for (const cell of document.querySelectorAll("a.rack-cell")) {
    if (cell.dataset.chooseTool === name) cell.setAttribute("aria-current", "true"); else cell.removeAttribute("aria-current");
  }
  try {
    const page = new DOMParser().parseFromString(await parts(link), "text/html");
    if (mine !== asked) return;
    for (const part of ["chosen", "chosen-past", "chosen-facts"]) swap(page, part);
    history.replaceState(null, "", `/tools?tool=${encodeURIComponent(name)}`);
  } catch { location.href = link.href; }
}
document.addEventListener("click", (event) => {
  const link = event.target.closest("[data-choose-tool]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  event.preventDefault();
  choose(link).then(() => {
    const box = document.getElementById("chosen").getBoundingClientRect(), rack = link.classList.contains("rack-cell");
    if (!rack || box.top > innerHeight - 160) document.getElementById("chosen").scrollIntoView({ block: rack ? "end" : "start", behavior: "instant" });
    const open = document.querySelector("#chosen .tool-act[open] input:not([type=hidden])");
    if (open) open.focus({ preventScroll: true });
  });
});
document.addEventListener("keydown", (event) => {
  const cell = event.target.closest && event.target.closest("a.rack-cell");
  const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
  if (!cell || !step) return;
  const cells = [...document.querySelectorAll("a.rack-cell")];
  const next = cells[cells.indexOf(cell) + step];
  if (next) { event.preventDefault(); next.focus(); choose(next); }
});

async function act(form, verb, after) {
  const data = new FormData(form);
  if (verb) data.set("verb", verb);
  say(form, "One moment.");
  const answer = await fetch(form.action, { method: "POST", body: data, headers: { accept: "application/json" } }).catch(() => null);
  if (!answer) { say(form, "Firstoff does not answer, so nobody can say here whether this was noted. Start it again with firstoff open and look.", true); return; }
  const back = await answer.json();
  if (!answer.ok) { say(form, told(back.faults), true); return; }
  if (verb === "check") { say(form, back.said); return; }
  sessionStorage.setItem(KEPT, back.said || (back.changed ? "" : "Nothing had to be changed."));
  location.assign(after || `/tools?tool=${encodeURIComponent(document.getElementById("chosen").dataset.tool)}`);
}
document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (form.matches(".act-form")) { event.preventDefault(); act(form, event.submitter && event.submitter.value); return; }
  if (form.matches(".hand-form")) {
    event.preventDefault();
    const jobs = new URLSearchParams(new FormData(document.querySelector(".today-form")));
    jobs.set("tool", decodeURIComponent(form.action.split("/").pop()));
    act(form, "", `/tools?${jobs}#today`);
    return;
  }
  if (form.matches(".today-form")) {
    event.preventDefault();
    const query = new URLSearchParams(new FormData(form));
    if (![...query].length) { say(form, "Choose a job first."); return; }
    say(form, "Looking for the fewest changes.");
    const answer = await fetch(`/tools?${query}`, { headers: { accept: "text/html, application/json" } });
    if (!answer.ok) { say(form, told((await answer.json()).faults), true); return; }
    swap(await asPage(answer), "today");
    document.querySelector("#today .day-said").scrollIntoView({ block: "nearest", behavior: "instant" });
  }
  if (form.matches(".control-form")) {
    event.preventDefault();
    say(form, "Reading.");
    const answer = await fetch(form.action, { method: "POST", body: new FormData(form), headers: { accept: "text/html, application/json" } });
    if (!answer.ok) { say(form, told((await answer.json().catch(() => ({}))).faults), true); return; }
    const held = (await asPage(answer)).querySelector(".held-said"), there = document.querySelector("#control .held-said, #control .control-note");
    say(form, "");
    there.replaceWith(held); // the chosen files stay chosen
  }
});
document.addEventListener("change", (event) => {
  const input = event.target;
  if (input.matches(".file input")) input.closest(".file").querySelector(".file-name").textContent = input.files.length ? input.files[0].name : "no file";
});
const kept = sessionStorage.getItem(KEPT);
if (kept !== null) { sessionStorage.removeItem(KEPT); const said = document.querySelector(".act-done"); if (said) { said.textContent = kept; if (kept && !location.hash) said.scrollIntoView({ block: "center", behavior: "instant" }); } }
