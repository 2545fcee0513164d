// Stock, what stands around it, the way of the tool and the tool at the moment, turned by dragging: orthographic, flat faces in three greys, only
// turned parts shaded, the way coloured and widened by its margin. The block of bytes is described in sheets/scene.py.
import { Camera, dot } from "./camera.js";
import { Labels, hull, px, within } from "./labels.js";
import { Paint } from "./paint.js";
import { StockShape, sidesOf, solidEdges, solidFaces } from "./shapes.js";
import { heightOf, toolShape } from "./tool_shape.js";
import { JUMP, RAPID, Way, unpack } from "./way.js";

const QUICK_MS = 40, REST_MS = 200;
const HOLDER = 3, NOSE = 4, STEEP = 60;
const corners = ([x, y, z]) => [0, 1, 2, 3, 4, 5, 6, 7].map((k) => [x[k & 1], y[k >> 1 & 1], z[k >> 2 & 1]]);
/** [least, greatest] of points on each axis. */
function spans(points) {
  const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
  for (const p of points) for (const k of [0, 1, 2]) { low[k] = Math.min(low[k], p[k]); high[k] = Math.max(high[k], p[k]); }
  return low.map((v, k) => [v, high[k]]);
}

export class Picture {
  constructor(box, buffer) {
    this.box = box; this.onPoint = () => {};
    [this.head, this.arrays] = unpack(buffer);
    this.way = new Way(this.arrays);
    this.point = -1; this.shownLine = 0; this.slow = { smooth: Infinity, rough: 0 };  // ms; the first picture is rough, so that what a rough one costs is known
    this.around = this.way.around(-1, 0); this.across = 1;
    this.stock = this.stockBox();
    this.camera = new Camera(this.fitted(), corners([this.plate.x, this.plate.y, [this.plate.z, this.plate.z]]).slice(0, 4));
    this.paint = new Paint(box.querySelector("canvas"), this.way);
    this.labels = new Labels(box.querySelector(".picture-words"));
    this.build();
    this.hands();
    new ResizeObserver(() => this.draw()).observe(box);
    this.draw();
  }

  stockBox() {
    const lies = this.head.surface;
    if (!lies) return this.head.stock;
    let top = lies.bottom;
    for (const h of this.arrays.heights) top = Math.max(top, h);
    return [[lies.x0, lies.x0 + lies.columns * lies.cell], [lies.y0, lies.y0 + lies.rows * lies.cell], [lies.bottom, Math.max(top, this.head.stock?.[2][1] ?? top)]];
  }

  /** What must fit into the frame: the stock with what stands around it, the feeds, and over the stock's middle room for the longest tool. */
  fitted() {
    const found = [...(this.stock ? corners(this.stock) : []), ...this.head.solids.flatMap((one) => corners(one.box))];
    const feeds = this.feeds(found.length ? spans(found) : null);
    if (feeds) found.push(...corners(feeds));
    if (!found.length) found.push(...corners([[0, 1], [0, 1], [0, 1]]));
    const [x, y, z] = spans(found), across = Math.hypot(x[1] - x[0], y[1] - y[0]);
    const out = this.head.tools.filter((one) => one.outline.length).map((one) => one.outline.find(([part]) => part >= HOLDER)?.[2] ?? heightOf(one));
    this.plate = { x, y, z: z[0] }; this.across = across;
    if (out.length) found.push([(x[0] + x[1]) / 2, (y[0] + y[1]) / 2, (this.stock?.[2][1] ?? z[1]) + Math.min(Math.max(...out) + 0.12 * across, 0.42 * across)]);
    return found;
  }
  /** The box of the feeds; those that go far from what stands there leave the picture: it would be a speck. */
  feeds(here) {
    const found = [], { mark, count } = this.way;
    for (let i = 0; i < count; i++) if (!(mark[i] & (RAPID | JUMP))) found.push(this.way.place(i));
    if (!found.length) return null;
    const all = spans(found), away = here && 0.3 * Math.hypot(here[0][1] - here[0][0], here[1][1] - here[1][0]);
    return here ? all.map(([low, high], k) => [Math.max(low, here[k][0] - away), Math.min(high, here[k][1] + away * (k === 2 ? 0.3 : 1))]) : all;
  }

