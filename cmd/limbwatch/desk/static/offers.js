// Which feature a mark is: the passages that following could not tell apart, or, for a
// prominence at the edge, the filaments that the edge check weighs. They stand on the
// mark's card with their odds; a click or one key takes one, by the observer's word.
import { state, on, changed, markOf } from "./store.js";
import { get, change } from "./api.js";
import { notice, refusal } from "./notices.js";
import { el, toggleSheet } from "./parts.js";
import { room } from "./room.js";
import { toScreen } from "./view.js";

/** KEYS take the first, second and third offer. */
export const KEYS = ["6", "7", "8"];

const sheet = document.getElementById("sheet-edge");
let check = null;   // {mark, answer, error}: the edge check of the mark in hand
let asking = null;

const atEdge = (mark) => Boolean(mark?.edge) && mark.kind === "prominence";

// offersOf lists what can be taken: {id, name, percent, part, note, made}.
function offersOf(mark) {
  if (!mark) return [];
  if (atEdge(mark)) {
    return (check?.mark === mark.id && check.answer?.candidates || []).map((c) => ({
      id: c.passage_id, name: c.passage, percent: c.text.probability, part: c.probability, made: c.passage_id === mark.passage,
      note: `${c.text.sigma} off; ${c.text.limb}`, lines: [`${c.way}`, `${c.text.miss_lat}, ${c.text.beyond}: ${c.text.sigma}`, c.text.limb],
    }));
  }
  return (mark.rivals ?? []).map((r) => ({ id: r.passage_id, name: r.passage, percent: r.text, part: r.odds ?? 0, made: Boolean(r.made), note: r.made ? "where following put it" : "" }));
}

/** draw fills the card's part about this; nothing where there is nothing to choose. */
export function draw() {
  const place = document.getElementById("offers"), mark = markOf(state.selected);
  if (!place) return;
  const offers = offersOf(mark);
  place.hidden = !mark || !(atEdge(mark) || offers.length);
  if (place.hidden) return;
  if (!atEdge(mark)) {
    place.replaceChildren(el("h3", {}, "Doubtful: which passage?"), list(offers, false), own(offers.length));
    return;
  }
  const answer = check?.mark === mark.id ? check.answer : null;
  const words = answer ? answer.word : check?.mark === mark.id && check.error ? check.error.message : "is being weighed";
  place.replaceChildren(
    el("h3", {}, "Which filament? ", el("b", {}, words), answer && el("button", { type: "button", class: "more", "aria-keyshortcuts": "Shift+E", "aria-controls": "sheet-edge", "aria-expanded": String(!sheet.hidden), onclick: full }, el("kbd", {}, "Shift+E"), "In full")),
    ...(answer ? [list(offers, false), none(answer)] : []));
}

function list(offers, inFull) {
  return el("ol", { class: "offers" }, offers.map((o, i) => el("li", {},
    el("button", { type: "button", class: "offer", "aria-pressed": String(o.made), "aria-keyshortcuts": KEYS[i] ?? null, title: o.made ? "it belongs here now" : "it is this one, by your word", onclick: () => take(i) },
      el("kbd", {}, KEYS[i] ?? ""), el("b", {}, o.name), el("span", { class: "odds" }, o.percent), bar(o.part),
      (inFull ? o.lines : [o.note]).filter(Boolean).map((l) => el("small", {}, l))))));
}

// The odds as a stroke, so that they are seen before they are read.
function bar(part) {
  const stroke = el("i", { class: "part", "aria-hidden": "true" });
  stroke.style.width = `${Math.round(100 * part)}%`;
  return stroke;
}

const none = (answer) => el("p", { class: "none" }, answer.none_of, el("span", { class: "odds" }, answer.none_text));

const own = (n) => el("button", { type: "button", class: "offer", "aria-keyshortcuts": KEYS[n] ?? null, onclick: () => join("new") }, el("kbd", {}, KEYS[n] ?? ""), "a passage of its own");

