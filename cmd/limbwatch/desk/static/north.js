// The second question: is this north? Turn the dial by hand, type an angle, flip,
// take it over from last time, or let a method find it. Nothing is kept before
// "Yes"; the grid and the marks follow meanwhile.
import { state, set, on, changed } from "./store.js";
import { get, change } from "./api.js";
import { room } from "./room.js";
import { toScreen } from "./view.js";
import { addHand } from "./gestures.js";
import { degreeAt, ring } from "./dial.js";
import { refusal, notice } from "./notices.js";
import { el, button } from "./parts.js";

export const north = { proposed: null, methods: null };

on("frame", () => { north.proposed = north.methods = null; });

const present = () => north.proposed ?? (state.frame.north ? { angle_deg: state.frame.north.celestial_deg, mirrored: state.frame.north.mirrored } : { angle_deg: 0, mirrored: false });

export function tray() {
  const f = state.frame, n = f.north, p = north.proposed;
  if (!f.disc) return [el("span", { class: "said" }, "north needs a disc first"), button("Go to the disc", () => set("question", "disc"), { key: "d" })];
  const shown = present();
  const input = el("input", {
    id: "north-deg", type: "number", step: "0.1", value: shown.angle_deg.toFixed(2), "aria-label": "Celestial north, degrees counter-clockwise from up",
    onchange: (event) => { const v = Number(event.target.value); if (Number.isFinite(v)) propose({ ...present(), angle_deg: v }); },
    onkeydown: (event) => { if (event.key === "Enter") { event.target.blur(); accept(); } },
  });
  const controls = [];
  if (p || !n) controls.push(button(p ? "Yes, north" : "Keep as north", accept, { strong: true, key: "Enter" }));
  controls.push(el("label", {}, "turned by", input, "°"));
  if (p) controls.push(el("span", { class: "said" }, p.words ?? "", p.moves ? el("b", {}, " " + p.moves) : ""), button("Leave", leave, { key: "Esc" }));
  else controls.push(el("span", { class: "said", title: n?.text ?? "" }, n?.text ?? "not known yet"));
  controls.push(
    el("span", { class: "rule" }), button("½ turn", flip, { key: "h" }), button(shown.mirrored ? "mirrored" : "not mirrored", mirror, { key: "x", pressed: shown.mirrored }),
    el("span", { class: "rule" }), ...(north.methods ?? []).map((m) => button(m.name, () => method(m.id), { title: m.available ? m.about : m.why, disabled: !m.available })),
  );
  if (!north.methods) load();
  return controls;
}

async function load() {
  const id = state.frame.id;
  try {
    const { methods } = await get(`/frames/${id}/north/methods`);
    if (state.frame.id !== id) return;
    north.methods = methods;
    if (state.question === "north") changed("tray");
  } catch { /* the tray does without them */ }
}

/** propose shows another north without keeping it. */
export function propose(p) {
  const turn = ((p.angle_deg % 360) + 540) % 360 - 180;
  north.proposed = { ...p, angle_deg: turn };
  changed("propose", { north_deg: turn, mirrored: p.mirrored });
  changed("tray");
}

export const turnBy = (deg) => { if (state.frame?.disc) propose({ ...present(), angle_deg: present().angle_deg + deg, words: "turned by hand" }); };
export const flip = () => propose({ ...present(), angle_deg: present().angle_deg + 180, words: "turned by half" });
export const mirror = () => propose({ ...present(), mirrored: !present().mirrored, words: "the other parity" });

/** method asks the server for a north; it is shown as a proposal with its words. */
export async function method(id) {
  try {
    const found = await get(`/frames/${state.frame.id}/north/propose?method=${encodeURIComponent(id)}`);
    propose({ angle_deg: found.celestial_deg, mirrored: found.mirrored, words: found.words, method: id, sigma_deg: found.sigma_deg, from: found.from });
    if (!found.decisive) notice(found.words, { hint: found.hint, key: "north" });
  } catch (err) { refusal(err, "north"); }
}

export async function accept() {
  const f = state.frame, p = present();
  try {
    await change(`/frames/${f.id}/north`, {
      revision: f.north?.revision ?? 0, angle_deg: p.angle_deg, mirrored: p.mirrored, method: p.method ?? "typed", sigma_deg: p.sigma_deg ?? 0, from: p.from ?? "",
    });
    north.proposed = null;
    changed("stale", { turned: true });
    set("question", "marks");
  } catch (err) { refusal(err, "north"); }
}

export function leave() {
  if (!north.proposed) return false;
  north.proposed = null;
  changed("stale");
  return true;
}

addHand("north", {
  down(at) {
    const g = state.geometry;
    if (!g?.rim) return null;
    const grips = onHandle(at) || state.question === "north" && onBand(at);
    if (!grips) return null;
    if (state.question !== "north") set("question", "north");
    const start = present(), from = angleOf(at);
    return {
      move(to) {
        const swept = (angleOf(to) - from) * 180 / Math.PI; // clockwise on the screen
        propose({ ...start, angle_deg: start.angle_deg - swept * room.view.flip, words: "turned by hand" });
      },
      up() { /* it stays proposed until it is kept */ },
    };
  },
  tap(at) {
    if (state.question !== "north" || !state.geometry?.rim) return false;
    const [ex, ey] = ring(room.view, 90, 29);
    if (Math.hypot(at.sx - ex, at.sy - ey) < 16) mirror(); // a touch on E asks for the other parity
    return true;
  },
  hover(at) { return state.geometry?.rim && (onHandle(at) || state.question === "north" && onBand(at)) ? "take" : null; },
});

function onHandle(at) {
  const [x, y] = ring(room.view, 0, state.question === "north" ? 44 : 29);
  return Math.hypot(at.sx - x, at.sy - y) < 14;
}

function onBand(at) {
  const { out } = degreeAt(room.view, at.sx, at.sy);
  return out > 4 && out < 52;
}

function angleOf(at) {
  const [cx, cy] = toScreen(room.view, state.geometry.limb.x, state.geometry.limb.y);
  return Math.atan2(at.sy - cy, at.sx - cx);
}
