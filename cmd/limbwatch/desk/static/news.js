// What is on show comes up to date here. An answer to a change carries what has changed
// since the version that the page had; what others changed is asked for as such, when the
// stream of news names a newer version. Only what was too much to tell is read anew.
//
// All that is shown is at least as new as state.version. Answers may overtake one another:
// a reading that is older than that takes the version back to its own, and what lies
// between is asked for; news that begin later than the version would leave a gap, and are
// asked for again from there.
import { state, set, changed } from "./store.js";
import { get, onNews, catchUp, missed } from "./api.js";
import { disc } from "./disc.js";
import { north } from "./north.js";
import { refusal } from "./notices.js";

let open = async () => {}; // shows a frame

/** onOpen says how another frame is opened, when the one that is shown is gone. */
export function onOpen(f) { open = f; }

/** asProposed asks for the lines of a frame, for the disc and north that are tried on it. */
export function asProposed(id) {
  const q = new URLSearchParams({ grid: state.grid }), own = state.frame?.id === id;
  const d = own ? disc.proposed : null, n = own ? north.proposed : null;
  for (const [k, v] of Object.entries({ ...d, ...(n && { north_deg: n.angle_deg, mirrored: n.mirrored }) })) q.set(k, v);
  return q;
}

const linesOf = (frame, signal) => (frame.disc ? get(`/frames/${frame.id}/geometry?${asProposed(frame.id)}`, { signal }) : null);

// noNewerThan says that a part of what is shown is as of this version.
function noNewerThan(version) {
  if (version >= state.version) return;
  state.version = version;
  catchUp();
}

/**
 * refresh reads a frame and its day anew, without touching the view, and gives the version
 * that they are of; what comes after another frame was opened is let go, and is of none.
 */
export async function refresh(id, signal, still = () => true) {
  const bundle = await get(`/frames/${id}`, { signal });
  const geometry = await linesOf(bundle.frame, signal);
  if (!still()) return 0;
  state.frame = bundle.frame;
  state.day = bundle.day;
  state.geometry = geometry;
  noNewerThan(bundle.version);
  return bundle.version;
}

// takeDays puts the days of an answer in the place of all.
function takeDays({ version, days, from, to, earlier, later }) {
  Object.assign(state, { days, from, to, earlier, later });
  noNewerThan(version);
}

/** begin reads the days around a frame, or the newest, where nothing is shown yet. */
export async function begin(frame) {
  const answer = await get(frame ? `/days?frame=${frame}` : "/days");
  takeDays(answer);
  state.version = answer.version;
}

/** around reads the days around a frame, when they are not at hand. */
export async function around(frame) {
  takeDays(await get(`/days?frame=${frame}`));
  changed("days");
}

/** moreDays adds days that were not at hand, from an answer; of those that are, the newer word stands. */
export function moreDays({ version, days }) {
  addDays(days);
  noNewerThan(version);
}

function addDays(days, instead = false) {
  const all = new Map(state.days.map((d) => [d.id, d]));
  for (const d of days) if (instead || !all.has(d.id)) all.set(d.id, d);
  state.days = [...all.values()].sort((a, b) => a.day_number - b.day_number);
}

// takeIn takes in what has changed: of the days on the shore, and of the frame that is
// shown. News for another frame, which was shown when it was asked, is asked for again.
async function takeIn(news, since) {
  if (news.version <= state.version) return;
  if (since > state.version) { await missed(); return; }
  if (news.much) { await readAnew(); return; }
  const known = new Set(state.days.map((d) => d.id));
  const near = news.days.filter((d) => known.has(d.id) || (!state.earlier || d.utc >= state.from) && (!state.later || d.utc < state.to));
  const gone = new Set(news.gone_days ?? []);
  state.days = state.days.filter((d) => !gone.has(d.id));
  addDays(near, true);
  if (!state.frame) {
    state.version = news.version;
    if (state.days.length) await elsewhere(state.days.at(-1).day_number); // the first one came
    return;
  }
  if (near.length || gone.size) changed("days");
  if (news.shown !== state.frame.id) { catchUp(news.version); return; }
  if (news.frame) {
    const geometry = await linesOf(news.frame);
    if (news.shown !== state.frame.id || since > state.version) { catchUp(news.version); return; }
    Object.assign(state, { frame: news.frame, day: news.day, geometry });
  } else {
    const left = new Set([...(news.gone ?? []), ...news.marks.map((m) => m.id)]);
    const at = new Map(state.day.marks.map((m, i) => [m.id, i]));
    const marks = [...state.day.marks.filter((m) => !left.has(m.id)), ...news.marks];
    const place = (m) => at.get(m.id) ?? Infinity;
    state.day.marks = marks.map((m, i) => [m, i]).sort(([a, i], [b, j]) => (place(a) - place(b) || i - j)).map(([m]) => m);
  }
  state.version = news.version;
  if (news.ribbon) set("ribbon", news.ribbon);
  if (!news.frame && !news.marks.length && !(news.gone ?? []).length) return;
  tell();
  if (news.frame) changed("pictured");
}

// tell says that the shown day is other than it was.
function tell() {
  changed("day", state.day);
  changed("marks");
  changed("geometry");
  changed("tray");
}

// readAnew reads all that is shown. What is asked while one runs is done after it, once.
let reading = null, again = false;
export async function readAnew() {
  if (reading) { again = true; return reading; }
  reading = (async () => {
    const id = state.frame?.id, number = state.days.find((d) => d.id === state.day?.id)?.day_number;
    try {
      const days = await get(id ? `/days?frame=${id}` : "/days");
      takeDays(days);
      // Where another frame was opened meanwhile, that one is read anew instead.
      if (!id && state.days.length) { await elsewhere(state.days.at(-1).day_number); return; }
      const still = () => state.frame?.id === id;
      const version = id ? Math.min(days.version, await refresh(id, undefined, still)) : days.version;
      if (still()) state.version = Math.max(state.version, version); else again = true;
    } catch (err) {
      if (err.status === 404 && state.frame?.id === id) { await elsewhere(number); return; }
      refusal(err, "open");
    }
    changed("days");
    tell();
    changed("pictured");
  })();
  try {
    await reading;
  } finally {
    reading = null;
    if (again) {
      again = false;
      await readAnew();
    }
  }
}

// elsewhere goes to the nearest day when the picture that is shown is gone, and to the
// empty page when it was the last one.
async function elsewhere(number) {
  const near = (d) => Math.abs(d.day_number - number);
  const next = state.days.filter((d) => d.frame).sort((a, b) => near(a) - near(b))[0]?.frame;
  if (next) await open(next);
  else {
    Object.assign(state, { frame: null, day: null, geometry: null, selected: null });
    changed("frame", null);
    changed("day", null);
  }
  changed("days");
}

onNews(takeIn);
