// Two days at once: the other day's picture, turned by the server to this one's time
// by the Sun's rotation, so that the same thing stays at the same place. Side by side
// behind a curtain, or in alternation. And the other day's marks as ghosts.
import { state, set, on } from "./store.js";
import { get } from "./api.js";
import { room, redraw, lines, free } from "./room.js";
import { load } from "./pictures.js";
import { before } from "./shore.js";
import { layers, screen, ellipse, text } from "./overlay.js";
import { ring } from "./dial.js";
import { drawMark, kindOf } from "./glyphs.js";
import { spotFor, sayable } from "./names.js";
import { notice, refusal } from "./notices.js";

const curtain = document.getElementById("curtain"), which = document.getElementById("which");
let otherDay = "";
let ghosts = [], due = [], ghostsShown = false, ghostsOf = "";

/** cycle goes on: nothing, the curtain, alternation, nothing. */
export async function cycle() {
  if (!state.frame) return;
  const now = state.compare;
  if (!now) await start("split");
  else if (now.way === "split") await start("swap");
  else stop();
}

async function start(way) {
  const other = state.compare?.frame ?? (await before())?.frame;
  if (!other) { notice("there is no earlier day with a picture", { hint: "go to a later day on the shore, or add one", key: "compare" }); return; }
  await open({ frame: other, way });
}

/** open shows another frame: {frame, way}. */
export async function open(compare) {
  if (!state.frame) return;
  const shown = state.frame.id, path = `/frames/${shown}/turned/${compare.frame}/pixels`;
  notice("the other day is being turned to this time", { key: "compare" });
  try {
    await load(path, (picture) => {
      if (state.frame?.id !== shown) return;
      const source = { levels: picture.levels, fromPicture: null };
      room.other = { disc: source, edge: source, limb: room.shown?.limb ?? null };
      room.otherWay = compare.way;
      redraw();
    });
  } catch (err) { refusal(err, "compare"); stop(); return; }
  curtain.hidden = compare.way !== "split";
  const f = free();
  room.curtain = (f.x + f.width / 2) / innerWidth;
  place();
  redraw();
  set("compare", compare);
  otherDay = state.days.find((d) => d.frames.includes(compare.frame))?.title ?? compare.frame;
  tell();
  notice(compare.way === "split" ? `${otherDay}, turned to this time, to the right of the curtain` : `${otherDay}, turned to this time; full stop shows the one and the other`, { key: "compare" });
}

export function stop() {
  if (!state.compare && !room.other) return false;
  room.other = room.otherWay = null;
  curtain.hidden = which.hidden = true;
  set("compare", null);
  redraw();
  return true;
}

/** swap shows the one day and the other. */
export function swap() {
  if (!state.compare || state.compare.way !== "swap") return false;
  room.otherWay = room.otherWay === "swap" ? "off" : "swap";
  tell();
  redraw();
  return true;
}

// tell names the days that are seen: one on either side of the curtain, or the one that
// is shown.
function tell() {
  const [left, right] = which.children, split = room.otherWay === "split", turned = `${otherDay}, turned to this time`;
  left.textContent = split || room.otherWay === "off" ? state.day.title : turned;
  right.textContent = turned;
  right.hidden = !split;
  which.className = split ? "split" : "";
  which.hidden = false;
  place();
}

/** haunt lays the earlier day's marks over this one while a key is held. */
export async function haunt(shownNow) {
  ghostsShown = shownNow;
  if (shownNow) {
    await expect();
    if (ghostsShown && ghostsOf && !ghosts.length) notice(why || "nothing is expected here", { key: "ghosts" });
  }
  lines();
}

// expect asks what is expected on the frame that is shown, once; and again where the
// day was read anew meanwhile.
let why = "", expecting = null;
async function expect() {
  for (let known = true; known && state.frame && ghostsOf !== state.frame.id;) known = await (expecting ??= ask(state.frame.id));
}

