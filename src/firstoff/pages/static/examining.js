"use strict";
// How far an examination came, and its questions as they are judged, until its page is there.
(() => {
  const box = document.querySelector(".examining");
  const bar = box.querySelector(".going"), stage = box.querySelector(".going-stage"), left = box.querySelector(".going-left");
  const list = box.querySelector(".j-list"), tally = box.querySelector(".going-tally");
  const at = `/examined/${box.dataset.number}`, all = Number(box.dataset.questions);
  const worst = ["stop", "care", "unjudged", "clear"];
  const words = (s) => s === null ? "" : s < 2 ? "A moment left." : s < 90 ? `About ${Math.round(s)} s left.` : `About ${Math.round(s / 60)} min left.`;
  let asked = false;

  const count = () => {
    const rows = [...list.children];
    const told = worst.map((answer) => [answer, rows.filter((row) => row.dataset.answer === answer).length]).filter(([, number]) => number);
    tally.textContent = `${rows.length} of ${all} questions judged: ${told.map(([answer, number]) => `${number} ${answer}`).join(", ")}.`;
    box.querySelector(".j-waits").classList.toggle("none", !box.querySelector("[data-waits]"));
  };
  const show = (one) => {
    box.querySelector(`[data-waits="${one.id}"]`)?.remove();
    list.querySelector(`[data-id="${one.id}"]`)?.remove();
    const row = document.createElement("li");
    row.className = `j j-${one.answer}`;
    row.dataset.id = one.id;
    row.dataset.answer = one.answer;
    row.innerHTML = one.html;
    const next = [...list.children].find((other) => worst.indexOf(other.dataset.answer) > worst.indexOf(one.answer));
    list.insertBefore(row, next || null);
    count();
  };

  if (list.children.length) count();
  box.querySelector("form").addEventListener("submit", () => { asked = true; });
  const events = new EventSource(`${at}/progress`);
  events.addEventListener("judged", (event) => show(JSON.parse(event.data)));
  events.onmessage = (event) => {
    const told = JSON.parse(event.data);
    const percent = Math.round(100 * told.part);
    bar.querySelector("i").style.width = bar.querySelector("b").style.left = `${percent}%`;
    bar.setAttribute("aria-valuenow", String(percent));
    stage.textContent = `${told.stage[0].toUpperCase()}${told.stage.slice(1)}.`;
    left.textContent = words(told.left_s);
    if (told.state === "waiting" || told.state === "going") return;
    events.close();
    if (!asked) location.replace(at);  // who stopped it is on the way already
  };
  const again = () => fetch(at, { method: "HEAD" }).then(() => location.reload(), () => {
    stage.textContent = "Firstoff does not answer: this examination may have ended with it. This page looks again by itself.";
    left.textContent = "";
    setTimeout(again, 2000);
  });
  events.onerror = () => { events.close(); setTimeout(again, 2000); };
})();
