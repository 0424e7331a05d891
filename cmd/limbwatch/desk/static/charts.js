// Charts: the record drawn by the server, over the whole room. What stands for a mark, a
// day or a passage in a chart is a way there. The sheet is laid out at the window's own
// width, so that letters keep their size.
import { state, set, on, markOf, remember } from "./store.js";
import { get, bytes, addressOf } from "./api.js";
import { room } from "./room.js";
import { dark } from "./theme.js";
import { notice, refusal } from "./notices.js";
import { el, button } from "./parts.js";
import { KINDS } from "./glyphs.js";
import { follow as followMarks } from "./following.js";

/** CHARTS are their names in the order of their keys, 1 to 7. */
export const CHARTS = ["disc", "map", "latitudes", "numbers", "passage", "rates", "coming"];
const WIDEST = { disc: 1000, map: 1500, latitudes: 1200, numbers: 1200, passage: 1000, rates: 900, coming: 1200 };
const NARROWEST = { map: 720, coming: 720, rates: 440 }; // below these they are drawn wider than the window
const DISC_HIGH = 1.25; // its sheet's height to its width
const NAMED = "[data-mark], [data-frame], [data-passage], [data-day]";

const panel = document.getElementById("charts"), tabs = document.getElementById("chart-tabs"), choices = document.getElementById("chart-choices"), sheet = document.getElementById("chart-sheet"), save = document.getElementById("chart-save");
const look = { days: "31", ahead: "28", kind: "sunspot", woven: false, rotation: 0, passage: "" };
let goTo = () => {}, asking = null, pictures = [], before = null;

/** onFrame says what happens when something in a chart is touched: f(frame, mark). */
export function onFrame(f) { goTo = f; }

/** show opens a chart: of a passage, if one is named. */
export function show(name, { passage = "" } = {}) {
  if (!state.frame) { notice("there is nothing to draw yet", { hint: "add a picture first", key: "chart" }); return; }
  if (panel.hidden) before = document.activeElement;
  if (passage) look.passage = passage;
  else if (name === "passage") look.passage = markOf(state.selected)?.passage || look.passage || passages()[0]?.id || "";
  panel.hidden = false;
  document.getElementById("do-charts").setAttribute("aria-expanded", "true");
  set("chart", { name, passage: name === "passage" ? look.passage : "" });
  remember(room.view);
  draw();
}

/** toggle opens the chart that was looked at last, or closes it. */
export function toggle() { if (!close()) show(look.last ?? "disc"); }

/** close is true when one was open; the keys go back to where they were, or to what is given. */
export function close(to = before) {
  if (panel.hidden) return false;
  panel.hidden = true;
  asking?.abort();
  empty();
  document.getElementById("do-charts").setAttribute("aria-expanded", "false");
  set("chart", null);
  remember(room.view);
  to?.focus?.();
  return true;
}

// passages of the open day, each once.
function passages() {
  const seen = new Map();
  for (const m of state.day?.marks ?? []) if (m.passage) seen.set(m.passage, m.passage_name);
  return [...seen].map(([id, name]) => ({ id, name }));
}

function addressFor(name) {
  const wide = innerWidth > 640, room = { width: sheet.clientWidth - (wide ? 24 : 8), height: sheet.clientHeight - 24 };
  // The disc is seen whole; the others may be longer than the window.
  const width = Math.max(NARROWEST[name] ?? 320, Math.min(WIDEST[name], room.width, name === "disc" && wide ? Math.max(480, room.height / DISC_HIGH) : Infinity));
  const q = new URLSearchParams({ theme: dark() ? "night" : "day", width: Math.floor(width), frame: state.frame.id });
  if (name === "disc") { q.set("up", state.up); if (state.grid === "carrington") q.set("grid", "carrington"); }
  if (name === "map") { if (look.rotation) q.set("rotation", look.rotation); if (look.woven) q.set("woven", "true"); }
  if (name === "latitudes" || name === "numbers") q.set("days", look.days);
  if (name === "passage") q.set("passage", look.passage);
  if (name === "rates") q.set("kind", look.kind);
  if (name === "coming") q.set("days", look.ahead);
  return `/charts/${name}?${q}`;
}

