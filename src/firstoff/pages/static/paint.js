// The picture on the graphics processor, or on a computer that has none: faces, edges, the way, the tool. A rough picture is quick, for a hand
// that moves; the full one is smooth.
import { JUMP, RAPID } from "./way.js";

const WIDTHS = [1, 1.3, 1.4, 2.2, 3.4];
const COLOURS = ["--m0", "--m1", "--ink2", "--m2", "--m3"];
const SMOOTH = 4;

const FACE_VERTEX = `#version 300 es
in vec3 place; in vec3 normal; in float deep; uniform mat4 view; uniform vec3 shift; uniform vec3 right, up, towards;
out vec3 seen; out vec3 at; out vec3 plain; out float depth;
void main() { at = place + shift; gl_Position = view * vec4(at, 1.0); seen = vec3(dot(normal, right), dot(normal, up), dot(normal, towards)); plain = abs(normal); depth = deep; }`;
// Flat faces in three steps of grey; what is turned (deep < 0) has a light that comes from the left of the eye, wherever it stands.
const FACE_PIXEL = `#version 300 es
precision highp float; in vec3 seen; in vec3 at; in vec3 plain; in float depth; uniform vec3 colour; uniform float step; uniform float clear; uniform vec3 tip;
uniform vec3 low, high; uniform vec2 span; uniform int fill; out vec4 paint;
void main() {
  if (fill > 0) {
    float z = at.z - tip.z;
    if (z < span.x || z > span.y || at.z < low.z || at.z > high.z) discard;
    vec2 half_size = 0.5 * (high.xy - low.xy), from = at.xy - 0.5 * (high.xy + low.xy);
    if (fill == 2 ? length(from) > half_size.x : any(greaterThan(abs(from), half_size))) discard;
    paint = vec4(colour, clear); return;
  }
  float shade = plain.z > 0.5 ? 0.0 : 2.0 - plain.y * plain.y, tone = 1.0 - step * shade - 1.1 * step * max(depth, 0.0);
  if (depth < 0.0) {
    vec3 n = normalize(seen);
    float lit = max(dot(n, normalize(vec3(-0.5, 0.35, 0.8))), 0.0);
    tone = step > 0.0 ? mix(0.6, 1.04, pow(lit, 0.9)) : mix(0.55, 1.25, pow(lit, 1.3));
  }
  paint = vec4(min(colour * tone, vec3(1.0)), clear);
}`;
const EDGE_VERTEX = `#version 300 es
in vec3 place; uniform mat4 view; uniform vec3 shift; void main() { gl_Position = view * vec4(place + shift, 1.0); }`;
const EDGE_PIXEL = `#version 300 es
precision mediump float; uniform vec3 colour; uniform float clear; out vec4 paint; void main() { paint = vec4(colour, clear); }`;
const TONE = `uniform vec3 colours[5]; uniform vec3 ground; uniform float faint; uniform int least; uniform bool rapids;
bool left_out(int bits, int level) { return (bits & ${JUMP}) != 0 || level < least || (!rapids && (bits & ${RAPID}) != 0 && level < 3); }
// Passes nearer to each other than the screen's pixels would cover all there is: they are drawn so thin that the surface shows.
uniform float thin; float through(int level, float dense) { return level < 3 ? clamp(thin / max(dense, 1e-3), 0.1, 1.0) : 1.0; }
vec3 tone(int level) { return level < 3 ? mix(colours[level], ground, faint) : colours[level]; }`;
const WAY_VERTEX = `#version 300 es
in vec3 from; in vec3 to; in vec2 mark; in float dense; uniform mat4 view; uniform vec2 size; uniform float widths[5]; uniform float wide; ${TONE}
out vec3 colour; out float along; out float dashed; out float alpha;
void main() {
  int bits = int(mark.x + 0.5), level = bits & 7, corner = int(mark.y + 0.5);
  gl_Position = vec4(2.0, 2.0, 2.0, 1.0);
  if (left_out(bits, level)) return;
  vec4 a = view * vec4(from, 1.0), b = view * vec4(to, 1.0);
  vec2 pa = a.xy * size * 0.5, pb = b.xy * size * 0.5, way = pb - pa;
  float far = length(way);
  vec2 ahead = far > 1e-4 ? way / far : vec2(1.0, 0.0), aside = vec2(-ahead.y, ahead.x);
  float end = float(corner >> 1), side = float(corner & 1) * 2.0 - 1.0;
  float half_wide = 0.5 * max(widths[level] * (level < 3 ? wide : 1.0), 1.0);
  vec2 p = mix(pa, pb, end) + aside * side * half_wide + ahead * (end * 2.0 - 1.0) * half_wide * 0.5;
  gl_Position = vec4(p / (size * 0.5), mix(a.z, b.z, end) - float(level) * 2e-5, 1.0);
  colour = tone(level); alpha = through(level, dense); along = end * far; dashed = (bits & ${RAPID}) != 0 ? 1.0 : 0.0;
}`;
const WAY_PIXEL = `#version 300 es
precision mediump float; in vec3 colour; in float along; in float dashed; in float alpha; uniform float clear; uniform float dash; out vec4 paint;
void main() { if (dashed > 0.5 && mod(along, 8.5 * dash) > 5.0 * dash) discard; paint = vec4(colour, clear * alpha); }`;
const ROUGH_VERTEX = `#version 300 es
in vec3 place; in float mark; in float dense; uniform mat4 view; ${TONE}
flat out vec3 colour; flat out float dashed; flat out float alpha;
void main() {
  int bits = int(mark + 0.5), level = bits & 7;
  gl_Position = view * vec4(place, 1.0); gl_Position.z -= float(level) * 2e-5;
  colour = tone(level); alpha = through(level, dense); dashed = left_out(bits, level) ? 2.0 : (bits & ${RAPID}) != 0 ? 1.0 : 0.0;
}`;
const ROUGH_PIXEL = `#version 300 es
precision mediump float; flat in vec3 colour; flat in float dashed; flat in float alpha; out vec4 paint;
void main() { if (dashed > 1.5 || (dashed > 0.5 && mod(gl_FragCoord.x + gl_FragCoord.y, 8.0) > 5.0)) discard; paint = vec4(colour, alpha); }`;

