// The kinds of mark as they are drawn on the picture: told apart by shape first,
// by colour second. The colours are of Okabe and Ito's set, which people with any
// common colour vision can tell apart; each line has a dark or light casing, so
// that it stands on grey, red and inverted pictures alike.
export const KINDS = [
  { kind: "sunspot", name: "spot", shape: "point", ink: "#56b4e9" },
  { kind: "plage", name: "plage", shape: "outline", ink: "#f0e442" },
  { kind: "filament", name: "filament", shape: "line", ink: "#1fc49a" },
  { kind: "prominence", name: "prominence", shape: "line", ink: "#ffae1a" },
  { kind: "other", name: "other", shape: "point", ink: "#e79ac6" },
];

export const kindOf = (name) => KINDS.find((k) => k.kind === name) ?? KINDS.at(-1);

/** casing strokes the present path twice: broad in the casing's colour, then in the ink. */
export function cased(pen, ink, width, casing = "rgba(0,0,0,.62)") {
  const dash = pen.getLineDash();
  pen.setLineDash([]);
  pen.strokeStyle = casing;
  pen.lineWidth = width + 2.5;
  pen.stroke();
  pen.setLineDash(dash);
  pen.strokeStyle = ink;
  pen.lineWidth = width;
  pen.stroke();
}

/** path lays screen points as a line, closed or open. */
export function path(pen, points, closed) {
  pen.beginPath();
  points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  if (closed) pen.closePath();
}

/**
 * drawMark draws one mark. points are screen points, look {selected, ghost, away}:
 * a ghost is thin and hollow, away means marked on another exposure of the day.
 */
export function drawMark(pen, mark, points, look = {}) {
  const { ink } = kindOf(mark.kind);
  const width = look.selected ? 2.4 : look.ghost ? 1 : 1.7;
  pen.save();
  pen.globalAlpha = look.ghost ? 0.8 : look.away ? 0.75 : 1;
  pen.lineJoin = pen.lineCap = "round";
  if (look.ghost) pen.setLineDash([2, 3]);
  if (mark.shape === "point") {
    const [x, y] = points[0];
    pen.beginPath();
    if (mark.kind === "sunspot" || mark.kind === "plage") pen.arc(x, y, look.selected ? 8 : 6.5, 0, 7);
    else if (mark.kind === "filament") { pen.moveTo(x - 8, y + 3); pen.bezierCurveTo(x - 3, y - 6, x + 3, y + 6, x + 8, y - 3); }
    else if (mark.kind === "prominence") { pen.moveTo(x - 7, y + 5); pen.lineTo(x - 7, y - 4); pen.lineTo(x + 7, y - 4); pen.lineTo(x + 7, y + 5); }
    else { pen.moveTo(x, y - 8); pen.lineTo(x + 8, y); pen.lineTo(x, y + 8); pen.lineTo(x - 8, y); pen.closePath(); }
    if (mark.kind === "plage") pen.setLineDash([3, 2.5]);
    cased(pen, ink, width);
  } else if (mark.kind === "prominence" && points.length === 2) {
    bracket(pen, points, ink, width);
  } else {
    path(pen, points, mark.shape === "outline");
    if (mark.kind === "plage" && !look.ghost) pen.setLineDash([5, 4]);
    cased(pen, ink, width, mark.kind === "filament" ? "rgba(0,0,0,.8)" : undefined);
  }
  pen.restore();
}

// A prominence by base and top: a stem with feet along the limb and a cap.
function bracket(pen, [[x0, y0], [x1, y1]], ink, width) {
  const length = Math.hypot(x1 - x0, y1 - y0) || 1;
  const ux = (y1 - y0) / length, uy = -(x1 - x0) / length;
  const foot = Math.max(7, Math.min(14, length / 2)), cap = 5;
  pen.beginPath();
  pen.moveTo(x0 - ux * foot, y0 - uy * foot); pen.lineTo(x0 + ux * foot, y0 + uy * foot);
  pen.moveTo(x0, y0); pen.lineTo(x1, y1);
  pen.moveTo(x1 - ux * cap, y1 - uy * cap); pen.lineTo(x1 + ux * cap, y1 + uy * cap);
  cased(pen, ink, width);
}

/** handles draws the vertices of the mark in hand; the one in grip is filled. */
export function handles(pen, points, grip, ink = "#fff") {
  points.forEach(([x, y], i) => {
    pen.beginPath();
    pen.rect(Math.round(x) - 3.5, Math.round(y) - 3.5, 7, 7);
    pen.fillStyle = i === grip ? ink : "rgba(0,0,0,.75)";
    pen.fill();
    pen.strokeStyle = ink;
    pen.lineWidth = 1.25;
    pen.stroke();
  });
}

/** cross is the reticle at which the keys work. */
export function cross(pen, x, y, ink) {
  x = Math.round(x) + 0.5;
  y = Math.round(y) + 0.5;
  pen.beginPath();
  for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) { pen.moveTo(x + dx * 5, y + dy * 5); pen.lineTo(x + dx * 17, y + dy * 17); }
  cased(pen, ink, 1.2);
}
