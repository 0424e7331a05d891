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
import { el, button, toggleSheet } from "./parts.js";
import * as twins from "./twins.js";
import * as held from "./held.js";

export const north = { proposed: null, methods: null, parity: null };

on("frame", () => { north.proposed = north.methods = null; held.hold(null); });
on("question frame days", () => setTimeout(begin));

// Where north is not known yet the dial stands as last time with this set-up, or
// just up, to be turned.
async function begin() {
  const f = state.frame;
  // It is known meanwhile: what stood for "not known" goes.
  if (f?.north && north.proposed?.unknown) { settle(); changed("propose"); changed("tray"); }
  if (state.question !== "north" || !f?.disc || f.north || north.proposed) return;
  if (!north.methods) await load();
  if (state.frame?.id !== f.id || state.frame.north || state.question !== "north" || north.proposed) return;
  const last = north.methods?.find((m) => m.id === "as last time");
  if (last?.available) await method(last.id, undefined, false);
  else {
    const p = north.parity;
    propose({ angle_deg: 0, mirrored: Boolean(p?.known && p.mirrored), unknown: true,
      words: `not known yet: turn the dial, or take another way${p?.known ? `. The set-up is ${p.why} (${p.odds.toFixed(2)})` : ""}` });
  }
}

const present = () => north.proposed ?? (state.frame.north ? { angle_deg: state.frame.north.celestial_deg, mirrored: state.frame.north.mirrored } : { angle_deg: 0, mirrored: false });

export function tray() {
  const f = state.frame, n = f.north, p = north.proposed;
  if (!f.disc) return [el("span", { class: "said" }, "north needs a disc first"), button("Go to the disc", () => set("question", "disc"), { key: "d" })];
  const shown = present();
  const input = el("input", {
    id: "north-deg", type: "number", step: "0.1", value: shown.angle_deg.toFixed(2), "aria-label": "Celestial north, degrees counter-clockwise from up",
    onchange: (event) => { const v = Number(event.target.value); if (Number.isFinite(v)) propose(byHand({ angle_deg: v, words: "typed" })); },
    onkeydown: (event) => { if (event.key === "Enter") { event.target.blur(); accept(); } },
  });
  const controls = [];
  if (p?.offered) controls.push(button("Take it", () => method(p.method), { key: "l", title: "the north of another day: hold it against the picture first" }));
  else if (p && !p.unknown) controls.push(button("Yes, north", accept, { strong: true, key: "Enter" }));
  const sigma = el("input", {
    type: "number", step: "0.1", min: "0.01", value: ((p ? p.sigma_deg : n?.sigma_deg) || 1).toFixed(2), "aria-label": "its standard error, degrees", class: "narrow",
    onchange: (event) => { const v = Number(event.target.value); if (v > 0) propose({ ...present(), sigma_deg: v, method: "" }); },
  });
  controls.push(el("label", { title: "celestial north, degrees counter-clockwise from up" }, "north", input, "°"), el("label", { title: "its standard error" }, "±", sigma, "°"));
  if (p?.unknown) controls.push(el("span", { class: "said" }, p.words), button("Up is north", upIsNorth, { key: "Home", title: "celestial north is up in this picture" }));
  else if (p) controls.push(el("span", { class: "said" }, p.words ?? "", p.moves ? el("b", {}, " " + p.moves) : ""), button("Leave", leave, { key: "Esc" }));
  else controls.push(el("span", { class: "said", title: n?.text ?? "" }, n?.text ?? "not known yet"));
  const last = north.methods?.find((m) => m.id === "as last time" && m.available);
  controls.push(
    el("span", { class: "rule" }), button("½ turn", flip, { key: "h" }), button(shown.mirrored ? "mirrored" : "not mirrored", mirror, { key: "x", pressed: shown.mirrored }),
    last && !p?.offered && button(last.name, () => method(last.id), { key: "l", title: last.about }), button("Other ways", ways, { key: "w" }),
  );
  controls.push(held.line());
  if (!north.methods) load();
  return controls.filter(Boolean);
}

