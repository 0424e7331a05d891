// What the page knows, in one place, and who wants to hear of its changes.
// The part of it that a bookmark should bring back stands in the address.

export const state = {
  version: 0,       // up to which what is shown was taken in
  days: [],         // the sittings at hand, oldest first, as GET /api/v1/days tells
  from: "", to: "", // every sitting with a picture in this stretch is at hand
  earlier: false,   // there are more before it
  later: false,     // and after it
  day: null,        // the one that is open: {id, frames, marks, …}
  frame: null,      // the frame that is shown, with its disc, north and face
  ribbon: null,     // the whole Sun unrolled, as of that frame
  geometry: null,   // limb, rim, axis and grid of that frame, in picture pixels
  edge: null,       // in a composite, the id of the frame that gives the edge
  selected: null,   // id of the mark in hand
  question: "marks", // which of the three is asked: disc, north, marks
  up: "taken",      // what is up: taken, sky, sun
  mirror: false,    // looked at in a mirror
  grid: "off",      // off, degrees, carrington
  compare: null,    // {frame, way}: another day's frame laid over, split or swapped
  chart: null,      // {name, passage}: the chart that is open
  online: true,
  shut: false,      // the server was started anew, and has not let this browser in
};

// EVENTS are all that parts of the page tell one another. What is set in the state is told
// under its name.
const EVENTS = {
  online: "the server is gone, or there again", shut: "it was started anew, and has not let this browser in",
  frame: "another frame is shown, or none", day: "its day is other than it was: marks, pictures", days: "the days at hand are",
  marks: "what is drawn of the marks", geometry: "the lines of the frame", ribbon: "the ribbon's places", pictured: "the picture may look another way",
  selected: "another mark is in hand", question: "another question is asked", making: "a mark is being made", propose: "a disc or north is tried",
  up: "what is up", mirror: "looked at in a mirror", turned: "the view follows what is up", refit: "the disc is shown whole", layout: "the free part of the room is another",
  edge: "another exposure gives the edge", compare: "another day lies beside this one", chart: "a chart is opened or closed",
  tray: "what the hand can do now", theme: "night or day", flatten: "limb darkening taken out or not",
  stale: "what is shown is to be read anew", added: "a picture was added", pick: "pictures are to be chosen",
};
const listeners = new Map(Object.keys(EVENTS).map((name) => [name, []]));

function heard(name) {
  const list = listeners.get(name);
  if (!list) throw new Error(`no event is called ${name}`);
  return list;
}

/** on hears of events by their names. */
export function on(names, hear) {
  for (const name of names.split(" ")) heard(name).push(hear);
}

/** changed tells all who listen. */
export function changed(name, detail) {
  for (const hear of heard(name)) hear(detail);
}

/** set changes one entry and tells who listens to its name. */
export function set(name, value) {
  state[name] = value;
  changed(name, value);
}

let writing = 0;

/** remember writes the state into the address, soon, without a step in the history. */
export function remember(view) {
  clearTimeout(writing);
  writing = setTimeout(() => history.replaceState(null, "", "?" + addressOf(view)), 200);
}

function addressOf(view) {
  const q = new URLSearchParams();
  if (state.frame) q.set("frame", state.frame.id);
  else if (state.day) q.set("day", state.day.id);
  if (state.selected) q.set("mark", state.selected);
  if (state.question !== "marks") q.set("ask", state.question);
  if (state.up !== "taken") q.set("up", state.up);
  if (state.mirror) q.set("mirror", "1");
  if (state.grid !== "off") q.set("grid", state.grid);
  if (state.compare) q.set("with", state.compare.frame + "," + state.compare.way);
  if (state.chart) q.set("chart", [state.chart.name, state.chart.passage].filter(Boolean).join(","));
  if (view && !view.untouched) q.set("at", [view.cx.toFixed(1), view.cy.toFixed(1), view.scale.toPrecision(5)].join(","));
  return q.toString();
}

/** recalled reads the address back. */
export function recalled() {
  const q = new URLSearchParams(location.search);
  const numbers = (q.get("at") ?? "").split(",").map(Number);
  const [chart, passage] = (q.get("chart") ?? "").split(",");
  const [frame, way] = (q.get("with") ?? "").split(",");
  return {
    frame: q.get("frame"), day: q.get("day"), mark: q.get("mark"), question: oneOf(q.get("ask"), ["disc", "north", "marks"]) ?? "marks",
    up: oneOf(q.get("up"), ["taken", "sky", "sun"]) ?? "taken", mirror: q.get("mirror") === "1",
    grid: oneOf(q.get("grid"), ["degrees", "carrington"]) ?? "off",
    compare: frame && oneOf(way, ["split", "swap"]) ? { frame, way } : null,
    chart: chart ? { name: chart, passage } : null,
    at: numbers.length === 3 && numbers.every((n) => Number.isFinite(n) && n !== 0) ? numbers : null,
  };
}

function oneOf(text, allowed) { return allowed.includes(text) ? text : null; }

/** kept reads a preference of this browser; keep writes one. */
export function kept(name, otherwise) {
  try { return JSON.parse(localStorage.getItem("limbwatch." + name)) ?? otherwise; } catch { return otherwise; }
}
export function keep(name, value) {
  try { localStorage.setItem("limbwatch." + name, JSON.stringify(value)); } catch { /* a browser that keeps nothing still works */ }
}

/** markOf finds a mark of the open day by its id. */
export function markOf(id) { return state.day?.marks.find((m) => m.id === id) ?? null; }
