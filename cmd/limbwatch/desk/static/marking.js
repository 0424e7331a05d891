// Marking: making a mark by points, spines and outlines; choosing one; moving its
// vertices. The keys of the kinds start each with its natural shape.
import { state, set, on, changed, markOf } from "./store.js";
import { change, catchUp } from "./api.js";
import { room, lines, setView, free, clickError } from "./room.js";
import { toScreen, panned } from "./view.js";
import { hand, screen } from "./overlay.js";
import { KINDS, kindOf } from "./glyphs.js";
import { addHand, placeOf } from "./gestures.js";
import { pointAt } from "./figures.js";
import { ghostAt } from "./compare.js";
import { loupe, loupeAt, loupeAway } from "./loupe.js";
import { refusal, odd, notice } from "./notices.js";

const REACH_PX = 9, GHOST_PX = 20;
const SHAPES = ["point", "line", "outline"];

/** begin takes a kind into the hand; the same kind again goes on to its next shape. */
export function begin(kind, otherShape = false) {
  if (!state.geometry) { notice("there is no disc yet", { hint: "answer the first question: d", key: "nodisc" }); return; }
  const last = hand.making;
  let shape = last?.kind === kind && !last.points.length ? last.shape : kindOf(kind).shape;
  if (otherShape) shape = SHAPES[(SHAPES.indexOf(shape) + 1) % 3];
  save();
  select(null);
  hand.making = { kind, shape, points: [] };
  if (!hand.cross) centreCross();
  if (state.question !== "marks") set("question", "marks");
  changed("making");
  lines();
}

/** drop lays the tool down; a half-made mark first loses its points. */
export function drop() {
  if (!hand.making) return false;
  if (hand.making.points.length) hand.making.points = [];
  else hand.making = null;
  changed("making");
  lines();
  return true;
}

/** placePoint sets a vertex, and finishes what is complete by it. */
export function placePoint(x, y) {
  const m = hand.making;
  if (!m) return;
  const reach = hand.byKeys ? 1.5 : REACH_PX; // keys walk in small steps
  const at = screen([[x, y]])[0], near = (p) => { const [sx, sy] = screen([p])[0]; return Math.hypot(sx - at[0], sy - at[1]) < reach; };
  if (m.points.length > 1 && near(m.points.at(-1))) { finish(); return; } // twice at one place ends it
  if (m.shape === "outline" && m.points.length > 2 && near(m.points[0])) { finish(); return; }
  m.points.push([x, y]);
  if (m.shape === "point" || (m.kind === "prominence" && m.shape === "line" && m.points.length === 2)) finish();
  else changed("making");
  lines();
}

/** unplace takes the last vertex back. */
export function unplace() {
  if (!hand.making?.points.length) return false;
  hand.making.points.pop();
  changed("making");
  lines();
  return true;
}

/** finish keeps the mark that was made; the tool stays in the hand. */
export async function finish() {
  const m = hand.making;
  const need = { point: 1, line: 2, outline: 3 }[m?.shape];
  if (!m?.points.length) return;
  if (m.points.length < need) { notice(`${m.shape === "line" ? "a line" : "an outline"} needs ${need} points`, { key: "need" }); return; }
  hand.making = { ...m, points: [] };
  const kept = await keepMark({ id: "", kind: m.kind, shape: m.shape, points: m.points, own: true, name: "", pending: true });
  if (!kept && !hand.making?.points.length) { // what was drawn is not lost
    hand.making = m;
    changed("making");
    lines();
  }
}

/** makeReal keeps a mark of what is expected, at a picture point, joined to it. */
export async function makeReal(ghost, [x, y]) {
  const pending = { id: "", kind: ghost.kind, shape: "point", points: [[x, y]], own: true, name: "", pending: true };
  await keepMark(pending, { is: ghost.id });
}

/** joinTo says that a mark that is there is what is expected. */
export async function joinTo(mark, ghost) {
  try {
    const { mark: now } = await change(`/marks/${mark.id}/join`, ghost.id.startsWith("M") ? { with: ghost.id } : { passage: ghost.id });
    notice(`${mark.name} is ${now.passage_name}, by your word`, { hint: "take it back with u", key: "done" });
  } catch (err) { refusal(err, "joined"); }
}

