// What is odd about a picture: it stays with it until a person settles it. The tray says
// it beside the question that it belongs to, the day line beside the picture's name, and
// the sheet of the picture takes the reason why it is right after all.
import { state, changed } from "./store.js";
import { change } from "./api.js";
import { notice, refusal, sentence } from "./notices.js";
import { el, button, toggleSheet } from "./parts.js";

/** openOf lists what nobody has settled, of one question or of all. */
export const openOf = (question = null) => (state.frame?.warnings ?? []).filter((w) => !w.settled && (!question || w.question === question));

/** chip is the tray's word for it; nothing where nothing is odd. */
export function chip(question) {
  const open = openOf(question);
  if (!open.length) return [];
  return [el("button", { type: "button", class: "odd", title: open.map((w) => sentence(w.words)).join("\n"), "aria-label": `Not settled: ${open.map((w) => w.words).join("; ")}`, onclick: show },
    `not settled: ${[...new Set(open.map((w) => w.about))].join(", ")}`)];
}

/** show opens the sheet of the picture where its warnings stand. */
export function show() {
  toggleSheet("sheet-frame", true);
  document.querySelector("#sheet-frame .warnings input")?.focus();
}

/** list is the sheet's part: what is odd, with the reason to be given, and what was settled. */
export function list() {
  const all = state.frame?.warnings ?? [];
  if (!all.length) return [];
  return [el("ul", { class: "warnings" }, all.map((w) => el("li", { class: w.settled ? "settled" : "odd" },
    el("b", {}, w.about), " ", sentence(w.words),
    w.settled ? el("small", {}, w.settled) : form(w))))];
}

function form(w) {
  const why = el("input", { name: "why", placeholder: "looked into: why it is right", "aria-label": `Why it is right (${w.about})`, autocomplete: "off", required: true });
  const ask = el("form", { onsubmit: (event) => { event.preventDefault(); settle(w, why.value); } }, why, button("Settle it", () => ask.requestSubmit()));
  return ask;
}

async function settle(w, why) {
  if (!why.trim()) { notice("a warning is settled for a reason", { hint: "say what you found when you looked into it", key: "settle" }); return; }
  try {
    await change(`/frames/${state.frame.id}/settle`, { warnings: [w.id], why });
    notice(`settled: ${w.about}`, { hint: "take it back with u", key: "done" });
  } catch (err) { refusal(err, "settle"); }
}
