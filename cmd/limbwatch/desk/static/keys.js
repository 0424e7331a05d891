// Every action has a key. An action is {keys, does, run, group, when}; the list on
// "?" is made of the same table, so it cannot lie.
const actions = [];

/** bind adds an action. keys are as in KeyboardEvent.key, with Shift+, Alt+, Ctrl+ before. */
export function bind(group, keys, does, run, when = () => true) {
  actions.push({ group, keys: keys.split(" "), does, run, when });
}

/** list gives the actions by group, in the order in which they were bound. */
export function list() {
  const groups = new Map();
  for (const a of actions) {
    if (!groups.has(a.group)) groups.set(a.group, []);
    groups.get(a.group).push(a);
  }
  return groups;
}

let narrowed = () => null;
/** narrow says which groups of keys work now: f gives their names, or null for all. */
export function narrow(f) { narrowed = f; }

/** nameOf is the name of a key press, as bind takes it. */
export function nameOf(event) {
  let name = event.key === " " ? "Space" : event.key;
  if (event.shiftKey && /^Digit[0-9]$/.test(event.code)) name = event.code.slice(5); // else it would be ! or "
  if (name.length === 1 && /[A-Z]/.test(name)) name = name.toLowerCase();
  let before = "";
  if (event.ctrlKey || event.metaKey) before += "Ctrl+";
  if (event.altKey) before += "Alt+";
  if (event.shiftKey && (event.key.length > 1 || event.key === " " || /[a-zA-Z0-9]/.test(name))) before += "Shift+";
  return before + name;
}

const typing = (el) => el instanceof HTMLElement && (el.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(el.tagName)) && el.type !== "range";

function run(event) {
  const name = nameOf(event);
  if (typing(event.target) && name !== "Escape") return;
  // A focused control keeps the keys that work it.
  const control = event.target.closest?.("button, summary, a, input[type=range], [role=row], [role=link]");
  if (control && /^(Enter|Space)$/.test(name)) return;
  if (event.target.type === "range" && /^(Arrow|Home|End|Page)/.test(event.key)) return;
  const groups = narrowed();
  for (const a of actions) {
    if (!a.keys.includes(name) || groups && !groups.includes(a.group) || !a.when()) continue;
    if (a.run(event) === false) continue;
    event.preventDefault();
    return;
  }
}

/** start listens to the keyboard. */
export function start() { addEventListener("keydown", run); }
