// The way of the tool's tip as points, and the tools that go it. The block of bytes is described in sheets/scene.py.
export const RAPID = 8, JUMP = 16, LEVELS = 7;
const NEAR_PX = 16, CELLS = 60;
const TYPES = { f4: Float32Array, u4: Uint32Array, u1: Uint8Array };

/** [head, arrays by name] of a block. */
export function unpack(buffer) {
  const size = new DataView(buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, size)));
  const arrays = {};
  let at = 4 + size;
  for (const { name, type, count } of head.arrays) {
    arrays[name] = new TYPES[type](buffer, at, count);
    at += Math.ceil(arrays[name].byteLength / 4) * 4;
  }
  return [head, arrays];
}

export class Way {
  constructor(arrays) {
    Object.assign(this, { at: arrays.at, time: arrays.time, line: arrays.line, mark: arrays.mark, tool: arrays.tool });
    this.count = this.line.length;
    this.density = this.densities();
  }
  /** How dense the feeds are where the stretch to each point lies: mm of way a mm² seen from above. */
  densities() {
    const { at, mark, count } = this, low = [Infinity, Infinity], high = [-Infinity, -Infinity], found = new Float32Array(count), feeds = (i) => i > 0 && !(mark[i] & (RAPID | JUMP));
    for (let i = 0; i < count; i++) if (feeds(i)) for (const k of [0, 1]) { low[k] = Math.min(low[k], at[3 * i + k]); high[k] = Math.max(high[k], at[3 * i + k]); }
    const cell = Math.max(high[0] - low[0], high[1] - low[1], 1e-3) / CELLS, sums = new Float32Array((CELLS + 2) ** 2);
    const key = (x, y) => Math.min(Math.max(Math.floor((y - low[1]) / cell), 0), CELLS) * (CELLS + 2) + Math.min(Math.max(Math.floor((x - low[0]) / cell), 0), CELLS);
    const between = (i, t) => [0, 1].map((k) => at[3 * i - 3 + k] + t * (at[3 * i + k] - at[3 * i - 3 + k]));
    for (let i = 1; i < count; i++) if (feeds(i)) {
      const long = this.step(i), parts = Math.max(Math.ceil(long / cell), 1);
      for (let k = 0; k < parts; k++) sums[key(...between(i, (k + 0.5) / parts))] += long / parts;
    }
    for (let i = 1; i < count; i++) if (feeds(i)) found[i] = sums[key(...between(i, 0.5))] / (cell * cell);
    return found;
  }
  place(point) { return [this.at[3 * point], this.at[3 * point + 1], this.at[3 * point + 2]]; }
  /** Where a line's way ends in the worst of its margins, or the nearest later line that goes anywhere. */
  pointOfLine(line) {
    if (!this.count) return -1;
    let best = -1, after = -1;
    for (let i = 0; i < this.count; i++) {
      const one = this.line[i];
      if (one === line && !(this.mark[i] & JUMP) && (best < 0 || (this.mark[i] & 7) > (this.mark[best] & 7))) best = i;
      else if (one > line && (after < 0 || one < this.line[after])) after = i;
    }
    return best >= 0 ? best : after;
  }
  pointAt(time) {
    let low = 0, high = this.count - 1;
    while (low < high) { const middle = (low + high) >> 1; if (this.time[middle] < time) low = middle + 1; else high = middle; }
    return low;
  }
  /** The run of points round one for which `same` holds: [first, end). */
  run(point, same) {
    let first = point, end = point + 1;
    while (first > 0 && same(first - 1)) first--;
    while (end < this.count && same(end)) end++;
    return [first, end];
  }
  /** Round a point, [first, end) each: what is no farther along its feed than `far` mm, the feed from one rapid to the next, and all that its
   * tool does without a change. */
  around(point, far) {
    if (point < 0) return { near: [0, 0], cut: [0, 0], tool: [0, 0] };
    const rapid = this.mark[point] & RAPID, tool = this.run(point, (i) => this.tool[i] === this.tool[point]), cut = this.run(point, (i) => (this.mark[i] & RAPID) === rapid && i >= tool[0] && i < tool[1]);
    let [first, end] = [point, point + 1];
    for (let left = far; first > cut[0] && left > 0; first--) left -= this.step(first);
    for (let left = far; end < cut[1] && left > 0; end++) left -= this.step(end);
    return { near: [first, end], cut, tool };
  }
  step(i) { const a = this.place(i), b = this.place(i - 1); return Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]); }
  /** The point whose stretch is nearest to a place on the screen; -1 if none is near. `project` gives px of mm. */
  nearest(x, y, project) {
    let best = -1, near = NEAR_PX * NEAR_PX, q = null;
    for (let i = 0; i < this.count; i++) {
      const p = project(this.at[3 * i], this.at[3 * i + 1], this.at[3 * i + 2]);
      let d = (p[0] - x) ** 2 + (p[1] - y) ** 2;
      if (q && !(this.mark[i] & JUMP)) {  // to the stretch, not only to its end
        const wx = p[0] - q[0], wy = p[1] - q[1], long = wx * wx + wy * wy;
        if (long > 1) { const t = Math.min(Math.max(((x - q[0]) * wx + (y - q[1]) * wy) / long, 0), 1); d = Math.min(d, (q[0] + t * wx - x) ** 2 + (q[1] + t * wy - y) ** 2); }
      }
      if (d + (this.mark[i] & RAPID ? 40 : 0) < near) { near = d; best = i; }
      q = p;
    }
    return best;
  }
}
