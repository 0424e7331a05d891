// The ledger: one line a mark. It sorts, filters, selects both ways, and its card
// below edits the mark in hand in place.
import { state, set, on, changed, markOf, kept, keep } from "./store.js";
import { change, catchUp } from "./api.js";
import { hand } from "./overlay.js";
import { lines, room, setView, free } from "./room.js";
import { toScreen, panned } from "./view.js";
import { KINDS } from "./glyphs.js";
import { select, remove } from "./marking.js";
import { refusal, odd, notice, sentence } from "./notices.js";
import { el, glyph, button } from "./parts.js";
import { sayable } from "./names.js";
import * as charts from "./charts.js";
import * as offers from "./offers.js";
import { follow } from "./following.js";

const body = document.getElementById("marks"), filter = document.getElementById("filter"), card = document.getElementById("card");
const empty = document.getElementById("ledger-empty"), count = document.getElementById("ledger-count");
let order = kept("order", { by: "kind", down: false });

const KEY = {
  kind: (m) => KINDS.findIndex((k) => k.kind === m.kind), label: (m) => m.name, lat: (m) => m.position?.lat_deg, lon: (m) => m.position?.lon_deg,
  cmd: (m) => m.position?.cmd_deg, sigma: (m) => m.position?.sigma_deg, passage: (m) => m.passage_name,
};

function sorted(marks) {
  const key = KEY[order.by] ?? KEY.kind, way = order.down ? -1 : 1;
  return [...marks].sort((a, b) => {
    const x = key(a), y = key(b);
    if (x === undefined || x === "" || x === null) return 1; // what has none comes last, whichever way
    if (y === undefined || y === "" || y === null) return -1;
    return way * (typeof x === "string" ? x.localeCompare(y, "en", { numeric: true }) : x - y) || a.number - b.number;
  });
}

function matching(marks) {
  const words = filter.value.trim().toLowerCase().split(/\s+/).filter(Boolean);
  return marks.filter((m) => words.every((w) => [m.id, m.kind, m.name, m.note, m.passage_name, m.text.b, m.text.l, m.frame].join(" ").toLowerCase().includes(w)));
}

function draw() {
  const all = (state.day?.marks ?? []).filter((m) => m.id), seen = sorted(matching(all));
  body.replaceChildren(...seen.map(row));
  count.textContent = seen.length === all.length ? String(all.length) : `${seen.length} of ${all.length}`;
  empty.hidden = seen.length > 0;
  empty.textContent = all.length ? "No mark fits the filter." : "Nothing marked yet. Take a kind in hand, 1 to 5, and click on the Sun; until north is known a mark has no position.";
  for (const head of document.querySelectorAll("#ledger th")) {
    if (head.dataset.sort === order.by) head.setAttribute("aria-sort", order.down ? "descending" : "ascending");
    else head.removeAttribute("aria-sort");
  }
  drawCard();
}

function row(m) {
  const picked = m.id === state.selected;
  const cells = m.text.edge
    ? [el("td", { class: "edge", colspan: 3, title: m.text.full }, m.text.edge)]
    : m.why ? [el("td", { class: "edge", colspan: 3, title: m.why }, m.why)]
    : [el("td", { class: "num" }, m.text.b), el("td", { class: "num" }, m.text.l), el("td", { class: "num" }, m.text.cmd)];
  return el("tr", {
    "data-id": m.id, tabindex: picked ? "0" : "-1", "aria-selected": String(picked), class: m.own ? null : "far", title: m.text.full,
    onclick: () => { select(m.id); reveal(m); },
    onkeydown: (event) => { if (event.key === "Enter") { select(m.id); reveal(m); card.querySelector("input")?.focus(); event.preventDefault(); } },
    onpointerenter: () => { hand.hover = m.id; lines(); }, onpointerleave: () => { hand.hover = null; lines(); },
  },
  el("td", { class: m.kind }, glyph(m.kind), el("span", { class: "unseen" }, m.kind)), el("td", { class: "name" }, m.name),
  ...cells, el("td", { class: "num sigma" }, m.text.sigma), el("td", { class: "passage", title: doubtful(m) ? `${m.passage_name || "none yet"}, doubtful: its card shows what else it may be` : m.passage_name },
    sayable(m.passage_name) || (doubtful(m) ? "" : "–"), doubtful(m) ? el("b", { class: "doubt" }, "?") : null)); // the year is that of the day
}

const doubtful = (m) => Boolean(m.rivals?.length);

// reveal brings a mark into the free part of the window, without changing the zoom.
function reveal(m) {
  if (!m.points) return;
  const [sx, sy] = toScreen(room.view, ...m.points[0]), f = free();
  if (sx > f.x + 20 && sx < f.x + f.width - 20 && sy > f.y + 20 && sy < f.y + f.height - 20) return;
  setView(panned({ ...room.view, untouched: false }, f.x + f.width / 2 - sx, f.y + f.height / 2 - sy));
}

