// The page comes together here: what its parts do for one another, and how it begins.
import { state, on, changed, recalled, remember, kept, keep } from "./store.js";
import { listen } from "./api.js";
import { readAnew, begin, around } from "./news.js";
import { open } from "./showing.js";
import * as room from "./room.js";
import { hand } from "./overlay.js";
import * as marking from "./marking.js";
import * as ledger from "./ledger.js";
import * as shore from "./shore.js";
import * as ribbon from "./ribbon.js";
import * as compare from "./compare.js";
import * as looks from "./looks.js";
import * as charts from "./charts.js";
import * as header from "./header.js";
import * as figures from "./figures.js";
import "./upload.js";
import "./gestures.js";
import "./ways.js";
import { bindAll } from "./bindings.js";
import { refusal } from "./notices.js";
import * as theme from "./theme.js";
import { toggleSheet } from "./parts.js";
import { drawTray } from "./tray.js";

async function goDay(day) {
  const onto = state.day?.id !== day.id;
  if (day.frame) await open(day.frame);
  if (onto) changed("selected");
}

async function start() {
  const want = recalled();
  Object.assign(state, { question: want.question, up: want.up, mirror: want.mirror, grid: want.grid });
  ledger.fold(kept("ledger", innerWidth > 640));
  if (!kept("cautioned", false)) toggleSheet("sheet-caution", true);
  header.onFrame((id) => open(id, { carry: state.frame?.partners?.find((p) => p.frame === id)?.from_picture }));
  shore.onDay(goDay);
  ribbon.onPassage((thread) => { if (thread.mark) marking.select(thread.mark); else charts.show("passage", { passage: thread.id }); });
  charts.onFrame((id, mark) => (id === state.frame?.id ? marking.select(mark) : open(id, { mark })));
  bindAll();
  try {
    await begin(want.frame);
  } catch (err) { refusal(err, "open"); }
  changed("days");
  const day = state.days.find((d) => d.id === want.day) ?? state.days.at(-1);
  const frame = want.frame ?? day?.frame;
  if (frame) {
    await open(frame, { mark: want.mark, at: want.at });
    if (want.compare) compare.open(want.compare);
    if (charts.CHARTS.includes(want.chart?.name)) charts.show(want.chart.name, want.chart);
  } else changed("frame", null);
  document.body.dataset.ready = "yes";
  listen();
}

on("stale", readAnew);
on("added", async (answer) => {
  await around(answer.frame.id);
  await open(answer.frame.id);
  changed("days");
});
on("online", (online) => { document.getElementById("offline").hidden = online; if (online) readAnew(); });
on("shut", (shut) => {
  const [gone, anew] = document.getElementById("offline").children;
  gone.hidden = shut;
  anew.hidden = !shut;
});
on("question", (q) => {
  document.body.dataset.ask = q;
  if (q !== "marks") { marking.save(); hand.making = null; }
  remember(room.room.view);
  changed("tray");
});
on("selected up mirror compare", () => remember(room.room.view));
on("tray making frame question compare", drawTray);
document.getElementById("caution-read").addEventListener("click", () => { keep("cautioned", true); toggleSheet("sheet-caution", false); });

start();

// What the browser tests read.
window.limbwatch = { state, room: room.room, figures, theme, looks };
