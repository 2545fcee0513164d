// The program's text, of any length: only the lines that are seen are there, asked for as they come into sight.
const AT_ONCE = 400;
const STEPS = 20, NOT_KNOWN = 31, POST = 74;  // of a share (sheets/job_view.py); the limit's post, % of a margin bar's width

/** How much of its nearest limit a line uses, as a bar before the limit's post; dotted where that is not known. */
function bar(level, steps) {
  const made = document.createElement("span");
  made.className = steps === NOT_KNOWN ? "m m-unknown" : steps ? "m m-cuts" : level ? "m m-moves" : "m";
  if (!steps || steps === NOT_KNOWN) return made;
  const part = (name, wide) => { const one = document.createElement("i"); one.className = name; one.style.width = `${wide}%`; made.append(one); };
  part("used", POST * Math.min(steps / STEPS, 1));
  if (steps > STEPS) part("over", Math.min(POST * (steps / STEPS - 1), 100 - POST));
  return made;
}

export class Program {
  constructor(box, count, at) {
    this.box = box; this.count = count; this.at = at; this.onLine = () => {};
    this.all = box.querySelector(".program-all");
    this.pages = new Map(); this.levels = null; this.line = 0;
    this.tall = parseFloat(getComputedStyle(document.documentElement).getPropertyValue("--line-tall")) || 24;
    box.style.setProperty("--numbers", `${Math.max(3, String(count).length) * 8 + 8}px`);
    this.measure();
    box.addEventListener("scroll", () => this.draw());
    addEventListener("resize", () => { this.measure(); if (this.line) this.show(this.line, "resize"); else this.draw(); });
    this.all.addEventListener("click", (event) => {
      const row = event.target.closest(".program-line");
      if (row) { this.mark(Number(row.dataset.n)); this.onLine(Number(row.dataset.n)); }
    });
    box.addEventListener("keydown", (event) => {
      const step = { ArrowDown: 1, ArrowUp: -1, PageDown: 10, PageUp: -10 }[event.key];
      if (!step) return;
      event.preventDefault(); event.stopPropagation();
      const line = Math.min(Math.max((this.line || 1) + step, 1), this.count);
      this.show(line, "keys"); this.onLine(line);
    });
    this.draw();
  }
  measure() {
    const probe = document.createElement("div");
    probe.className = "program-line";
    this.all.append(probe);
    this.tall = probe.getBoundingClientRect().height || 24;
    probe.remove();
    // A browser cannot scroll further than some millions of px: beyond that the lines are told by parts of the way.
    this.whole = Math.min(this.count * this.tall, 8e6);
    this.all.style.height = `${this.whole}px`;
  }
  /** Px that a line begins at, and the line that begins at a px. */
  top(line) { return (line - 1) * this.tall * (this.whole / (this.count * this.tall)); }
  first() {
    const share = this.box.scrollTop / Math.max(this.whole - this.box.clientHeight, 1);
    const seen = Math.floor(this.box.clientHeight / this.tall);
    return Math.max(1, Math.min(Math.round(share * Math.max(this.count - seen, 0)) + 1, this.count));
  }
  marks(bytes) { this.levels = bytes.map((one) => one & 7); this.shares = bytes.map((one) => one >> 3); this.draw(); }
  neighbour(line, way) {
    const levels = this.levels;
    for (let n = line + way; levels && n >= 1 && n <= this.count; n += way) if (levels[n - 1] > 1 && levels[n - 1] !== (levels[n - 1 - way] || 0)) return n;
    return Math.min(Math.max(line + way, 1), this.count);
  }
  show(line, from) {
    this.mark(line);
    if (!this.box.clientHeight) return;
    const seen = Math.floor(this.box.clientHeight / this.tall), first = this.first();
    if (from === "keys" ? line < first || line >= first + seen : line < first + 1 || line >= first + seen - 1) {
      const share = Math.min(Math.max(line - 1 - seen / 2, 0) / Math.max(this.count - seen, 1), 1);
      this.box.scrollTop = share * Math.max(this.whole - this.box.clientHeight, 0);
    }
    this.draw();
  }
  mark(line) { this.line = line; this.draw(); }
  async page(number) {
    if (this.pages.has(number)) return;
    this.pages.set(number, []);
    const answer = await fetch(`${this.at}/lines?first=${number * AT_ONCE + 1}&count=${AT_ONCE}`);
    this.pages.set(number, await answer.json());
    this.draw();
  }
  draw() {
    const first = this.first(), seen = Math.ceil(this.box.clientHeight / this.tall) + 1;
    const rows = [];
    for (let n = first; n < Math.min(first + seen, this.count + 1); n++) {
      const page = Math.floor((n - 1) / AT_ONCE);
      const text = this.pages.get(page)?.[(n - 1) % AT_ONCE];
      if (!this.pages.has(page)) this.page(page);
      const row = document.createElement("div");
      row.className = n === this.line ? "program-line at" : "program-line";
      row.dataset.n = n;
      const level = this.levels ? this.levels[n - 1] : 0;
      row.setAttribute("role", "option");
      row.setAttribute("aria-selected", String(n === this.line));
      row.style.top = `${this.box.scrollTop + (n - first) * this.tall}px`;
      const said = (name, words) => { const part = document.createElement("span"); part.className = name; part.textContent = words; return part; };
      const asked = said("k", "");
      if (level > 3) asked.append(document.querySelector(level === 5 ? "#mark-stop" : "#mark-care").content.cloneNode(true));
      row.append(said("n", String(n)), bar(level, this.shares ? this.shares[n - 1] : 0), said("t", text ?? ""), asked);
      rows.push(row);
    }
    this.all.replaceChildren(...rows);
  }
}
