// Pictures in: by drop, by dialog, several at once. Each shows its progress and the
// time that was found with its source; where there is none it is asked for.
import { on, changed, kept, keep } from "./store.js";
import { addressOf, change, Refused, Lost } from "./api.js";
import { notice, refusal, sentence } from "./notices.js";
import { el } from "./parts.js";

const veil = document.getElementById("drop");
let depth = 0, queue = Promise.resolve();

/** add sends files to the server, one after another. */
export function add(files) {
  for (const file of files) queue = queue.then(() => one(file));
  return queue;
}

async function one(file) {
  const item = notice(`${file.name} is on its way`, { key: "up-" + file.name, refusal: true });
  const bar = el("div", {}), words = item.querySelector("p");
  words.append(el("div", { class: "progress", role: "progressbar", "aria-label": file.name }, bar));
  try {
    const answer = await send(file, (part) => { bar.style.width = `${Math.round(part * 100)}%`; if (part >= 1) words.firstChild.data = `${file.name} is being read`; });
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
  notice(answer.known ? `${name} is here already, as ${f.id}` : `${name}: ${f.time_text}`, { hint: answer.note ?? "", key: "up-" + name });
  changed("added", answer);
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

// The picture waits at the server until its time is typed.
function ask(name, err) {
  const item = notice(err.message, { hint: err.hint, refusal: true, key: "up-" + name });
  const time = el("input", { name: "time", placeholder: "2026-03-14 15:23:10", "aria-label": `Time of ${name}`, size: 19, required: true, autocomplete: "off", value: err.time ?? "" });
  const zone = el("input", { name: "zone", placeholder: "UTC", "aria-label": "Time zone of it", size: 14, value: ownZone() });
  const form = el("form", { class: "asked", onsubmit: async (event) => {
    event.preventDefault();
    try {
      keep("zone", zone.value);
      const answer = await change(`/held/${err.held}`, { time: time.value, zone: zone.value || "UTC" });
      item.remove();
      added(name, answer);
    } catch (again) {
      form.querySelector(".hint").textContent = sentence(again.message) + " " + sentence(again.hint ?? "");
    }
  } }, el("label", {}, time), " ", el("label", {}, zone), " ", el("button", { class: "strong" }, "Keep"), el("p", { class: "hint" }, ""));
  item.querySelector("p").append(form);
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
