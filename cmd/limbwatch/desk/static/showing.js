// What is shown and how: opening a frame, what is up, the grid, the exposures of a day,
// near and far; steps back and on.
import { state, set, on, changed, remember } from "./store.js";
import { get, change } from "./api.js";
import { refresh, around, asProposed, onOpen } from "./news.js";
import * as room from "./room.js";
import { shortestTurn, turnedTo, zoomedAt, panned, carried, toScreen } from "./view.js";
import { hand } from "./overlay.js";
import * as pictures from "./pictures.js";
import * as discs from "./disc.js";
import * as norths from "./north.js";
import * as figures from "./figures.js";
import { notice, refusal } from "./notices.js";

let opening = null; // aborts the pixels of a frame that is left before they came
let edge = null;    // the exposure that gives the edge in a composite
const edged = (other, id = null) => { edge = other; set("edge", id); };
let picture = null; // pixels of the frame that is shown

/** open shows a frame; mark is chosen on it, at (or carry, from another picture) is where the view stands. */
export async function open(id, { mark = null, at = null, carry = null } = {}) {
  opening?.abort();
  const mine = opening = new AbortController();
  const asked = pictures.load(`/frames/${id}/pixels`, (p, whole) => { if (!mine.signal.aborted) arrived(id, p, whole); }, mine.signal);
  asked.catch(() => {});
  try {
    await refresh(id, mine.signal, () => !mine.signal.aborted);
    if (mine.signal.aborted) return;
    edged(null);
    picture = null;
    if (state.frame.on_shore && !state.days.some((d) => d.id === state.day.id)) await around(id);
    if (mine.signal.aborted) return;
    changed("frame", state.frame);
    changed("day", state.day);
    settle(at, carry);
    set("selected", mark && state.day.marks.some((m) => m.id === mark) ? mark : null);
    // A picture on which nothing is marked yet is asked its open question.
    if (state.frame.question !== "marks" && !state.day.marks.some((m) => m.own)) set("question", state.frame.question);
    else if (state.question !== "marks" && carry) set("question", "marks");
    changed("tray");
    await asked;
  } catch (err) {
    if (err.name !== "AbortError") refusal(err, "open");
  }
}

// A picture arrived, first small, then whole.
let waitingPicture = null;
function arrived(id, p, whole) {
  if (state.frame?.id !== id) { waitingPicture = { id, p, whole }; return; }
  picture = p;
  present(whole);
}

async function present(whole = true) {
  const limb = pictures.limbOf(state.geometry), flatten = room.room.tone.flatten && whole, frame = state.frame.id;
  try {
    const disc = await pictures.source(picture, { flatten, limb, frame });
    const other = edge && { levels: edge.picture.levels, fromPicture: edge.from_picture };
    room.show({ disc, edge: other ?? { levels: picture.levels, fromPicture: null }, limb: pictures.limbOf(state.geometry, 4), levels: picture.info, edgeLevels: edge?.picture.info });
  } catch (err) { refusal(err, "light"); }
}

// settle chooses the view of a frame that was just opened.
function settle(at, carry) {
  const r = room.room;
  if (carry && state.geometry) room.setView({ ...carried(r.view, carry), untouched: false });
  else {
    r.view = { ...r.view, turn: wanted().turn, flip: wanted().flip };
    room.setView(at ? { ...r.view, cx: at[0], cy: at[1], scale: at[2], untouched: false } : room.fit());
  }
  if (waitingPicture?.id === state.frame.id) { picture = waitingPicture.p; present(waitingPicture.whole); waitingPicture = null; }
}

// wanted is the turn and the mirror that the chosen "up" asks for.
function wanted() {
  const up = state.frame?.up?.[state.up] ?? { turn_deg: 0, flip: 1 };
  const flip = state.mirror ? -up.flip : up.flip, turn = up.turn_deg * Math.PI / 180;
  return { flip, turn: state.mirror ? -turn : turn };
}

function turnUp(moved = true) {
  const v = room.room.view, w = wanted(), f = room.free(), limb = state.geometry?.limb;
  if (v.flip === w.flip && Math.abs(shortestTurn(v.turn, w.turn)) < 1e-9) return;
  const [sx, sy] = v.untouched && limb ? toScreen(v, limb.x, limb.y) : [f.x + f.width / 2, f.y + f.height / 2];
  const next = turnedTo(v, w.turn, w.flip, sx, sy);
  if (moved) room.flyTo(next); else room.setView(next);
}

export function up(way) {
  if (state.frame && !state.frame.up[way]) { notice("north is not known yet", { hint: "answer the second question: n", key: "up" }); return; }
  set("up", way);
  turnUp();
}

