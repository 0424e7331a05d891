// The only geometry in the script: picture pixels to screen points and back.
//
// A view is {cx, cy, scale, turn, flip, width, height}:
//   cx, cy         the picture pixel that stands in the middle of the window
//   scale          CSS pixels for one picture pixel
//   turn           radians by which the picture is turned clockwise on the screen
//   flip           -1 when the picture is mirrored left to right (before the turn), else 1
//   width, height  the window, in CSS pixels
//
// (0, 0) of the picture is the centre of its top-left pixel, x right, y down.
// Everything about the Sun is computed by the server.

/** toScreen gives the point of the window, in CSS pixels, at which a picture pixel stands. */
export function toScreen(view, x, y) {
  const dx = (x - view.cx) * view.flip * view.scale;
  const dy = (y - view.cy) * view.scale;
  const cos = Math.cos(view.turn), sin = Math.sin(view.turn);
  return [view.width / 2 + cos * dx - sin * dy, view.height / 2 + sin * dx + cos * dy];
}

/** toPicture is the inverse of toScreen. */
export function toPicture(view, sx, sy) {
  const dx = sx - view.width / 2, dy = sy - view.height / 2;
  const cos = Math.cos(view.turn), sin = Math.sin(view.turn);
  return [
    view.cx + (cos * dx + sin * dy) / view.scale * view.flip,
    view.cy + (cos * dy - sin * dx) / view.scale,
  ];
}

/** zoomedAt is the view scaled by a factor about a point of the window, which keeps its pixel. */
export function zoomedAt(view, sx, sy, factor, limits) {
  const scale = Math.min(limits.max, Math.max(limits.min, view.scale * factor));
  const [px, py] = toPicture(view, sx, sy);
  const next = { ...view, scale };
  const [qx, qy] = toPicture(next, sx, sy);
  next.cx += px - qx;
  next.cy += py - qy;
  return next;
}

/** panned is the view moved by a distance on the screen, as if the picture were pulled. */
export function panned(view, dx, dy) {
  const [x0, y0] = toPicture(view, 0, 0);
  const [x1, y1] = toPicture(view, dx, dy);
  return { ...view, cx: view.cx - (x1 - x0), cy: view.cy - (y1 - y0) };
}

/** fitted is the view in which a circle of the picture fills the free part of the window. */
export function fitted(view, circle, free) {
  const scale = Math.min(free.width, free.height) / (2 * circle.radius);
  const next = { ...view, scale, cx: circle.x, cy: circle.y };
  return panned(next, free.x + free.width / 2 - view.width / 2, free.y + free.height / 2 - view.height / 2);
}

/**
 * turnedTo is the view with another turn and mirror that keeps the picture pixel
 * under a point of the window.
 */
export function turnedTo(view, turn, flip, sx, sy) {
  const [px, py] = toPicture(view, sx, sy);
  const next = { ...view, turn, flip };
  const [qx, qy] = toPicture(next, sx, sy);
  next.cx += px - qx;
  next.cy += py - qy;
  return next;
}

/** shortestTurn is the turn from one angle to another by the shorter way, in radians. */
export function shortestTurn(from, to) {
  const full = 2 * Math.PI;
  return ((to - from + Math.PI) % full + full) % full - Math.PI;
}

/**
 * carried is the view on another picture that shows the same place in the same
 * way; m = [a, b, c, d, e, f] brings pixels of the old picture to the new one,
 * (x, y) → (a·x + b·y + e, c·x + d·y + f).
 */
export function carried(view, m) {
  const [a, b, c, d, e, f] = m;
  const det = a * d - b * c, cos = Math.cos(view.turn) * view.scale, sin = Math.sin(view.turn) * view.scale;
  // old picture to screen, times new picture to old
  const p = cos * view.flip, q = -sin, r = sin * view.flip, s = cos;
  const A = (p * d - q * c) / det, B = (q * a - p * b) / det, C = (r * d - s * c) / det, D = (s * a - r * b) / det;
  const flip = A * D - B * C < 0 ? -1 : 1;
  return {
    ...view, cx: a * view.cx + b * view.cy + e, cy: c * view.cx + d * view.cy + f,
    scale: Math.sqrt(Math.abs(A * D - B * C)), flip, turn: Math.atan2(C * flip, A * flip),
  };
}
