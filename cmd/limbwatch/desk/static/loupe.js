// The loupe: what lies under the pointer, much larger, for exact clicks. It comes by
// key, while a finger is held down, and when a tool is in hand and the picture is
// small.
import { room } from "./room.js";
import { draw } from "./raster.js";
import { hand } from "./overlay.js";
import { kindOf } from "./glyphs.js";

const glass = document.getElementById("loupe"), pen = glass.getContext("2d", { alpha: false });
const SIZE = 144, AWAY = 40;
export const loupe = { pinned: false };

/** loupeAt shows the loupe for a point of the screen, if it is wanted there. */
export function loupeAt(sx, sy, held = false) {
  const wanted = held || loupe.pinned;
  if (!wanted || !room.shown) { glass.hidden = true; return; }
  const scale = Math.max(8, room.view.scale * 3);
  const ratio = devicePixelRatio || 1, size = Math.round(SIZE * ratio);
  if (glass.width !== size) glass.width = glass.height = size;
  const source = room.other && room.otherWay === "swap" ? room.other : room.shown;
  const image = pen.createImageData(size, size);
  const [cx, cy] = hand.cross ?? [0, 0];
  draw(image, {
    ratio, view: { ...room.view, cx, cy, scale, width: SIZE, height: SIZE },
    sources: source, limb: source.limb, tables: room.tables, ground: room.ground ?? 0xff000000, smooth: false,
  });
  pen.putImageData(image, 0, 0);
  pen.strokeStyle = hand.making ? kindOf(hand.making.kind).ink : "#ff9a6e";
  pen.lineWidth = ratio;
  const c = size / 2, gap = scale * ratio / 2 + 2 * ratio;
  pen.strokeRect(c - scale * ratio / 2, c - scale * ratio / 2, scale * ratio, scale * ratio);
  pen.beginPath();
  for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) { pen.moveTo(c + dx * gap, c + dy * gap); pen.lineTo(c + dx * (gap + 16 * ratio), c + dy * (gap + 16 * ratio)); }
  pen.stroke();
  const x = sx - SIZE - AWAY > 0 ? sx - SIZE - AWAY : sx + AWAY;
  const y = Math.max(48, Math.min(room.view.height - SIZE - 8, sy - SIZE - (held ? 24 : 8)));
  glass.style.transform = `translate(${x}px, ${y}px)`;
  glass.hidden = false;
}

/** loupeAway hides it; a pinned one stays unless forced. */
export function loupeAway(force = true) { if (force || !loupe.pinned) glass.hidden = true; }