// keepMark shows a mark at once, and sends it.
async function keepMark(pending, more = {}) {
  state.day.marks.push(pending);
  changed("making");
  lines();
  let kept = null;
  const { kind, shape, points } = pending;
  try {
    ({ mark: kept } = await change(`/frames/${state.frame.id}/marks`, { kind, shape, points, sigma_click_px: clickError(), ...more }));
    if (more.is) notice(`${kept.name} is ${kept.passage_name}, by your word`, { hint: "take it back with u", key: "done" });
  } catch (err) {
    odd(err, () => {
      if (hand.making?.points === points) hand.making.points = []; // it is no longer being drawn
      changed("making");
      keepMark(pending, { ...more, force: true });
    });
  }
  const at = state.day.marks.indexOf(pending);
  if (at >= 0) state.day.marks.splice(at, 1);
  lines();
  return kept;
}

/** select takes a mark into hand by its id, or none. */
export function select(id) {
  if (id === state.selected) return;
  save();
  hand.grip = -1;
  set("selected", id);
}

/** step selects the next mark of the ledger's order. */
export function step(by) {
  const ids = [...document.querySelectorAll("#marks tr[data-id]")].map((row) => row.dataset.id);
  if (!ids.length) return;
  const at = ids.indexOf(state.selected);
  select(ids[at < 0 ? (by > 0 ? 0 : ids.length - 1) : (at + by + ids.length) % ids.length]);
}

/** remove takes the vertex in grip away, or the whole mark; both can be undone. */
export async function remove() {
  const mark = hand.editing ?? markOf(state.selected);
  if (!mark) return;
  const least = { point: 1, line: 2, outline: 3 }[mark.shape];
  if (hand.grip >= 0 && mark.points.length > least) {
    edit(mark);
    hand.editing.points.splice(hand.grip, 1);
    hand.grip = -1;
    save();
    return;
  }
  hand.editing = null;
  try {
    await change(`/marks/${mark.id}/remove`, { revision: mark.revision });
    if (state.selected === mark.id) set("selected", null);
    notice(`${mark.name} is removed`, { hint: "take it back with u", key: "done" });
  } catch (err) { refusal(err); }
}

function edit(mark) {
  if (hand.editing?.id === mark.id) return;
  hand.editing = { ...mark, points: mark.points.map((p) => [...p]) };
}

/** save keeps the vertices that were moved. */
export async function save() {
  const e = hand.editing;
  if (!e) return;
  hand.editing = null;
  await keepMoved(e);
}

// keepMoved sends vertices that were moved. Refused, they stay in the hand where they are,
// to be moved on, kept all the same or let go.
async function keepMoved(e, more = {}) {
  const mark = markOf(e.id), stood = mark?.points;
  if (mark) mark.points = e.points;
  lines();
  try {
    await change(`/marks/${e.id}`, { revision: e.revision, points: e.points, sigma_click_px: clickError(), ...more });
    return;
  } catch (err) {
    const now = markOf(e.id);
    if (now?.points === e.points) now.points = stood;
    if (now && !hand.editing) hand.editing = { ...e, refused: true };
    if (err.status === 409 && err.now) {
      catchUp();
      notice(`${e.name} was changed elsewhere meanwhile`, { hint: "what you moved is still in the hand; Esc lets it go", refusal: true, key: "moved",
        act: { label: "Keep mine", run: () => { hand.editing = null; keepMoved({ ...e, revision: err.now.revision }); } } });
    } else odd(err, () => { hand.editing = null; keepMoved(e, { force: true }); }, "moved");
  }
  lines();
}

/** letGo lays down vertices that were moved and are refused; false when there are none. */
export function letGo() {
  if (!hand.editing?.refused) return false;
  hand.editing = null;
  hand.grip = -1;
  document.querySelector('#notices [data-key="moved"]')?.remove();
  lines();
  return true;
}

/** gripNext goes round the vertices of the mark in hand. */
export function gripNext(by) {
  const mark = hand.editing ?? markOf(state.selected);
  if (!mark?.own) return false;
  hand.grip = (hand.grip + by + mark.points.length) % mark.points.length;
  hand.cross = mark.points[hand.grip];
  point();
  return true;
}

/** nudge moves the vertex in grip, or the cross, by so many screen pixels (or picture pixels). */
export function nudge(dx, dy, { fine = false } = {}) {
  if (!hand.cross) centreCross();
  hand.byKeys = true;
  const scale = fine ? room.view.scale * 0.1 : 1;
  const [sx, sy] = toScreen(room.view, ...hand.cross);
  const at = placeOf(sx + dx * scale, sy + dy * scale);
  hand.cross = [at.x, at.y];
  const mark = hand.editing ?? markOf(state.selected);
  if (mark?.own && hand.grip >= 0 && !hand.making) {
    edit(mark);
    hand.editing.points[hand.grip] = [at.x, at.y];
    clearTimeout(nudge.later);
    nudge.later = setTimeout(save, 900);
  }
  point();
}