async function load() {
  const id = state.frame.id;
  try {
    const { methods, parity } = await get(`/frames/${id}/north/methods`);
    if (state.frame.id !== id) return;
    Object.assign(north, { methods, parity });
    if (state.question === "north") changed("tray");
  } catch { /* the tray does without them */ }
}

/** ways lists all ways to north, with why one is not to be had here. */
export function ways() {
  const sheet = document.getElementById("sheet-north");
  sheet.replaceChildren(el("h2", {}, "Ways to north"), ...(north.methods ?? []).map((m) => el("button", {
    type: "button", class: "way", disabled: !m.available, onclick: () => { toggleSheet("sheet-north", false); if (m.twins) twins.open(); else method(m.id); },
  }, el("b", {}, m.name), el("span", {}, m.available ? m.about : m.why))));
  toggleSheet("sheet-north");
  sheet.querySelector("button:enabled")?.focus();
}

/** propose shows another north without keeping it. */
export function propose(p) {
  const turn = (((p.angle_deg + 180) % 360) + 360) % 360 - 180;
  north.proposed = { ...p, angle_deg: turn };
  held.hold(north.proposed);
  changed("propose");
  changed("tray");
}

export const turnBy = (deg) => { if (state.frame?.disc) propose(byHand({ angle_deg: present().angle_deg + deg, words: "turned by hand" })); };
export const upIsNorth = () => propose(byHand({ angle_deg: 0, words: "celestial north is up" }));
export const flip = () => propose({ ...present(), angle_deg: present().angle_deg + 180, words: "turned by half", method: "", unknown: false, offered: false });

/** mirror takes the other parity; a way whose angle hangs on the parity is asked anew. */
export function mirror() {
  const p = present(), mirrored = !p.mirrored;
  if (north.methods?.find((m) => m.id === p.method)?.by_parity) method(p.method, mirrored);
  else propose({ ...p, mirrored, words: p.unknown ? p.words : mirrored ? "taken as mirrored" : "taken as not mirrored", method: "" });
}

// What a method found and the hand then turned is no longer the method's.
const byHand = (change) => ({ ...present(), sigma_deg: undefined, method: "", unknown: false, offered: false, ...change });

/**
 * method asks the server for a north; it is shown as a proposal with its words. What is
 * only offered, as a north of another day, Enter does not take before it was asked for.
 */
export async function method(id, mirrored = present().mirrored, asked = true) {
  try {
    const found = await get(`/frames/${state.frame.id}/north/propose?${new URLSearchParams({ method: id, mirrored })}`);
    propose({ angle_deg: found.celestial_deg, mirrored: found.mirrored, words: found.words, method: id, sigma_deg: found.sigma_deg, offered: found.offered && !asked });
    if (!found.decisive) notice(found.words, { hint: found.hint, key: "north" });
  } catch (err) { refusal(err, "north"); }
}

export async function accept() {
  const f = state.frame, p = present();
  if (p.offered) { notice("this is the north of another day", { hint: `${p.words}. Hold it against the picture: l takes it, or turn the dial`, key: "north" }); return; }
  if (p.unknown) { notice("north is not known yet", { hint: "turn the dial until N stands at north, say that up is north (Home), or take another way (w)", key: "north" }); return; }
  try {
    const kept = await change(`/frames/${f.id}/north`, {
      revision: f.north?.revision ?? 0, angle_deg: p.angle_deg, mirrored: p.mirrored, method: p.method || "typed", sigma_deg: p.sigma_deg ?? 0,
    });
    if (state.frame?.id === f.id) { // no other picture is asked by now
      settle();
      changed("turned");
      set("question", "marks");
    }
    if (kept?.followed) notice(`north kept; ${kept.followed}`, { hint: "they hang together by the Sun's turning; undo takes back all", key: "north" });
  } catch (err) { refusal(err, "north"); }
}

/** settle gives up what was proposed: something else is kept. */
export function settle() {
  north.proposed = null;
  held.hold(null);
}

export function leave() {
  if (!north.proposed) return false;
  settle();
  changed("propose");
  changed("tray");
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
        propose(byHand({ mirrored: start.mirrored, angle_deg: start.angle_deg - swept * room.view.flip, words: "turned by hand" }));
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
