// The rim dial: the ring just outside the limb. It carries the position angles and
// N E S W, shows the prominences as arcs, and is the handle for north (north.js).
// Every degree of it comes from the server as a point of the limb; here it is only
// moved outward along the line from the centre.
import { state } from "./store.js";
import { toScreen } from "./view.js";
import { cased } from "./glyphs.js";

const LETTERS = { 0: "N", 90: "E", 180: "S", 270: "W" };

/** ring gives the screen point of a position angle, so many CSS pixels outside the limb. */
export function ring(view, deg, out) {
  const { limb, rim } = state.geometry;
  const at = ((deg % 360) + 360) % 360, i = Math.floor(at), f = at - i;
  const a = rim[i], b = rim[(i + 1) % 360];
  const [x, y] = toScreen(view, a[0] + (b[0] - a[0]) * f, a[1] + (b[1] - a[1]) * f);
  const [cx, cy] = toScreen(view, limb.x, limb.y);
  const far = Math.hypot(x - cx, y - cy) || 1;
  return [x + (x - cx) / far * out, y + (y - cy) / far * out];
}

/** degreeAt is the position angle of the dial nearest to a screen point, and its distance from the limb there. */
export function degreeAt(view, sx, sy) {
  const { limb, rim } = state.geometry;
  const [cx, cy] = toScreen(view, limb.x, limb.y);
  const d = Math.hypot(sx - cx, sy - cy) || 1;
  let best = -2, deg = 0;
  for (let i = 0; i < 360; i++) {
    const [x, y] = toScreen(view, ...rim[i]);
    const near = ((x - cx) * (sx - cx) + (y - cy) * (sy - cy)) / (d * (Math.hypot(x - cx, y - cy) || 1));
    if (near > best) { best = near; deg = i; }
  }
  const [x, y] = toScreen(view, ...rim[deg]);
  return { deg, out: d - Math.hypot(x - cx, y - cy) };
}

export const BAND = { from: 6, to: 30 }; // CSS pixels outside the limb

export function drawDial(pen, view, ink) {
  const g = state.geometry;
  if (!g.rim) return;
  const asked = state.question === "north";
  const onRim = toScreen(view, ...g.rim[0]), centre = toScreen(view, g.limb.x, g.limb.y);
  const radius = Math.hypot(onRim[0] - centre[0], onRim[1] - centre[1]);
  const fine = radius > 420 ? 1 : radius > 160 ? 2 : 5;

  pen.beginPath();
  for (let deg = 0; deg < 360; deg += fine) {
    if (deg % 10 === 0) continue;
    const from = ring(view, deg, 8), to = ring(view, deg, deg % 5 === 0 ? 13 : 11);
    pen.moveTo(...from);
    pen.lineTo(...to);
  }
  pen.strokeStyle = asked ? ink.soft : ink.faint;
  pen.lineWidth = 1;
  pen.stroke();
  pen.beginPath();
  for (let deg = 0; deg < 360; deg += 10) {
    pen.moveTo(...ring(view, deg, 8));
    pen.lineTo(...ring(view, deg, deg % 90 === 0 ? 20 : 16));
  }
  pen.strokeStyle = asked ? ink.line : ink.soft;
  pen.stroke();

  pen.textAlign = "center";
  pen.textBaseline = "middle";
  const numbers = radius > 130 ? 30 : 90;
  for (let deg = 0; deg < 360; deg += numbers) {
    const letter = LETTERS[deg];
    pen.font = letter ? "600 13px system-ui, sans-serif" : "11px system-ui, sans-serif";
    const [x, y] = ring(view, deg, 29);
    pen.strokeStyle = ink.casing;
    pen.lineWidth = 3;
    pen.strokeText(letter ?? deg, x, y);
    pen.fillStyle = letter ? ink.line : ink.soft;
    pen.fillText(letter ?? deg, x, y);
  }
  axis(pen, view, ink);
  prominences(pen, view);
  if (asked) handle(pen, view, ink);
}

// The Sun's own axis: a short stroke at either pole, the north one tipped.
function axis(pen, view, ink) {
  const { axis: ends } = state.geometry;
  if (!ends) return;
  for (const [k, line] of [ends.north, ends.south].entries()) {
    const [[x0, y0], [x1, y1]] = line.map((p) => toScreen(view, ...p));
    const d = Math.hypot(x1 - x0, y1 - y0) || 1, ux = (x1 - x0) / d, uy = (y1 - y0) / d;
    pen.beginPath();
    pen.moveTo(x0, y0);
    pen.lineTo(x0 + ux * 26, y0 + uy * 26);
    if (k === 0) {
      pen.moveTo(x0 + ux * 20 - uy * 4, y0 + uy * 20 + ux * 4);
      pen.lineTo(x0 + ux * 26, y0 + uy * 26);
      pen.lineTo(x0 + ux * 20 + uy * 4, y0 + uy * 20 - ux * 4);
    }
    cased(pen, ink.accent, 1.3, ink.casing);
    if (k === 0) named(pen, x0 + ux * 42, y0 + uy * 42, view, ink);
  }
}

// The name of the axis, where it does not lie on the dial's own letters.
function named(pen, x, y, view, ink) {
  const wide = 64, near = [0, 90, 180, 270].some((deg) => { const [lx, ly] = ring(view, deg, 29); return Math.abs(lx - x) < wide / 2 + 8 && Math.abs(ly - y) < 14; });
  if (near) return;
  pen.font = "11px system-ui, sans-serif";
  pen.textAlign = "center";
  pen.strokeStyle = ink.casing;
  pen.lineWidth = 3;
  pen.strokeText("Sun's N", x, y);
  pen.fillStyle = ink.accent;
  pen.fillText("Sun's N", x, y);
}

// Prominences lie on the dial as arcs as long as they are.
function prominences(pen, view) {
  for (const mark of state.day?.marks ?? []) {
    const edge = mark.edge;
    if (!edge) continue;
    const span = ((edge.to_deg - edge.from_deg) % 360 + 360) % 360;
    const from = span < 1.2 ? edge.from_deg - (1.2 - span) / 2 : edge.from_deg, length = Math.max(1.2, span);
    pen.beginPath();
    for (let d = 0; d <= length + 1e-9; d += Math.min(1, length / 2)) pen.lineTo(...ring(view, from + d, 4));
    cased(pen, "#ffae1a", mark.id === state.selected ? 4 : 2.6);
  }
}

function handle(pen, view, ink) {
  const [x, y] = ring(view, 0, 44), [ix, iy] = ring(view, 0, 34);
  pen.beginPath();
  pen.moveTo(ix, iy);
  pen.lineTo(x, y);
  cased(pen, ink.accent, 1.5, ink.casing);
  pen.beginPath();
  pen.arc(x, y, 7, 0, 7);
  pen.fillStyle = ink.accent;
  pen.fill();
}