async function draw() {
  const { name } = state.chart;
  look.last = name;
  if (name === "passage") look.passage ||= passages()[0]?.id ?? ""; // one may have come by following
  bar(name);
  delete sheet.dataset.drawn;
  asking?.abort();
  const mine = asking = new AbortController();
  if (name === "passage" && !look.passage) { say("No mark of this day belongs to a passage yet.", button("Follow the marks", followMarks, { strong: true })); return; }
  const late = setTimeout(() => { if (!mine.signal.aborted) sheet.setAttribute("aria-busy", "true"); }, 250);
  try {
    const path = addressFor(name), text = new TextDecoder().decode(await bytes(path, { signal: mine.signal }));
    if (mine.signal.aborted) return;
    save.href = addressOf(path.replace(/theme=\w+/, "theme=paper").replace(/&width=\d+/, ""));
    save.download = `${name}-${state.frame.utc.slice(0, 10)}.svg`;
    lay(new DOMParser().parseFromString(text, "image/svg+xml").documentElement);
    sheet.dataset.drawn = name;
  } catch (err) {
    if (mine.signal.aborted) return;
    say(`${err.message}. ${err.hint ?? ""}`);
  } finally {
    clearTimeout(late);
    if (!mine.signal.aborted) sheet.removeAttribute("aria-busy");
  }
}

// say writes words in place of a chart, with what can be done about it.
function say(words, act = null) {
  empty();
  save.hidden = true;
  sheet.replaceChildren(el("p", { class: "dim" }, words[0].toUpperCase() + words.slice(1)), el("p", {}, act));
}

function empty() {
  for (const address of pictures.splice(0)) URL.revokeObjectURL(address);
  sheet.replaceChildren();
}

// lay puts a chart onto the sheet. Its pictures come as data: addresses, which the page
// does not load; they are given addresses of its own.
function lay(svg) {
  empty();
  for (const image of svg.querySelectorAll("image")) {
    const [, kind, body] = /^data:(image\/[a-z]+);base64,(.*)$/s.exec(image.getAttribute("href")) ?? [];
    if (!body) { image.remove(); continue; }
    const address = URL.createObjectURL(new Blob([Uint8Array.from(atob(body), (c) => c.charCodeAt(0))], { type: kind }));
    pictures.push(address);
    image.setAttribute("href", address);
  }
  svg = document.adoptNode(svg);
  svg.style.width = `${svg.getAttribute("width")}px`;
  svg.style.height = `${svg.getAttribute("height")}px`;
  svg.setAttribute("role", "group");
  const points = [...svg.querySelectorAll(NAMED)].filter((p) => !p.querySelector(NAMED));
  points.forEach((p, i) => {
    p.setAttribute("role", "link");
    p.setAttribute("tabindex", i ? "-1" : "0"); // one stop; the arrows go on from there
    const title = p.querySelector("title")?.textContent;
    if (title) p.setAttribute("aria-label", title);
  });
  save.hidden = false;
  sheet.replaceChildren(svg);
}

// bar draws the names of the charts and what can be chosen of the open one.
function bar(name) {
  const held = tabs.contains(document.activeElement);
  tabs.replaceChildren(...CHARTS.map((c, i) => el("button", {
    type: "button", role: "tab", "aria-selected": String(c === name), "aria-controls": "chart-sheet", tabindex: c === name ? "0" : "-1", "aria-keyshortcuts": String(i + 1), onclick: () => show(c),
  }, el("kbd", {}, String(i + 1)), c[0].toUpperCase() + c.slice(1))));
  const open = tabs.querySelector("[aria-selected=true]");
  open.scrollIntoView({ block: "nearest", inline: "nearest" });
  if (held) open.focus();
  const pick = (key, list) => list.map(([value, words]) => button(words, () => { look[key] = value; draw(); }, { pressed: look[key] === value }));
  const span = [["31", "month"], ["92", "quarter"], ["366", "year"], ["all", "all"]];
  const shown = Math.floor(Number(state.frame.facts.find((f) => f.name === "CR")?.value));
  choices.replaceChildren(...({
    map: () => [
      button("‹", () => turn(-1, shown), { title: "the rotation before" }), el("output", {}, `rotation ${look.rotation || shown}`), button("›", () => turn(1, shown), { title: "the next rotation" }),
      button("woven", () => { look.woven = !look.woven; draw(); }, { pressed: look.woven, title: "from the days' pictures, joined" })],
    latitudes: () => pick("days", span), numbers: () => pick("days", span),
    rates: () => pick("kind", KINDS.slice(0, 3).map((k) => [k.kind, k.kind + "s"])),
    coming: () => pick("ahead", [["7", "a week"], ["14", "two"], ["28", "a rotation"]]),
    passage: () => look.passage && [el("select", { "aria-label": "Which passage", onchange: (event) => show("passage", { passage: event.target.value }) }, options())],
  }[name]?.() || []));
  choices.querySelectorAll("button").forEach((b) => { if (b.textContent === "‹" || b.textContent === "›") b.setAttribute("aria-label", b.title); });
}