  build() {
    const { surface, stock, stock_round, solids } = this.head, paint = this.paint, blank = stock ? [{ box: stock, round: stock_round }] : [];
    const deep = this.stock ? this.stock[2][1] - this.stock[2][0] : 1;
    const left = surface && new StockShape(surface, this.arrays.heights, Math.max(0.3, 0.04 * deep));
    this.stockMesh = paint.mesh(left ? left.faces() : solidFaces(blank));
    this.stockLines = paint.lines(left ? left.edges() : solidEdges(blank));
    this.solidMesh = paint.mesh(solidFaces(solids));
    this.solidLines = paint.lines(solidEdges(solids));
    this.rounds = [...solids, ...(surface ? [] : blank)].filter((one) => one.round);
  }

  // --- hands ----------------------------------------------------------------------------------------------------------

  hands() {
    const box = this.box, camera = this.camera, held = new Map();
    let moved = 0, spread = 0;
    box.addEventListener("pointerdown", (event) => {
      if (event.target.closest("button")) return;
      box.setPointerCapture(event.pointerId); held.set(event.pointerId, [event.clientX, event.clientY]); moved = 0;
    });
    box.addEventListener("pointermove", (event) => {
      const before = held.get(event.pointerId);
      if (!before) return;
      const dx = event.clientX - before[0], dy = event.clientY - before[1];
      held.set(event.pointerId, [event.clientX, event.clientY]);
      moved += Math.abs(dx) + Math.abs(dy);
      if (held.size === 2) {
        const [one, two] = [...held.values()], now = Math.hypot(one[0] - two[0], one[1] - two[1]);
        const area = box.getBoundingClientRect();
        if (spread) camera.nearer(now / spread, (one[0] + two[0]) / 2 - area.left - area.width / 2, (one[1] + two[1]) / 2 - area.top - area.height / 2);
        spread = now;
        camera.shift[0] += dx / 2; camera.shift[1] += dy / 2;
      } else if (event.shiftKey || event.buttons === 4) { camera.shift[0] += dx; camera.shift[1] += dy; }
      else camera.turn(-dx * 0.4, dy * 0.4);
      this.draw();
    });
    const up = (event) => {
      if (held.delete(event.pointerId) && moved < 5 && event.type === "pointerup") this.pick(event);
      spread = 0;
    };
    box.addEventListener("pointerup", up); box.addEventListener("pointercancel", up);
    box.addEventListener("wheel", (event) => {
      event.preventDefault();
      const area = box.getBoundingClientRect();
      camera.nearer(Math.exp(-event.deltaY * 0.0015), event.clientX - area.left - area.width / 2, event.clientY - area.top - area.height / 2);
      this.draw();
    }, { passive: false });
    box.addEventListener("keydown", (event) => {
      const turn = { ArrowLeft: [-6, 0], ArrowRight: [6, 0], ArrowUp: [0, 6], ArrowDown: [0, -6] }[event.key];
      if (turn) camera.turn(...turn);
      else if (event.key === "+") camera.nearer(1.25);
      else if (event.key === "-") camera.nearer(0.8);
      else return;
      event.preventDefault(); event.stopPropagation(); this.draw();
    });
    for (const button of box.querySelectorAll("[data-view]")) button.addEventListener("click", () => { camera.reset(button.dataset.view); this.draw(); });
  }

  pick(event) {
    const area = this.box.getBoundingClientRect();
    this.camera.aim();
    const found = this.way.nearest(event.clientX - area.left, event.clientY - area.top, this.camera.project);
    if (found >= 0) this.onPoint(found);
  }

  show(point, line) {
    this.point = point; this.shownLine = line; this.around = this.way.around(point, 0.8 * this.across);
    this.byLine = point === this.way.pointOfLine(line);  // the line is looked at, not a place along it
    this.draw();
  }

  // --- drawing --------------------------------------------------------------------------------------------------------

  /** At the next frame: whole, or rough while a hand moves and the whole would come too late; the whole follows when the hand rests. */
  draw(whole = false) {
    this.box.dataset.drawn = "not yet";
    this.whole = whole || this.slow.smooth < QUICK_MS;
    clearTimeout(this.resting);
    if (!this.whole) this.resting = setTimeout(() => this.draw(true), REST_MS);
    this.waiting ||= requestAnimationFrame(() => { this.waiting = 0; this.frame(); });
  }

