"use strict";
// Facts are edited in their rows: what cannot be set says why below, and nothing that was typed is lost.
document.addEventListener("submit", async (event) => {
  const form = event.target.closest(".fact-form");
  if (!form) return;
  event.preventDefault();
  const said = form.querySelector(".fact-said");
  said.textContent = "Setting it.";
  const answer = await fetch(form.action, { method: "POST", body: new FormData(form), headers: { accept: "application/json" } });
  const told = await answer.json();
  if (answer.ok) { location.hash = form.elements.path.value; location.reload(); return; }
  said.textContent = (told.faults || [{ what: "This cannot be set" }]).map((one) =>
    [one.what, one.value && `: ${one.value}`, one.allowed && `. Allowed: ${one.allowed}`, one.do && `. ${one.do}`].filter(Boolean).join("")).join(" ");
  said.classList.add("fact-refused");
});
const buttons = document.querySelectorAll(".evidence-counts button");
for (const button of buttons) button.addEventListener("click", () => {
  const on = button.getAttribute("aria-pressed") !== "true";
  for (const other of buttons) other.setAttribute("aria-pressed", String(on && other === button));
  for (const row of document.querySelectorAll(".fact")) row.hidden = on && row.dataset.evidence !== button.dataset.evidence;
});
if (location.hash) { const row = document.getElementById(location.hash.slice(1)); if (row && row.tagName === "DETAILS") { row.open = true; row.scrollIntoView({ block: "center" }); } }
