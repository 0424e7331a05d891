// Talking to the server: JSON in and out, errors with what to do, and the notice
// that it is gone. Nothing that was typed is lost then: a change that could not
// be sent is kept and sent again when the server is back.
import { state, set } from "./store.js";

const PREFIX = "/api/v1";

/** A Refused carries what happened, what to do, for a stale edit the newest version, the
 * circles of which one is to be taken, and whether the figures only look like a slip: sent
 * again with force they are kept. */
export class Refused extends Error {
  constructor(status, body) {
    super(body.error ?? "the server refused");
    this.status = status;
    this.hint = body.hint ?? "";
    this.now = body.now;
    this.circles = body.circles;
    this.odd = Boolean(body.odd);
  }
}

/** A Lost says that no server answered. */
export class Lost extends Error {
  constructor() {
    super("the server does not answer");
    this.hint = "is limbwatch desk still running? What you entered is kept and sent when it is back";
  }
}

async function call(method, path, body, options = {}) {
  const init = { method, headers: { Accept: "application/json" }, credentials: "same-origin", signal: options.signal };
  if (body instanceof FormData) init.body = body;
  else if (body !== undefined) {
    init.body = JSON.stringify(body);
    init.headers["Content-Type"] = "application/json";
  }
  let response;
  try {
    response = await fetch(PREFIX + path, init);
  } catch (err) {
    if (err.name === "AbortError") throw err;
    lost();
    throw new Lost();
  }
  if (response.status === 401) { lost(true); throw new Lost(); } // another server, which knows this browser not yet
  if (!state.online) found();
  if (options.raw && response.ok) return response;
  let answer = {};
  try { answer = await response.json(); } catch (err) {
    if (err.name === "AbortError") throw err;
    if (response.ok) { lost(); throw new Lost(); } // it went away in the middle of a word
    answer = { error: `the server answered ${response.status} without words` };
  }
  if (!response.ok) throw new Refused(response.status, answer);
  return answer;
}

export const get = (path, options) => call("GET", path, undefined, options);
export const post = (path, body, options) => call("POST", path, body ?? {}, options);
export const bytes = async (path, options) => (await call("GET", path, undefined, { ...options, raw: true })).arrayBuffer();

// Changes go one after another, in the order in which they were made.
let last = Promise.resolve();
const waiting = [];

let takeIn = async () => {};

/** onNews says what is done with what has changed since a version: f(news, since). */
export function onNews(f) { takeIn = f; }

// asking is how a request asks for what has changed since what the page shows.
const asking = () => new URLSearchParams({ since: state.version, shown: state.frame?.id ?? "" });

// inTurn runs one thing after the other, whatever became of those before.
function inTurn(run) {
  const result = last.then(run, run);
  last = result.catch(() => {});
  return result;
}

/**
 * change sends a change, and takes in what it caused before it gives the answer. When the
 * server is gone it waits for it; the promise then settles later. Refusals reject.
 */
export function change(path, body) {
  return inTurn(async () => {
    const { answer, since } = await sent(path, body);
    if (answer.news) await orReadAnew(takeIn(answer.news, since));
    return answer;
  });
}

// sent sends a change until it is answered: once answered it is never sent again.
async function sent(path, body) {
  for (;;) {
    const since = state.version;
    try {
      return { answer: await post(`${path}?${asking()}`, body), since };
    } catch (err) {
      if (!(err instanceof Lost)) throw err;
      await new Promise((again) => waiting.push(again));
    }
  }
}

// orReadAnew lets go of news that the server could not tell to the end: when it is back
// all is read anew.
const orReadAnew = (taken) => taken.catch((err) => { if (!(err instanceof Lost)) throw err; });

/** missed takes in what has changed since the version that the page has. */
export async function missed() {
  const since = state.version;
  await takeIn(await get(`/changes?${asking()}`), since);
}

/** catchUp does so in its turn, unless the page has that version by then. */
export function catchUp(version = Infinity) {
  return inTurn(async () => { if (state.version < version) await orReadAnew(missed()); }).catch((err) => console.error(err));
}

/** back waits until the server is there again, when a get has just found it gone. */
export const back = () => new Promise((again) => waiting.push(again));

/** unsent says how many changes wait for the server. */
export const unsent = () => waiting.length;

/** addressOf is the full path of an endpoint. */
export const addressOf = (path) => PREFIX + path;

// lost notes that no server answers; shut says that one does, started anew, that has
// not let this browser in. Either way what is to be sent waits.
function lost(shut = false) {
  if (state.shut !== shut) set("shut", shut);
  if (!state.online) return;
  set("online", false);
  knock();
}

function found() {
  set("shut", false);
  set("online", true);
  for (const again of waiting.splice(0)) again();
}

function knock() {
  setTimeout(async () => {
    if (state.online) return;
    try {
      const response = await fetch(PREFIX + "/", { credentials: "same-origin" });
      if (response.ok) { found(); listen(); return; }
      lost(response.status === 401);
    } catch { lost(); }
    knock();
  }, 1000);
}

let news = null;

/** listen hears what others change: another tab, or a command in the terminal. */
export function listen() {
  news?.close();
  news = new EventSource(PREFIX + "/news");
  news.addEventListener("changed", (event) => { if (Number(event.data) > state.version) catchUp(Number(event.data)); });
  news.onerror = () => {
    news.close();
    lost();
  };
}

addEventListener("beforeunload", (event) => { if (waiting.length) event.preventDefault(); });