  frame() {
    const wide = this.box.clientWidth, tall = this.box.clientHeight;
    if (!wide || !tall) return;  // not shown now
    const sort = this.whole ? "smooth" : "rough", began = performance.now();
    const views = this.box.querySelector(".picture-views");
    this.camera.aim(wide, tall, views ? [views.offsetLeft + views.offsetWidth + 8, 42] : [0, 0]);
    this.paint.begin(this.camera, { smooth: this.whole, part: !this.whole && this.slow.rough > QUICK_MS ? 0.5 : 1 });
    this.things(this.whole);
    this.paint.end();
    this.box.dataset.drawn = sort;
    // Waiting for the last pixel costs a quick machine more than it tells it: it is asked a few times, then now and then.
    this.frames = (this.frames ?? 0) + 1;
    if (this.whole ? this.slow.smooth >= QUICK_MS || this.frames < 6 || this.frames % 30 === 0 : !this.slow.rough) { this.paint.wait(); this.slow[sort] = performance.now() - began; }
    this.label();
    for (const button of this.box.querySelectorAll("[data-view]")) button.setAttribute("aria-pressed", String(this.camera.view === button.dataset.view));
  }

  things(whole) {
    const paint = this.paint, { right } = this.camera;
    paint.faces(this.stockMesh, "--stock"); paint.faces(this.solidMesh, "--solid");
    paint.edges(this.stockLines, "--edge", { clear: 0.55 }); paint.edges(this.solidLines, "--edge");
    if (this.rounds.length) paint.edges(paint.now("sides", this.rounds.flatMap((one) => sidesOf(one, right))), "--edge");
    this.drawWay(whole);
    this.drawTool(whole);
  }

  /** The way near the moment in full, the rest of its cut paler, then its tool, then other tools: a path in a slot is a knot otherwise. Care
   * and stop always in full. */
  drawWay(whole) {
    const paint = this.paint, all = [0, this.way.count], { near, cut, tool } = this.around, rough = !whole;
    const thin = 0.4 * this.camera.scale;  // about half of the surface stays to be seen
    if (this.point < 0) {
      paint.ways(all, { faint: 0.35, wide: 0.8, thin, rough });
      if (whole) paint.ways(all, { hidden: true, least: 3, clear: 0.45 });
      return;
    }
    for (const one of beside(all, tool)) paint.ways(one, { faint: 0.68, wide: 0.8, rapids: false, thin, rough });
    for (const one of beside(tool, cut)) paint.ways(one, { faint: 0.5, wide: 0.8, thin, rough });
    for (const one of beside(cut, near)) paint.ways(one, { faint: 0.3, wide: 0.9, thin, rough });
    if (whole) { paint.ways(all, { hidden: true, least: 3, clear: 0.45 }); paint.ways(near, { hidden: true, clear: 0.7, wide: 0.8 }); }
    paint.ways(near, { rough });
  }

  // --- the tool at the moment -----------------------------------------------------------------------------------------

  /** The place of stop or care of the line that is looked at. */
  mark() { return this.shownLine ? this.head.marks.find((one) => one.line === this.shownLine) : this.head.marks[0]; }

  /** Where the tip stands, with which tool; null where no moment is looked at. */
  standing() {
    if (this.point < 0) return null;
    const mark = this.mark(), tool = this.head.tools[this.way.tool[this.point]];
    return { tip: mark && this.byLine ? mark.at : this.way.place(this.point), tool: tool?.outline.length ? tool : null, mark: this.byLine ? mark : null };
  }

  /** How far up the tool is drawn: to its end, or to where it would leave the frame, broken off there. */
  upTo(tip, tool) {
    const { scale, up, project } = this.camera, whole = heightOf(tool);
    const room = (project(...tip)[1] - 14) / (scale * Math.max(up[2], 1e-3));
    const widest = (high) => Math.max(...tool.outline.filter((row) => row[2] < high).map((row) => Math.max(row[1], row[3])), 0);
    const top = room - widest(room) * Math.abs(this.camera.towards[2]) / Math.max(up[2], 1e-3);
    const cut = Math.min(whole, Math.max(top, 0.12 * room));
    return { top: cut, wave: cut < whole || tool.goes_on ? Math.min(3 / scale, 2) : 0 };
  }

  drawTool(whole) {
    const here = this.standing(), paint = this.paint;
    this.drawn = null;
    if (!here?.tool) return;
    const steep = this.camera.elevation > STEEP, { top, wave } = this.upTo(here.tip, here.tool);
    if (top <= 0) return;
    const seen = steep ? { ...here.tool, outline: here.tool.outline.filter(([part]) => part < NOSE) } : here.tool;
    const shape = toolShape(seen, top, wave, this.camera), shift = here.tip;
    const mesh = { ...paint.now("toolPlaces", shape.places), normals: paint.now("toolNormals", shape.normals).places };
    this.drawn = { tip: here.tip, top, tool: here.tool };
    const lines = paint.now("toolLines", shape.lines);
    if (whole) paint.edges(lines, "--edge", { shift, hidden: true, clear: 0.4 });  // what other things hide; not what it hides itself
    if (!steep) {  // from above it would cover what it cuts: there it is an outline
      paint.faces(mesh, "--turned", { shift });
      paint.edges(paint.now("toolWinding", shape.winding), "--edge", { shift, clear: 0.55 });
    }
    paint.edges(lines, "--edge", { shift });
    for (const { box: [x, y, z], round, low, high } of here.mark?.fills ?? []) {
      paint.gl.disable(paint.gl.DEPTH_TEST);
      paint.faces(mesh, "--accent", { shift, clear: 0.82, fill: round ? 2 : 1, tip: here.tip, low: [x[0], y[0], z[0]], high: [x[1], y[1], z[1]], span: [low - 1e-3, high + 1e-3] });
      paint.gl.enable(paint.gl.DEPTH_TEST);
    }
  }

