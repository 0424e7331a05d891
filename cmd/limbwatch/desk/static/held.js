// A north that is only proposed is held against its neighbours: what contradicts it, and
// what would fit, stands above the tray. What is marked tells at once; pictures are
// compared meanwhile, and nothing waits for them.
import { state, changed } from "./store.js";
import { get } from "./api.js";
import { sentence } from "./notices.js";
import { el } from "./parts.js";

const SOON = 200; // ms that the dial must rest

let held = null; // {contradictions, agreeing, waiting} of what is proposed now
let asking = null, resting = 0;

/** hold begins anew with what is proposed; with null it ends. */
export function hold(proposed) {
  clearTimeout(resting);
  asking?.abort();
  held = null;
  if (!proposed || proposed.unknown || !state.frame) return;
  const mine = asking = new AbortController(), id = state.frame.id;
  resting = setTimeout(() => ask(id, proposed, mine.signal), SOON);
}

async function ask(id, p, signal) {
  const query = { north_deg: p.angle_deg, mirrored: Boolean(p.mirrored), sigma_north_deg: p.sigma_deg ?? 0 };
  try {
    for (const patient of [false, true]) {
      const answer = await get(`/frames/${id}/north/held?${new URLSearchParams({ ...query, patient })}`, { signal });
      if (signal.aborted) return;
      held = answer;
      changed("tray");
      if (!answer.waiting.length) return;
    }
  } catch { /* it is held again when it is kept */ }
}

/** line is what the tray says of it; nothing where there is nothing to say. */
export function line() {
  if (!held) return null;
  const words = [...held.contradictions.map((w) => sentence(w)),
    held.agreeing.length && `Goes with ${held.agreeing.join(" and ")}.`,
    held.waiting.length && `Being compared with ${held.waiting.join(" and ")}…`].filter(Boolean);
  if (!words.length) return null;
  return el("span", { class: held.contradictions.length ? "held against" : "held", role: "status" }, words.join(" "));
}
