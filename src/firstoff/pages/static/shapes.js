// Faces and edges of what stands still: the stock as it is left, boxes, cylinders. Faces are [places, normals, depths]; a depth below 0: turned.
const ROUND = 64;

/**
 * The stock as it is left, from heights by cells: faces and edges. Walls higher than `least` mm follow their cells' corners smoothed, so that a
 * round wall is round; each top is a run of equal cells.
 */
export class StockShape {
  constructor({ x0, y0, cell, rows, columns, bottom, nothing }, heights, least) {
    Object.assign(this, { x0, y0, cell, rows, columns, bottom, least });
    this.level = new Float32Array((rows + 2) * (columns + 2)).fill(bottom);
    for (let r = 0; r < rows; r++) for (let c = 0; c < columns; c++) { const h = heights[r * columns + c]; if (h > nothing / 2) this.level[(r + 1) * (columns + 2) + c + 1] = h; }
    this.corners();
  }
  at(r, c) { return this.level[(r + 1) * (this.columns + 2) + c + 1]; }
  stands(one, two) { return Math.abs(one - two) > this.least; }

  /** Where the corners of cells stand: on the grid, but those that walls go through drawn towards their neighbours along the wall. */
  corners() {
    const { rows, columns, cell, x0, y0 } = this, across = columns + 1, count = (rows + 1) * across;
    this.x = new Float64Array(count); this.y = new Float64Array(count); this.moved = new Uint8Array(count);
    const walls = Array.from({ length: count }, () => null), link = (a, b) => { (walls[a] ??= []).push(b); (walls[b] ??= []).push(a); };
    for (let r = 0; r <= rows; r++) for (let c = 0; c <= columns; c++) {
      const k = r * across + c;
      this.x[k] = x0 + c * cell; this.y[k] = y0 + r * cell;
      if (c < columns && this.stands(this.at(r - 1, c), this.at(r, c))) link(k, k + 1);
      if (r < rows && this.stands(this.at(r, c - 1), this.at(r, c))) link(k, k + across);
    }
    const bent = [];
    walls.forEach((one, k) => { if (one?.length === 2) bent.push(k); });
    for (let pass = 0; pass < 4; pass++) {
      const moves = bent.map((k) => { const [a, b] = walls[k]; return [(this.x[a] + this.x[b] - 2 * this.x[k]) / 4, (this.y[a] + this.y[b] - 2 * this.y[k]) / 4]; });
      bent.forEach((k, i) => { this.x[k] += moves[i][0]; this.y[k] += moves[i][1]; });
    }
    for (const k of bent) {
      const r = Math.floor(k / across), c = k % across;
      if (Math.abs(this.x[k] - x0 - c * cell) + Math.abs(this.y[k] - y0 - r * cell) > 1e-3 * cell) this.moved[k] = 1;
    }
  }
  corner(r, c) { const k = r * (this.columns + 1) + c; return [this.x[k], this.y[k]]; }
  straight(r, c) { const k = r * (this.columns + 1) + c; return !this.moved[k]; }

  faces() {
    const places = [], normals = [], depths = [], top = this.level.reduce((a, b) => Math.max(a, b), this.bottom), span = Math.max(top - this.bottom, 1e-3);
    const put = (p, z, n, deep) => { places.push(p[0], p[1], z); normals.push(n[0], n[1], n[2]); depths.push(deep); };
    for (const [c, C, r, R, h] of this.plates()) {
      const quad = [this.corner(r, c), this.corner(r, C), this.corner(R, C), this.corner(R, c)];
      for (const k of [0, 1, 2, 0, 2, 3]) put(quad[k], h, [0, 0, 1], (top - h) / span);
    }
    this.walls((a, b, one, two) => {
      const low = Math.min(one, two), high = Math.max(one, two), long = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1, n = [(b[1] - a[1]) / long, (a[0] - b[0]) / long, 0];
      for (const [p, z] of [[a, low], [b, low], [b, high], [a, low], [b, high], [a, high]]) put(p, z, n, 0);
    });
    return [places, normals, depths];
  }
  edges() {
    const out = [];
    this.walls((a, b, one, two) => { if (this.stands(one, two)) for (const z of [one, two]) out.push(a[0], a[1], z, b[0], b[1], z); });
    return out;
  }

  /** Every wall: from, to, the heights on its two sides; in runs as long as it goes straight and both sides stay as high. */
  walls(take) {
    const { rows, columns } = this;
    const run = (count, sides, corner, straight) => {
      for (let i = 0; i < count;) {
        const [one, two] = sides(i);
        let end = i + 1;
        while (end < count && sides(end)[0] === one && sides(end)[1] === two && straight(end) && straight(end - 1)) end++;
        if (Math.abs(one - two) > 1e-4) take(corner(i), corner(end), one, two);
        i = end;
      }
    };
    for (let c = 0; c <= columns; c++) run(rows, (r) => [this.at(r, c - 1), this.at(r, c)], (r) => this.corner(r, c), (r) => this.straight(r, c));
    for (let r = 0; r <= rows; r++) run(columns, (c) => [this.at(r - 1, c), this.at(r, c)], (c) => this.corner(r, c), (c) => this.straight(r, c));
  }

