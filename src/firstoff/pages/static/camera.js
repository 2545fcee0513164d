// How the picture is looked at: orthographic, turned about its middle, fitted into its frame.
export const VIEWS = { corner: [28, 33], plan: [0, 90], side: [0, 0] };
export const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const ROOM = { left: 26, right: 26, top: 16, bottom: 34 }, STEP = 8, MOST = 92, RULE = 28;

export class Camera {
  /** `corners`: mm; all of them fit into the frame, over the rule that lies along the lower edge of `plate`, its corners. */
  constructor(corners, plate) {
    this.plate = plate; this.kept = [0, 0];
    this.corners = corners;
    const spans = [0, 1, 2].map((i) => corners.map((p) => p[i]));
    this.low = spans.map((span) => Math.min(...span)); this.high = spans.map((span) => Math.max(...span));
    this.middle = this.low.map((v, i) => (v + this.high[i]) / 2);
    this.radius = Math.hypot(...this.low.map((v, i) => this.high[i] - v)) / 2 || 1;
    this.wide = this.tall = 1;
    this.reset("corner");
  }
  reset(view) { [this.azimuth, this.elevation] = VIEWS[view]; this.zoom = 1; this.shift = [0, 0]; this.aim(); }
  turn(by, up) { this.azimuth += by; this.elevation = Math.min(Math.max(this.elevation + up, -10), 90); }
  /** Nearer by a factor, about a place told from the middle of the frame. */
  nearer(factor, x = 0, y = 0) {
    const zoom = Math.min(Math.max(this.zoom * factor, 0.5), 60), by = zoom / this.zoom;
    this.shift = [x + (this.shift[0] - x) * by, y + (this.shift[1] - y) * by];
    this.zoom = zoom;
  }
  get view() {
    const found = Object.entries(VIEWS).find(([, [a, e]]) => Math.abs(((this.azimuth - a) % 360 + 540) % 360 - 180) < 0.5 && Math.abs(this.elevation - e) < 0.5);
    return found?.[0];
  }

  /** The picture's own frame: right, up and towards the eye; px a mm; where the middle lies. `kept`: px at the left of the lower edge that are
   * kept free, and how high. */
  aim(wide = this.wide, tall = this.tall, kept = this.kept) {
    const a = this.azimuth * Math.PI / 180, e = this.elevation * Math.PI / 180;
    this.right = [Math.cos(a), Math.sin(a), 0];
    this.towards = [Math.sin(a) * Math.cos(e), -Math.cos(a) * Math.cos(e), Math.sin(e)];
    this.up = [-Math.sin(a) * Math.sin(e), Math.cos(a) * Math.sin(e), Math.cos(e)];
    this.wide = wide; this.tall = tall; this.kept = kept;
    let left = Infinity, right = -Infinity, under = Infinity, over = -Infinity;
    for (const corner of this.corners) {
      const p = corner.map((v, i) => v - this.middle[i]), x = dot(p, this.right), y = dot(p, this.up);
      left = Math.min(left, x); right = Math.max(right, x); under = Math.min(under, y); over = Math.max(over, y);
    }
    for (let bottom = ROOM.bottom; bottom <= MOST; bottom += STEP) {
      const across = wide - ROOM.left - ROOM.right, upward = tall - ROOM.top - bottom, fits = Math.min(across / Math.max(right - left, 1e-3), upward / Math.max(over - under, 1e-3));
      const middle = [ROOM.left + across / 2 - fits * (left + right) / 2, ROOM.top + upward / 2 + fits * (under + over) / 2];
      this.scale = fits; this.centre = middle;
      if (bottom + STEP <= MOST && this.meetsKept()) continue;
      this.scale = this.zoom * fits;
      this.centre = [ROOM.left + across / 2 + this.shift[0] - this.scale * (left + right) / 2, ROOM.top + upward / 2 + this.shift[1] + this.scale * (under + over) / 2];
      return;
    }
  }
  /** Whether the rule along the plate would lie under what is kept free. */
  meetsKept() {
    const on = this.plate.map((p) => this.project(...p));
    return on.some((a, k) => on.some((b, l) => l > k && [0, 0.25, 0.5, 0.75, 1].some((t) => a[0] + (b[0] - a[0]) * t < this.kept[0] && a[1] + (b[1] - a[1]) * t + RULE > this.tall - this.kept[1])));
  }
  project = (x, y, z) => {
    const p = [x - this.middle[0], y - this.middle[1], z - this.middle[2]];
    return [this.centre[0] + this.scale * dot(p, this.right), this.centre[1] - this.scale * dot(p, this.up)];
  };
  matrix() {
    const sx = 2 * this.scale / this.wide, sy = 2 * this.scale / this.tall, sz = -0.2 / this.radius;
    const row = (v, s, add) => [v[0] * s, v[1] * s, v[2] * s, add - s * dot(v, this.middle)];
    const x = row(this.right, sx, 2 * this.centre[0] / this.wide - 1), y = row(this.up, sy, 1 - 2 * this.centre[1] / this.tall), z = row(this.towards, sz, 0);
    return new Float32Array([x[0], y[0], z[0], 0, x[1], y[1], z[1], 0, x[2], y[2], z[2], 0, x[3], y[3], z[3], 1]);
  }
}
