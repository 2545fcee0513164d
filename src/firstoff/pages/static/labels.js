// Words over the picture: placed where it is empty, without boxes, each with a leader to what it names.
const GAP = 4;

export class Labels {
  constructor(box) {
    this.box = box; this.before = new Map();
    this.measure = document.createElement("canvas").getContext("2d");
  }
  /** Begin with what must not be covered: hulls are convex polygons in px (`crossed`: those that a leader should go round), `taken` are
   * rectangles [x, y, X, Y]. */
  begin(wide, tall, hulls, crossed, taken) { Object.assign(this, { wide, tall, hulls, crossed, taken: [...taken], busy: [], parts: [], lines: [] }); }

  width(sort, words) {
    this.fonts ??= {};
    if (!this.fonts[sort]) { const probe = document.createElement("span"); probe.className = sort; this.box.append(probe); const style = getComputedStyle(probe); this.fonts[sort] = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`; probe.remove(); }
    this.measure.font = this.fonts[sort];
    return this.measure.measureText(words).width;
  }
  element(sort, x, y, words, more) {
    const part = document.createElement("span");
    part.className = sort; part.style.left = `${x}px`; part.style.top = `${y}px`;
    if (words) part.textContent = words;
    if (more) more(part);
    this.parts.push(part);
  }
  svg(markup) { this.lines.push(markup); }

  /** What it costs to put a text there: `far` for each px from what it names, `over` for each place of it over a thing, `cross` for each px of
   * its leader over what it should go round. */
  cost([x, y, X, Y], [ax, ay], { far, over, cross }) {
    let cost = 0;
    if (x < 6 || y < 6 || X > this.wide - 6 || Y > this.tall - 6) cost += 400;
    for (const [a, b, A, B] of this.taken) if (x < A + GAP && X > a - GAP && y < B + GAP && Y > b - GAP) cost += 200;
    for (const [a, b] of this.busy) if (a > x - 3 && a < X + 3 && b > y - 3 && b < Y + 3) cost += 8;
    let inside = 0;
    for (let i = 0; i <= 4; i++) for (let j = 0; j <= 2; j++) { const p = [x + (X - x) * i / 4, y + (Y - y) * j / 2]; if (this.hulls.some((hull) => within(p, hull))) inside++; }
    if (cross) for (let i = 1; i <= 8; i++) { const q = nearest([ax, ay], [x, y, X, Y]), p = [ax + (q[0] - ax) * i / 8, ay + (q[1] - ay) * i / 8]; if (this.crossed.some((hull) => within(p, hull))) cost += cross * Math.hypot(q[0] - ax, q[1] - ay) / 8; }
    const dx = Math.max(x - ax, 0, ax - X), dy = Math.max(y - ay, 0, ay - Y);
    return cost + inside * over + Math.hypot(dx, dy) * far;
  }
  /** Whether a place on the screen lies behind what leaders go round. */
  behind(p) { return this.crossed.some((hull) => within(p, hull)); }
  /** The cheapest of some places [x, y] for a text so wide and tall; near its last place it stays there. */
  choose(name, places, wide, tall, anchor, prices) {
    let best = null, least = Infinity;
    const last = this.before.get(name);
    places.forEach(([x, y], i) => {
      const cost = this.cost([x, y, x + wide, y + tall], anchor, prices) - (i === last ? 14 : 0);
      if (cost < least) { least = cost; best = [x, y, i]; }
    });
    if (!best) return null;
    this.before.set(name, best[2]);
    this.taken.push([best[0], best[1], best[0] + wide, best[1] + tall]);
    return best;
  }

  /** A name beside what it names. */
  name(words, anchor, sort = "name", { far = 0.3, over = 8 } = {}) {
    const wide = this.width(sort, words), tall = 17, places = [];
    for (const far of [10, 26, 46, 70, 100]) for (let k = 0; k < 12; k++) {
      const t = Math.PI * k / 6 - Math.PI / 2, x = anchor[0] + far * 1.3 * Math.cos(t), y = anchor[1] + far * Math.sin(t);
      places.push([x - wide * (1 - Math.cos(t)) / 2, y - tall / 2]);
    }
    const at = this.choose(words, places, wide, tall, anchor, { far, over, cross: 0 });
    if (!at) return;
    this.element(sort, at[0], at[1], words);
    const to = nearest(anchor, [at[0] - 3, at[1] + 2, at[0] + wide + 3, at[1] + tall - 2]);
    if (Math.hypot(to[0] - anchor[0], to[1] - anchor[1]) > 9) this.svg(`<path class="leader-name" d="M${px(anchor)}L${px(to)}"/>`);
  }

  /** Two lines in the accent, folded where the frame is narrow, wherever it is emptiest, with a leader that bends once. */
  told(says, anchor) {
    const most = Math.max(0.48 * this.wide, 150), lines = ["callout-first", "callout-second"].flatMap((sort, k) => this.folded(sort, says[k], most).map((words) => [sort, words]));
    const wide = Math.max(...lines.map(([sort, words]) => this.width(sort, words))) + 2, tall = 20 * lines.length, places = [];
    for (let i = 0; i <= 9; i++) for (let j = 0; j <= 12; j++) places.push([14 + (this.wide - 28 - wide) * i / 9, 8 + (this.tall - 18 - tall) * j / 12]);
    const at = this.choose("told", places, wide, tall, anchor, { far: 0.18, over: 25, cross: 0.8 });
    if (!at) return;
    this.element("callout", at[0], at[1], "", (part) => { for (const [sort, words] of lines) { const line = document.createElement("b"); line.className = sort; line.textContent = words; part.append(line); } });
    const [left, top, right, bottom] = [at[0], at[1], at[0] + wide, at[1] + tall], under = anchor[0] > left - 14 && anchor[0] < right + 14, before = anchor[0] < left;
    const to = under ? `L${px([Math.min(Math.max(anchor[0], left), right), anchor[1] > top ? bottom + 3 : top - 3])}` : `L${px([before ? left - 18 : right + 18, top + 11])}H${(before ? left - 6 : right + 6).toFixed(1)}`;
    this.svg(`<path class="callout-leader" d="M${px(anchor)}${to}"/>`);
  }
  /** Words in as few lines as keep within a width, and those as even as may be. */
  folded(sort, words, most) {
    const lines = this.lined(sort, words, most);
    for (let width = most - 8; lines.length > 1 && width > 60; width -= 8) {
      const evener = this.lined(sort, words, width);
      if (evener.length > lines.length) break;
      lines.splice(0, lines.length, ...evener);
    }
    return lines;
  }
  lined(sort, words, most) {
    const lines = [];
    for (const word of words ? words.split(" ") : []) {
      const longer = lines.length ? `${lines[lines.length - 1]} ${word}` : word;
      if (lines.length && this.width(sort, longer) <= most) lines[lines.length - 1] = longer; else lines.push(word);
    }
    return lines;
  }

  end() {
    const lines = document.createElement("span");
    lines.className = "lines";
    lines.innerHTML = `<svg width="${this.wide}" height="${this.tall}">${this.lines.join("")}</svg>`;
    this.box.replaceChildren(lines, ...this.parts);
  }
}

export const px = ([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`;
const nearest = ([x, y], [a, b, A, B]) => [Math.min(Math.max(x, a), A), Math.min(Math.max(y, b), B)];

/** The convex hull of points, going round. */
export function hull(points) {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const half = (list) => { const out = []; for (const p of list) { while (out.length > 1 && side(out[out.length - 2], out[out.length - 1], p) <= 0) out.pop(); out.push(p); } out.pop(); return out; };
  return [...half(sorted), ...half(sorted.reverse())];
}
const side = (a, b, p) => (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
/** Whether a point lies in a convex polygon, or no farther out than `over` px. */
export const within = (p, polygon, over = 0) => polygon.length > 2 && polygon.every((a, i) => { const b = polygon[(i + 1) % polygon.length]; return side(a, b, p) >= -over * Math.hypot(b[0] - a[0], b[1] - a[1]); });
