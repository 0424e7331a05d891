// Short messages at the foot of the picture: what happened, what to do. They do
// not cover what the hand works on, and go by themselves unless they refuse
// something.
const list = document.getElementById("notices");

/**
 * notice shows a message. Options: hint, refusal (stays until dismissed), act
 * ({label, run}: a button), key (a newer notice with the same key replaces it), closed
 * (called when it is dismissed by hand).
 */
export function notice(text, { hint = "", refusal = false, act = null, key = "", closed = () => {} } = {}) {
  if (key) list.querySelector(`[data-key="${CSS.escape(key)}"]`)?.remove();
  const item = document.createElement("li");
  item.className = refusal ? "notice refusal" : "notice";
  item.dataset.key = key;
  const words = document.createElement("p");
  words.textContent = sentence(text);
  if (hint) {
    const advice = document.createElement("span");
    advice.className = "hint";
    advice.textContent = " " + sentence(hint);
    words.append(advice);
  }
  item.append(words);
  if (act) {
    const button = document.createElement("button");
    button.textContent = act.label;
    button.addEventListener("click", () => { item.remove(); act.run(); });
    item.append(button);
  }
  const close = document.createElement("button");
  close.className = "close";
  close.setAttribute("aria-label", "Dismiss");
  close.textContent = "×";
  close.addEventListener("click", () => { item.remove(); closed(); });
  item.append(close);
  list.append(item);
  // What was refused, or is asked, is not pushed out by what merely happened.
  const passing = [...list.querySelectorAll(".notice:not(.refusal)")];
  while (passing.length > 3) passing.shift().remove();
  list.scrollTop = list.scrollHeight;
  if (!refusal) setTimeout(() => item.remove(), 6000);
  return item;
}

/** refusal shows an error of the server, or of the script itself. */
export function refusal(err, key = "") {
  if (err.name === "AbortError") return;
  if (err.status === undefined && !err.hint) console.error(err);
  notice(err.message, { hint: err.hint, refusal: true, key });
}

/** odd shows a refusal of what looks like a slip, with a button that keeps it; other errors as they are. */
export function odd(err, keep, key = "") {
  if (!err.odd) { refusal(err, key); return; }
  notice(err.message, { hint: err.hint, refusal: true, key: key || "odd", act: { label: "Keep it all the same", run: keep } });
}

/** dismiss takes the newest refusal away; false when there was none. */
export function dismiss() {
  const item = [...list.children].at(-1);
  item?.querySelector(".close").click();
  return Boolean(item);
}

/** sentence starts with a capital and ends with a full stop, as people read. */
export function sentence(text) {
  const t = text.trim();
  if (!t) return "";
  const first = /^\S*[._\d]/.test(t) ? t[0] : t[0].toUpperCase(); // a file's name or an id stays as it is
  return first + t.slice(1) + (/[.?!]$/.test(t) ? "" : ".");
}
