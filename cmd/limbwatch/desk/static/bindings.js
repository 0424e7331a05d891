// All keys in one place; what they do lies with the modules. The list on "?" is made
// of this table.
import { state, set, markOf } from "./store.js";
import { bind, list, narrow, start } from "./keys.js";
import * as page from "./showing.js";
import { room, setView, fit, flyTo } from "./room.js";
import * as marking from "./marking.js";
import * as discs from "./disc.js";
import * as norths from "./north.js";
import * as ledger from "./ledger.js";
import { follow } from "./following.js";
import * as shore from "./shore.js";
import * as compare from "./compare.js";
import * as looks from "./looks.js";
import * as charts from "./charts.js";
import * as offers from "./offers.js";
import * as theme from "./theme.js";
import { hand } from "./overlay.js";
import { KINDS } from "./glyphs.js";
import { notice, dismiss } from "./notices.js";
import { el, toggleSheet, closeSheets } from "./parts.js";
import { changed } from "./store.js";

const ask = (q) => () => state.question === q;
const busy = () => Boolean(hand.making || hand.grip >= 0);

export function bindAll() {
  bind("Questions", "d", "is this the disc?", () => set("question", "disc"));
  bind("Questions", "n", "is this north?", () => set("question", "north"));
  bind("Questions", "m", "what is on it?", () => set("question", "marks"));
  bind("Questions", "Enter", "yes: accept, finish, keep", enter);
  bind("Questions", "Escape", "back", escape);

  KINDS.forEach((k, i) => bind("Marks", `${i + 1} Shift+${i + 1}`, `${k.kind}${i ? "" : "; Shift: another shape"}`, (event) => marking.begin(k.kind, event.shiftKey)));
  bind("Marks", "Space", "set a point at the cross", () => hand.making && hand.cross ? marking.placePoint(...hand.cross) : false, ask("marks"));
  bind("Marks", "Backspace", "take the last point back", () => marking.unplace());
  bind("Marks", "[ ]", "mark before, next mark", (event) => marking.step(event.key === "]" ? 1 : -1));
  bind("Marks", "v Shift+v", "go round the vertices of the mark", (event) => marking.gripNext(event.shiftKey ? -1 : 1));
  bind("Marks", "Delete", "remove the vertex in grip, or the mark", () => marking.remove(), () => state.question === "marks" && Boolean(state.selected));
  bind("Marks", "e", "name and note", () => { if (!state.selected) return false; ledger.fold(true); document.querySelector("#card input")?.focus(); }, ask("marks"));
  bind("Marks", "p", "follow: join the marks to passages", () => follow(), ask("marks"));
  bind("Marks", offers.KEYS.join(" "), "it is this: first, second, third on the card", (event) => offers.take(offers.KEYS.indexOf(event.key)), ask("marks"));
  bind("Marks", "Shift+e", "which filament stands at this edge, in full", () => offers.full(hand.cross), ask("marks"));
  bind("Marks", "h", "this is it: what is expected here", () => thisIsIt(), ask("marks"));
  bind("Marks", "u Ctrl+z", "undo", () => page.history("undo"));
  bind("Marks", "Shift+u Ctrl+y Ctrl+Shift+z", "redo", () => page.history("redo"));

  bind("Disc", "r", "find the limb again", () => discs.find(), ask("disc"));
  bind("Disc", "p", "click points of the limb", () => discs.points(!discs.disc.points), ask("disc"));
  bind("Disc", "Space", "set a point at the cross", () => { if (!discs.disc.points || !hand.cross) return false; discs.disc.points.push([...hand.cross]); changed("tray"); changed("geometry"); }, ask("disc"));
  bind("Disc", "Backspace", "take the last point back", () => discs.unplace(), ask("disc"));
  bind("Disc", "e", "residuals, exaggerated", () => discs.residuals(), ask("disc"));
  bind("Disc", "Delete", "refuse the disc", () => discs.refuse(), ask("disc"));
  bind("Disc", ", .", "smaller, larger by 0.1 px", (event) => discs.nudge(0, 0, event.key === "." ? 0.1 : -0.1), ask("disc"));

  bind("North", "h", "turn by half", () => norths.flip(), ask("north"));
  bind("North", "x", "the other parity", () => norths.mirror(), ask("north"));
  bind("North", "w", "other ways to north", () => norths.ways(), ask("north"));
  bind("North", "Home", "celestial north is up", () => norths.upIsNorth(), ask("north"));
  bind("North", "l", "as last time", () => norths.method("as last time"), ask("north"));

  for (const [key, dx, dy] of [["ArrowLeft", -1, 0], ["ArrowRight", 1, 0], ["ArrowUp", 0, -1], ["ArrowDown", 0, 1]]) {
    const words = key === "ArrowLeft" ? "cross, dial or disc; else the days; Shift ×10, Alt finer" : "";
    bind("Moving", `${key} Shift+${key} Alt+${key}`, words, (event) => arrow(event, dx, dy));
  }
  bind("Looking", "+ =", "closer", () => page.zoom(1.3));
  bind("Looking", "- _", "farther", () => page.zoom(1 / 1.3));
  bind("Looking", "0", "the whole disc", () => flyTo(fit()));
  bind("Looking", "9", "four screen pixels a pixel", () => page.zoom(4 / room.view.scale));
  bind("Looking", "Ctrl+ArrowLeft Ctrl+ArrowRight Ctrl+ArrowUp Ctrl+ArrowDown", "pull the picture", (event) => page.pan(...{ ArrowLeft: [80, 0], ArrowRight: [-80, 0], ArrowUp: [0, 80], ArrowDown: [0, -80] }[event.key]));
  bind("Looking", "z", "loupe", () => marking.toggleLoupe());
  bind("Looking", "o", "what is up: as taken, sky, Sun", () => page.nextUp());
  bind("Looking", "Shift+o", "in a mirror", () => page.mirror());
  bind("Looking", "g", "grid: degrees, Carrington, off", () => page.nextGrid());
  bind("Looking", "x", "the day's other exposure", () => page.otherExposure(), () => state.question !== "north");
  bind("Looking", "q", "disc of one, edge of the other", () => page.composite());

  for (const s of looks.SLIDES) bind("Light", s.keys.join(" "), `${s.words} up, Shift down`, (event) => looks.nudge(s.name, event.shiftKey ? -4 : 4));
  for (const s of looks.SWITCHES) bind("Light", s.key, s.words, () => looks.toggle(s.name));
  bind("Light", "w", "warm picture", () => looks.tint(), () => state.question !== "north");
  bind("Light", "Shift+r", "light as it was", () => looks.reset());

  bind("Days", "Shift+ArrowLeft Shift+ArrowRight", "", () => false);
  bind("Days", "PageUp PageDown", "day before, next day", (event) => { shore.walk(event.key === "PageUp" ? -1 : 1); });
  bind("Days", "y", "held: what is expected now, and due at the edges", () => { if (!hand.haunting) haunt(true); });
  bind("Days", "c", "beside the day before: curtain, alternation, off", () => compare.cycle());
  bind("Days", ".", "alternation: the one, the other", () => compare.swap(), () => state.question !== "disc");

  bind("Charts", "Shift+c", "charts: the last one looked at", () => charts.toggle());
  bind("Charts", "1 2 3 4 5 6 7", "with one open: disc, map, latitudes, numbers, passage, rates, coming", (event) => charts.show(charts.CHARTS[event.key - 1]), () => Boolean(state.chart));
  bind("Charts", "Shift+p", "the passage of the mark in hand", () => charts.show("passage"));
  bind("Charts", "Shift+n", "what is coming", () => charts.show("coming"));
  bind("Charts", "Escape", "", escape, () => Boolean(state.chart));
  narrow(() => (state.chart ? ["Charts", "Page"] : null));

  bind("Page", "Ctrl+o", "add pictures", () => changed("pick"));
  bind("Page", "l", "the ledger", () => ledger.fold(), () => state.question !== "north" && !state.chart);
  bind("Page", "/", "filter the marks", () => { ledger.fold(true); document.getElementById("filter").focus(); }, () => !state.chart);
  bind("Page", "s", "light, contrast, ways of looking", () => toggleSheet("sheet-light"), () => !state.chart);
  bind("Page", "t", "night, day, as the system", () => notice(`theme: ${theme.next()}`, { key: "theme" }));
  bind("Page", "?", "this list", () => keysSheet());
  start();
  addEventListener("keyup", (event) => { if (event.key === "y" && hand.haunting) haunt(false); });

  const click = (id, run) => document.getElementById(id).addEventListener("click", run);
  click("do-undo", () => page.history("undo"));
  click("do-redo", () => page.history("redo"));
  click("do-theme", () => notice(`theme: ${theme.next()}`, { key: "theme" }));
  click("do-caution", () => toggleSheet("sheet-caution"));
  click("do-keys", keysSheet);
  click("do-ledger", () => ledger.fold());
  click("do-charts", () => charts.toggle());
  click("do-charts-close", () => charts.close());
  click("do-coming", () => charts.show("coming"));
  click("do-ghosts", () => haunt(!hand.haunting));
  click("do-light", () => toggleSheet("sheet-light"));
  // What was pressed by hand gives the keys back to the picture: Enter is then the open
  // question's yes, not the button once more.
  addEventListener("click", (event) => {
    const control = event.target.closest?.("#dayline button, #tools button, #foot button");
    if (control && event.detail > 0 && document.activeElement === control) room.canvas.focus({ preventScroll: true });
  });
}