export class Paint {
  constructor(canvas, way) {
    const gl = canvas.getContext("webgl2", { antialias: false, alpha: true, premultipliedAlpha: true });
    if (!gl) throw new Error("no WebGL 2");
    this.canvas = canvas; this.gl = gl; this.way = way;
    this.face = this.program(FACE_VERTEX, FACE_PIXEL); this.edge = this.program(EDGE_VERTEX, EDGE_PIXEL);
    this.wide = this.program(WAY_VERTEX, WAY_PIXEL); this.rough = this.program(ROUGH_VERTEX, ROUGH_PIXEL);
    this.wayBuffers();
    this.passing = { places: this.buffer(null), normals: this.buffer(null), edges: this.buffer(null) };
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
    const uniforms = {}, attributes = {};
    for (let i = 0; i < gl.getProgramParameter(made, gl.ACTIVE_UNIFORMS); i++) { const { name } = gl.getActiveUniform(made, i); uniforms[name.replace("[0]", "")] = gl.getUniformLocation(made, name); }
    for (let i = 0; i < gl.getProgramParameter(made, gl.ACTIVE_ATTRIBUTES); i++) { const { name } = gl.getActiveAttrib(made, i); attributes[name] = gl.getAttribLocation(made, name); }
    return { made, uniforms, attributes };
  }
  buffer(data, sort = this.gl.ARRAY_BUFFER) {
    const gl = this.gl, made = gl.createBuffer();
    if (data) { gl.bindBuffer(sort, made); gl.bufferData(sort, data, gl.STATIC_DRAW); }
    return made;
  }
  mesh([places, normals, deeps]) { return { places: this.buffer(new Float32Array(places)), normals: this.buffer(new Float32Array(normals)), deeps: this.buffer(new Float32Array(deeps)), count: places.length / 3 }; }
  lines(places) { return { places: this.buffer(new Float32Array(places)), count: places.length / 3 }; }

  /** Four corners a stretch (one draw of them all is far quicker without a graphics processor than many small ones), and plain lines. */
  wayBuffers() {
    const { at, mark, count } = this.way, stretches = Math.max(count - 1, 0), gl = this.gl;
    const ends = new Float32Array(stretches * 24), dense = new Float32Array(stretches * 4), marks = new Uint8Array(stretches * 8), corners = new Uint32Array(stretches * 6), pairs = new Uint32Array(stretches * 2);
    for (let i = 0; i < stretches; i++) {
      for (let corner = 0; corner < 4; corner++) {
        ends.set(at.subarray(3 * i, 3 * i + 6), 24 * i + 6 * corner);
        marks[8 * i + 2 * corner] = mark[i + 1]; marks[8 * i + 2 * corner + 1] = corner;
      }
      corners.set([0, 1, 2, 2, 1, 3].map((one) => 4 * i + one), 6 * i);
      dense.fill(this.way.density[i + 1], 4 * i, 4 * i + 4);
      pairs[2 * i] = i; pairs[2 * i + 1] = i + 1;
    }
    this.ends = this.buffer(ends); this.marks = this.buffer(marks); this.corners = this.buffer(corners, gl.ELEMENT_ARRAY_BUFFER); this.pairs = this.buffer(pairs, gl.ELEMENT_ARRAY_BUFFER);
    this.dense = this.buffer(dense); this.density = this.buffer(this.way.density); this.places = this.buffer(at); this.bits = this.buffer(mark);
  }

