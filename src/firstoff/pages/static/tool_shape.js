// The tool with what carries it, turned about its axis: faces, outline as it is seen, and the winding of its edges. Heights from the tip, mm.
const ROUND = 48, EDGE = 0;

/** Rows of the outline up to `top`. */
function upTo(outline, top) {
  const rows = [];
  for (const [part, r0, z0, r1, z1] of outline) {
    if (z0 >= top) break;
    const share = z1 > top ? (top - z0) / (z1 - z0) : 1;
    rows.push([part, r0, z0, r0 + share * (r1 - r0), Math.min(z1, top)]);
  }
  return rows;
}

export const heightOf = (tool) => Math.max(...tool.outline.map((row) => row[4]));

/**
 * `tool` as scene.py sends it, drawn up to `top`; `wave`: how far the line where it is broken off goes up and down (0: it ends there).
 * Gives faces [places, normals], `lines` seen from `camera`, `winding` lines on the fluted part.
 */
export function toolShape(tool, top, wave, camera) {
  const rows = upTo(tool.outline, top), places = [], normals = [], lines = [], winding = [];
  if (!rows.length) return { places, normals, lines, winding };
  const last = rows[rows.length - 1], end = last[4];
  const turn = Array.from({ length: ROUND + 1 }, (_, i) => [Math.cos(2 * Math.PI * i / ROUND), Math.sin(2 * Math.PI * i / ROUND)]);
  const lift = ([c, s]) => wave * (c * camera.right[0] + s * camera.right[1]) * (1.5 - 2.5 * (c * camera.right[0] + s * camera.right[1]) ** 2);
  const put = (t, r, z, n) => { places.push(r * t[0], r * t[1], z + (z === end && wave ? lift(t) : 0)); normals.push(n[0] * t[0], n[0] * t[1], n[1]); };
  for (const [, r0, z0, r1, z1] of rows) {
    const long = Math.hypot(r1 - r0, z1 - z0), n = long ? [(z1 - z0) / long, (r0 - r1) / long] : [1, 0];
    for (let i = 0; i < ROUND; i++) for (const [k, one] of [[i, 0], [i + 1, 0], [i + 1, 1], [i, 0], [i + 1, 1], [i, 1]]) put(turn[k], one ? r1 : r0, one ? z1 : z0, n);
  }
  const rim = (r, z, broken) => { for (let i = 0; i < ROUND; i++) { if (broken === "dashed" && i % 2) continue; for (const k of [i, i + 1]) lines.push(r * turn[k][0], r * turn[k][1], z + (broken ? lift(turn[k]) : 0)); } };
  for (let i = 0; i < ROUND; i++) for (const k of [i, i + 1, -1]) { if (k < 0) { places.push(0, 0, end); normals.push(0, 0, 1); } else { put(turn[k], last[3], end, [0, 1]); normals.splice(-3, 3, 0, 0, 1); } }
  rows.forEach(([part, r0, z0, r1, z1], i) => {
    outlineOf(r0, z0, r1, z1, camera, lines, z1 === end && wave ? lift : null);
    const next = rows[i + 1];
    const turns = next && Math.abs(Math.atan2(next[4] - next[2], next[3] - next[1]) - Math.atan2(z1 - z0, r1 - r0)) > 0.4;
    if (next && (turns || next[0] !== part)) rim(r1, z1);
  });
  rim(last[3], end, wave ? (tool.goes_on && end >= heightOf(tool) - 1e-6 ? "dashed" : "waved") : null);
  wind(tool, rows, winding);
  return { places, normals, lines, winding };
}

/** The lines where one stretch, a cylinder or a cone, turns away from the eye. */
function outlineOf(r0, z0, r1, z1, { right, towards }, lines, lift) {
  if (z1 - z0 < 1e-9) return;
  const flat = Math.hypot(towards[0], towards[1]);
  if (flat < 1e-6) return;
  const ahead = [towards[0] / flat, towards[1] / flat], c = -(r0 - r1) / (z1 - z0) * towards[2] / flat;
  if (Math.abs(c) >= 1) return;
  const s = Math.sqrt(1 - c * c);
  for (const side of [-1, 1]) {
    const t = [c * ahead[0] + side * s * right[0], c * ahead[1] + side * s * right[1]];
    lines.push(r0 * t[0], r0 * t[1], z0, r1 * t[0], r1 * t[1], z1 + (lift ? lift(t) : 0));
  }
}

/** Edges that wind round the fluted part, where their number and helix are known. */
function wind(tool, rows, out) {
  const fluted = rows.filter(([part, r0, , r1]) => part === EDGE && Math.min(r0, r1) > 0);
  const widest = Math.max(...fluted.map((row) => row[3]), 0);
  if (!tool.edges || !widest) return;
  const lead = Math.tan(tool.helix) / widest;
  for (let k = 0; k < tool.edges; k++) for (const [, r0, z0, r1, z1] of fluted) {
    const steps = Math.max(1, Math.ceil((z1 - z0) * lead / 0.2));
    for (let i = 0; i < steps; i++) for (const share of [i / steps, (i + 1) / steps]) {
      const z = z0 + share * (z1 - z0), r = (r0 + share * (r1 - r0)) * 1.002, a = 2 * Math.PI * k / tool.edges + lead * z;
      out.push(r * Math.cos(a), r * Math.sin(a), z);
    }
  }
}
