// The first question: is this the disc? The fit is drawn; its residuals on demand,
// exaggerated; drag the limb or the centre, or click points of the limb.
import { state, set, on, changed } from "./store.js";
import { get, change } from "./api.js";
import { room, lines } from "./room.js";
import { toScreen } from "./view.js";
import { layers, screen } from "./overlay.js";
import { cased, path } from "./glyphs.js";
import { addHand } from "./gestures.js";
import { notice, refusal } from "./notices.js";
import { el, button } from "./parts.js";

export const disc = { points: null, proposed: null, residuals: null };
const GRIP_PX = 10;

on("frame", () => { disc.points = disc.proposed = disc.residuals = null; });

/** tray gives the controls of this question. */
export function tray() {
  const f = state.frame, d = f.disc;
  if (disc.points) {
    return [
      el("span", { class: "said" }, `${disc.points.length} of 3 or more points on the limb`),
      button("Fit them", fitPoints, { strong: true, key: "Enter", disabled: disc.points.length < 3 }),
      disc.points.length > 0 && button("Last point", unplace, { key: "⌫" }),
      button("Leave", () => points(false), { key: "Esc" }),
    ].filter(Boolean);
  }
  if (disc.proposed) {
    const p = disc.proposed;
    return [
      button("Keep it", keep, { strong: true, key: "Enter" }),
      el("span", { class: "said" }, "dragged: centre ", el("b", {}, `${p.x.toFixed(1)}, ${p.y.toFixed(1)}`), " px, radius ", el("b", {}, p.r.toFixed(1)), " px ", el("b", {}, state.geometry?.moves ?? "")),
      button("Leave", leave, { key: "Esc" }),
    ];
  }
  const controls = [], found = button("Find", find, { key: "r" });
  const circles = f.disc_refusal?.circles ?? [];
  if (!d && circles.length > 0) {
    return [el("span", { class: "said", title: f.disc_refusal.error }, "which circle is the Sun’s edge?"),
      ...circles.map((c) => button(`Circle ${c.number}`, () => takeCircle(c.number), { strong: true, title: c.words })),
      el("span", { class: "rule" }), button("Mark the limb", () => points(true), { key: "p" }), found];
  }
  if (!d) { // what to do stands first, then why
    return [button("Mark the limb", () => points(true), { strong: true, key: "p" }), found, el("span", { class: "rule" }),
      el("span", { class: "said", title: f.disc_refusal?.hint ?? "" }, f.disc_refusal?.error ?? "no disc yet: r looks for it, three points on the limb will do too")];
  }
  if (!d.accepted) controls.push(button("Yes, the disc", accept, { strong: true, key: "Enter" }));
  controls.push(el("span", { class: "said", title: d.text }, d.short));
  controls.push(el("span", { class: "rule" }), found, button("Points", () => points(true), { key: "p" }));
  controls.push(button(disc.residuals ? `Residuals ×${disc.residuals.times}` : "Residuals", residuals, { key: "e", pressed: Boolean(disc.residuals), title: "how far the limb in the picture lies from the disc, exaggerated" }), button("Refuse", refuse, { key: "Del" }));
  return controls;
}

async function act(path, body) {
  const { id } = state.frame;
  try {
    await change(`/frames/${id}/disc${path}`, { revision: state.frame.disc?.revision ?? 0, ...body });
    if (state.frame?.id !== id) return false; // another picture is asked by now
    disc.points = disc.proposed = null;
    changed("turned");
    return true;
  } catch (err) {
    if (err.circles) changed("stale"); // they are asked about in the tray
    refusal(err, "disc");
    return false;
  }
}

async function takeCircle(number) { if (await act("/circle", { number })) goOn(); }

export const find = () => act("/find");
export async function refuse() {
  if (await act("/refuse")) notice("the disc is refused: no mark here has a position now", { hint: "take it back with u", key: "done" });
}
export async function accept() { if (state.frame.disc && await act("/accept")) goOn(); }

// The disc is answered: on to the next open question.
const goOn = () => set("question", state.frame.north ? "marks" : "north");

export function points(open) {
  disc.points = open ? [] : null;
  changed("tray");
  lines();
}

/** unplace takes the last point back. */
export function unplace() {
  if (!disc.points?.length) return false;
  disc.points.pop();
  changed("tray");
  lines();
}

export async function fitPoints() {
  if (disc.points?.length >= 3) await act("/points", { points: disc.points });
}

export async function keep() {
  const p = disc.proposed;
  if (p && await act("/typed", { x_px: p.x, y_px: p.y, radius_px: p.r })) goOn();
}

export function leave() {
  if (!disc.points && !disc.proposed) return false;
  disc.points = disc.proposed = null;
  changed("propose");
  changed("tray");
  return true;
}