  // --- words ----------------------------------------------------------------------------------------------------------

  label() {
    const { labels, camera, head } = this, { project, wide, tall } = camera, shown = (p) => p.map((one) => project(...one));
    const hulls = [...(this.stock ? [this.stock] : []), ...head.solids.map((one) => one.box)].map((one) => hull(shown(corners(one))));
    const tool = this.drawn ? this.toolHulls(this.drawn) : [];
    labels.begin(wide, tall, [...hulls, ...tool], tool, [[0, tall - camera.kept[1], camera.kept[0], tall]]);
    if (head.stock) this.rule(head.stock);
    const here = this.standing(), mark = this.mark();
    if (here) this.moment(here);
    if (mark) { this.keepWorstClear(); this.told(mark); }
    if (head.zero) this.zero();
    const nearer = (box) => dot(camera.towards, box.map(([low, high]) => (low + high) / 2));
    const hidden = (box) => head.solids.some((one) => nearer(one.box) > nearer(box) + 1 && shown(corners(box)).every((p) => within(p, hull(shown(corners(one.box))), 2)));
    for (const { name, box } of head.solids) if (!hidden(box)) labels.name(name, outermost(shown(corners(box).slice(4)), [wide / 2, tall / 2]));
    labels.end();
  }

  /** Words keep off the way of care and stop near the moment. */
  keepWorstClear() {
    const { mark } = this.way, [first, end] = this.point < 0 ? [0, 0] : this.around.tool, { project } = this.camera, busy = [];
    for (let i = Math.max(first, 1); i < end && busy.length < 200; i++) {
      if ((mark[i] & 7) < 3 || mark[i] & JUMP) continue;
      const a = project(...this.way.place(i - 1)), b = project(...this.way.place(i)), steps = Math.min(Math.ceil(Math.hypot(b[0] - a[0], b[1] - a[1]) / 14), 60);
      for (let k = 0; k < steps; k++) busy.push([a[0] + (b[0] - a[0]) * k / steps, a[1] + (b[1] - a[1]) * k / steps]);
    }
    this.labels.busy = busy;
  }

  toolHulls({ tip, top, tool }) {
    const { project, right, up, scale, towards } = this.camera, found = [];
    for (const [, r0, z0, r1, z1] of tool.outline) {
      if (z0 >= top || z1 - z0 < 1e-6) continue;
      const r = Math.max(r0, r1), rim = r * scale * Math.abs(towards[2]);
      const at = (side, z, lift) => { const p = project(tip[0] + side * r * right[0], tip[1] + side * r * right[1], tip[2] + z); return [p[0], p[1] + lift]; };
      found.push(hull([at(-1, z0, 0), at(1, z0, 0), at(0, z0, rim), at(-1, Math.min(z1, top), -rim), at(1, Math.min(z1, top), -rim)]));
    }
    return up[2] > 0.2 ? found : [];
  }

  /** A ruled scale that lies on the plate along the stock, its figures in its plane. */
  rule([x]) {
    const { labels, camera } = this, { project, scale, right, up, towards } = camera;
    const front = towards[1] <= 0, y = front ? this.plate.y[0] : this.plate.y[1], z = this.plate.z, away = front ? -1 : 1;
    const lying = Math.abs(up[1]) > 0.25 && Math.abs(right[0]) > 0.25;
    const off = (far) => lying ? [0, away * far / scale / Math.abs(up[1]), 0] : [0, 0, -far / scale / Math.max(Math.abs(up[2]), 0.2)];
    const at = (v, far) => { const o = off(far); return project(v, y + o[1], z + o[2]); };
    const long = x[1] - x[0], step = niceStep(Math.max(long / 5, 42 / scale)), fine = step / (niceStep(step / 9) <= step / 9.9 ? 10 : 5);
    const path = [`M${px(at(x[0], 5))}L${px(at(x[1], 5))}`];
    for (let k = Math.ceil(x[0] / fine - 1e-9); k * fine <= x[1] + 1e-9; k++) {
      const v = k * fine, major = Math.abs(v / step - Math.round(v / step)) < 1e-6;
      path.push(`M${px(at(v, 5))}L${px(at(v, major ? 12 : 8.5))}`);
      if (!major) continue;
      const p = at(v, lying ? 21 : 19), turned = right[0] < 0 ? -1 : 1;
      labels.element("figure", p[0], p[1], figure(v), (part) => {
        if (lying) part.style.transform = `translate(-50%, -50%) matrix(${turned * right[0]}, ${-turned * up[0]}, ${-turned * right[1] * -1 * -1}, ${turned * up[1]}, 0, 0)`;
      });
      labels.taken.push([p[0] - 10, p[1] - 8, p[0] + 10, p[1] + 8]);
    }
    labels.svg(`<path class="rule" d="${path.join("")}"/>`);
  }