// What the pointer or the finger does, beside the keys.
const BY_HAND = [
  ["drag", "pull the picture; the limb, the dial or a vertex where the hand shows"],
  ["wheel, pinch", "closer, farther"],
  ["hold a finger", "loupe; the point stands above the finger"],
  ["drag N", "turn north; a touch on E takes the other parity"],
  ["click twice", "at the end of a line finishes it, as does the first point of an outline"],
  ["Alt+drag", "a line of the mark in hand: a new vertex"],
  ["touch a ghost", "what is expected is seen there"],
];

function enter() {
  if (state.question === "disc") discs.enter();
  else if (state.question === "north") norths.accept();
  else if (hand.making?.points.length) marking.finish();
  else if (hand.making && hand.cross) marking.placePoint(...hand.cross);
  else if (hand.editing) marking.save();
  else if (hand.haunting && hand.cross) thisIsIt();
  else return false;
}

// What is expected is shown while y is held, or from one touch of its button to the next.
function haunt(shown) {
  hand.haunting = shown;
  document.getElementById("do-ghosts").setAttribute("aria-pressed", String(shown));
  compare.haunt(shown);
}

// What is expected here becomes a mark where the pointer is, joined by the observer's
// word; a mark in hand that belongs nowhere yet is joined as it stands.
async function thisIsIt() {
  const mark = markOf(state.selected);
  const at = mark?.own && !mark.passage ? mark.points[0] : hand.cross;
  if (!at) { notice("nothing is pointed at", { hint: "point at what you see, with y held for what is expected", key: "is" }); return; }
  const ghost = await compare.ghostAt(...at);
  if (!ghost) { notice("nothing is expected here", { hint: "y held shows what is expected", key: "is" }); return; }
  if (at !== hand.cross) marking.joinTo(mark, ghost);
  else marking.makeReal(ghost, at);
}

