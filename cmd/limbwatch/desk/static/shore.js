// The shore: every day a small disc with its marks, at its true distance in time, so
// that cloud is seen as a gap. The discs have solar north up; the server gives the
// place of every dot and the day's number.
import { state, on, changed } from "./store.js";
import { get } from "./api.js";
import { moreDays } from "./news.js";
import { refusal } from "./notices.js";
import { kindOf } from "./glyphs.js";

const strip = document.getElementById("shore"), canvas = document.getElementById("shore-canvas");
const RADIUS = 13;
let goTo = () => {}, middle = null, pxPerDay = 46, pull = null;

/** onDay says what happens when a day is chosen: f(day). */
export function onDay(f) { goTo = f; }

// more brings the days that follow those at hand on one side, when there are any.
let asking = null;
function more(side) {
  if (!state[side] || !state.days.length) return null;
  return asking ??= (async () => {
    const { from, to } = state;
    try {
      const answer = await get(side === "earlier" ? `/days?before=${from}` : `/days?from=${to}`);
      if (state.from !== from || state.to !== to) return; // others came in their place
      Object.assign(state, side === "earlier" ? { from: answer.from, earlier: answer.earlier } : { to: answer.to, later: answer.later });
      moreDays(answer);
      changed("days");
    } catch (err) { refusal(err, "days"); }
  })().finally(() => { asking = null; });
}

// beside is the day so many on from the open one.
async function beside(by) {
  const step = () => state.days[state.days.findIndex((d) => d.id === state.day?.id) + by];
  if (!step()) await more(by < 0 ? "earlier" : "later");
  return step() ?? null;
}

/** walk goes to the next day, or the one before. */
export async function walk(by) {
  const next = await beside(by);
  if (next) goTo(next);
}

/** before is the day before the open one. */
export const before = () => beside(-1);

/**
 * named gives the words under each disc of places ({day, x}): where two would touch, the
 * later one is the day of the month alone. wide measures words.
 */
export function named(places, wide) {
  let end = -Infinity;
  return places.map(({ day, x }) => {
    const words = x - wide(day.short) / 2 < end + 4 ? day.short.split(" ")[0] : day.short;
    end = x + wide(words) / 2;
    return words;
  });
}

const xOf = (day, width) => width / 2 + (day.day_number - middle) * pxPerDay;

// A day of two sittings would lie on itself: such discs are moved apart a little.
function places(width) {
  const out = [];
  for (const day of state.days) {
    let x = xOf(day, width);
    const last = out.at(-1);
    if (last && x - last.x < 2 * RADIUS + 4) x = last.x + 2 * RADIUS + 4;
    out.push({ day, x });
  }
  return out;
}

function draw() {
  const ratio = devicePixelRatio || 1, width = strip.clientWidth, height = strip.clientHeight;
  canvas.width = width * ratio;
  canvas.height = height * ratio;
  const pen = canvas.getContext("2d"), style = getComputedStyle(document.documentElement);
  const ink = style.getPropertyValue("--ink"), dim = style.getPropertyValue("--dim"), line = style.getPropertyValue("--line"), accent = style.getPropertyValue("--accent");
  pen.scale(ratio, ratio);
  if (!state.days.length) return;
  if (middle === null) middle = state.day?.day_number ?? state.days.at(-1).day_number;
  const y = 17;
  // the days themselves, as ticks on the water line
  const first = Math.floor(middle - width / 2 / pxPerDay), last = Math.ceil(middle + width / 2 / pxPerDay);
  pen.strokeStyle = line;
  pen.lineWidth = 1;
  pen.beginPath();
  for (let d = first; d <= last; d++) {
    const x = Math.round(width / 2 + (d - middle) * pxPerDay) + 0.5;
    pen.moveTo(x, y - 2);
    pen.lineTo(x, y + 3);
  }
  pen.moveTo(0, y + 0.5);
  pen.lineTo(width, y + 0.5);
  pen.stroke();
  // What comes into sight soon is brought meanwhile.
  if (xOf(state.days[0], width) > -width / 2) more("earlier");
  if (xOf(state.days.at(-1), width) < 1.5 * width) more("later");
  pen.font = "11px system-ui, sans-serif";
  pen.textAlign = "center";
  const discs = places(width), words = named(discs, (t) => pen.measureText(t).width);
  for (const [i, { day, x }] of discs.entries()) {
    if (x < -RADIUS || x > width + RADIUS) continue;
    const open = day.id === state.day?.id;
    pen.beginPath();
    pen.arc(x, y, RADIUS, 0, 7);
    pen.fillStyle = style.getPropertyValue("--raise");
    pen.fill();
    pen.lineWidth = open ? 2 : 1;
    pen.strokeStyle = open ? accent : dim;
    pen.stroke();
    for (const dot of day.dots) {
      pen.beginPath();
      pen.arc(x + dot.u * RADIUS, y - dot.v * RADIUS, dot.kind === "sunspot" ? 1.6 : 2, 0, 7);
      pen.fillStyle = style.getPropertyValue({ sunspot: "--spot", plage: "--plage", filament: "--filament", prominence: "--prominence" }[dot.kind] ?? "--other");
      pen.fill();
    }
    pen.fillStyle = open ? ink : dim;
    pen.fillText(words[i], x, 42);
  }
}

function at(event) {
  const x = event.clientX - strip.getBoundingClientRect().left;
  return places(strip.clientWidth).find((p) => Math.abs(p.x - x) <= RADIUS + 3)?.day ?? null;
}

strip.addEventListener("pointerdown", (event) => { pull = { x: event.clientX, middle, moved: false }; strip.setPointerCapture(event.pointerId); });
strip.addEventListener("pointermove", (event) => {
  const day = at(event);
  strip.style.cursor = day ? "pointer" : "grab";
  strip.title = day ? day.title : "";
  if (!pull) return;
  const dx = event.clientX - pull.x;
  if (Math.abs(dx) > 4) pull.moved = true;
  if (pull.moved) { middle = pull.middle - dx / pxPerDay; draw(); }
});
strip.addEventListener("pointerup", (event) => {
  const day = pull && !pull.moved ? at(event) : null;
  pull = null;
  if (day) goTo(day);
});
strip.addEventListener("wheel", (event) => {
  event.preventDefault();
  if (event.ctrlKey) pxPerDay = Math.min(160, Math.max(8, pxPerDay * Math.exp(-event.deltaY * 0.01)));
  else middle += (event.deltaX || event.deltaY) / pxPerDay;
  draw();
}, { passive: false });

function told() {
  strip.setAttribute("aria-label", state.day ? `Days; open is ${state.day.title}${state.earlier || state.later ? "" : `, ${state.days.length} in all`}. Left and right arrow keys walk them.` : "Days");
}

on("day", () => {
  const open = state.days.find((d) => d.id === state.day?.id);
  if (open) {
    const width = strip.clientWidth, x = middle === null ? -1 : xOf(open, width);
    if (x < 60 || x > width - 60) middle = open.day_number;
  }
  told();
  draw();
});
on("days theme", draw);
addEventListener("resize", draw);
