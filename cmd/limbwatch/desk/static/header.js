// The day line: which day, which pictures, and what is true of the one that is shown.
// Each figure explains itself when it is touched.
import { state, on, changed } from "./store.js";
import { change } from "./api.js";
import { refusal, notice } from "./notices.js";
import { el, button, toggleSheet } from "./parts.js";
import * as warnings from "./warnings.js";

const title = document.getElementById("day-name"), frames = document.getElementById("frames"), facts = document.getElementById("facts");
const sheet = document.getElementById("sheet-frame");
let goTo = () => {};

/** onFrame says what happens when another picture of the day is chosen: f(id). */
export function onFrame(f) { goTo = f; }

function draw() {
  const f = state.frame, day = state.day;
  document.body.classList.toggle("bare", !f);
  document.getElementById("empty").hidden = Boolean(f) || state.days.length > 0;
  title.replaceChildren(...(f ? [el("span", { class: "long" }, f.date + " "), el("span", { class: "short" }, f.date_short + " "), el("span", { class: "time long" }, f.clock), el("span", { class: "time short" }, f.clock.replace(/:\d\d UTC$/, " UTC"))] : ["limbwatch"]));
  document.title = f ? `${f.date} ${f.clock} · limbwatch` : "limbwatch";
  frames.replaceChildren(...(day?.frames ?? []).map((x) => el("button", {
    type: "button", class: x.odd.length ? `${x.role} odd` : x.role, "aria-pressed": String(x.id === f?.id || x.id === state.edge), onclick: () => goTo(x.id),
    title: [x.title, ...x.odd.map((words) => `not settled: ${words}`)].join("\n"),
  }, el("span", { class: "dot", "aria-hidden": "true" }), el("span", { class: "name" }, x.name), x.odd.length ? el("span", { class: "mark", "aria-label": "not settled" }, "!") : null)));
  frames.querySelector("[aria-pressed=true]")?.scrollIntoView({ block: "nearest", inline: "nearest" });
  facts.replaceChildren(...(f?.facts ?? []).map((x) => el("div", {}, el("dt", { class: "unseen" }, x.name),
    el("dd", {}, el("button", { type: "button", title: x.about, "aria-label": `${x.name} ${x.value}: ${x.about}`, onclick: () => notice(`${x.name} ${x.value}`, { hint: x.about, key: "fact" }) }, el("i", {}, x.name), x.value)))));
  if (f) fill(f);
}

function fill(f) {
  const marks = (state.day?.marks ?? []).filter((m) => m.id && m.own).length;
  const rows = f.about.map(([name, value]) => [el("dt", {}, name), el("dd", {}, value)]).flat();
  const time = el("input", { name: "time", value: f.utc_edit, "aria-label": "Time of the picture", autocomplete: "off" });
  const zone = el("input", { name: "zone", value: "UTC", "aria-label": "Its zone", size: 8 });
  const role = el("select", { name: "role", "aria-label": "What the exposure was made for" },
    [["", "not known"], ["surface", "disc"], ["limb", "edge"], ["both", "both"]].map(([value, words]) => el("option", { value, selected: value === f.role }, words)));
  role.addEventListener("change", () => send({ role: role.value }));
  sheet.replaceChildren(el("h2", {}, f.name), ...warnings.list(), el("dl", {}, rows, el("dt", {}, "exposure for"), el("dd", {}, role)),
    el("form", { onsubmit: (event) => { event.preventDefault(); send({ time: time.value, zone: zone.value }); } }, time, zone, button("Put the time right", () => sheet.querySelector("form").requestSubmit())),
    el("p", { class: "acts" }, button(marks ? `Remove it and its ${marks} mark${marks > 1 ? "s" : ""}` : "Remove this picture", remove), el("span", { class: "dim" }, "the file stays")));
}

async function remove() {
  const { id, name, revision } = state.frame;
  toggleSheet("sheet-frame", false); // when the answer is here another picture may be shown
  try {
    await change(`/frames/${id}/remove`, { revision });
    notice(`picture ${id} (${name}) is removed`, { hint: "take it back with u", key: "done" });
  } catch (err) { refusal(err, "frame"); }
}

async function send(fields) {
  const { id, revision } = state.frame;
  try {
    await change(`/frames/${id}`, { revision, ...fields });
    if (state.frame?.id !== id) return;
    toggleSheet("sheet-frame", false);
    changed("turned");
  } catch (err) { refusal(err, "frame"); }
}

title.addEventListener("click", () => { if (state.frame) toggleSheet("sheet-frame"); });
on("frame day days edge", draw);