// Keeps the cross inside the free part of the window and shows its figures.
function point() {
  const f = free(), [sx, sy] = toScreen(room.view, ...hand.cross), pad = 24;
  const dx = Math.min(0, f.x + f.width - pad - sx) + Math.max(0, f.x + pad - sx);
  const dy = Math.min(0, f.y + f.height - pad - sy) + Math.max(0, f.y + pad - sy);
  if (dx || dy) setView(panned({ ...room.view, untouched: false }, dx, dy));
  pointAt({ x: hand.cross[0], y: hand.cross[1], sx: sx + dx, sy: sy + dy });
  loupeAt(sx + dx, sy + dy);
  lines();
}

function centreCross() {
  const f = free(), at = placeOf(f.x + f.width / 2, f.y + f.height / 2);
  hand.cross = [at.x, at.y];
}

/** toggleLoupe pins the loupe to the pointer, or lets it go. */
export function toggleLoupe() {
  loupe.pinned = !loupe.pinned;
  if (!loupe.pinned) { loupeAway(); return; }
  if (!hand.cross) centreCross();
  loupeAt(...toScreen(room.view, ...hand.cross));
}

// hit finds the mark under a point of the screen; own vertices first.
export function hit(at) {
  let best = null, least = REACH_PX;
  for (const mark of state.day?.marks ?? []) {
    if (!mark.points || !mark.id) continue;
    const p = screen(mark.points);
    for (let i = 0; i < p.length; i++) {
      const d = Math.hypot(p[i][0] - at.sx, p[i][1] - at.sy) - (mark.id === state.selected ? 2 : 0);
      if (d < least) { least = d; best = { mark, vertex: i }; }
      const next = i + 1 < p.length ? p[i + 1] : mark.shape === "outline" ? p[0] : null;
      const along = next && segment(at, p[i], next);
      if (along && along.d + 2 < least) { least = along.d + 2; best = { mark, vertex: -1, after: i }; }
    }
  }
  return best;
}

function segment(at, a, b) {
  const dx = b[0] - a[0], dy = b[1] - a[1], long = dx * dx + dy * dy || 1;
  const t = Math.min(1, Math.max(0, ((at.sx - a[0]) * dx + (at.sy - a[1]) * dy) / long));
  return { d: Math.hypot(a[0] + t * dx - at.sx, a[1] + t * dy - at.sy) };
}

addHand("marks", {
  down(at, event) {
    if (hand.making) return null;
    const found = hit(at);
    if (!found || found.mark.id !== state.selected || !found.mark.own) return null;
    if (found.vertex < 0 && !event.altKey) return null;
    const nudged = hand.editing?.id === found.mark.id; // moved by keys, and not kept yet
    edit(found.mark);
    const untouched = hand.editing.points.map((p) => [...p]);
    if (found.vertex < 0) { hand.editing.points.splice(found.after + 1, 0, [at.x, at.y]); found.vertex = found.after + 1; }
    hand.grip = found.vertex;
    const before = hand.editing.points[hand.grip];
    const off = [before[0] - at.x, before[1] - at.y]; // the vertex does not jump to the pointer
    return {
      move(to) { hand.editing.points[hand.grip] = [to.x + off[0], to.y + off[1]]; lines(); },
      up(to, _, cancelled) {
        if (cancelled && hand.editing) {
          hand.editing.points = untouched;
          if (!nudged) hand.editing = null;
        }
        save();
        lines();
      },
    };
  },
  tap(at) {
    if (state.question !== "marks") return false;
    if (hand.making) { placePoint(at.x, at.y); return true; }
    const found = hit(at);
    if (!found && hand.haunting) { // a touch on what is expected makes it real there
      ghostAt(at.x, at.y, GHOST_PX).then((ghost) => { if (ghost) makeReal(ghost, [at.x, at.y]); });
      return true;
    }
    select(found?.mark.id ?? null);
    if (found) hand.grip = found.vertex;
    lines();
    return true;
  },
  hover(at) {
    if (hand.making) return null;
    const found = hit(at);
    const id = found?.mark.id ?? null;
    if (id !== hand.hover) { hand.hover = id; lines(); }
    return found ? "take" : null;
  },
});

on("frame", () => { hand.making = hand.editing = null; hand.grip = -1; changed("making"); });

export { KINDS };
