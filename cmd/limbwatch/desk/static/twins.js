// North from the Sun's turning: the two answers side by side, each with its grid and the
// Sun's north up, what it makes of the marks, and what would decide between them.
import { state, set, changed } from "./store.js";
import { get, change } from "./api.js";
import { room } from "./room.js";
import { draw } from "./raster.js";
import { curve } from "./tone.js";
import { toScreen } from "./view.js";
import { refusal, notice } from "./notices.js";
import { el, button, toggleSheet } from "./parts.js";

const SIDE = 250; // CSS pixels of one picture
const sheet = document.getElementById("sheet-twins");

/** open asks for the answers, with what is known of camera and mount, and shows them. */
export async function open(asked = {}) {
  const frame = state.frame.id;
  sheet.replaceChildren(el("h2", {}, "North from the Sun's turning"), el("p", { role: "status" }, "the pictures of the days around are being compared; some seconds"));
  toggleSheet("sheet-twins", true);
  let found;
  try {
    found = await get(`/frames/${frame}/north/twins?${new URLSearchParams(asked)}`);
  } catch (err) {
    toggleSheet("sheet-twins", false);
    refusal(err, "north");
    return;
  }
  if (state.frame?.id !== frame || sheet.hidden) return;
  show(found);
}

function show(found) {
  const two = found.answers.length > 1;
  sheet.replaceChildren(...[
    el("h2", {}, "North from the Sun's turning"),
    el("p", {}, two
      ? `Compared with ${found.others}. Two answers move nearly alike: north and south exchanged. Which is your picture?`
      : `Compared with ${found.others}, it is decided: ${found.words}.`),
    ...found.hours.map((h) => el("p", { class: "odd" }, h)),
    el("div", { class: "twins" }, ...found.answers.map((a) => figure(a, found))),
    found.clues.length > 1 ? el("p", { class: "dim" }, `For 1 speak, each by itself: ${found.clues.map((c) => `${c.by} ${chance(c.odds)}`).join(", ")}.`) : null,
    two ? el("p", { class: "dim" }, "What decides: let the Sun drift for two minutes with the drive off, and add these pictures; a drift among a sitting's pictures is used here. Or, where nobody touched the camera:") : null,
    el("div", { class: "acts" },
      two && !found.same_roll ? button("Not touched, polar-aligned mount", () => open({ same_roll: true })) : null,
      two && !found.alt_az ? button("Alt-azimuth mount", () => open({ alt_az: true }), { title: "the camera was not touched within a sitting: the field turns as the Sun climbs and sinks" }) : null,
      button("Leave", () => toggleSheet("sheet-twins", false), { key: "Esc" })),
  ].filter(Boolean));
  // No key takes one of two by itself.
  sheet.querySelector(two ? ".acts button:last-child" : "button")?.focus();
}

function figure(answer, found) {
  const canvas = el("canvas", { width: SIDE, height: SIDE, role: "img", "aria-label": `answer ${answer.answer}: ${answer.words}` });
  paint(canvas, answer);
  return el("figure", {},
    canvas,
    el("figcaption", {}, el("b", {}, `${answer.answer}: `), answer.words, el("br"), `probability ${chance(answer.odds)}`,
      answer.latitudes.length ? el("ul", {}, ...answer.latitudes.map((l) => el("li", {}, l))) : null),
    button(found.answers.length > 1 ? `Take ${answer.answer}` : "Yes, north", () => take(answer), { strong: found.answers.length === 1 }));
}

const chance = (p) => (p > 0.999 ? "over 0.999" : p < 0.001 ? "under 0.001" : p.toFixed(p > 0.99 || p < 0.01 ? 3 : 2));

// paint draws the picture with the Sun's north up, and the answer's grid over it.
function paint(canvas, answer) {
  const ratio = Math.min(2, window.devicePixelRatio || 1), size = Math.round(SIDE * ratio);
  canvas.width = canvas.height = size;
  const context = canvas.getContext("2d"), limb = answer.geometry.limb;
  const view = { cx: limb.x, cy: limb.y, scale: SIDE / (2.2 * limb.r), turn: answer.up.turn_deg * Math.PI / 180, flip: answer.up.flip, width: SIDE, height: SIDE };
  const source = room.shown?.disc;
  if (source) {
    const { black, white } = room.shown.levels, table = curve(room.tone, black, white);
    const image = context.createImageData(size, size);
    draw(image, { ratio, view, sources: { disc: source, edge: source }, limb: null, tables: { disc: table, edge: table }, ground: 0, smooth: true });
    context.putImageData(image, 0, 0);
  }
  context.scale(ratio, ratio);
  const style = getComputedStyle(document.body);
  context.strokeStyle = context.fillStyle = style.getPropertyValue("--accent") || "#e69f00";
  for (const line of answer.geometry.grid ?? []) {
    context.globalAlpha = line.major ? 0.9 : 0.35;
    context.lineWidth = line.major ? 1.5 : 1;
    context.beginPath();
    line.points.forEach(([x, y], i) => context[i ? "lineTo" : "moveTo"](...toScreen(view, x, y)));
    context.stroke();
  }
  context.globalAlpha = 1;
  context.font = "12px system-ui, sans-serif";
  context.textAlign = "center";
  for (const [name, end] of [["N", answer.geometry.axis.north], ["S", answer.geometry.axis.south]]) {
    const [x, y] = toScreen(view, ...end[1]);
    context.fillText(name, x, Math.max(11, Math.min(SIDE - 2, y + 4)));
  }
}

async function take(answer) {
  const { id } = state.frame;
  try {
    await change(`/frames/${id}/north/twins`, { answer: answer.answer });
  } catch (err) { refusal(err, "north"); return; }
  if (state.frame?.id !== id) return;
  toggleSheet("sheet-twins", false);
  changed("turned");
  notice(`north kept from the Sun's turning: ${answer.words}`, { hint: "a better one replaces it: a drift, or known features", key: "north" });
  set("question", "marks");
}
