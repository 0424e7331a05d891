// Tone curves: from the full 16 bits of a picture to what the screen shows.
// A curve is a table of 65536 screen colours, so that no step of the picture is
// lost before the curve is applied, and a change of the curve costs one table.

/** The neutral tone: the whole range of the picture, straight. */
export const NEUTRAL = Object.freeze({
  brightness: 0, contrast: 1, gamma: 1, negative: false, boost: 0, flatten: false, tint: "grey",
});

const INKS = {
  grey: [255, 255, 255],
  red: [255, 150, 112], // the highest tone of the warm picture; the lower ones fall off faster in green and blue
};

/**
 * curve builds the table. Black and white are the levels shown darkest and
 * brightest before brightness and contrast; both are given by the server, from
 * the picture's own histogram.
 */
export function curve(tone, black, white) {
  const table = new Uint32Array(65536);
  const span = Math.max(1, white - black);
  const [r, g, b] = INKS[tone.tint] ?? INKS.grey;
  const warm = tone.tint === "red";
  const power = 1 / tone.gamma;
  for (let level = 0; level < 65536; level++) {
    let v = (level - black) / span;
    v = (v - 0.5) * tone.contrast + 0.5 + tone.brightness;
    v = v <= 0 ? 0 : v >= 1 ? 1 : Math.pow(v, power);
    if (tone.negative) v = 1 - v;
    const green = warm ? v * (0.55 + 0.45 * v) : v;
    const blue = warm ? v * (0.4 + 0.6 * v) : v;
    table[level] = 0xff000000 | (blue * b) << 16 | (green * g) << 8 | (v * r);
  }
  return table;
}

/**
 * edgeCurve is the table for what lies beyond the limb. Boost 0 is the curve of
 * the disc; boost 1 spreads the faint levels between sky and brightest
 * prominence over the whole range.
 */
export function edgeCurve(tone, black, white, sky, bright) {
  if (tone.boost <= 0) return curve(tone, black, white);
  const mix = tone.boost;
  // The range is narrowed in the logarithm, so that each step of the control
  // looks alike.
  const low = black + (sky - black) * mix;
  const high = Math.exp(Math.log(Math.max(1, white - black)) * (1 - mix) + Math.log(Math.max(1, bright - sky)) * mix);
  return curve({ ...tone, gamma: tone.gamma * (1 + 0.6 * mix) }, low, low + high);
}