function drawCard() {
  const m = markOf(state.selected);
  card.hidden = !m;
  if (!m) { card.replaceChildren(); return; }
  if (card.dataset.id === m.id && card.contains(document.activeElement) && document.activeElement.tagName === "INPUT") {
    card.dataset.revision = m.revision; // what is being typed stays; it will be sent on the newest revision
    return;
  }
  card.dataset.id = m.id;
  card.dataset.revision = m.revision;
  const field = (words, name, value, extra = {}) => el("label", { class: "row" }, el("span", {}, words),
    el("input", { name, value: value ?? "", dir: "auto", autocomplete: "off", onchange: (event) => send(m, { [name]: event.target.value }), ...extra }));
  card.replaceChildren(...[
    el("header", {},
      el("b", {}, m.name), el("span", { class: "kinds" }, KINDS.map((k) => el("button", {
        type: "button", class: k.kind, "aria-label": k.kind, title: k.kind, "aria-pressed": String(k.kind === m.kind), onclick: () => send(m, { kind: k.kind }),
      }, glyph(k.kind)))),
      button("Remove", remove, { key: "Del" })),
    el("p", { class: "figures" }, m.text.full || m.why, m.text.more ? el("small", {}, m.text.more) : null),
    oddOf(m).length ? el("p", { class: "odd" }, "its picture: ", oddOf(m).map(sentence).join(" ")) : null,
    field("name", "label", m.label, { placeholder: m.id }), field("note", "note", m.note),
    m.kind === "sunspot" ? field("spots", "spots", m.spots || "", { inputmode: "numeric", placeholder: "not counted" }) : null,
    el("div", { class: "row" }, el("span", {}, "passage"), m.passage
      ? el("span", { class: "belongs" }, el("button", { type: "button", class: "link", title: "its passage, drawn: Shift+P", "aria-keyshortcuts": "Shift+P", onclick: () => charts.show("passage", { passage: m.passage }) }, m.passage_name), el("small", {}, m.joined), el("button", { type: "button", class: "not", title: "it does not belong there; following will not put it there again", onclick: () => offers.part(m) }, "Not this"))
      : el("span", { class: "dim" }, "not followed yet")),
    el("div", { id: "offers", hidden: true }),
  ].filter(Boolean));
  offers.draw();
}

// What is odd about the picture of a mark, and nobody has settled.
const oddOf = (m) => state.day.frames.find((f) => f.id === m.frame)?.odd ?? [];

// A stale edit is told with both versions; the observer chooses.
async function send(m, fields) {
  try {
    await change(`/marks/${m.id}`, { revision: m.revision, ...fields });
  } catch (err) {
    if (err.status === 409 && err.now) {
      catchUp();
      const [name, mine] = Object.entries(fields)[0];
      notice(`${m.name} was changed elsewhere meanwhile: ${name} is now “${err.now[name] ?? ""}”, yours was “${mine}”`, {
        refusal: true, act: { label: "Keep mine", run: () => send({ ...m, revision: err.now.revision }, fields) },
      });
    } else {
      // Nothing was changed, and what was typed stays to be put right.
      odd(err, () => send(m, { ...fields, force: true }), "card");
      if (card.dataset.id === m.id) card.querySelector(`input[name="${Object.keys(fields)[0]}"]`)?.focus();
      return;
    }
  }
  document.querySelector('#notices [data-key="card"]')?.remove();
}

for (const head of document.querySelectorAll("#ledger th[data-sort]")) {
  head.tabIndex = 0;
  const sort = () => {
    order = { by: head.dataset.sort, down: order.by === head.dataset.sort && !order.down };
    keep("order", order);
    draw();
  };
  head.addEventListener("click", sort);
  head.addEventListener("keydown", (event) => { if (event.key === "Enter" || event.key === " ") { sort(); event.preventDefault(); } });
}
filter.addEventListener("input", draw);
filter.addEventListener("keydown", (event) => { if (event.key === "Escape") { filter.value = ""; draw(); filter.blur(); event.stopPropagation(); } });
document.getElementById("do-follow").addEventListener("click", follow);

card.addEventListener("keydown", (event) => {
  if (event.target.tagName !== "INPUT" || !/^(Enter|Escape)$/.test(event.key)) return;
  if (event.key === "Escape") event.target.value = event.target.defaultValue;
  event.target.blur(); // which keeps what was typed
  room.canvas.focus();
  event.preventDefault();
  event.stopPropagation();
});
card.addEventListener("submit", (event) => event.preventDefault());

export function fold(open = document.body.classList.contains("folded")) {
  document.body.classList.toggle("folded", !open);
  document.getElementById("do-ledger").setAttribute("aria-expanded", String(open));
  keep("ledger", open);
  changed("layout");
  if (room.view.untouched && state.frame) changed("refit");
}

on("selected", () => {
  for (const r of body.children) {
    const picked = r.dataset.id === state.selected;
    r.setAttribute("aria-selected", String(picked));
    r.tabIndex = picked ? 0 : -1;
    if (picked) r.scrollIntoView({ block: "nearest" });
  }
  drawCard();
});
on("day marks", draw);