  zero() {
    const p = this.camera.project(0, 0, 0);
    if (p[0] < 0 || p[1] < 0 || p[0] > this.camera.wide || p[1] > this.camera.tall) return;
    if (this.drawn && this.labels.behind(p) && dot(this.camera.towards, this.drawn.tip) > 0) return;  // the tool hides it
    this.labels.svg(`<g transform="translate(${px(p)})"><circle r="7" class="zero-ground"/><path class="zero-quarter" d="M0 0V-7A7 7 0 0 1 7 0ZM0 0V7A7 7 0 0 1 -7 0Z"/><circle r="7" class="zero-ring"/></g>`);
    this.labels.taken.push([p[0] - 9, p[1] - 9, p[0] + 9, p[1] + 9]);
    this.labels.name(`${this.head.zero} zero`, p, "name", { over: 1 });
  }

  told(mark) {
    const { camera } = this, filled = mark.fills[0], here = this.drawn;
    let at = mark.at;
    if (filled && here) {  // to what is filled, at the side of the tool that is seen
      const low = Math.max(filled.box[2][0] - mark.at[2], filled.low, 0), high = Math.min(filled.box[2][1] - mark.at[2], filled.high);
      const into = (k) => Math.min(Math.max(at[k], filled.box[k][0]), filled.box[k][1]);
      at = [into(0), into(1), at[2] + (low + high) / 2];
    }
    const p = inFrame(camera.project(...at), camera);
    this.labels.svg(`<circle class="${filled ? "filled" : "place"}" r="${filled ? 1.8 : 4.5}" cx="${p[0].toFixed(1)}" cy="${p[1].toFixed(1)}"/>`);
    this.labels.told(mark.says, p);
  }

  moment({ tip, tool }) {
    const there = this.camera.project(...tip), p = inFrame(there, this.camera), name = this.head.tools[this.way.tool[this.point]];
    if (p[0] === there[0] && p[1] === there[1] && !tool) this.labels.svg(`<path class="here" transform="translate(${px(p)})" d="M-11 0H-4M4 0H11M0 -11V-4M0 4V11"/>`);
    if (tool && this.drawn && !(this.byLine && this.mark())) this.labels.svg(`<circle class="here" r="2.6" cx="${p[0].toFixed(1)}" cy="${p[1].toFixed(1)}"/>`);
    const words = `line ${this.shownLine || this.way.line[this.point]}${name?.number != null ? `, T${name.number}` : ""}`;
    this.labels.name(words, p, "moment", { over: 16 });
  }
}

/** What is left of a run on both sides of one that lies in it. */
const beside = ([first, end], [from, to]) => [[first, from], [to, end]];
const figure = (v) => `${Math.round(v * 1000) / 1000}`.replace("-", "\u2212");
const inFrame = (p, { wide, tall }) => [Math.min(Math.max(p[0], 12), wide - 12), Math.min(Math.max(p[1], 12), tall - 12)];
function niceStep(least) { const power = 10 ** Math.floor(Math.log10(least) + 1e-9); return [1, 2, 5, 10].map((one) => one * power).find((one) => one >= least * (1 - 1e-9)); }
/** Of some points the one that is farthest from another: names stand outside. */
function outermost(points, from) {
  const middle = [0, 1].map((k) => points.reduce((sum, p) => sum + p[k], 0) / points.length);
  const far = points.reduce((best, p) => Math.hypot(p[0] - from[0], p[1] - from[1]) > Math.hypot(best[0] - from[0], best[1] - from[1]) ? p : best);
  return [0, 1].map((k) => middle[k] + 0.5 * (far[k] - middle[k]));
}
