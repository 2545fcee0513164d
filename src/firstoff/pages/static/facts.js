"use strict";
// Facts are edited in their rows: a line below says how it would be understood while it is typed; what cannot be set says why, and nothing
// that was typed is lost, also when somebody else was quicker.
(() => {
  const SILENT = "Firstoff does not answer, so nobody can say here whether this was written. What you typed stands above; start it again with firstoff open and look.";
  const wordsOf = (faults) => (faults || [{ what: "This cannot be set" }]).map((one) =>
    [one.what, one.value && `: ${one.value}`, one.allowed && `. Allowed: ${one.allowed}`, one.do && `. ${one.do}`].filter(Boolean).join("")).join(" ");
  const say = (form, words, refused) => { const said = form.querySelector(".fact-said"); said.textContent = /^[a-z_0-9]+\./.test(words) ? words : words.slice(0, 1).toUpperCase() + words.slice(1); said.classList.toggle("fact-refused", refused); };
  const changed = (form) => [...form.elements].some((one) => one.name && one.name !== "why" && one.type !== "hidden" && (one.tagName === "SELECT" ? [...one.options].some((o) => o.selected !== o.defaultSelected) && one.value !== "" : one.value !== one.defaultValue));
  let waits = 0, turn = 0;
  const check = async (form) => {
    const mine = ++turn;
    if (!changed(form) || !form.elements.value.value.trim()) return say(form, "", false);
    const answer = await fetch("/facts/check", { method: "POST", body: new FormData(form), headers: { accept: "application/json" } }).catch(() => null);
    if (mine !== turn || !answer) return;
    const told = await answer.json().catch(() => ({ says: "" }));  // the door answers in plain words
    say(form, told.faults ? wordsOf(told.faults) : told.says, Boolean(told.faults));
  };
  document.addEventListener("input", (event) => {
    const form = event.target.closest(".fact-form");
    if (!form || event.target.name === "why") return;
    clearTimeout(waits);
    waits = setTimeout(check, 250, form);
  });
  document.addEventListener("submit", async (event) => {
    const form = event.target.closest(".fact-form");
    if (!form) return;
    event.preventDefault();
    clearTimeout(waits); turn++;
    say(form, "Setting it.", false);
    const answer = await fetch(form.action, { method: "POST", body: new FormData(form), headers: { accept: "application/json" } }).catch(() => null);
    if (!answer) return say(form, SILENT, true);
    const told = await answer.json().catch(() => ({}));  // the door answers in plain words
    if (answer.ok) { location.hash = form.elements.path.value; location.reload(); return; }
    say(form, wordsOf(told.faults), true);
    if (told.now === undefined) return;
    say(form, "Somebody else has changed this meanwhile. Nothing of yours was written, and nothing is lost.", true);
    const both = form.querySelector(".fact-both");
    both.querySelector(".both-now").textContent = told.now || "nothing";
    both.querySelector(".both-yours").textContent = form.elements.value.value;
    both.dataset.now = told.now;
    both.hidden = false;
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-both]");
    if (!button) return;
    const form = button.closest(".fact-form"), both = button.closest(".fact-both");
    if (button.dataset.both === "now") { location.reload(); return; }
    form.elements.was.value = both.dataset.now;
    both.hidden = true;
    form.requestSubmit();
  });
  document.addEventListener("toggle", async (event) => {
    const past = event.target.open && event.target.querySelector && event.target.querySelector(".fact-past:not([data-told])");
    if (!past) return;
    past.dataset.told = "";
    const answer = await fetch(`/facts/past?path=${encodeURIComponent(past.dataset.past)}`);
    if (answer.ok) past.innerHTML = await answer.text();
  }, true);
  const show = (row) => { row.open = true; row.hidden = false; row.scrollIntoView({ block: "center" }); };
  document.addEventListener("click", (event) => {
    const act = event.target.closest("[data-open]"), row = act && document.getElementById(act.dataset.open);
    if (!row) return;
    event.preventDefault();
    show(row);
    const form = row.querySelector(".fact-form");
    if (form.elements.evidence && form.elements.was.value) form.elements.evidence.value = "measured";
    form.elements.value.focus({ preventScroll: true });
  });
  for (const row of document.querySelectorAll(".fact[open]")) row.dispatchEvent(new Event("toggle"));
  if (location.hash) { const row = document.getElementById(decodeURIComponent(location.hash.slice(1))); if (row && row.tagName === "DETAILS") show(row); }
})();
