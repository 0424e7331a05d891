// The tray: what the hand does now. One row of controls that belongs to the question
// that is asked.
import { state, set } from "./store.js";
import { hand } from "./overlay.js";
import * as discs from "./disc.js";
import * as norths from "./north.js";
import * as marking from "./marking.js";
import { KINDS } from "./glyphs.js";
import { el, glyph, button } from "./parts.js";
import { chip } from "./warnings.js";

const tray = document.getElementById("tray");

/** drawTray draws the questions and the controls of the one that is asked. */
export function drawTray() {
  if (!state.frame) { tray.replaceChildren(); return; }
  for (const q of ["disc", "north", "marks"]) {
    const tab = document.getElementById("ask-" + q), status = statusOf(q);
    tab.setAttribute("aria-selected", String(state.question === q));
    tab.classList.toggle("open", status.open);
    tab.querySelector("span").textContent = status.words;
    tab.title = status.about;
  }
  // A field that is being typed in is left alone.
  const typing = tray.contains(document.activeElement) && document.activeElement.tagName === "INPUT";
  if (typing && state.question === "north") return;
  tray.setAttribute("aria-labelledby", "ask-" + state.question);
  // What is odd stands after the one thing that is asked: where controls have no room they
  // are cut at the end.
  const controls = state.question === "disc" ? discs.tray() : state.question === "north" ? norths.tray() : marks();
  const odd = chip(state.question);
  if (state.question === "marks") controls.unshift(...odd);
  else controls.splice(controls[0]?.tagName === "LABEL" ? controls.findLastIndex((c) => c.tagName === "LABEL") + 1 : 1, 0, ...odd);
  tray.replaceChildren(...controls);
}

function statusOf(q) {
  const f = state.frame;
  if (q === "disc") return f.disc ? { words: f.disc.accepted ? "✓" : "?", open: !f.disc.accepted, about: f.disc.text } : { words: "!", open: true, about: f.disc_refusal?.error ?? "no disc" };
  if (q === "north") return f.north ? { words: "✓", open: false, about: f.north.text } : { words: "?", open: true, about: "north is not known" };
  return { words: String(state.day.marks.filter((m) => m.id).length), open: false, about: "marks of this day" };
}

function marks() {
  const m = hand.making;
  const kinds = KINDS.map((k, i) => el("button", {
    type: "button", class: "kind", "aria-pressed": String(m?.kind === k.kind), "aria-keyshortcuts": String(i + 1), title: `${k.kind}: ${k.shape} (${i + 1}; Shift for another shape)`,
    onclick: (event) => (m?.kind === k.kind && !event.shiftKey ? marking.drop() : marking.begin(k.kind, event.shiftKey)),
  }, el("kbd", {}, String(i + 1)), el("span", { class: k.kind, "aria-hidden": "true" }, glyph(k.kind)), el("span", {}, k.name)));
  if (!m) return said() ? [...kinds, el("span", { class: "rule" }), el("span", { class: "said" }, said())] : kinds;
  return [...kinds, el("span", { class: "rule" }), el("span", { class: "said" }, guide(m)),
    !m.points.length && button(`as ${{ point: "a point", line: "a line", outline: "an outline" }[m.shape]}`, () => marking.begin(m.kind, true), { key: `Shift+${KINDS.findIndex((k) => k.kind === m.kind) + 1}`, title: "another shape" }),
    m.points.length > 0 && button("Finish", marking.finish, { key: "Enter" }), m.points.length > 0 && button("Last point", marking.unplace, { key: "⌫" })].filter(Boolean);
}

function said() {
  const f = state.frame;
  if (!f.disc) return "no disc yet: the first question";
  if (!f.north) return "without north marks have no position";
  return "";
}

function guide(m) {
  if (m.shape === "point") return "click its middle";
  if (m.kind === "prominence" && m.shape === "line") return m.points.length ? "now its top" : "click its base at the limb";
  if (m.shape === "line") return m.points.length ? "along the spine; twice at the end" : "click along the spine";
  return m.points.length > 2 ? "round it; the first point closes" : "click round it";
}

// Where its controls have no room, the wheel brings the others.
tray.addEventListener("wheel", (event) => { tray.scrollLeft += event.deltaX || event.deltaY; }, { passive: true });

for (const q of ["disc", "north", "marks"]) document.getElementById("ask-" + q).addEventListener("click", () => set("question", q));