export function nextUp() {
  const ways = ["taken", "sky", "sun"].filter((w) => state.frame?.up?.[w]), words = { taken: "as taken", sky: "celestial north up", sun: "solar north up" };
  if (!ways.length) return;
  const way = ways[(ways.indexOf(state.up) + 1) % ways.length];
  up(way);
  notice(words[way], { key: "up", hint: ways.length < 2 ? "north is not known yet" : "" });
}

export function mirror() { set("mirror", !state.mirror); turnUp(); }

export async function nextGrid() {
  state.grid = { off: "degrees", degrees: "carrington", carrington: "off" }[state.grid];
  await geometryAgain();
  remember(room.room.view);
}

// The pointer's figures are those of what is proposed, and say so.
figures.onTried(() => {
  const d = discs.disc.proposed, n = norths.north.proposed;
  return { ...(d && { disc: [d.x, d.y, d.r] }), ...(n && { north_deg: n.angle_deg, mirrored: n.mirrored, sigma_north_deg: n.sigma_deg ?? 0 }) };
});

// The lines follow a proposed disc or north; the newest proposal wins.
let wantedAgain = false, asking = false;
async function geometryAgain() {
  wantedAgain = true;
  if (asking || !state.frame) return;
  asking = true;
  while (wantedAgain) {
    wantedAgain = false;
    const id = state.frame.id;
    try {
      const geometry = await get(`/frames/${id}/geometry?${asProposed(id)}`);
      if (state.frame.id !== id) break;
      state.geometry = geometry;
      const moves = state.geometry.moves;
      if (norths.north.proposed) norths.north.proposed.moves = moves;
      if (norths.north.proposed || discs.disc.proposed) changed("tray");
      changed("geometry");
    } catch (err) { refusal(err, "geometry"); }
  }
  asking = false;
}

export async function history(act) {
  try {
    const done = await change("/" + act, {});
    notice(done.title ? `${act === "undo" ? "taken back" : "done again"}: ${done.words}` : act === "undo" ? "nothing to take back" : "nothing to do again", { key: "done" });
    turnUp(false);
  } catch (err) { refusal(err, "history"); }
}

// The other exposure of the day, at the same place.
export function otherExposure() {
  const others = state.day?.frames.filter((f) => f.id !== state.frame.id) ?? [];
  const next = state.frame?.partners?.[0] ?? (others[0] && { frame: others[0].id });
  if (!next) { notice("this day has one picture only", { key: "exposure" }); return; }
  open(next.frame, { carry: next.from_picture });
}

// The disc of one exposure and the edge of the other. The server tells which is which;
// where it cannot, it is asked once, and the same key says yes.
let doubtful = null;
export async function composite() {
  if (edge) { edged(null); present(); return; }
  if (!state.frame) return;
  const shown = state.frame.id, answered = doubtful?.shown === shown ? doubtful : null;
  doubtful = null;
  try {
    if (answered) await change(`/frames/${answered.edge}`, { revision: answered.revision, role: "limb" });
    const two = await get(`/frames/${shown}/composite`);
    if (state.frame.id !== shown) return;
    if (two.ask) {
      doubtful = { ...two, shown };
      notice(`is ${two.edge} the exposure for the edge?`, { hint: `${two.words}; q again says yes`, refusal: true, key: "exposure", act: { label: "Yes", run: composite } });
      return;
    }
    if (two.disc !== shown) await open(two.disc, { carry: state.frame.partners.find((p) => p.frame === two.disc)?.from_picture });
    const p = await pictures.load(`/frames/${two.edge}/pixels`, () => {});
    if (state.frame.id !== two.disc) return;
    edged({ picture: p, from_picture: two.from_picture }, two.edge);
    present();
    notice(two.words, { hint: "laid on one another by their own discs", key: "exposure" });
  } catch (err) { refusal(err, "exposure"); }
}

export function zoom(factor) {
  const f = room.free(), r = room.room;
  const [sx, sy] = hand.cross ? toScreen(r.view, ...hand.cross) : [f.x + f.width / 2, f.y + f.height / 2];
  room.setView({ ...zoomedAt(r.view, sx, sy, factor, room.limits()), untouched: false });
}

export const pan = (dx, dy) => room.setView(panned({ ...room.room.view, untouched: false }, dx, dy));

onOpen(open);
on("turned", () => turnUp(false));
on("pictured flatten", () => { if (picture) present(); });
on("frame", (frame) => { if (!frame) picture = room.room.shown = null; });
on("refit", () => { room.setView(room.fit()); });
on("propose", geometryAgain);
