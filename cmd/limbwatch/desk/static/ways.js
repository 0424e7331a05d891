// Ways of looking, for a hand without keys: beside the light, on its sheet. Each is an
// action of bindings.js and shows the same key.
import { state, on } from "./store.js";
import { el, button } from "./parts.js";
import * as page from "./showing.js";
import { room, flyTo, fit } from "./room.js";
import * as compare from "./compare.js";

const UP = { taken: "as taken", sky: "sky's north up", sun: "Sun's north up" };
const GRID = { off: "grid", degrees: "grid: degrees", carrington: "grid: Carrington" };
const BESIDE = { split: "day before: curtain", swap: "day before: in turn" };

// words may change with the state; pressed says whether it is on.
const WAYS = [
  { words: () => "whole disc", key: "0", run: () => flyTo(fit()) },
  { words: () => GRID[state.grid], key: "g", run: page.nextGrid, pressed: () => state.grid !== "off" },
  { words: () => UP[state.up], key: "o", run: page.nextUp, pressed: () => state.up !== "taken" },
  { words: () => "in a mirror", key: "Shift+o", run: page.mirror, pressed: () => state.mirror },
  { words: () => BESIDE[state.compare?.way] ?? "day before", key: "c", run: compare.cycle, pressed: () => Boolean(state.compare) },
  { words: () => (room.otherWay === "off" ? "the other day" : "this day"), key: ".", run: compare.swap, only: () => state.compare?.way === "swap" },
  { words: () => "disc and edge in one", key: "q", run: page.composite, pressed: () => Boolean(state.edge) },
  { words: () => "redo", key: "Shift+u", run: () => page.history("redo") },
];

const place = el("div", { class: "switches", role: "group", "aria-label": "Ways of looking" });
document.getElementById("sheet-light").append(el("h3", {}, "Looking"), place);

function draw() {
  place.replaceChildren(...WAYS.filter((w) => w.only?.() ?? true).map((w) =>
    button(w.words(), async () => { await w.run(); draw(); }, { key: w.key, pressed: w.pressed ? w.pressed() : undefined })));
}

on("up mirror compare frame geometry edge", draw);
