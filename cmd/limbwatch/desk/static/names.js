// Where names stand on the picture, so that none lies on another.

const HIGH_PX = 13;
const SPOTS = [[10, -8], [10, 10], [-10, -8], [-10, 10], [10, -22], [10, 24], [-10, -22], [-10, 24], [10, -36], [10, 38]];

/**
 * spotFor finds the first free spot for a name so many CSS pixels wide beside a point,
 * as [left, middle], and takes it; taken holds {x, y, wide} of the names before it.
 */
export function spotFor(taken, [x, y], wide) {
  const spots = SPOTS.map(([dx, dy]) => [dx > 0 ? x + dx : x + dx - wide, y + dy]);
  const [left, middle] = spots.find(([l, m]) => taken.every((t) => l >= t.x + t.wide || t.x >= l + wide || Math.abs(t.y - m) >= HIGH_PX)) ?? spots[0];
  taken.push({ x: left, y: middle, wide });
  return [left, middle];
}

/** short keeps both ends of a name longer than so many letters. */
export function short(name, letters) {
  const all = [...name]; // whole characters, not halves of them
  if (all.length <= letters) return name;
  const half = (letters - 1) / 2;
  return all.slice(0, Math.ceil(half)).join("") + "…" + all.slice(-Math.floor(half)).join("");
}

/** sayable leaves the year out of a passage's name, where the day says it. */
export const sayable = (name) => name.replace(/^\d{4}-/, "");
