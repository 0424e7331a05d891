// The room: the two canvases, what is shown in them, and when they are drawn.
// The lower one holds the picture (raster.js), the upper one all lines (overlay.js).
import { state, on, remember, kept, keep } from "./store.js";
import * as geometry from "./view.js";
import { draw } from "./raster.js";
import { curve, edgeCurve, NEUTRAL } from "./tone.js";
import { still } from "./theme.js";

const lower = document.getElementById("picture"), upper = document.getElementById("overlay");
const pen = lower.getContext("2d", { alpha: false });

export const room = {
  view: { cx: 0, cy: 0, scale: 1, turn: 0, flip: 1, width: innerWidth, height: innerHeight, untouched: true },
  tone: { ...NEUTRAL, tint: kept("tint", "grey") },
  shown: null,    // {disc, edge, limb, levels}: see show
  other: null,    // the same of another day's frame, turned to this one's time
  otherWay: null, // "swap" shows it, "split" to the right of the curtain
  curtain: 0.5,
  frames: 0,      // drawn so far; the tests read it
  canvas: upper,
};

let tables = null, drawOverlay = () => {}, dirty = false, dirtyLines = false;
let movedAt = 0, target = null, flight = null;
const REST_MS = 140;

/** onLines says who draws the upper canvas: f(pen, view). */
export function onLines(f) { drawOverlay = f; }

/**
 * show puts a picture into the room: {disc, edge, limb, levels, edgeLevels}. disc and
 * edge are sources (see raster.js), levels {black, white, sky, bright} the server's;
 * edgeLevels those of another exposure that gives the edge.
 */
export function show(shown) {
  room.shown = shown;
  retone();
}

/** setTone changes the light. */
export function setTone(change) {
  Object.assign(room.tone, change);
  if ("tint" in change) keep("tint", change.tint);
  retone();
}

export function retone() {
  const s = room.shown;
  if (s) {
    const { black, white } = s.levels, e = s.edgeLevels ?? s.levels, { sky, bright } = e;
    tables = { disc: curve(room.tone, black, white), edge: edgeCurve(room.tone, e.black, e.white, sky, bright), ground: 0 };
    tables.ground = tables.edge[Math.round(Math.min(65535, Math.max(0, sky)))];
    room.ground = tables.ground;
    room.tables = tables;
  }
  redraw();
}

/** redraw asks for both canvases to be drawn in the next frame; lines only for the upper one. */
export function redraw() { dirty = true; wake(); }
export function lines() { dirtyLines = true; wake(); }

/** setView moves the view; the picture is drawn quickly until it rests. */
export function setView(next) {
  room.view = next;
  movedAt = performance.now();
  redraw();
  remember(next);
}

/** flyTo turns to another view within 200 ms, or at once when less motion is asked for. */
export function flyTo(next) {
  cancelFlight();
  if (still()) { setView(next); return; }
  const from = room.view, start = performance.now(), turn = geometry.shortestTurn(from.turn, next.turn);
  if (from.flip !== next.flip) { setView(next); return; }
  const step = (now) => {
    const t = Math.min(1, (now - start) / 180), s = t * t * (3 - 2 * t);
    const scale = from.scale * Math.pow(next.scale / from.scale, s);
    setView(t === 1 ? next : { ...next, scale, turn: from.turn + turn * s, cx: from.cx + (next.cx - from.cx) * s, cy: from.cy + (next.cy - from.cy) * s });
    flight = t < 1 ? requestAnimationFrame(step) : null;
  };
  flight = requestAnimationFrame(step);
}
export function cancelFlight() { if (flight) cancelAnimationFrame(flight); flight = null; }

