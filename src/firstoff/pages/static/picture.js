// Stock, what stands around it and the way of the tool, turned by dragging: orthographic, flat faces in three greys, the way coloured and widened
// by its margin. The block of bytes is described in sheets/scene.py.
const RAPID = 8, JUMP = 16;
const WIDTHS = [1, 1.3, 1.4, 2.2, 3.4];
const COLOURS = ["--m0", "--m1", "--ink2", "--m2", "--m3"];
const VIEWS = { corner: [28, 33], plan: [0, 90], side: [0, 0] };
const NEAR_PX = 16;
const TYPES = { f4: Float32Array, u4: Uint32Array, u1: Uint8Array };

class Way {
  constructor(arrays) {
    Object.assign(this, { at: arrays.at, time: arrays.time, line: arrays.line, mark: arrays.mark });
    this.count = this.line.length;
    this.firstOf = null;
  }
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
}

function unpack(buffer) {
  const size = new DataView(buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, size)));
  const arrays = {};
  let at = 4 + size;
  for (const { name, type, count } of head.arrays) {
    arrays[name] = new TYPES[type](buffer, at, name === "at" ? count : count);
    at += Math.ceil(arrays[name].byteLength / 4) * 4;
  }
  return [head, arrays];
}

const FACE_VERTEX = `#version 300 es
in vec3 place; in vec3 face; in float deep; uniform mat4 view; uniform vec3 light; out float shade; out float depth;
void main() { gl_Position = view * vec4(place, 1.0); vec3 n = abs(face); shade = n.z > 0.5 ? 0.0 : n.y > 0.5 ? 1.0 : 2.0; depth = deep; }`;
const FACE_PIXEL = `#version 300 es
precision mediump float; in float shade; in float depth; uniform vec3 colour; uniform float step; out vec4 paint;
void main() { paint = vec4(colour * (1.0 - step * shade - 1.1 * step * depth), 1.0); }`;
const EDGE_VERTEX = `#version 300 es
in vec3 place; uniform mat4 view; void main() { gl_Position = view * vec4(place, 1.0); }`;
const EDGE_PIXEL = `#version 300 es
precision mediump float; uniform vec3 colour; out vec4 paint; void main() { paint = vec4(colour, 1.0); }`;
const WAY_VERTEX = `#version 300 es
in vec3 from; in vec3 to; in float mark; uniform mat4 view; uniform vec2 size; uniform float widths[5]; uniform vec3 colours[5]; uniform float wide;
out vec3 colour; out float along; out float dashed;
void main() {
  int bits = int(mark + 0.5), level = bits & 7;
  vec4 a = view * vec4(from, 1.0), b = view * vec4(to, 1.0);
  vec2 pa = a.xy * size * 0.5, pb = b.xy * size * 0.5, way = pb - pa;
  float far = length(way);
  vec2 ahead = far > 1e-4 ? way / far : vec2(1.0, 0.0), aside = vec2(-ahead.y, ahead.x);
  float end = float(gl_VertexID >> 1), side = float(gl_VertexID & 1) * 2.0 - 1.0;
  float half_wide = 0.5 * max(widths[level] * wide, 1.0);
  vec2 p = mix(pa, pb, end) + aside * side * half_wide + ahead * (end * 2.0 - 1.0) * half_wide * 0.5;
  float z = mix(a.z, b.z, end) - float(level) * 2e-5;
  gl_Position = (bits & ${JUMP}) != 0 ? vec4(2.0, 2.0, 2.0, 1.0) : vec4(p / (size * 0.5), z, 1.0);
  colour = colours[level]; along = end * far; dashed = (bits & ${RAPID}) != 0 ? 1.0 : 0.0;
}`;
const WAY_PIXEL = `#version 300 es
precision mediump float; in vec3 colour; in float along; in float dashed; uniform float clear; uniform float dash; out vec4 paint;
void main() { if (dashed > 0.5 && mod(along, 8.5 * dash) > 5.0 * dash) discard; paint = vec4(colour, clear); }`;