  /** Rectangles of equal height: [first column, end, first row, end, height]; a cell with a moved corner stands alone. */
  * plates() {
    const { rows, columns } = this, done = new Uint8Array(rows * columns);
    const plain = (r, c) => this.straight(r, c) && this.straight(r, c + 1) && this.straight(r + 1, c) && this.straight(r + 1, c + 1);
    for (let r = 0; r < rows; r++) for (let c = 0; c < columns; c++) {
      const h = this.at(r, c);
      if (done[r * columns + c] || h <= this.bottom) continue;
      let wide = c + 1, deep = r + 1;
      if (plain(r, c)) {
        const same = (row, column) => this.at(row, column) === h && !done[row * columns + column] && plain(row, column);
        while (wide < columns && same(r, wide)) wide++;
        deeper: while (deep < rows) { for (let k = c; k < wide; k++) if (!same(deep, k)) break deeper; deep++; }
      }
      for (let row = r; row < deep; row++) done.fill(1, row * columns + c, row * columns + wide);
      yield [c, wide, r, deep, h];
    }
  }
}

export function solidFaces(solids) {
  const places = [], normals = [], depths = [];
  const quad = (a, b, c, d, ...ns) => { [[a, 0], [b, 1], [c, 2], [a, 0], [c, 2], [d, 3]].forEach(([p, k]) => { places.push(...p); normals.push(...(ns[k] || ns[0])); depths.push(ns.length > 1 ? -1 : 0); }); };
  for (const { box: [[x, X], [y, Y], [z, Z]], round } of solids) {
    if (round) {
      const ring = circle(x, X, y, Y), middle = [(x + X) / 2, (y + Y) / 2];
      ring.forEach(([px, py, nx, ny], i) => {
        const [qx, qy, mx, my] = ring[(i + 1) % ROUND], n = [nx, ny, 0], m = [mx, my, 0];
        quad([px, py, z], [qx, qy, z], [qx, qy, Z], [px, py, Z], n, m, m, n);
        for (const h of [z, Z]) quad([...middle, h], [px, py, h], [qx, qy, h], [...middle, h], [0, 0, h === Z ? 1 : -1]);
      });
      continue;
    }
    quad([x, y, Z], [X, y, Z], [X, Y, Z], [x, Y, Z], [0, 0, 1]); quad([x, y, z], [X, y, z], [X, Y, z], [x, Y, z], [0, 0, -1]);
    quad([x, y, z], [X, y, z], [X, y, Z], [x, y, Z], [0, -1, 0]); quad([x, Y, z], [X, Y, z], [X, Y, Z], [x, Y, Z], [0, 1, 0]);
    quad([x, y, z], [x, Y, z], [x, Y, Z], [x, y, Z], [-1, 0, 0]); quad([X, y, z], [X, Y, z], [X, Y, Z], [X, y, Z], [1, 0, 0]);
  }
  return [places, normals, depths];
}

/** Edges of solids; those of a side where nobody said how far it goes are left out. A cylinder has its two rims: its sides depend on the eye. */
export function solidEdges(solids) {
  const out = [];
  for (const { box, round, open } of solids) {
    const [[x, X], [y, Y], [z, Z]] = box;
    if (round) {
      const ring = circle(x, X, y, Y);
      for (const h of [z, Z]) ring.forEach(([px, py], i) => out.push(px, py, h, ring[(i + 1) % ROUND][0], ring[(i + 1) % ROUND][1], h));
      continue;
    }
    const c = [[x, y, z], [X, y, z], [X, Y, z], [x, Y, z], [x, y, Z], [X, y, Z], [X, Y, Z], [x, Y, Z]];
    for (const [a, b] of [[0, 1], [1, 2], [2, 3], [3, 0], [4, 5], [5, 6], [6, 7], [7, 4], [0, 4], [1, 5], [2, 6], [3, 7]]) {
      if (open && [c[a], c[b]].every((p) => p[open[0]] === box[open[0]][open[1]])) continue;
      out.push(...c[a], ...c[b]);
    }
  }
  return out;
}

function circle(x, X, y, Y) {
  const r = (X - x) / 2;
  return Array.from({ length: ROUND }, (_, i) => { const t = 2 * Math.PI * i / ROUND; return [(x + X) / 2 + r * Math.cos(t), (y + Y) / 2 + r * Math.sin(t), Math.cos(t), Math.sin(t)]; });
}
/** The two upright lines that a cylinder's sides are seen as. */
export function sidesOf({ box: [[x, X], [y, Y], [z, Z]] }, right) {
  const r = (X - x) / 2;
  return [-1, 1].flatMap((s) => { const p = [(x + X) / 2 + s * r * right[0], (y + Y) / 2 + s * r * right[1]]; return [...p, z, ...p, Z]; });
}
