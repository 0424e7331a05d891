// Getting a frame's pixels: a small level at once, the full depth after it, and the
// other exposure or another day's picture when they are asked for.
import { get, bytes } from "./api.js";
import { levelFrom, pyramid, flattened } from "./pixels.js";

const kept = new Map(); // path → {info, levels}; the newest few
const KEEP = 4;

/**
 * limbOf is the limb as raster.js and pixels.js take it, or null: some pixels
 * farther out when asked, so that the blur of the limb counts as disc.
 */
export function limbOf(geometry, outPx = 0) {
  const limb = geometry?.limb;
  return limb ? { x: limb.x, y: limb.y, toUnit: limb.to_unit.map((v) => v * limb.r / (limb.r + outPx)) } : null;
}

/**
 * load brings a picture: path is that of its pixels, as in /frames/F3/pixels. seen
 * is called with {info, levels} at the first sight and again at full depth.
 */
export async function load(path, seen, signal) {
  const have = kept.get(path);
  if (have) {
    kept.delete(path);
    kept.set(path, have);
    seen(have, true);
    return have;
  }
  const info = await get(path, { signal });
  const picture = { path, info, levels: [] };
  const first = info.levels.at(-1);
  picture.levels[first.level] = levelFrom(await bytes(`${path}/${first.level}`, { signal }), first.width, first.height);
  if (first.level > 0) {
    seen(picture, false);
    const full = info.levels[0];
    picture.levels = pyramid(levelFrom(await bytes(`${path}/0`, { signal }), full.width, full.height));
  }
  kept.set(path, picture);
  while (kept.size > KEEP) kept.delete(kept.keys().next().value);
  seen(picture, true);
  return picture;
}

/** forget lets go of pictures that may have changed. */
export function forget() { kept.clear(); }

/** source is a picture as the raster takes it, limb darkening taken out if asked. */
export async function source(picture, { flatten, limb, frame, fromPicture = null }) {
  if (!flatten || !limb) return { levels: picture.levels, fromPicture };
  const key = JSON.stringify(limb);
  if (picture.flatKey !== key) {
    const { gains } = await get(`/frames/${frame}/darkening`);
    picture.flat = picture.levels.map((level, k) => level && flattened(level, k, limb, gains));
    picture.flatKey = key;
  }
  return { levels: picture.flat, fromPicture };
}
