// Light: brightness, contrast, gamma, edge boost; negative, flat, warm. Every
// control works on the full depth. The same can be done by keys.
import { room, setTone } from "./room.js";
import { NEUTRAL } from "./tone.js";
import { on, changed } from "./store.js";
import * as theme from "./theme.js";
import { el, button } from "./parts.js";

const SLIDES = [
  { name: "brightness", words: "light", min: -0.8, max: 0.8, step: 0.01, keys: ["b", "Shift+b"] },
  { name: "contrast", words: "contrast", min: 0.2, max: 6, step: 0.02, keys: ["k", "Shift+k"] },
  { name: "gamma", words: "gamma", min: 0.3, max: 3.5, step: 0.02, keys: ["j", "Shift+j"] },
  { name: "boost", words: "edge boost", min: 0, max: 1, step: 0.02, keys: ["f", "Shift+f"] },
];
const SWITCHES = [
  { name: "negative", words: "negative", key: "i" },
  { name: "flatten", words: "flat disc", key: "a" },
];

const sheet = document.getElementById("sheet-light");
const shown = new Map();

/** change sets part of the tone and all controls with it. */
export function change(part) {
  setTone(part);
  if ("flatten" in part) changed("flatten");
  show();
}

export const toggle = (name) => change({ [name]: !room.tone[name] });
export const tint = () => change({ tint: room.tone.tint === "grey" ? "red" : "grey" });
export const reset = () => change({ ...NEUTRAL, tint: room.tone.tint });

/** nudge moves a slide by some of its steps. */
export function nudge(name, steps) {
  const s = SLIDES.find((x) => x.name === name);
  change({ [name]: Math.min(s.max, Math.max(s.min, room.tone[name] + steps * s.step)) });
}

function slide(s) {
  const input = el("input", {
    type: "range", min: String(s.min), max: String(s.max), step: String(s.step), "aria-label": s.words, title: `${s.words} (${s.keys.join(", ")})`,
    oninput: (event) => change({ [s.name]: Number(event.target.value) }), ondblclick: () => change({ [s.name]: NEUTRAL[s.name] }),
  });
  const output = el("output", {});
  if (!shown.has(s.name)) shown.set(s.name, []);
  shown.get(s.name).push({ input, output });
  return el("label", { class: "slide" }, el("span", {}, s.words), input, output);
}

function build() {
  sheet.append(el("h2", {}, "Light"), ...SLIDES.map((s) => slide(s)),
    el("div", { class: "switches" },
      ...SWITCHES.map((s) => button(s.words, () => toggle(s.name), { key: s.key, id: "light-" + s.name })),
      button("warm", tint, { key: "w", id: "light-tint" }), button("as it was", reset, { key: "Shift+r" }),
        button("night or day", () => { theme.next(); }, { key: "t" })));
  show();
}

function show() {
  for (const s of SLIDES) for (const { input, output } of shown.get(s.name) ?? []) {
    input.value = String(room.tone[s.name]);
    output.textContent = s.name === "brightness" ? (room.tone[s.name] > 0 ? "+" : "") + room.tone[s.name].toFixed(2) : room.tone[s.name].toFixed(2);
  }
  for (const s of SWITCHES) document.getElementById("light-" + s.name)?.setAttribute("aria-pressed", String(room.tone[s.name]));
  document.getElementById("light-tint")?.setAttribute("aria-pressed", String(room.tone.tint === "red"));
}

build();
export { SLIDES, SWITCHES };
on("frame", show);
