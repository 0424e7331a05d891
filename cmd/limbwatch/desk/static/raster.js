// The raster: every pixel of the window is fetched from the full-depth picture
// through a tone table. It runs on the processor, because that holds 60 frames a
// second everywhere, also where the browser has to imitate a graphics card.
//
// In motion the nearest sample is taken, at rest two by two are blended; zoomed
// in beyond 3 screen pixels the picture's pixels are shown as they are.
import { bestLevel } from "./pixels.js";

/**
 * draw fills an ImageData.
 *
 *   target    ImageData
 *   ratio     its pixels for one CSS pixel
 *   view      see view.js
 *   sources   {disc, edge}: each {levels, fromPicture}; fromPicture is null or the six
 *             numbers [a, b, c, d, e, f] of (x, y) → (a·x + b·y + e, c·x + d·y + f)
 *   limb      null, or {x, y, toUnit} of the picture: what lies within it is disc
 *   tables    {disc, edge}: tone tables
 *   ground    colour where there is no picture
 *   smooth    blend samples
 */
export function draw(target, { ratio, view, sources, limb, tables, ground, smooth }) {
  const out = new Uint32Array(target.data.buffer);
  const w = target.width, h = target.height;
  const step = 1 / (view.scale * ratio);
  const cos = Math.cos(view.turn) * step, sin = Math.sin(view.turn) * step;
  // One screen pixel to the right, and one down, in picture pixels.
  const ax = cos * view.flip, ay = -sin, bx = sin * view.flip, by = cos;
  const originX = view.cx - ax * (w / 2 - 0.5) - bx * (h / 2 - 0.5);
  const originY = view.cy - ay * (w / 2 - 0.5) - by * (h / 2 - 0.5);
  const blend = smooth && view.scale * ratio < 3;
  const disc = sampler(sources.disc, step, ax, ay, blend);
  const edge = sources.edge === sources.disc ? disc : sampler(sources.edge, step, ax, ay, blend);

  for (let row = 0, j = 0; row < h; row++, j += w) {
    const x = originX + bx * row, y = originY + by * row;
    let from = 0, to = 0;
    if (limb) [from, to] = chord(limb, x, y, ax, ay, w);
    if (from >= to) {
      edge(out, j, 0, w, x, y, tables.edge, ground);
      continue;
    }
    if (from > 0) edge(out, j, 0, from, x, y, tables.edge, ground);
    disc(out, j, from, to, x, y, tables.disc, ground);
    if (to < w) edge(out, j, to, w, x, y, tables.edge, ground);
  }
}

/** chord gives the screen pixels [from, to) of a row that lie within the limb. */
export function chord(limb, x, y, ax, ay, w) {
  const [a, b, c, d] = limb.toUnit;
  const dx = x - limb.x, dy = y - limb.y;
  const u = a * dx + b * dy, v = c * dx + d * dy;
  const du = a * ax + b * ay, dv = c * ax + d * ay;
  const A = du * du + dv * dv, B = u * du + v * dv, C = u * u + v * v - 1;
  const D = B * B - A * C;
  if (D <= 0) return [0, 0];
  const root = Math.sqrt(D);
  return [Math.min(w, Math.max(0, Math.ceil((-B - root) / A))), Math.min(w, Math.max(0, Math.floor((-B + root) / A) + 1))];
}

// sampler returns a function that fills screen pixels [from, to) of a row.
function sampler(source, step, ax, ay, blend) {
  const m = source.fromPicture ?? [1, 0, 0, 1, 0, 0];
  const k = bestLevel(source.levels, step * Math.hypot(m[0], m[2]));
  const level = source.levels[k], f = 1 / (1 << k);
  const { width, height, data } = level;
  const dx = (m[0] * ax + m[1] * ay) * f, dy = (m[2] * ax + m[3] * ay) * f;
  const fill = blend ? fillBlended : fillNearest;
  const pad = blend ? 1 : 0;
  return (out, j, from, to, x, y, table, ground) => {
    let sx = (m[0] * x + m[1] * y + m[4] + 0.5) * f - 0.5;
    let sy = (m[2] * x + m[3] * y + m[5] + 0.5) * f - 0.5;
    if (!blend) { sx += 0.5; sy += 0.5; } // so that truncation takes the nearest
    let lo = from, hi = to;
    [lo, hi] = within(lo, hi, sx, dx, width - pad);
    [lo, hi] = within(lo, hi, sy, dy, height - pad);
    if (lo >= hi) { out.fill(ground, j + from, j + to); return; }
    if (lo > from) out.fill(ground, j + from, j + lo);
    if (hi < to) out.fill(ground, j + hi, j + to);
    fill(out, j + lo, j + hi, data, width, sx + dx * lo, sy + dy * lo, dx, dy, table);
  };
}

// within narrows [lo, hi) to where 0 ≤ s + d·i < size.
function within(lo, hi, s, d, size) {
  const edge = 1e-6; // a hair inside, so that rounding along the row cannot step out
  if (Math.abs(d) < 1e-12) return s >= 0 && s < size ? [lo, hi] : [lo, lo];
  const a = (edge - s) / d, b = (size - edge - s) / d;
  return [Math.max(lo, Math.ceil(Math.min(a, b))), Math.min(hi, Math.floor(Math.max(a, b)) + 1)];
}

function fillNearest(out, j, end, data, width, sx, sy, dx, dy, table) {
  for (; j < end; j++, sx += dx, sy += dy) out[j] = table[data[(sy | 0) * width + (sx | 0)]];
}

function fillBlended(out, j, end, data, width, sx, sy, dx, dy, table) {
  for (; j < end; j++, sx += dx, sy += dy) {
    const x = sx | 0, y = sy | 0, fx = sx - x, q = y * width + x;
    const a = data[q], c = data[q + width];
    const top = a + (data[q + 1] - a) * fx, bottom = c + (data[q + width + 1] - c) * fx;
    out[j] = table[(top + (bottom - top) * (sy - y)) | 0];
  }
}