function options() {
  const list = passages();
  if (look.passage && !list.some((p) => p.id === look.passage)) list.unshift({ id: look.passage, name: `${look.passage}, of another day` });
  return list.map((p) => el("option", { value: p.id, selected: p.id === look.passage }, p.name));
}

function turn(by, shown) {
  look.rotation = (look.rotation || shown) + by;
  if (look.rotation === shown) look.rotation = 0;
  draw();
}

// follow goes where something that is drawn stands for.
async function follow({ mark, frame, passage, day }) {
  let [pictured, ofDay] = among(state.days, frame, day);
  if (!pictured && !ofDay && (state.earlier || state.later) && (frame || day)) {
    try { [pictured, ofDay] = among((await get(`/days?${frame ? `frame=${frame}` : `day=${day}`}`)).days, frame, day); } catch (err) { refusal(err, "chart"); return; }
  }
  if (mark && pictured) { close(room.canvas); goTo(frame, mark); return; }
  if (passage && !(state.chart.name === "passage" && look.passage === passage)) { show("passage", { passage }); return; }
  if (mark) { notice(`${mark} is a record of figures, without a picture to open`, { key: "chart" }); return; }
  if (pictured || ofDay) { close(room.canvas); goTo(pictured ? frame : ofDay.frame, null); return; }
  notice("there is no picture of that day", { key: "chart" });
}

// among finds the day of a frame, and one of a date.
const among = (days, frame, day) => [days.find((d) => d.frames.includes(frame)), days.find((d) => d.date === day)];

// touched is what stands under the pointer or within a finger's breadth of it: rings are
// hollow, and points are small.
const REACH_PX = 7;
function touched(event) {
  let best = null, least = Infinity;
  for (const point of sheet.querySelectorAll("[role=link]")) {
    const r = point.getBoundingClientRect();
    if (event.clientX < r.left - REACH_PX || event.clientX > r.right + REACH_PX || event.clientY < r.top - REACH_PX || event.clientY > r.bottom + REACH_PX) continue;
    const size = (r.width + 4) * (r.height + 4) + Math.hypot(event.clientX - (r.left + r.right) / 2, event.clientY - (r.top + r.bottom) / 2);
    if (size < least) { least = size; best = point; }
  }
  const direct = event.target.closest?.("[data-mark]");
  return direct && sheet.contains(direct) ? direct : best;
}

sheet.addEventListener("click", (event) => {
  const point = touched(event);
  if (point) { event.preventDefault(); follow(point.dataset); }
});
sheet.addEventListener("pointermove", (event) => { sheet.style.cursor = touched(event) ? "pointer" : ""; });
sheet.addEventListener("keydown", (event) => {
  const point = event.target.closest(NAMED);
  if (!point || !sheet.contains(point)) return;
  const all = [...sheet.querySelectorAll("[role=link]")], at = all.indexOf(point);
  const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
  if (event.key === "Enter" || event.key === " ") follow(point.dataset);
  else if (by) {
    const next = all[(at + by + all.length) % all.length];
    point.setAttribute("tabindex", "-1");
    next.setAttribute("tabindex", "0");
    next.focus();
  } else return;
  event.preventDefault();
  event.stopPropagation();
});
tabs.addEventListener("keydown", (event) => {
  const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (!by) return;
  show(CHARTS[(CHARTS.indexOf(state.chart.name) + by + CHARTS.length) % CHARTS.length]);
  event.preventDefault();
  event.stopPropagation();
});

let resting = 0;
addEventListener("resize", () => { clearTimeout(resting); resting = setTimeout(() => { if (state.chart) draw(); }, 200); });
on("theme day", () => { if (state.chart && state.frame) draw(); });
