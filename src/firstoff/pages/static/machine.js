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
  const reach = document.querySelector(".reach-form");
  if (!reach) return;
  reach.querySelector("button").hidden = true;
  reach.elements.reach.addEventListener("change", async () => {
    const answer = await fetch(`/machine/envelope?reach=${encodeURIComponent(reach.elements.reach.value)}`);
    if (answer.ok) document.getElementById("envelope").innerHTML = await answer.text();
  });
})();