function escape() {
  if (closeSheets() || charts.close() || discs.leave() || norths.leave() || marking.drop()) return;
  if (marking.letGo()) return;
  if (hand.grip >= 0) { marking.save(); hand.grip = -1; changed("geometry"); return; }
  if (compare.stop() || dismiss()) return;
  if (state.selected) marking.select(null);
  else if (state.question !== "marks") set("question", "marks");
  room.canvas.focus();
}

function arrow(event, dx, dy) {
  const much = event.shiftKey ? 10 : 1;
  if (state.question === "disc" && discs.disc.points) { marking.nudge(dx * much, dy * much, { fine: event.altKey }); return; }
  if (state.question === "disc") { discs.nudge(dx * much * 0.1, dy * much * 0.1, 0); return; }
  if (state.question === "north") { norths.turnBy(-(dx || -dy) * 0.1 * much); return; }
  if (busy()) { marking.nudge(dx * much, dy * much, { fine: event.altKey }); return; }
  if (dx && !event.shiftKey) { shore.walk(dx); return; }
  setView({ ...room.view, untouched: false });
  page.pan(-dx * 60, -dy * 60);
}

const NAMES = { Escape: "Esc", ArrowLeft: "← → ↑ ↓", Space: "Space", Delete: "Del", Backspace: "⌫", PageUp: "PgUp", PageDown: "PgDn", "Ctrl+ArrowLeft": "Ctrl+arrows" };

// keysOf writes an action's keys, a run of figures as such.
function keysOf({ keys }) {
  if (keys.length > 2 && keys.every((k) => /^\d$/.test(k))) return `${keys[0]} – ${keys.at(-1)}`;
  return keys.filter((k) => NAMES[k] || !/Arrow/.test(k)).slice(0, 2).map((k) => NAMES[k] ?? k).join("  ");
}

function keysSheet() {
  const place = document.getElementById("key-list");
  if (!place.childElementCount) {
    place.append(el("section", {}, el("h3", {}, "By hand"), el("dl", {}, BY_HAND.flatMap(([what, does]) => [el("dt", {}, what), el("dd", {}, does)]))));
    for (const [group, actions] of list()) {
      const rows = actions.filter((a) => a.does).map((a) => [el("dt", {}, keysOf(a)), el("dd", {}, a.does)]);
      place.append(el("section", {}, el("h3", {}, group), el("dl", {}, rows.flat())));
    }
  }
  toggleSheet("sheet-keys");
}
