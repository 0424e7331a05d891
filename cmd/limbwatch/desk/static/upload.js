// Pictures in: by drop, by dialog, several at once. Each shows its progress and the
// time that was found with its source; where there is none it is asked for.
import { on, changed, kept, keep } from "./store.js";
import { addressOf, back, change, get, Refused, Lost } from "./api.js";
import { notice, refusal, sentence } from "./notices.js";
import { el } from "./parts.js";
import { short } from "./names.js";

const veil = document.getElementById("drop");
let depth = 0, queue = Promise.resolve();

/** add sends files to the server, one after another. */
export function add(files) {
  for (const file of files) queue = queue.then(() => one(file));
  return queue;
}

async function one(file) {
  const item = notice(`${short(file.name, 57)} is on its way`, { key: "up-" + file.name, refusal: true });
  const bar = el("div", {}), words = item.querySelector("p");
  words.append(el("div", { class: "progress", role: "progressbar", "aria-label": file.name }, bar));
  try {
    const answer = await sendSafely(file, words, (part) => { bar.style.width = `${Math.round(part * 100)}%`; if (part >= 1) words.firstChild.data = `${short(file.name, 57)} is being read`; });
    item.remove();
    added(file.name, answer);
  } catch (err) {
    item.remove();
    if (err instanceof Refused && err.held) ask(file.name, err);
    else refusal(err, "up-" + file.name);
  }
}

function added(name, answer) {
  const f = answer.frame;
  notice(answer.known ? `${short(name, 57)} is here already, as ${f.id}` : `${short(name, 57)}: ${f.time_text}`, { hint: answer.note ?? "", key: "up-" + name });
  changed("added", answer);
}

// A picture that met no server waits for it like everything else; one that a server
// broke off is not sent again.
async function sendSafely(file, words, progress) {
  for (;;) {
    try {
      return await send(file, progress);
    } catch (err) {
      if (!(err instanceof Lost)) throw err;
      try { await get("/days"); } catch (gone) {
        if (!(gone instanceof Lost)) throw gone;
        words.firstChild.data = `${short(file.name, 57)} waits for the server`;
        await back();
        continue;
      }
      throw new Refused(0, { error: `${short(file.name, 57)} was broken off on its way`, hint: "add it once more; one beyond 400 MB with limbwatch frame add, which reads it where it lies" });
    }
  }
}

// fetch tells no progress of an upload; XMLHttpRequest does.
function send(file, progress) {
  return new Promise((done, fail) => {
    const request = new XMLHttpRequest(), form = new FormData();
    form.append("picture", file, file.name);
    form.append("modified_ms", String(file.lastModified));
    request.open("POST", addressOf("/frames"));
    request.setRequestHeader("Accept", "application/json");
    request.upload.onprogress = (event) => { if (event.lengthComputable) progress(event.loaded / event.total); };
    request.onerror = () => fail(new Lost());
    request.onload = () => {
      if (request.status === 401) { fail(new Lost()); return; } // started anew
      let answer = {};
      try { answer = JSON.parse(request.responseText); } catch { answer = { error: `the server answered ${request.status} without words` }; }
      if (request.status < 300) { done(answer); return; }
      const refused = new Refused(request.status, answer);
      refused.held = answer.held;
      refused.time = answer.time;
      fail(refused);
    };
    request.send(form);
  });
}

// The zone that was named last, or the browser's own, stands in the field; it counts
// only when the observer keeps it.
const ownZone = () => kept("zone", Intl.DateTimeFormat().resolvedOptions().timeZone ?? "");

// Pictures wait at the server until their time, or its zone, is named. They are asked
// for one after another; a zone can be named for all of them at once.
const waiting = [];

function ask(name, err) {
  waiting.push({ name, err });
  if (waiting.length === 1) question();
  else again?.();
}

let again = null; // tells anew how many wait

function question() {
  const [{ name, err }] = waiting;
  again = null;
  const next = () => {
    waiting.shift();
    notice(`${short(name, 57)} was not added`, { key: "up-" + name });
    if (waiting.length) question();
  };
  const item = notice(err.message, { hint: err.hint, refusal: true, key: "asked", closed: next });
  const time = el("input", { name: "time", placeholder: "2026-03-14 15:23:10", "aria-label": `Time of ${name}`, size: 19, required: true, autocomplete: "off", value: err.time ?? "" });
  const zone = el("input", { name: "zone", placeholder: "UTC", "aria-label": "Time zone of it", size: 14, value: ownZone() });
  const send = async (one, at) => added(one.name, await change(`/held/${one.err.held}`, { time: at, zone: zone.value || "UTC" }));
  const hint = el("p", { class: "hint" }), more = el("button", { type: "button", hidden: true, onclick: () => answered(true) });
  const answered = async (all) => {
    keep("zone", zone.value);
    try {
      await send(waiting[0], time.value);
      waiting.shift();
      if (all) while (waiting[0]?.err.time) { await send(waiting[0], waiting[0].err.time); waiting.shift(); }
    } catch (refused) {
      hint.textContent = sentence(refused.message) + " " + sentence(refused.hint ?? "");
      if (waiting[0]?.name === name) return; // else another one is refused, and asked for
    }
    item.remove();
    if (waiting.length) question();
  };
  // The zone of this one is offered for those that lack nothing else.
  again = () => {
    const others = waiting.slice(1).filter((one) => one.err.time).length;
    more.hidden = !others;
    more.textContent = `Keep, and this zone for ${others} more`;
  };
  const form = el("form", { class: "asked", onsubmit: (event) => { event.preventDefault(); answered(false); } },
    el("label", {}, time), " ", el("label", {}, zone), " ", el("button", { class: "strong" }, "Keep"), more, hint);
  item.querySelector("p").append(form);
  again();
  (err.time ? zone : time).focus();
}

for (const input of document.querySelectorAll("input[type=file]")) {
  input.addEventListener("change", () => { add([...input.files]); input.value = ""; });
}

const carriesFiles = (event) => [...(event.dataTransfer?.types ?? [])].includes("Files");
addEventListener("dragenter", (event) => { if (carriesFiles(event)) { depth++; veil.hidden = false; } });
addEventListener("dragleave", (event) => { if (carriesFiles(event) && --depth <= 0) { depth = 0; veil.hidden = true; } });
addEventListener("dragover", (event) => { if (carriesFiles(event)) event.preventDefault(); });
addEventListener("drop", (event) => {
  if (!carriesFiles(event)) return;
  event.preventDefault();
  depth = 0;
  veil.hidden = true;
  add([...event.dataTransfer.files]);
});

on("pick", () => document.getElementById("files").click());
