"use strict";
// The stamps filter without a new page, and another job is drawn into the envelope.
(() => {
  const buttons = [...document.querySelectorAll(".evidence-counts button")], none = document.querySelector(".facts-none");
  const only = (wanted) => {
    for (const button of buttons) button.setAttribute("aria-pressed", String(button.dataset.evidence === wanted));
    for (const row of document.querySelectorAll(".fact")) row.hidden = Boolean(wanted) && row.dataset.evidence !== wanted;
    for (const group of document.querySelectorAll(".facts-of")) group.hidden = !group.querySelector(".fact:not([hidden])");
    none.hidden = Boolean(document.querySelector(".fact:not([hidden])"));
  };
  for (const button of buttons) button.addEventListener("click", (event) => {
    event.preventDefault();
    only(button.getAttribute("aria-pressed") === "true" ? "" : button.dataset.evidence);
  });
  const card = document.querySelector("form.card"), told = card.querySelector(".card-said");
  const names = { "today.warm": "warm-up done", "today.air": "air on the gauge" };
  const plain = (what) => Object.entries(names).reduce((words, [path, name]) => words.replace(path, name), what);
  card.addEventListener("submit", async (event) => {
    event.preventDefault();
    told.textContent = "";
    const answer = await fetch(card.action, { method: "POST", body: new FormData(card), headers: { accept: "application/json" } }).catch(() => null);
    if (!answer) { told.textContent = "Firstoff does not answer, so nobody can say here whether the card was filled in. Start it again with firstoff open and look."; return; }
    if (answer.ok) { location.reload(); return; }
    const { faults } = await answer.json().catch(() => ({}));
    const words = (faults || [{ what: "the card cannot be filled in" }]).map((one) => `${plain(one.what)}${one.value ? `: ${one.value}` : ""}.${one.allowed ? ` It takes ${one.allowed}.` : ""}`).join(" ");
    told.textContent = `${words.slice(0, 1).toUpperCase()}${words.slice(1)} The card stands as it was.`;
  });
  const reach = document.querySelector(".reach-form");
  if (!reach) return;
  reach.querySelector("button").hidden = true;
  reach.elements.reach.addEventListener("change", async () => {
    const answer = await fetch(`/machine/envelope?reach=${encodeURIComponent(reach.elements.reach.value)}`);
    if (answer.ok) document.getElementById("envelope").innerHTML = await answer.text();
  });
})();
