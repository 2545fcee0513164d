// The lanes along the program: point at a moment, or be shown one.
const clock = (s) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;
const figure = (text) => Number(text) >= 1000 ? Number(text).toFixed(0) : String(Number(text));

export class Lanes {
  constructor(box, read) {
    this.box = box; this.read = read; this.onTime = () => {};
    if (!box) return;
    this.index = box.querySelector(".lanes-index");
    this.lines = box.dataset.lines.split(",").map(Number);
    this.total = Number(box.dataset.total);
    this.tools = JSON.parse(box.dataset.tools);
    this.plots = [...box.querySelectorAll(".lane-plot")].map((plot) => ({
      name: plot.dataset.name, unit: plot.dataset.unit, values: plot.dataset.values.split(","), box: plot,
    }));
    let down = false;
    const point = (event) => {
      const area = this.plots[0].box.getBoundingClientRect();
      const share = (event.clientX - area.left) / area.width;
      if (share >= 0 && share < 1) this.onTime(share * this.total, this.lines[Math.floor(share * this.lines.length)]);
    };
    box.addEventListener("pointerdown", (event) => { down = true; point(event); });
    addEventListener("pointerup", () => { down = false; });
    box.addEventListener("pointermove", (event) => { if (down || event.pointerType === "mouse" && event.shiftKey) point(event); });
  }
  timeOfLine(line) {
    if (!this.box) return 0;
    const column = this.lines.findIndex((one) => one >= line);
    return column < 0 ? 0 : this.total * column / this.lines.length;
  }
  show(time) {
    if (!this.box || !this.plots.length) return;
    const share = Math.min(Math.max(time / this.total, 0), 0.9999), column = Math.floor(share * this.lines.length);
    const area = this.plots[0].box.getBoundingClientRect();
    this.index.hidden = this.read.hidden = false;
    this.index.style.left = `${area.left - this.box.getBoundingClientRect().left + share * area.width}px`;
    const tool = this.tools.find(([, begin, end]) => share >= begin && share < end);
    this.read.textContent = `${clock(time)}, line ${this.lines[column]}${tool ? `, T${tool[0]}` : ""}: ` +
      this.plots.map((plot) => `${plot.name} ${figure(plot.values[column])} ${plot.unit}`).join(", ");
  }
}
