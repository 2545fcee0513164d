// The lanes along the program, and the strip that holds all of them in one: point at a moment, drag its index, walk it by keys, or be shown one.
const clock = (s) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;
const figure = (text) => Number(text) >= 1000 ? Number(text).toFixed(0) : String(Number(text));
const STEPS = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 20, PageDown: -20 };

/** One box of lanes with its index, which is a slider. */
class Strip {
  constructor(box, onShare) {
    this.box = box;
    this.index = box.querySelector(".lanes-index");
    this.told = box.querySelector(".index-told");
    this.plots = [...box.querySelectorAll(".lane-plot")].map((plot) => {
      const now = document.createElement("span");
      now.className = "lane-now";
      now.hidden = true;
      plot.append(now);
      return { name: plot.dataset.name, unit: plot.dataset.unit, values: plot.dataset.values.split(","), box: plot, now };
    });
    this.numerals = [...box.querySelectorAll(".time-rule span")];
    this.index.tabIndex = 0;
    this.index.setAttribute("role", "slider");
    this.index.setAttribute("aria-label", "Moment of the program");
    this.hands(onShare);
  }
  hands(onShare) {
    let down = false;
    const point = (event) => {
      const area = this.plots[0].box.getBoundingClientRect();
      onShare(Math.min(Math.max((event.clientX - area.left) / area.width, 0), 0.9999));
    };
    this.box.addEventListener("pointerdown", (event) => {
      const area = this.plots[0].box.getBoundingClientRect();
      if (event.button || event.clientX < area.left - 24) return;
      down = true;
      this.box.setPointerCapture(event.pointerId);
      point(event);
      if (event.target.closest(".lanes-index")) this.index.focus({ preventScroll: true });
    });
    for (const sort of ["pointerup", "pointercancel"]) this.box.addEventListener(sort, () => { down = false; });
    this.box.addEventListener("pointermove", (event) => { if (down) point(event); });
    this.index.addEventListener("keydown", (event) => {
      const columns = this.plots[0].values.length, step = STEPS[event.key];
      const to = event.key === "Home" ? 0 : event.key === "End" ? columns - 1 : step ? Math.floor(this.share * columns) + step : null;
      if (to === null) return;
      event.preventDefault(); event.stopPropagation();
      onShare((Math.min(Math.max(to, 0), columns - 1) + 0.5) / columns);
    });
  }
  /** Whether a figure stands better left of the moment: where its lane is lower, and always inside the lane. */
  leftOf(share, values, wide) {
    const columns = values.length, at = Math.floor(share * columns), room = Math.ceil(wide * columns);
    if (at + room > columns || at < room) return at + room > columns;
    const most = (from, to) => Math.max(...values.slice(from, to).map(Number));
    return most(at - room, at) < most(at + 1, at + 1 + room);
  }
  /** `most`: of each lane the figure to tell. */
  show(share, column, most, words, said) {
    this.share = share;
    const area = this.plots[0].box.getBoundingClientRect();
    this.index.hidden = false;
    this.index.style.left = `${area.left - this.box.getBoundingClientRect().left + share * area.width}px`;
    this.index.setAttribute("aria-valuenow", String(column));
    this.index.setAttribute("aria-valuetext", said);
    this.told.textContent = words;
    this.told.classList.toggle("to-left", share > 0.86);
    this.told.classList.toggle("to-right", share < 0.12);
    const over = this.told.getBoundingClientRect(), grip = this.box.querySelector(".index-grip").getBoundingClientRect();
    for (const numeral of this.numerals) {
      const { left: from, right: to } = numeral.getBoundingClientRect();
      numeral.style.visibility = [over, grip].some((one) => one.left < to && one.right > from) ? "hidden" : "";
    }
    for (const [lane, { now, values, unit }] of this.plots.entries()) {
      now.hidden = false;
      now.textContent = `${figure(most[lane])} ${unit}`;
      const right = this.leftOf(share, values, (now.offsetWidth + 6) / Math.max(area.width, 1));
      now.classList.toggle("to-left", right);
      now.style.left = right ? "auto" : `${100 * share}%`;
      now.style.right = right ? `${100 * (1 - share)}%` : "auto";
    }
  }
}

export class Lanes {
  constructor(boxes) {
    this.onTime = () => {};
    this.lines = []; this.strips = []; this.total = 0; this.tools = [];
    if (!boxes.length) return;
    this.lines = boxes[0].dataset.lines.split(",").map(Number);
    this.total = Number(boxes[0].dataset.total);
    this.tools = JSON.parse(boxes[0].dataset.tools);
    const toShare = (share) => this.onTime(share * this.total, this.lines[Math.floor(share * this.lines.length)]);
    this.strips = boxes.map((box) => new Strip(box, toShare));
    for (const { index } of this.strips) { index.setAttribute("aria-valuemin", "0"); index.setAttribute("aria-valuemax", String(this.lines.length - 1)); }
    addEventListener("resize", () => { if (this.now) this.show(...this.now); });
  }
  /** When most of any limit is used. */
  nearestTime() {
    const values = this.strips[this.strips.length - 1].plots[0].values.map(Number), column = values.indexOf(Math.max(...values));
    return this.total * (column + 0.5) / values.length;
  }
  timeOfLine(line) {
    const column = this.lines.findIndex((one) => one >= line);
    return column < 0 ? 0 : this.total * column / this.lines.length;
  }
  /** `whole`: a line is looked at, not a moment. Of its way each lane then tells the greatest, as the sentences about the line do. */
  show(time, line, whole = false) {
    this.now = [time, line, whole];
    const share = Math.min(Math.max(time / this.total, 0), 0.9999);
    // The moment of a line is the end of its way: the loads to tell are those on the way, not those after it.
    let column = Math.floor(share * this.lines.length);
    for (let back = column; line && back >= Math.max(column - 4, 0); back--) if (this.lines[back] === line) { column = back; break; }
    let first = column;
    if (whole && this.lines[column] === line) while (first > 0 && this.lines[first - 1] === line) first--;
    const tool = this.tools.find(([, begin, end]) => share >= begin && share < end);
    for (const strip of this.strips) {
      const most = strip.plots.map((plot) => plot.values.slice(first, column + 1).reduce((one, other) => Number(other) > Number(one) ? other : one));
      const loads = strip.plots.map((plot, lane) => `${plot.name} ${figure(most[lane])} ${plot.unit}`).join(", ");
      const words = `${clock(time)}, line ${line || this.lines[column]}`;
      strip.show(share, column, most, words, `${words}${tool ? `, T${tool[0]}` : ""}: ${loads}`);
    }
  }
}
