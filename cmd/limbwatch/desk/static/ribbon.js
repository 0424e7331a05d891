// The ribbon: the whole Sun unrolled, Carrington longitude growing to the right, the
// half in view bright in the middle. Places come from the server as parts of the
// ribbon's width and height.
import { state, set, on } from "./store.js";
import { get } from "./api.js";
import { onPointed } from "./figures.js";
import { select } from "./marking.js";
import { refusal } from "./notices.js";

const strip = document.getElementById("ribbon"), canvas = document.getElementById("ribbon-canvas");
const hairline = document.getElementById("hairline");
let wide = 0, tall = 0; // the strip's size when it was drawn
let loaded = "", chosen = () => {};
const VAR = { sunspot: "--spot", plage: "--plage", filament: "--filament", prominence: "--prominence", other: "--other" };

/** onPassage says what happens when a thread is touched: f(passage). */
export function onPassage(f) { chosen = f; }

async function load() {
  const id = state.frame?.id;
  if (!id) { set("ribbon", null); return; }
  loaded = id;
  try {
    const fresh = await get(`/frames/${id}/ribbon`);
    if (loaded === id) set("ribbon", fresh);
  } catch (err) { refusal(err, "ribbon"); }
}

const pad = 8;

function draw() {
  const ratio = devicePixelRatio || 1, width = strip.clientWidth, height = strip.clientHeight;
  canvas.width = width * ratio;
  canvas.height = height * ratio;
  const pen = canvas.getContext("2d"), style = getComputedStyle(document.documentElement), v = (n) => style.getPropertyValue(n);
  pen.scale(ratio, ratio);
  wide = width;
  tall = height;
  const { ribbon } = state;
  if (!ribbon) return;
  const X = (x) => x * width, top = pad - 2, deep = height - pad - 13, Y = (y) => top + y * deep;
  pen.fillStyle = v("--raise");
  pen.fillRect(X(ribbon.from), top, X(ribbon.to - ribbon.from), deep);
  pen.strokeStyle = v("--line");
  pen.lineWidth = 1;
  pen.beginPath();
  pen.moveTo(0, Y(0.5));
  pen.lineTo(width, Y(0.5));
  pen.stroke();
  pen.font = "11px system-ui, sans-serif";
  pen.textAlign = "center";
  pen.fillStyle = v("--dim");
  pen.beginPath();
  for (const tick of ribbon.ticks) {
    const x = Math.round(X(tick.x)) + 0.5;
    pen.moveTo(x, top + deep);
    pen.lineTo(x, top + deep + (tick.seam ? -deep : 3));
    if (tick.label && (tick.strong || width > 700)) pen.fillText(tick.label, Math.min(width - 14, Math.max(14, x)), height - 2);
  }
  pen.strokeStyle = v("--dim");
  pen.stroke();
  for (const limb of [ribbon.from, ribbon.to]) {
    pen.beginPath();
    pen.moveTo(X(limb), top);
    pen.lineTo(X(limb), top + deep);
    pen.strokeStyle = v("--dim");
    pen.stroke();
  }
  pen.textAlign = "left";
  pen.fillText("E", X(ribbon.from) + 4, Y(0) + 9);
  pen.textAlign = "right";
  pen.fillText("W", X(ribbon.to) - 4, Y(0) + 9);
  pen.lineCap = "round";
  for (const thread of ribbon.threads) {
    pen.strokeStyle = v(VAR[thread.kind] ?? "--other");
    pen.globalAlpha = thread.seen ? 0.95 : 0.55;
    pen.lineWidth = 2;
    for (const part of thread.parts) {
      pen.beginPath();
      part.forEach(([x, y], i) => (i ? pen.lineTo(X(x), Y(y)) : pen.moveTo(X(x), Y(y))));
      if (part.length === 1) pen.lineTo(X(part[0][0]) + 0.1, Y(part[0][1]));
      pen.stroke();
    }
  }
  pen.globalAlpha = 1;
  for (const dot of ribbon.dots) {
    const x = X(dot.x), y = Y(dot.y);
    pen.fillStyle = v(VAR[dot.kind] ?? "--other");
    pen.beginPath();
    pen.arc(x, y, dot.id === state.selected ? 4 : 2.5, 0, 7);
    pen.fill();
  }
}

// The pointer's place on the ribbon is an element of its own, so that nothing is
// redrawn while it walks.
onPointed((place) => {
  hairline.hidden = !place.ribbon;
  if (!place.ribbon) return;
  hairline.style.transform = `translateX(${place.ribbon.x * wide}px)`;
  hairline.firstElementChild.style.transform = `translateY(${pad - 2 + place.ribbon.y * (tall - pad - 13)}px)`;
});

function nearest(event) {
  const { ribbon } = state;
  if (!ribbon) return null;
  const box = strip.getBoundingClientRect(), mx = event.clientX - box.left, my = event.clientY - box.top;
  let best = null, least = 12;
  const look = (x, y, what) => {
    const d = Math.hypot(x * box.width - mx, pad - 2 + y * (box.height - pad - 13) - my);
    if (d < least) { least = d; best = what; }
  };
  for (const dot of ribbon.dots) look(dot.x, dot.y, { mark: dot });
  for (const thread of ribbon.threads) for (const part of thread.parts) for (const [x, y] of part) look(x, y, { thread });
  return best;
}

strip.addEventListener("pointermove", (event) => {
  const found = nearest(event);
  strip.style.cursor = found ? "pointer" : "default";
  strip.title = found?.mark?.name ?? found?.thread?.name ?? "";
});
strip.addEventListener("click", (event) => {
  const found = nearest(event);
  if (found?.mark) select(found.mark.id);
  else if (found?.thread) chosen(found.thread);
});

on("frame", load);
on("ribbon theme selected", draw);
addEventListener("resize", draw);
