"use strict";
// How far an examination came, word by word, until it is there.
(() => {
  const box = document.querySelector(".examining");
  const bar = box.querySelector(".going"), words = box.querySelector(".going-words");
  const at = `/examined/${box.dataset.number}`;
  const left = (s) => s === null ? "" : s < 90 ? `, about ${Math.max(1, Math.round(s))} s left` : `, about ${Math.round(s / 60)} min left`;
  box.querySelector("form").addEventListener("submit", () => { left.asked = true; });
  const events = new EventSource(`${at}/progress`);
  events.onmessage = (event) => {
    const told = JSON.parse(event.data);
    const percent = Math.round(100 * told.part);
    bar.firstElementChild.style.width = `${percent}%`;
    bar.setAttribute("aria-valuenow", String(percent));
    words.textContent = `${told.stage}${left(told.left_s)}`;
    if (told.state === "waiting" || told.state === "going") return;
    events.close();
    if (!left.asked) location.replace(at);  // who stopped it is on the way to the jobs already
  };
  events.onerror = () => { events.close(); setTimeout(() => location.reload(), 2000); };
})();