export class Picture {
  constructor(box, buffer) {
    this.box = box; this.onPoint = () => {};
    [this.head, this.arrays] = unpack(buffer);
    this.way = new Way(this.arrays);
    this.canvas = box.querySelector("canvas"); this.words = box.querySelector(".picture-words");
    const gl = this.canvas.getContext("webgl2", { antialias: true });
    if (!gl) throw new Error("no WebGL 2");
    this.gl = gl;
    [this.azimuth, this.elevation] = VIEWS.corner;
    this.zoom = 1; this.shift = [0, 0]; this.point = -1;
    this.bounds();
    this.face = this.program(FACE_VERTEX, FACE_PIXEL); this.edge = this.program(EDGE_VERTEX, EDGE_PIXEL); this.line = this.program(WAY_VERTEX, WAY_PIXEL);
    this.build();
    this.hands();
    new ResizeObserver(() => this.draw()).observe(box);
    this.draw();
  }

  program(vertex, pixel) {
    const gl = this.gl, made = gl.createProgram();
    for (const [sort, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, pixel]]) {
      const shader = gl.createShader(sort);
      gl.shaderSource(shader, text); gl.compileShader(shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
      gl.attachShader(made, shader);
    }
    gl.linkProgram(made);
    if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made));
    return made;
  }

  /** The box of all that is drawn: the stock with what stands around it, and the feeds; rapids may leave the picture. */
  bounds() {
    const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
    const take = (x, y, z) => [x, y, z].forEach((v, i) => { low[i] = Math.min(low[i], v); high[i] = Math.max(high[i], v); });
    const box = (b) => { take(b[0][0], b[1][0], b[2][0]); take(b[0][1], b[1][1], b[2][1]); };
    const lies = this.head.surface;
    if (lies) { take(lies.x0, lies.y0, lies.bottom); take(lies.x0 + lies.columns * lies.cell, lies.y0 + lies.rows * lies.cell, 0); }
    else if (this.head.stock) box(this.head.stock);
    for (const solid of this.head.solids) box(solid.box);
    const { at, mark, count } = this.way;
    for (let i = 0; i < count; i++) if (!(mark[i] & (RAPID | JUMP))) take(at[3 * i], at[3 * i + 1], at[3 * i + 2]);
    if (low[0] > high[0]) { take(0, 0, 0); take(1, 1, 1); }
    this.low = low; this.high = high;
    this.middle = low.map((v, i) => (v + high[i]) / 2);
    this.radius = Math.hypot(...low.map((v, i) => high[i] - v)) / 2 || 1;
  }

  build() {
    const gl = this.gl;
    this.stock = this.mesh(this.head.surface ? this.stockFaces() : this.head.stock ? boxFaces([this.head.stock]) : [[], [], []]);
    this.solids = this.mesh(boxFaces(this.head.solids.map((one) => one.box)));
    this.solidEdges = this.buffer(new Float32Array(this.head.solids.flatMap((one) => boxEdges(one.box))));
    this.solidEdgeCount = this.head.solids.length * 24;
    const blank = this.head.stock ? boxEdges(this.head.stock) : [];
    this.blankEdges = this.buffer(new Float32Array(blank)); this.blankEdgeCount = blank.length / 3;
    this.places = this.buffer(this.way.at); this.marksAt = this.buffer(this.way.mark);
    gl.enable(gl.DEPTH_TEST);
  }

  buffer(data) { const gl = this.gl, made = gl.createBuffer(); gl.bindBuffer(gl.ARRAY_BUFFER, made); gl.bufferData(gl.ARRAY_BUFFER, data, gl.STATIC_DRAW); return made; }
  mesh([places, faces, deeps]) {
    return { places: this.buffer(new Float32Array(places)), faces: this.buffer(new Float32Array(faces)), deeps: this.buffer(new Float32Array(deeps)), count: places.length / 3 };
  }

  /** The stock as it is left: a top for each cell, a wall wherever neighbours differ. */
  stockFaces() {
    const { x0, y0, cell, rows, columns, bottom, nothing } = this.head.surface, heights = this.arrays.heights;
    const places = [], faces = [], deeps = [];
    let top = -Infinity;
    for (const h of heights) if (h > nothing / 2) top = Math.max(top, h);
    const span = Math.max(top - bottom, 1e-3);
    const quad = (a, b, c, d, face, deep) => { for (const p of [a, b, c, a, c, d]) { places.push(...p); faces.push(...face); deeps.push(deep); } };
    const at = (r, c) => r < 0 || c < 0 || r >= rows || c >= columns ? nothing : heights[r * columns + c];
    for (let r = 0; r <= rows; r++) for (let c = 0; c <= columns; c++) {
      const here = at(r, c), x = x0 + c * cell, y = y0 + r * cell, X = x + cell, Y = y + cell;
      if (here > nothing / 2) {
        quad([x, y, here], [X, y, here], [X, Y, here], [x, Y, here], [0, 0, 1], (top - here) / span);
      }
      const wall = (other, a, b, face) => {
        const one = here > nothing / 2 ? here : bottom, two = other > nothing / 2 ? other : bottom;
        if (Math.abs(one - two) < 1e-4 || (here <= nothing / 2 && other <= nothing / 2)) return;
        const low = Math.min(one, two), high = Math.max(one, two);
        quad([...a, low], [...b, low], [...b, high], [...a, high], face, 0);
      };
      if (r < rows) wall(at(r, c - 1), [x, y], [x, Y], [1, 0, 0]);
      if (c < columns) wall(at(r - 1, c), [x, y], [X, y], [0, 1, 0]);
    }
    return [places, faces, deeps];
  }

  // --- hands ----------------------------------------------------------------------------------------------------------

  hands() {
    const box = this.box, held = new Map();
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
        if (spread) this.zoom = Math.min(Math.max(this.zoom * now / spread, 0.5), 60);
        spread = now;
        this.shift[0] += dx / 2; this.shift[1] += dy / 2;
      } else if (event.shiftKey || event.buttons === 4) { this.shift[0] += dx; this.shift[1] += dy; }
      else { this.turning = true; this.azimuth -= dx * 0.4; this.elevation = Math.min(Math.max(this.elevation + dy * 0.4, -10), 90); }
      this.draw();
    });
    const up = (event) => {
      if (held.delete(event.pointerId) && moved < 5 && event.type === "pointerup") this.pick(event);
      spread = 0;
      if (this.turning) { this.turning = false; this.draw(); }
    };
    box.addEventListener("pointerup", up); box.addEventListener("pointercancel", up);
    box.addEventListener("wheel", (event) => {
      event.preventDefault();
      const area = box.getBoundingClientRect(), factor = Math.exp(-event.deltaY * 0.0015), zoom = Math.min(Math.max(this.zoom * factor, 0.5), 60), by = zoom / this.zoom;
      const x = event.clientX - area.left - area.width / 2, y = event.clientY - area.top - area.height / 2;
      this.shift = [x + (this.shift[0] - x) * by, y + (this.shift[1] - y) * by];
      this.zoom = zoom; this.draw();
    }, { passive: false });
    box.addEventListener("keydown", (event) => {
      const turn = { ArrowLeft: [-6, 0], ArrowRight: [6, 0], ArrowUp: [0, 6], ArrowDown: [0, -6] }[event.key];
      if (turn) { this.azimuth += turn[0]; this.elevation = Math.min(Math.max(this.elevation + turn[1], -10), 90); }
      else if (event.key === "+") this.zoom = Math.min(this.zoom * 1.25, 60);
      else if (event.key === "-") this.zoom = Math.max(this.zoom / 1.25, 0.5);
      else return;
      event.preventDefault(); event.stopPropagation(); this.draw();
    });
    for (const button of box.querySelectorAll("[data-view]")) button.addEventListener("click", () => {
      [this.azimuth, this.elevation] = VIEWS[button.dataset.view];
      this.zoom = 1; this.shift = [0, 0]; this.draw();
    });
  }

  pick(event) {
    const area = this.box.getBoundingClientRect(), x = event.clientX - area.left, y = event.clientY - area.top;
    const { at, mark, count } = this.way;
    let best = -1, near = NEAR_PX * NEAR_PX;
    for (let i = 0; i < count; i++) {
      const p = this.project(at[3 * i], at[3 * i + 1], at[3 * i + 2]);
      let d = (p[0] - x) ** 2 + (p[1] - y) ** 2;
      if (i && !(mark[i] & JUMP)) {  // to the stretch, not only to its end
        const q = this.project(at[3 * i - 3], at[3 * i - 2], at[3 * i - 1]), wx = p[0] - q[0], wy = p[1] - q[1], long = wx * wx + wy * wy;
        if (long > 1) { const t = Math.min(Math.max(((x - q[0]) * wx + (y - q[1]) * wy) / long, 0), 1); d = Math.min(d, (q[0] + t * wx - x) ** 2 + (q[1] + t * wy - y) ** 2); }
      }
      if (d + (mark[i] & RAPID ? 40 : 0) < near) { near = d; best = i; }
    }
    if (best >= 0) this.onPoint(best);
  }

  show(point, line) { this.point = point; this.shownLine = line; this.draw(); }

  // --- drawing --------------------------------------------------------------------------------------------------------

  colour(name) {
    const text = getComputedStyle(document.documentElement).getPropertyValue(name).trim(), value = parseInt(text.slice(1), 16);
    return [value >> 16 & 255, value >> 8 & 255, value & 255].map((one) => one / 255);
  }

  /** The picture's own frame: right, up and towards the eye, and px a mm. */
  camera() {
    const a = this.azimuth * Math.PI / 180, e = this.elevation * Math.PI / 180;
    this.right = [Math.cos(a), Math.sin(a), 0];
    this.towards = [Math.sin(a) * Math.cos(e), -Math.cos(a) * Math.cos(e), Math.sin(e)];
    this.up = [-Math.sin(a) * Math.sin(e), Math.cos(a) * Math.sin(e), Math.cos(e)];
    const wide = this.box.clientWidth, tall = this.box.clientHeight;
    let across = 0, upward = 0;
    for (let corner = 0; corner < 8; corner++) {
      const p = [0, 1, 2].map((i) => (corner >> i & 1 ? this.high[i] : this.low[i]) - this.middle[i]);
      across = Math.max(across, Math.abs(dot(p, this.right))); upward = Math.max(upward, Math.abs(dot(p, this.up)));
    }
    this.scale = this.zoom * Math.min((wide - 60) / 2 / across, (tall - 76) / 2 / upward);
    this.wide = wide; this.tall = tall;
  }
  project(x, y, z) {
    const p = [x - this.middle[0], y - this.middle[1], z - this.middle[2]];
    return [this.wide / 2 + this.shift[0] + this.scale * dot(p, this.right), this.tall / 2 - 8 + this.shift[1] - this.scale * dot(p, this.up)];
  }
  matrix() {
    const sx = 2 * this.scale / this.wide, sy = 2 * this.scale / this.tall, sz = -0.25 / this.radius;
    const row = (v, s, add) => [v[0] * s, v[1] * s, v[2] * s, add - s * dot(v, this.middle)];
    const x = row(this.right, sx, 2 * this.shift[0] / this.wide), y = row(this.up, sy, (16 - 2 * this.shift[1]) / this.tall), z = row(this.towards, sz, 0);
    return new Float32Array([x[0], y[0], z[0], 0, x[1], y[1], z[1], 0, x[2], y[2], z[2], 0, x[3], y[3], z[3], 1]);
  }

  draw() {
    if (this.waiting) return;
    this.waiting = requestAnimationFrame(() => { this.waiting = 0; this.paint(); });
  }

  paint() {
    const gl = this.gl, ratio = devicePixelRatio || 1;
    this.camera();
    const wide = Math.round(this.wide * ratio), tall = Math.round(this.tall * ratio);
    if (this.canvas.width !== wide || this.canvas.height !== tall) { this.canvas.width = wide; this.canvas.height = tall; }
    gl.viewport(0, 0, wide, tall);
    gl.clearColor(...this.colour("--sheet"), 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    const view = this.matrix();
    gl.enable(gl.POLYGON_OFFSET_FILL); gl.polygonOffset(1.5, 3);
    this.faces(this.stock, "--stock", view); this.faces(this.solids, "--solid", view);
    gl.disable(gl.POLYGON_OFFSET_FILL);
    this.edges(this.solidEdges, this.solidEdgeCount, "--edge", view);
    if (!this.head.surface) this.edges(this.blankEdges, this.blankEdgeCount, "--edge", view);
    if (this.way.count > 1) this.ways(view, ratio, wide, tall);
    this.label();
    const views = Object.entries(VIEWS).find(([, [a, e]]) => Math.abs(((this.azimuth - a) % 360 + 540) % 360 - 180) < 0.5 && Math.abs(this.elevation - e) < 0.5);
    for (const button of this.box.querySelectorAll("[data-view]")) button.setAttribute("aria-pressed", String(views?.[0] === button.dataset.view));
  }

  attribute(program, name, buffer, size, { stride = 0, offset = 0, type = this.gl.FLOAT, divisor = 0 } = {}) {
    const gl = this.gl, at = gl.getAttribLocation(program, name);
    if (at < 0) return;
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer); gl.enableVertexAttribArray(at);
    gl.vertexAttribPointer(at, size, type, false, stride, offset); gl.vertexAttribDivisor(at, divisor);
  }
  faces(mesh, colour, view) {
    if (!mesh.count) return;
    const gl = this.gl, program = this.face;
    gl.useProgram(program);
    gl.uniformMatrix4fv(gl.getUniformLocation(program, "view"), false, view);
    gl.uniform3fv(gl.getUniformLocation(program, "colour"), this.colour(colour));
    gl.uniform1f(gl.getUniformLocation(program, "step"), this.night() ? -0.2 : 0.09);
    this.attribute(program, "place", mesh.places, 3); this.attribute(program, "face", mesh.faces, 3); this.attribute(program, "deep", mesh.deeps, 1);
    gl.drawArrays(gl.TRIANGLES, 0, mesh.count);
  }
  night() { const c = this.colour("--sheet"); return c[0] + c[1] + c[2] < 1.5; }
  edges(buffer, count, colour, view) {
    if (!count) return;
    const gl = this.gl, program = this.edge;
    gl.useProgram(program);
    gl.uniformMatrix4fv(gl.getUniformLocation(program, "view"), false, view);
    gl.uniform3fv(gl.getUniformLocation(program, "colour"), this.colour(colour));
    this.attribute(program, "place", buffer, 3);
    gl.drawArrays(gl.LINES, 0, count);
  }
  ways(view, ratio, wide, tall) {
    const gl = this.gl, program = this.line, uniform = (name) => gl.getUniformLocation(program, name);
    gl.useProgram(program);
    gl.uniformMatrix4fv(uniform("view"), false, view);
    gl.uniform2f(uniform("size"), wide, tall);
    gl.uniform1fv(uniform("widths"), WIDTHS.map((one) => one * ratio));
    gl.uniform3fv(uniform("colours"), COLOURS.flatMap((name) => this.colour(name)));
    gl.uniform1f(uniform("dash"), ratio);
    this.attribute(program, "from", this.places, 3, { stride: 12, divisor: 1 });
    this.attribute(program, "to", this.places, 3, { stride: 12, offset: 12, divisor: 1 });
    this.attribute(program, "mark", this.marksAt, 1, { stride: 1, offset: 1, type: gl.UNSIGNED_BYTE, divisor: 1 });
    gl.enable(gl.BLEND); gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA);
    const passes = [[gl.GREATER, 0.35, 0.8], [gl.LEQUAL, 1, 1]];
    for (const [test, clear, width] of this.turning ? passes.slice(1) : passes) {  // what lies under the surface waits until the hand rests
      gl.depthFunc(test); gl.depthMask(test === gl.LEQUAL);
      gl.uniform1f(uniform("clear"), clear); gl.uniform1f(uniform("wide"), width);
      gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, this.way.count - 1);
    }
    gl.depthFunc(gl.LEQUAL); gl.depthMask(true); gl.disable(gl.BLEND);
  }

  /** Words lie over the picture as text: names, the rule along the stock, the zero, the worst place, the moment. */
  label() {
    const parts = [];
    const put = (sort, [x, y], words, more) => {
      if (x < -20 || y < -20 || x > this.wide + 20 || y > this.tall + 20) return;
      const part = document.createElement("span");
      part.className = sort; part.textContent = words; part.style.left = `${x}px`; part.style.top = `${y}px`;
      if (more) more(part);
      parts.push(part);
    };
    for (const solid of this.head.solids) {
      const [x, y, z] = solid.box;
      put("name", this.project((x[0] + x[1]) / 2, (y[0] + y[1]) / 2, z[1]), solid.name);
    }
    const box = this.head.stock;
    if (box) {
      const long = box[0][1] - box[0][0], step = niceStep(long / 4);
      for (let v = Math.ceil(box[0][0] / step) * step; v <= box[0][1] + 1e-6; v += step) {
        const p = this.project(v, this.low[1], this.low[2]);  // in front of whatever holds the stock
        put("figure", [p[0], p[1] + 13], `${Math.round(v * 1000) / 1000}`);
      }
    }
    if (this.head.zero) {
      const p = this.project(0, 0, 0);
      put("zero", p, "", (part) => { part.innerHTML = '<svg width="16" height="16" viewBox="-8 -8 16 16"><circle r="6.5" class="zero-ground"/><path class="zero-quarter" d="M0 0V-6.5A6.5 6.5 0 0 1 6.5 0ZM0 0V6.5A6.5 6.5 0 0 1 -6.5 0Z"/><circle r="6.5" class="zero-ring"/></svg>'; });
      put("name", [p[0], p[1] - 17], this.head.zero);
    }
    const worst = this.shownLine ? this.head.marks.find((one) => one.line === this.shownLine) : this.head.marks[0];
    if (worst) {
      const p = this.project(...worst.at), right = p[0] > this.wide / 2;  // on the side of its place: its leader then crosses little
      put("leader", [0, 0], "", (part) => {
        part.style.transform = "none"; part.style.inset = "0"; part.style.left = part.style.top = "0";
        part.innerHTML = `<svg width="${this.wide}" height="${this.tall}"><path class="leader" d="M${p[0]} ${p[1]}L${right ? this.wide - 60 : 60} 44"/><circle class="place" r="5" cx="${p[0]}" cy="${p[1]}"/></svg>`;
      });
      put("told", [right ? this.wide * 0.54 - 12 : 12, 12], worst.what);
    }
    if (this.point >= 0) {
      const i = 3 * this.point, there = this.project(this.way.at[i], this.way.at[i + 1], this.way.at[i + 2]);
      // A place outside of the picture is shown at its edge, on the way to where it is.
      const p = [Math.min(Math.max(there[0], 12), this.wide - 84), Math.min(Math.max(there[1], 34), this.tall - 12)];
      if (p[0] === there[0] && p[1] === there[1]) put("here", p, "", (part) => { part.innerHTML = '<svg width="22" height="22" viewBox="-11 -11 22 22"><path d="M-11 0H-4M4 0H11M0 -11V-4M0 4V11" stroke="var(--accent)" stroke-width="1.6"/></svg>'; });
      put("moment", p, `line ${this.way.line[this.point]}`);
    }
    this.words.replaceChildren(...parts);
  }
}