function ask(id) {
  const asked = get(`/frames/${id}/ghosts`).then((answer) => {
    if (state.frame?.id !== id || expecting !== asked) return true;
    ({ ghosts, due, why } = answer);
    ghostsOf = id;
    return true;
  }, (err) => { refusal(err, "ghosts"); return false; }).finally(() => { if (expecting === asked) expecting = null; });
  return asked;
}

/** ghostAt gives what is expected near a picture point, within so many CSS pixels. */
export async function ghostAt(x, y, reach = 40) {
  await expect();
  const [[sx, sy]] = screen([[x, y]]);
  let best = null, least = reach;
  for (const g of ghosts) for (const [px, py] of screen(g.points)) {
    const d = Math.hypot(px - sx, py - sy);
    if (d < least) { least = d; best = g; }
  }
  return best;
}

layers.below.push((pen, view, ink) => {
  if (!ghostsShown || ghostsOf !== state.frame?.id) return;
  const taken = [];
  pen.font = "11px system-ui, sans-serif";
  for (const g of ghosts) {
    const points = screen(g.points, view);
    drawMark(pen, g, points, { ghost: true });
    if (g.ellipse) ellipse(pen, view, g.ellipse, ink);
    const name = sayable(g.name), [x, y] = spotFor(taken, points[0], pen.measureText(name).width);
    pen.textAlign = "left";
    pen.textBaseline = "middle";
    text(pen, name, x, y, kindOf(g.kind).ink, "rgba(0,0,0,.75)");
  }
  // What is due at the edges: a notch on the dial, pointing in or out.
  if (state.geometry?.rim) for (const d of due) {
    const base = ring(view, d.pa_deg, d.arriving ? 16 : 6), tip = ring(view, d.pa_deg, d.arriving ? 6 : 16);
    const [ax, ay] = ring(view, d.pa_deg - 1, d.arriving ? 16 : 6), [bx, by] = ring(view, d.pa_deg + 1, d.arriving ? 16 : 6);
    pen.beginPath();
    pen.moveTo(ax, ay);
    pen.lineTo(...tip);
    pen.lineTo(bx, by);
    pen.closePath();
    pen.fillStyle = kindOf(d.kind).ink;
    pen.fill();
    // Its name and hour stand outside, kept in the window and off one another.
    const words = sayable(d.short), left = base[0] < view.width / 2, wide = pen.measureText(words).width, f = free();
    let [x, y] = ring(view, d.pa_deg, 40);
    x = left ? Math.max(f.x + wide + 8, x) : Math.min(f.x + f.width - wide - 8, x);
    const from = left ? x - wide : x;
    while (taken.some((t) => from < t.x + t.wide && t.x < from + wide && Math.abs(t.y - y) < 14)) y += 14;
    taken.push({ x: from, y, wide });
    pen.textAlign = left ? "right" : "left";
    text(pen, words, x, y, ink.line, ink.casing);
  }
});

function place() {
  curtain.style.left = which.style.left = `${room.curtain * 100}%`;
  curtain.setAttribute("aria-valuenow", String(Math.round(room.curtain * 100)));
}
const draw = (part) => { room.curtain = Math.min(0.98, Math.max(0.02, part)); place(); redraw(); };
curtain.addEventListener("pointerdown", (event) => curtain.setPointerCapture(event.pointerId));
curtain.addEventListener("pointermove", (event) => { if (event.buttons) draw(event.clientX / innerWidth); });
curtain.addEventListener("keydown", (event) => {
  if (event.key === "ArrowLeft") draw(room.curtain - 0.02);
  else if (event.key === "ArrowRight") draw(room.curtain + 0.02);
  else return;
  event.preventDefault();
  event.stopPropagation();
});

// What was expected no longer is where a mark was joined meanwhile.
on("frame day", () => {
  ghosts = due = [];
  ghostsOf = "";
  expecting = null;
  if (ghostsShown) haunt(true);
});
on("frame", (frame) => { if (frame) stop(); });
