// The job page: one moment, shown at once in the picture, along the program and in its text; whoever is pointed at tells the others.
import { Picture } from "./picture.js";
import { Program } from "./program.js";
import { Lanes } from "./lanes.js";
import "./pane.js";

const columns = document.querySelector(".columns");
const at = `/examined/${columns.dataset.work}`;
const bytes = (path) => fetch(at + path).then((answer) => { if (!answer.ok) throw new Error(path); return answer.arrayBuffer(); });

/** What is being looked at: a line of the program, and of its way the point that is nearest to it. */
class Moment {
  constructor() { this.listeners = []; this.line = 0; this.point = -1; this.time = 0; }
  listen(listener) { this.listeners.push(listener); }
  set(line, point, time, from) {
    this.line = line; this.point = point; this.time = time;
    for (const listener of this.listeners) listener(this, from);
  }
}

const moment = new Moment();
const program = new Program(document.querySelector(".program"), Number(columns.dataset.lines), at);
const lanes = new Lanes([...document.querySelectorAll(".lanes")]);
let way = null;

const toLine = (line, from) => {
  const point = way ? way.pointOfLine(line) : -1;
  moment.set(line, point, point >= 0 ? way.time[point] : lanes.timeOfLine(line), from);
};
const toPoint = (point, from) => { if (point >= 0) moment.set(way.line[point], point, way.time[point], from); };
const toTime = (time, line, from) => {
  const point = way ? way.pointAt(time) : -1;
  moment.set(point >= 0 ? way.line[point] : line, point, time, from);
};

program.onLine = (line) => toLine(line, "program");
lanes.onTime = (time, line) => toTime(time, line, "lanes");
moment.listen((now, from) => { if (from !== "program" || from === "keys") program.show(now.line, from); });
moment.listen((now, from) => lanes.show(now.time, now.line, !["lanes", "picture"].includes(from)));
moment.listen((now) => {
  for (const row of document.querySelectorAll(".q")) row.classList.toggle("at", Number(row.dataset.line) === now.line);
  document.querySelector(".program-at").textContent = `line ${now.line} of ${columns.dataset.lines}`;
});

document.addEventListener("click", (event) => {
  const place = event.target.closest("[data-go-line], tr[data-line], .q-code");
  if (!place) return;
  const line = Number(place.dataset.goLine || place.dataset.line || place.querySelector("span")?.textContent);
  if (!line) return;
  toLine(line, "question");
  if (!place.dataset.goLine) return;
  document.querySelector("#tab-picture").click();
  document.querySelector("#picture").scrollIntoView({ block: "nearest" });
});
for (const row of document.querySelectorAll(".q[data-line]")) {
  const summary = row.querySelector("summary");
  for (const sort of ["focus", "pointerenter"]) summary.addEventListener(sort, () => toLine(Number(row.dataset.line), "question"));
}
document.addEventListener("keydown", (event) => {
  if (event.target.closest("input, textarea")) return;
  if (event.key === "[" || event.key === "]") { toLine(program.neighbour(moment.line, event.key === "]" ? 1 : -1), "keys"); event.preventDefault(); }
  if (event.key !== "ArrowDown" && event.key !== "ArrowUp") return;
  const rows = [...document.querySelectorAll(".q > details > summary")];
  const next = rows[rows.indexOf(document.activeElement) + (event.key === "ArrowDown" ? 1 : -1)];
  if (rows.includes(document.activeElement) && next) { next.focus(); event.preventDefault(); }
});

// another version of the program: dropped anywhere, or chosen
const form = document.querySelector(".drop");
if (form) {
  const send = async (file) => {
    const body = new FormData();
    body.append("program", file);
    const answer = await fetch(form.action, { method: "POST", body, headers: { accept: "application/json" } });
    const told = await answer.json();
    if (told.at) location.assign(told.at);
  };
  form.querySelector("input").addEventListener("change", (event) => { if (event.target.files[0]) send(event.target.files[0]); });
  addEventListener("dragover", (event) => { event.preventDefault(); document.body.classList.add("drop-over"); });
  addEventListener("dragleave", () => document.body.classList.remove("drop-over"));
  addEventListener("drop", (event) => {
    event.preventDefault();
    document.body.classList.remove("drop-over");
    if (event.dataTransfer.files[0]) send(event.dataTransfer.files[0]);
  });
}
for (const word of document.querySelectorAll("[data-note]")) word.addEventListener("click", () => {
  const note = document.querySelector("#note");
  note.value = word.dataset.note;
  note.focus();
});

bytes("/margins").then((answer) => program.marks(new Uint8Array(answer)));
bytes("/scene").then((answer) => {
  const picture = new Picture(document.querySelector(".picture"), answer);
  way = picture.way;
  picture.onPoint = (point) => toPoint(point, "picture");
  moment.listen((now) => picture.show(now.point, now.line));
  document.addEventListener("theme", () => picture.draw());
  const first = document.querySelector(".acts [data-go-line]");
  if (first) toLine(Number(first.dataset.goLine), "first");
  else if (lanes.total) toTime(lanes.nearestTime(), 0, "first");
  document.body.dataset.ready = "yes";
}).catch((reason) => {
  document.querySelector(".picture").hidden = true;
  const none = document.querySelector(".picture-none");
  none.hidden = false;
  none.textContent = "This browser cannot draw the picture; the tables of the questions have the same places.";
  document.body.dataset.ready = String(reason);
});
