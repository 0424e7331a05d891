// Pointer, wheel and fingers on the picture: pull, zoom, pinch, press and hold.
// What a press does beyond that is asked of the hands (marking.js, disc.js,
// north.js), the one of the open question first.
//
// A hand may have: down(at, event) → a drag {move(at, event), up(at, event)} or null;
// tap(at, event) → true when it was meant for it; hover(at) → a cursor, or null.
// at is {x, y} on the picture with {sx, sy} on the screen.
import { state } from "./store.js";
import { room, setView, lines, limits, cancelFlight } from "./room.js";
import { toPicture, zoomedAt, panned } from "./view.js";
import { hand } from "./overlay.js";
import { pointAt, pointAway } from "./figures.js";
import { loupeAt, loupeAway } from "./loupe.js";

const hands = [];
export function addHand(question, h) { hands.push({ question, ...h }); }
const asked = () => [...hands].sort((a, b) => (b.question === state.question) - (a.question === state.question));

const canvas = room.canvas;
const fingers = new Map();
let drag = null;   // what the pressed pointer does
let pinch = null;  // {distance, x, y}
const TAP_PX = 4, HOLD_MS = 380, ABOVE_FINGER_PX = 56;

/** placeOf is where an event points, on screen and picture. */
export function placeOf(sx, sy) {
  const [x, y] = toPicture(room.view, sx, sy);
  return { x, y, sx, sy };
}

canvas.addEventListener("pointerdown", (event) => {
  if (event.button > 1) return;
  cancelFlight();
  canvas.focus({ preventScroll: true });
  hand.byKeys = false;
  canvas.setPointerCapture(event.pointerId);
  fingers.set(event.pointerId, event);
  if (fingers.size === 2) { startPinch(); return; }
  if (fingers.size > 2) return;
  const at = placeOf(event.clientX, event.clientY);
  let taken = null;
  if (event.button === 0 && state.frame) for (const h of asked()) if ((taken = h.down?.(at, event))) break;
  drag = { taken, x: event.clientX, y: event.clientY, lastX: event.clientX, lastY: event.clientY, far: false, held: false };
  if (event.pointerType === "touch" && !taken) drag.hold = setTimeout(() => hold(event), HOLD_MS);
  cursor(taken ? "pull" : "");
});

canvas.addEventListener("pointermove", (event) => {
  const pressed = fingers.has(event.pointerId);
  if (pressed) fingers.set(event.pointerId, event);
  if (pinch) { movePinch(); return; }
  const lift = drag?.held ? ABOVE_FINGER_PX : 0;
  const at = placeOf(event.clientX, event.clientY - lift);
  if (pressed && drag) {
    if (Math.hypot(event.clientX - drag.x, event.clientY - drag.y) > TAP_PX) { drag.far = true; clearTimeout(drag.hold); }
    if (drag.held) { aim(at, event); return; }
    if (drag.taken) {
      if (drag.far) drag.taken.move(at, event);
      point(at, event);
    } else if (drag.far) {
      cursor("pull");
      setView(panned({ ...room.view, untouched: false }, event.clientX - drag.lastX, event.clientY - drag.lastY));
    }
    drag.lastX = event.clientX;
    drag.lastY = event.clientY;
    return;
  }
  point(at, event);
  let shape = null;
  if (state.frame) for (const h of asked()) if ((shape = h.hover?.(at))) break;
  cursor(shape ?? "");
});

// A pointer's move is held back until the next frame is drawn; the raw event comes at
// once, so that the figures are there by then.
canvas.addEventListener("pointerrawupdate", (event) => {
  if (event.pointerType === "touch" || fingers.size || pinch || drag) return;
  pointAt(placeOf(event.clientX, event.clientY));
});

canvas.addEventListener("pointerup", (event) => end(event, true));
canvas.addEventListener("pointercancel", (event) => end(event, false));
canvas.addEventListener("pointerleave", (event) => {
  if (event.pointerType === "mouse" && !drag) { pointAway(); loupeAway(); if (!hand.making) hand.cross = null; lines(); }
});

function end(event, meant) {
  fingers.delete(event.pointerId);
  if (pinch) { if (fingers.size < 2) pinch = null; drag = null; return; }
  if (!drag) return;
  const done = drag;
  drag = null;
  clearTimeout(done.hold);
  cursor("");
  const at = placeOf(event.clientX, event.clientY - (done.held ? ABOVE_FINGER_PX : 0));
  loupeAway(!done.held);
  if (event.pointerType === "touch") pointAway();
  if (!meant) { done.taken?.up(at, event, true); return; }
  if (done.taken && done.far) { done.taken.up(at, event); return; }
  done.taken?.up(at, event, true);
  if ((done.far && !done.held) || event.button !== 0 || !state.frame) return;
  for (const h of asked()) if (h.tap?.(at, event)) break;
}

// Press and hold: the point then stands above the finger, with a loupe.
function hold(event) {
  if (!drag || drag.far) return;
  drag.held = true;
  aim(placeOf(drag.x, drag.y - ABOVE_FINGER_PX), event);
}

function aim(at) {
  hand.cross = [at.x, at.y];
  loupeAt(at.sx, at.sy, true);
  pointAt(at);
  lines();
}

function point(at, event) {
  if (event.pointerType === "touch") return;
  hand.cross = [at.x, at.y];
  pointAt(at);
  loupeAt(at.sx, at.sy);
  if (hand.making || hand.editing) lines();
}

canvas.addEventListener("wheel", (event) => {
  event.preventDefault();
  if (!state.frame) return;
  cancelFlight();
  const perLine = event.deltaMode === 1 ? 18 : event.deltaMode === 2 ? 320 : 1;
  const speed = event.ctrlKey ? 0.01 : 0.0022; // a pinch on a pad comes as a wheel with Ctrl
  const factor = Math.exp(-event.deltaY * perLine * speed);
  setView({ ...zoomedAt(room.view, event.clientX, event.clientY, factor, limits()), untouched: false });
  const at = placeOf(event.clientX, event.clientY);
  hand.cross = [at.x, at.y];
  loupeAt(at.sx, at.sy);
}, { passive: false });

function startPinch() {
  clearTimeout(drag?.hold);
  drag?.taken?.up(null, null, true);
  drag = null;
  loupeAway(true);
  pinch = spread();
}

function spread() {
  const [a, b] = [...fingers.values()];
  return { distance: Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY), x: (a.clientX + b.clientX) / 2, y: (a.clientY + b.clientY) / 2 };
}

function movePinch() {
  const now = spread();
  const moved = panned(room.view, now.x - pinch.x, now.y - pinch.y);
  setView({ ...zoomedAt(moved, now.x, now.y, now.distance / (pinch.distance || 1), limits()), untouched: false });
  pinch = now;
}

function cursor(shape) { canvas.dataset.hand = shape; }

canvas.addEventListener("contextmenu", (event) => event.preventDefault());
canvas.addEventListener("dblclick", (event) => event.preventDefault());