/** free is the part of the window that no panel covers. */
export function free() {
  const top = document.getElementById("dayline").getBoundingClientRect().bottom;
  const tools = document.getElementById("tools").getBoundingClientRect(), foot = document.getElementById("foot").getBoundingClientRect();
  const bottom = Math.min(tools.height ? tools.top : innerHeight, foot.top);
  const ledger = document.getElementById("ledger").getBoundingClientRect();
  const wide = ledger.width && ledger.width < innerWidth * 0.7;
  return { x: 0, y: top, width: wide ? ledger.left : innerWidth, height: (ledger.width && !wide ? Math.min(bottom, ledger.top) : bottom) - top };
}

/** clickError is how exact a click is, picture pixels: half a screen pixel, never below half of the picture's. */
export const clickError = () => Math.max(0.5, 0.5 / room.view.scale);

/** limits bound the zoom: from somewhat smaller than the whole to 48 screen pixels a pixel. */
export function limits() {
  const f = state.frame;
  return { min: f ? 0.4 * Math.min(innerWidth / f.width_px, innerHeight / f.height_px) : 0.05, max: 48 };
}

/** fit is the view that shows the whole disc with its rim, or the whole picture. */
export function fit() {
  const limb = state.geometry?.limb, f = state.frame;
  if (!f) return room.view;
  const circle = limb
    ? { x: limb.x, y: limb.y, radius: limb.r * 1.04 + 50 / Math.max(0.02, Math.min(free().width, free().height) / (2.3 * limb.r)) }
    : { x: (f.width_px - 1) / 2, y: (f.height_px - 1) / 2, radius: Math.max(f.width_px, f.height_px) / 2 };
  return { ...geometry.fitted(room.view, circle, free()), untouched: true };
}

function wake() {
  if (!wake.asked) { wake.asked = true; requestAnimationFrame(frame); }
}

function frame(now) {
  wake.asked = false;
  const moving = now - movedAt < REST_MS;
  if (dirty) {
    dirty = false;
    dirtyLines = true;
    paint(moving);
    if (moving) { // once more, finely, when it rests
      clearTimeout(frame.rest);
      frame.rest = setTimeout(redraw, REST_MS);
    }
  }
  if (dirtyLines) {
    dirtyLines = false;
    const ratio = devicePixelRatio || 1;
    sized(upper, ratio);
    const ink = upper.getContext("2d");
    ink.setTransform(ratio, 0, 0, ratio, 0, 0);
    ink.clearRect(0, 0, room.view.width, room.view.height);
    drawOverlay(ink, room.view);
  }
}

// In motion a very large window is drawn at half its pixels.
function paint(moving) {
  const full = devicePixelRatio || 1;
  const ratio = moving && room.view.width * room.view.height * full * full > 2.2e6 ? full / 2 : full;
  if (sized(lower, ratio) || !target || target.width !== lower.width || target.height !== lower.height) {
    target = pen.createImageData(lower.width, lower.height);
  }
  const s = room.other && room.otherWay === "swap" ? room.other : room.shown;
  if (!s || !tables) {
    new Uint32Array(target.data.buffer).fill(0xff000000);
    pen.putImageData(target, 0, 0);
    return;
  }
  const job = { ratio, view: room.view, sources: s, limb: s.limb, tables, ground: tables.ground, smooth: !moving };
  draw(target, job);
  pen.putImageData(target, 0, 0);
  if (room.other && room.otherWay === "split") {
    draw(target, { ...job, sources: room.other, limb: room.other.limb });
    const x = Math.round(room.curtain * lower.width);
    pen.putImageData(target, 0, 0, x, 0, lower.width - x, lower.height);
  }
  room.frames++;
}

function sized(canvas, ratio) {
  const w = Math.max(1, Math.round(room.view.width * ratio)), h = Math.max(1, Math.round(room.view.height * ratio));
  if (canvas.width === w && canvas.height === h) return false;
  canvas.width = w;
  canvas.height = h;
  return true;
}

function resized() {
  const width = innerWidth, height = innerHeight;
  if (width === room.view.width && height === room.view.height) return;
  room.view = { ...room.view, width, height };
  if (room.view.untouched) room.view = fit();
  redraw();
}
addEventListener("resize", resized);
on("theme", redraw);