const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
function niceStep(least) { const power = 10 ** Math.floor(Math.log10(least)); return [1, 2, 5, 10].map((one) => one * power).find((one) => one >= least); }

function boxFaces(boxes) {
  const places = [], faces = [], deeps = [];
  for (const [[x, X], [y, Y], [z, Z]] of boxes) {
    const quads = [
      [[x, y, Z], [X, y, Z], [X, Y, Z], [x, Y, Z], [0, 0, 1]], [[x, y, z], [X, y, z], [X, Y, z], [x, Y, z], [0, 0, 1]],
      [[x, y, z], [X, y, z], [X, y, Z], [x, y, Z], [0, 1, 0]], [[x, Y, z], [X, Y, z], [X, Y, Z], [x, Y, Z], [0, 1, 0]],
      [[x, y, z], [x, Y, z], [x, Y, Z], [x, y, Z], [1, 0, 0]], [[X, y, z], [X, Y, z], [X, Y, Z], [X, y, Z], [1, 0, 0]],
    ];
    for (const [a, b, c, d, face] of quads) for (const p of [a, b, c, a, c, d]) { places.push(...p); faces.push(...face); deeps.push(0); }
  }
  return [places, faces, deeps];
}
function boxEdges([[x, X], [y, Y], [z, Z]]) {
  const c = [[x, y, z], [X, y, z], [X, Y, z], [x, Y, z], [x, y, Z], [X, y, Z], [X, Y, Z], [x, Y, Z]];
  return [[0, 1], [1, 2], [2, 3], [3, 0], [4, 5], [5, 6], [6, 7], [7, 4], [0, 4], [1, 5], [2, 6], [3, 7]].flatMap(([a, b]) => [...c[a], ...c[b]]);
}