/** take joins the mark in hand to what is offered at a place of the list. */
export function take(n) {
  const mark = markOf(state.selected), offers = offersOf(mark);
  if (!offers.length) return false;
  if (offers[n]) join(offers[n].id);
  else if (n === offers.length && !atEdge(mark)) join("new");
  return true;
}

async function join(passage) {
  const mark = markOf(state.selected);
  try {
    const { mark: now } = await change(`/marks/${mark.id}/join`, { passage });
    notice(`${mark.name} is ${now.passage_name}, by your word`, { hint: "take it back with u", key: "done" });
  } catch (err) { refusal(err, "joined"); }
}

/** part says that the mark does not belong where it is. */
export async function part(mark) {
  try {
    await change(`/marks/${mark.id}/part`, {});
    notice(`${mark.name} is not ${mark.passage_name}, by your word`, { hint: "take it back with u", key: "done" });
  } catch (err) { refusal(err, "joined"); }
}

// The check is asked for anew whenever the day was read anew: other marks weigh in it.
async function weigh() {
  const mark = markOf(state.selected);
  asking?.abort();
  if (!atEdge(mark)) { check = null; draw(); if (!sheet.hidden && sheet.dataset.of !== "pointer") toggleSheet("sheet-edge", false); return; }
  const mine = asking = new AbortController();
  if (check?.mark !== mark.id) { check = null; draw(); }
  try {
    const answer = await get(`/marks/${mark.id}/edge`, { signal: mine.signal });
    if (!mine.signal.aborted) check = { mark: mark.id, answer };
  } catch (err) {
    if (mine.signal.aborted) return;
    check = { mark: mark.id, error: err };
  }
  draw();
  if (!sheet.hidden && sheet.dataset.of !== "pointer" && check?.answer) tell(check.answer, mark);
}

/**
 * full opens the answer in words: of the mark in hand, or else of a place beyond the
 * limb, [x, y] on the picture.
 */
export async function full(at = null) {
  const mark = markOf(state.selected);
  if (!sheet.hidden) { toggleSheet("sheet-edge", false); draw(); return; }
  if (atEdge(mark)) {
    if (!check?.answer) { if (check?.error) refusal(check.error, "edge"); return; }
    tell(check.answer, mark);
  } else {
    if (!Array.isArray(at) || !state.frame) { notice("no prominence is in hand", { hint: "take a mark at the edge in hand, or point beyond the limb", key: "edge" }); return; }
    try { tell(await get(`/frames/${state.frame.id}/edge?x=${at[0]}&y=${at[1]}`), null, at); } catch (err) { refusal(err, "edge"); return; }
  }
  toggleSheet("sheet-edge", true);
  draw();
}

function tell(answer, mark, at = mark?.points?.[0]) {
  sheet.dataset.of = mark ? mark.id : "pointer";
  if (at) sheet.dataset.side = toScreen(room.view, ...at)[0] > room.view.width * 0.36 ? "left" : "right"; // beside what it is about
  const offers = mark ? list(offersOf(mark), true) : el("ol", { class: "offers" }, answer.candidates.map((c) => el("li", { class: "offer" },
    el("b", {}, c.passage), el("span", { class: "odds" }, c.text.probability), bar(c.probability), [c.way, `${c.text.miss_lat}, ${c.text.beyond}: ${c.text.sigma}`, c.text.limb].map((l) => el("small", {}, l)))));
  sheet.replaceChildren(
    el("h2", {}, mark ? `Which filament is ${mark.name}?` : "Which filament stands at the pointer?"),
    el("p", { class: "dim" }, answer.head),
    el("p", {}, el("b", {}, answer.word[0].toUpperCase() + answer.word.slice(1)), `: ${answer.reason}.`),
    offers, none(answer), ...answer.kin_text.map((text) => el("p", { class: "kin" }, text + ".")),
    answer.would_decide.length ? el("h3", {}, "What would decide it") : "",
    answer.would_decide.length ? el("ul", { class: "decide" }, answer.would_decide.map((l) => el("li", {}, l.text + "."))) : "",
  );
}

on("selected day", weigh);