export async function residuals() {
  if (disc.residuals) disc.residuals = null;
  else {
    try { disc.residuals = await get(`/frames/${state.frame.id}/disc/residuals`); } catch (err) { refusal(err, "disc"); }
  }
  changed("tray");
  lines();
}

/** enter does what Enter means here. */
export function enter() {
  if (disc.points) fitPoints();
  else if (disc.proposed) keep();
  else accept();
}

/** nudge moves the proposed disc by keys. */
export function nudge(dx, dy, dr) {
  if (!state.geometry) return;
  const l = disc.proposed ?? { x: state.geometry.limb.x, y: state.geometry.limb.y, r: state.geometry.limb.r };
  propose({ x: l.x + dx, y: l.y + dy, r: Math.max(3, l.r + dr) });
}

function propose(p) {
  disc.proposed = p;
  changed("propose");
  changed("tray");
}

addHand("disc", {
  down(at) {
    if (state.question !== "disc" || disc.points || !state.geometry) return null;
    const { limb } = state.geometry, what = grip(at);
    if (!what) return null;
    const start = { x: limb.x, y: limb.y, r: limb.r };
    return {
      move(to) {
        if (what === "centre") propose({ ...start, x: start.x + to.x - at.x, y: start.y + to.y - at.y });
        else propose({ ...start, r: Math.max(3, start.r + Math.hypot(to.x - start.x, to.y - start.y) - Math.hypot(at.x - start.x, at.y - start.y)) });
      },
      up() { /* it stays proposed until it is kept */ },
    };
  },
  tap(at) {
    if (state.question !== "disc") return false;
    if (disc.points) { disc.points.push([at.x, at.y]); changed("tray"); lines(); }
    return true;
  },
  hover(at) { return state.question === "disc" && !disc.points && grip(at) ? "take" : null; },
});

function grip(at) {
  if (!state.geometry) return null;
  const { limb } = state.geometry;
  const [cx, cy] = toScreen(room.view, limb.x, limb.y);
  if (Math.hypot(cx - at.sx, cy - at.sy) < GRIP_PX + 6) return "centre";
  for (const p of limb.outline) {
    const [x, y] = toScreen(room.view, ...p);
    if (Math.hypot(x - at.sx, y - at.sy) < GRIP_PX + 6) return "limb";
  }
  const r = limb.r * room.view.scale, d = Math.hypot(cx - at.sx, cy - at.sy);
  return Math.abs(d - r) < GRIP_PX ? "limb" : null;
}

// Several round edges, of which any may be the Sun's, each with its number on it.
function circlesAsked(pen, view, ink) {
  (state.frame.disc_refusal?.circles ?? []).forEach((c, i) => {
    const [x, y] = toScreen(view, c.x_px, c.y_px), r = c.radius_px * view.scale;
    pen.beginPath();
    pen.setLineDash(i % 2 ? [2, 4] : [9, 5]);
    pen.arc(x, y, r, 0, 2 * Math.PI);
    cased(pen, ink.accent, 1.4, ink.casing);
    pen.setLineDash([]);
    const turn = -Math.PI / 4 - i * 0.35, [tx, ty] = [x + r * Math.cos(turn), y + r * Math.sin(turn)];
    pen.beginPath();
    pen.arc(tx, ty, 9, 0, 2 * Math.PI);
    pen.fillStyle = ink.casing;
    pen.fill();
    pen.font = "600 12px system-ui, sans-serif";
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillStyle = ink.accent;
    pen.fillText(String(c.number), tx, ty);
  });
}

layers.above.push((pen, view, ink) => {
  if (state.question !== "disc" || !state.frame) return;
  if (state.geometry) {
    const [x, y] = toScreen(view, state.geometry.limb.x, state.geometry.limb.y);
    pen.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) { pen.moveTo(x + dx * 4, y + dy * 4); pen.lineTo(x + dx * 12, y + dy * 12); }
    cased(pen, ink.accent, 1.3, ink.casing);
  }
  if (!state.frame.disc) circlesAsked(pen, view, ink);
  for (const p of disc.points ?? []) {
    const [x, y] = toScreen(view, ...p);
    pen.beginPath();
    pen.arc(x, y, 4, 0, 7);
    cased(pen, ink.accent, 1.6, ink.casing);
  }
  // Residuals as the server places them, exaggerated; points left out are hollow.
  for (const line of disc.residuals?.lines ?? []) {
    path(pen, screen(line.points, view), false);
    pen.strokeStyle = line.used ? ink.accent : ink.soft;
    pen.lineWidth = line.used ? 1.2 : 0.8;
    pen.stroke();
  }
});
