// Night and day: by the system's wish until pinned.
import { keep, kept, changed } from "./store.js";

const system = matchMedia("(prefers-color-scheme: light)");
const order = ["system", "night", "day"];
const words = { system: "as the system", night: "night", day: "day" };

export function theme() { return kept("theme", "system"); }

/** dark says whether the page is dark now. */
export function dark() { return document.documentElement.dataset.theme === "night"; }

export function pin(choice) {
  keep("theme", choice);
  apply();
}

/** next goes on to the next choice and gives its name in words. */
export function next() {
  const choice = order[(order.indexOf(theme()) + 1) % order.length];
  pin(choice);
  return words[choice];
}

function apply() {
  const choice = theme();
  const shown = choice === "system" ? (system.matches ? "day" : "night") : choice;
  document.documentElement.dataset.theme = shown;
  changed("theme", shown);
}

system.addEventListener("change", apply);
apply();

/** still says that the system asks for less motion. */
export const still = () => matchMedia("(prefers-reduced-motion: reduce)").matches;
