// Small builders of page elements, so that no module writes markup in strings.

/** el makes an element: attributes, "on…" handlers and children. */
export function el(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "class") node.className = value;
    else if (name in node && typeof value !== "string") node[name] = value;
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.flat().filter((c) => c !== null && c !== undefined && c !== false));
  return node;
}

/** glyph is the sign of a kind or a command, from the page's symbols. */
export function glyph(name) {
  const ns = "http://www.w3.org/2000/svg", svg = document.createElementNS(ns, "svg"), use = document.createElementNS(ns, "use");
  use.setAttribute("href", "#g-" + name);
  svg.append(use);
  svg.setAttribute("aria-hidden", "true");
  return svg;
}

/** button with its key shown. */
export function button(words, run, { key = "", strong = false, icon = "", title = "", pressed, disabled = false, id = "" } = {}) {
  return el("button", {
    type: "button", class: strong ? "strong" : icon && !words ? "icon" : null, onclick: run, title: title || null, disabled, id: id || null,
    "aria-pressed": pressed === undefined ? null : String(pressed), "aria-keyshortcuts": key || null,
  }, icon ? glyph(icon) : null, key && !strong ? el("kbd", {}, key) : null, words);
}

/** toggleSheet opens or closes one of the sheets, and the others with it. */
export function toggleSheet(id, open = document.getElementById(id).hidden) {
  for (const sheet of document.querySelectorAll(".sheet")) {
    sheet.hidden = sheet.id !== id || !open;
    for (const opener of document.querySelectorAll(`[aria-controls="${sheet.id}"]`)) opener.setAttribute("aria-expanded", String(!sheet.hidden));
  }
  return open;
}

/** closeSheets is true when one was open. */
export function closeSheets() {
  const open = document.querySelector(".sheet:not([hidden])");
  if (!open) return false;
  toggleSheet(open.id, false);
  return true;
}
