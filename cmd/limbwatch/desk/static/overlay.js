// All lines above the picture, in the order in which they cover one another.
import { state, on } from "./store.js";
import { room, onLines, lines } from "./room.js";
import { toScreen } from "./view.js";
import { drawMark, handles, cased, path, cross, kindOf } from "./glyphs.js";
import { drawDial } from "./dial.js";
import { short } from "./names.js";

/** What other modules add to the drawing: {below: [f], above: [f]}, f(pen, view, inks). */
export const layers = { below: [], above: [] };

/** hand is what the hand works on: the mark being made, the vertex in grip, the cross. */
export const hand = { making: null, grip: -1, cross: null, hover: null, editing: null };

const DARK = { line: "#ffd9c6", soft: "rgba(255,217,198,.6)", faint: "rgba(255,217,198,.26)", casing: "rgba(12,4,2,.6)", accent: "#ff9a6e" };
const LIGHT = { line: "#3a160a", soft: "rgba(58,22,10,.7)", faint: "rgba(58,22,10,.32)", casing: "rgba(255,250,246,.65)", accent: "#9a3a0c" };

/** inks suit what lies beneath: a dark sky, or the light one of a negative. */
export function inks() {
  const g = room.ground ?? 0xff000000;
  return (g & 255) + (g >> 8 & 255) + (g >> 16 & 255) > 384 ? LIGHT : DARK;
}

/** screen brings picture points to the screen. */
export const screen = (points, view = room.view) => points.map(([x, y]) => toScreen(view, x, y));

onLines((pen, view) => {
  const ink = inks();
  border(pen, view, ink);
  if (state.geometry) {
    drawGrid(pen, view, ink);
    drawLimb(pen, view, ink);
    drawDial(pen, view, ink);
  }
  for (const f of layers.below) f(pen, view, ink);
  for (const mark of state.day?.marks ?? []) {
    if (!mark.points || hand.editing?.id === mark.id) continue;
    const selected = mark.id === state.selected;
    const points = screen(mark.points, view);
    drawMark(pen, mark, points, { selected, away: !mark.own });
    if (selected) {
      if (mark.ellipse) ellipse(pen, view, mark.ellipse, ink);
      if (mark.own) handles(pen, points, hand.grip, kindOf(mark.kind).ink);
    }
    if (selected || mark.id === hand.hover) name(pen, mark, points, ink);
  }
  if (hand.editing) {
    const points = screen(hand.editing.points, view);
    drawMark(pen, hand.editing, points, { selected: true });
    handles(pen, points, hand.grip, kindOf(hand.editing.kind).ink);
  }
  if (hand.making?.points.length) {
    const ghostly = [...hand.making.points];
    if (hand.cross && hand.making.shape !== "point") ghostly.push(hand.cross);
    const points = screen(ghostly, view);
    if (points.length > 1) drawMark(pen, { ...hand.making, shape: points.length > 2 ? hand.making.shape : "line" }, points, { selected: true });
    handles(pen, points.slice(0, hand.making.points.length), -1, kindOf(hand.making.kind).ink);
  }
  for (const f of layers.above) f(pen, view, ink);
  if (hand.cross && (hand.making || document.activeElement === room.canvas && hand.byKeys)) {
    const [x, y] = toScreen(view, ...hand.cross);
    cross(pen, x, y, hand.making ? kindOf(hand.making.kind).ink : ink.accent);
  }
});

// The picture's own edge, barely.
function border(pen, view, ink) {
  const f = state.frame;
  if (!f) return;
  const w = f.width_px - 0.5, h = f.height_px - 0.5;
  path(pen, screen([[-0.5, -0.5], [w, -0.5], [w, h], [-0.5, h]], view), true);
  pen.strokeStyle = ink.faint;
  pen.lineWidth = 0.5;
  pen.stroke();
}

function drawLimb(pen, view, ink) {
  const asked = state.question === "disc";
  path(pen, screen(state.geometry.limb.outline, view), true);
  pen.setLineDash(asked ? [] : [1, 3]);
  if (asked) cased(pen, ink.accent, 1.2, ink.casing);
  else {
    pen.strokeStyle = ink.faint;
    pen.lineWidth = 1;
    pen.stroke();
  }
  pen.setLineDash([]);
}

function drawGrid(pen, view, ink) {
  const g = state.geometry;
  for (const line of g.grid ?? []) {
    path(pen, screen(line.points, view), false);
    if (line.major) cased(pen, ink.soft, 1, "rgba(0,0,0,.25)");
    else {
      pen.strokeStyle = ink.faint;
      pen.lineWidth = 1;
      pen.stroke();
    }
  }
  pen.font = "11px system-ui, sans-serif";
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  for (const label of g.labels ?? []) {
    const [x, y] = toScreen(view, label.x, label.y);
    text(pen, label.text, x, y, ink.line, ink.casing);
  }
}

/** text writes with a casing. */
export function text(pen, words, x, y, ink, casing) {
  pen.strokeStyle = casing;
  pen.lineWidth = 3;
  pen.lineJoin = "round";
  pen.strokeText(words, x, y);
  pen.fillStyle = ink;
  pen.fillText(words, x, y);
}

function name(pen, mark, points, ink) {
  const words = short(mark.name, 29), right = points.reduce((a, b) => (b[0] > a[0] ? b : a)), left = points.reduce((a, b) => (b[0] < a[0] ? b : a));
  pen.font = "12px system-ui, sans-serif";
  pen.textBaseline = "middle";
  const beyond = right[0] + 13 + pen.measureText(words).width > room.view.width; // then it stands on the other side
  pen.textAlign = beyond ? "right" : "left";
  text(pen, words, beyond ? left[0] - 13 : right[0] + 13, beyond ? left[1] : right[1], kindOf(mark.kind).ink, "rgba(0,0,0,.75)");
}

/** ellipse draws an error ellipse, one standard deviation, when it is large enough to be seen. */
export function ellipse(pen, view, points, ink) {
  const p = screen(points, view);
  const wide = Math.max(...p.map((q) => q[0])) - Math.min(...p.map((q) => q[0]));
  if (wide < 3) return;
  path(pen, p, true);
  cased(pen, ink.line, 0.8, ink.casing);
}

on("marks selected geometry question day", lines);
