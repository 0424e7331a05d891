// The figures that walk with the pointer. Every one is computed and worded by the
// server; one request is under way at a time, and the newest position wins.
import { state, on } from "./store.js";
import { placeOf } from "./line.js";
import { screen } from "./overlay.js";
import { free, clickError } from "./room.js";

const box = document.getElementById("figures"), oval = document.getElementById("error-ellipse");
let wanted = null, busy = false, tried = () => ({}), space = null; // the free part of the window, measured once a layout
const NEAR_PX = 22;

/** times holds, for the tests, how long the last figures took from event to page, in ms. */
export const times = [];

/** pointAt asks for the figures of a place. */
export function pointAt(at) {
  if (!state.geometry) return;
  if (wanted?.sx === at.sx && wanted.sy === at.sy && wanted.x === at.x && wanted.y === at.y) return; // asked by the raw event already
  wanted = { ...at, since: performance.now() };
  ask();
}

/** onTried says what is proposed and not kept: f gives it as placeOf takes it. */
export function onTried(f) { tried = f; }

// again asks anew for the same place, when what is proposed has changed.
function again() {
  if (!wanted || box.hidden) return;
  wanted = { ...wanted, asked: false, since: performance.now() };
  ask();
}

/** pointAway hides the figures. */
export function pointAway() {
  wanted = null;
  box.hidden = true;
  oval.setAttribute("hidden", "");
}

async function ask() {
  if (busy || !wanted) return;
  busy = true;
  const mine = wanted;
  wanted.asked = true;
  try {
    const place = await placeOf(state.frame.id, mine.x, mine.y, { sigma: clickError(), ...tried() });
    if (wanted) {
      show(place, mine, wanted);
      times.push(performance.now() - mine.since);
      if (times.length > 1000) times.shift();
    }
  } catch {
    box.hidden = true; // the notice of a lost server is enough
  }
  busy = false;
  if (wanted && !wanted.asked) ask();
}

// The figures are of the place asked; they stand at the pointer, which may have moved on.
function show(place, of, at) {
  const [head, ...rest] = place.lines;
  if (!box.firstChild) box.append(document.createElement("b"), document.createTextNode(""));
  box.firstChild.textContent = head;
  box.lastChild.data = rest.length ? "\n" + rest.join("\n") : "";
  box.classList.toggle("proposed", Boolean(place.as_proposed));
  box.dataset.x = of.x;
  box.dataset.y = of.y;
  box.hidden = false;
  // Within a hand's width of the pointer, never under it, never off the window.
  // The size is known from the text, so that no layout is forced.
  const wide = Math.max(132, Math.max(...place.lines.map((l) => l.length)) * 7 + 16), high = place.lines.length * 18 + 8;
  const f = space ??= free();
  const x = at.sx + NEAR_PX + wide < f.x + f.width ? at.sx + NEAR_PX : at.sx - NEAR_PX - wide;
  const y = at.sy + NEAR_PX + high < f.y + f.height ? at.sy + NEAR_PX : at.sy - NEAR_PX - high;
  box.style.transform = `translate(${Math.round(x)}px, ${Math.round(y)}px)`;
  surround(place.ellipse);
  pointed(place);
}

// The error ellipse is an element of its own, so that no canvas is redrawn while the
// pointer walks. One too small to be seen is left out.
function surround(points) {
  const p = points ? screen(points) : [];
  const xs = p.map((q) => q[0]), ys = p.map((q) => q[1]), left = Math.min(...xs), top = Math.min(...ys);
  const wide = Math.max(...xs) - left, high = Math.max(...ys) - top;
  if (!p.length || Math.max(wide, high) < 3) { oval.setAttribute("hidden", ""); return; }
  oval.removeAttribute("hidden");
  oval.style.width = `${Math.ceil(wide) + 4}px`;
  oval.style.height = `${Math.ceil(high) + 4}px`;
  oval.style.transform = `translate(${left - 2}px, ${top - 2}px)`;
  const line = p.map(([x, y]) => `${(x - left + 2).toFixed(1)},${(y - top + 2).toFixed(1)}`).join(" ");
  for (const polygon of oval.children) polygon.setAttribute("points", line);
}

let pointed = () => {};
/** onPointed hears where the pointer is on the Sun; the ribbon draws a hairline there. */
export function onPointed(f) { pointed = f; }

on("frame", pointAway);
on("propose geometry", again);
on("frame layout question", () => { space = null; });
addEventListener("resize", () => { space = null; });