  /** A colour of the theme, looked up once a picture. */
  colour(name) {
    if (this.colours[name]) return this.colours[name];
    const value = parseInt(this.theme.getPropertyValue(name).trim().slice(1), 16);
    return this.colours[name] = [value >> 16 & 255, value >> 8 & 255, value & 255].map((one) => one / 255);
  }

  /** Begin a picture; a smooth one is drawn beside the canvas and then put on it. `part`: of the canvas's resolution. */
  begin(camera, { smooth, part = 1 }) {
    const gl = this.gl, ratio = devicePixelRatio || 1, wide = Math.max(Math.round(camera.wide * ratio), 1), tall = Math.max(Math.round(camera.tall * ratio), 1);
    if (this.canvas.width !== wide || this.canvas.height !== tall) { this.canvas.width = wide; this.canvas.height = tall; }
    this.size = [Math.round(wide * part), Math.round(tall * part)]; this.whole = [wide, tall]; this.ratio = ratio * part; this.smooth = smooth;
    this.beside = smooth || part < 1 ? this.frame(smooth ? "smooth" : "small", smooth ? SMOOTH : 0) : null;
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.beside?.made ?? null);
    gl.viewport(0, 0, ...this.size);
    this.theme = getComputedStyle(this.canvas); this.colours = {};
    this.ground = this.colour("--sheet"); this.night = this.ground[0] + this.ground[1] + this.ground[2] < 1.5;
    gl.clearColor(...this.ground, 1); gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST); gl.depthFunc(gl.LEQUAL); gl.depthMask(true); gl.enable(gl.BLEND);
    gl.blendFuncSeparate(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA, gl.ONE, gl.ONE);
    this.camera = camera; this.view = camera.matrix();
  }
  frame(name, samples) {
    const gl = this.gl, key = `${name}Frame`, [wide, tall] = this.size;
    let one = this[key];
    if (one && one.wide === wide && one.tall === tall) return one;
    if (one) { gl.deleteFramebuffer(one.made); gl.deleteRenderbuffer(one.paint); gl.deleteRenderbuffer(one.depth); }
    one = this[key] = { made: gl.createFramebuffer(), paint: gl.createRenderbuffer(), depth: gl.createRenderbuffer(), wide, tall };
    gl.bindFramebuffer(gl.FRAMEBUFFER, one.made);
    for (const [buffer, format, spot] of [[one.paint, gl.RGBA8, gl.COLOR_ATTACHMENT0], [one.depth, gl.DEPTH_COMPONENT24, gl.DEPTH_ATTACHMENT]]) {
      gl.bindRenderbuffer(gl.RENDERBUFFER, buffer);
      if (samples) gl.renderbufferStorageMultisample(gl.RENDERBUFFER, samples, format, wide, tall); else gl.renderbufferStorage(gl.RENDERBUFFER, format, wide, tall);
      gl.framebufferRenderbuffer(gl.FRAMEBUFFER, spot, gl.RENDERBUFFER, buffer);
    }
    return one;
  }
  end() {
    const gl = this.gl;
    if (!this.beside) return;
    gl.bindFramebuffer(gl.READ_FRAMEBUFFER, this.beside.made); gl.bindFramebuffer(gl.DRAW_FRAMEBUFFER, null);
    gl.blitFramebuffer(0, 0, ...this.size, 0, 0, ...this.whole, gl.COLOR_BUFFER_BIT, this.smooth ? gl.NEAREST : gl.LINEAR);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
  }
  /** Waits until all is drawn: how long a picture took can then be told. */
  wait() { this.gl.readPixels(0, 0, 1, 1, this.gl.RGBA, this.gl.UNSIGNED_BYTE, new Uint8Array(4)); }

  use({ made, uniforms }, values) {
    const gl = this.gl;
    gl.useProgram(made);
    for (const [name, value] of Object.entries({ view: this.view, ...values })) {
      const at = uniforms[name];
      if (at === undefined) continue;
      if (name === "view") gl.uniformMatrix4fv(at, false, value);
      else if (name === "fill" || name === "least" || name === "rapids") gl.uniform1i(at, value);
      else if (typeof value === "number") gl.uniform1f(at, value);
      else if (name === "widths") gl.uniform1fv(at, value);
      else if (value.length === 2) gl.uniform2fv(at, value);
      else gl.uniform3fv(at, value);
    }
  }
  attribute(program, name, buffer, size, { stride = 0, offset = 0, type = this.gl.FLOAT } = {}) {
    const gl = this.gl, at = program.attributes[name];
    if (at === undefined) return;
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer); gl.enableVertexAttribArray(at); gl.vertexAttribPointer(at, size, type, false, stride, offset);
  }

  faces(mesh, colour, { shift = [0, 0, 0], clear = 1, fill = 0, tip = [0, 0, 0], low = [0, 0, 0], high = [0, 0, 0], span = [0, 0] } = {}) {
    if (!mesh.count) return;
    const gl = this.gl, { right, up, towards } = this.camera;
    gl.enable(gl.POLYGON_OFFSET_FILL); gl.polygonOffset(1.5, 3);
    this.use(this.face, { colour: this.colour(colour), step: this.night ? -0.2 : 0.09, shift, clear, fill, tip, low, high, span, right, up, towards });
    this.attribute(this.face, "place", mesh.places, 3); this.attribute(this.face, "normal", mesh.normals, 3);
    const at = this.face.attributes.deep;
    if (mesh.deeps) this.attribute(this.face, "deep", mesh.deeps, 1); else { gl.disableVertexAttribArray(at); gl.vertexAttrib1f(at, -1); }
    gl.drawArrays(gl.TRIANGLES, 0, mesh.count);
    gl.disable(gl.POLYGON_OFFSET_FILL);
  }
  edges(lines, colour, { shift = [0, 0, 0], clear = 1, hidden = false } = {}) {
    if (!lines.count) return;
    const gl = this.gl;
    if (hidden) { gl.depthFunc(gl.GREATER); gl.depthMask(false); }
    this.use(this.edge, { colour: this.colour(colour), shift, clear });
    this.attribute(this.edge, "place", lines.places, 3);
    gl.drawArrays(gl.LINES, 0, lines.count);
    gl.depthFunc(gl.LEQUAL); gl.depthMask(true);
  }
  /** Something that is made anew for each picture. */
  now(name, places) {
    const gl = this.gl, made = this.passing[name] ??= this.buffer(null);
    gl.bindBuffer(gl.ARRAY_BUFFER, made); gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(places), gl.STREAM_DRAW);
    return { places: made, count: places.length / 3 };
  }

  /** The stretches that lead to the points of a run [first, end). `faint` 0 to 1; `least` level; `hidden`: only what lies under a face; `thin`:
   * density of the way, mm a mm², from which ample and less are drawn thinner. */
  ways([first, end], { faint = 0, least = 0, rapids = true, hidden = false, clear = 1, wide = 1, thin = 1e6, rough = false } = {}) {
    const gl = this.gl, from = Math.max(first, 1), count = end - from;
    if (count <= 0 || this.way.count < 2) return;
    const program = rough ? this.rough : this.wide;
    this.use(program, {
      size: this.size, widths: WIDTHS.map((one) => one * this.ratio), colours: COLOURS.flatMap((name) => this.colour(name)), ground: this.ground,
      faint, least, rapids: rapids ? 1 : 0, clear, wide, thin, dash: this.ratio,
    });
    if (hidden) { gl.depthFunc(gl.GREATER); gl.depthMask(false); }
    if (rough) {
      this.attribute(program, "place", this.places, 3); this.attribute(program, "mark", this.bits, 1, { type: gl.UNSIGNED_BYTE }); this.attribute(program, "dense", this.density, 1);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, this.pairs); gl.drawElements(gl.LINES, 2 * count, gl.UNSIGNED_INT, 8 * (from - 1));
    } else {
      this.attribute(program, "from", this.ends, 3, { stride: 24 }); this.attribute(program, "to", this.ends, 3, { stride: 24, offset: 12 });
      this.attribute(program, "mark", this.marks, 2, { type: gl.UNSIGNED_BYTE }); this.attribute(program, "dense", this.dense, 1);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, this.corners); gl.drawElements(gl.TRIANGLES, 6 * count, gl.UNSIGNED_INT, 24 * (from - 1));
    }
    gl.depthFunc(gl.LEQUAL); gl.depthMask(true);
  }
}
