// A picture in memory: its full-depth grey levels and a pyramid of halves, from
// which the raster takes the one that suits the zoom.
//
// Level k has one sample for 2^k by 2^k pixels of the picture; sample (i, j) of
// it stands at picture pixel ((i + ½)·2^k − ½, (j + ½)·2^k − ½).

/** halved averages two by two; an odd last row or column is left out. */
export function halved(level) {
  const width = Math.max(1, level.width >> 1), height = Math.max(1, level.height >> 1);
  const from = level.data, data = new Uint16Array(width * height);
  if (level.width < 2 || level.height < 2) return { width, height, data: from.slice(0, width * height) };
  for (let y = 0, out = 0; y < height; y++) {
    let a = 2 * y * level.width, b = a + level.width;
    for (let x = 0; x < width; x++, a += 2, b += 2) {
      data[out++] = (from[a] + from[a + 1] + from[b] + from[b + 1] + 2) >> 2;
    }
  }
  return { width, height, data };
}

/** pyramid makes the halves of a full level, down to some 256 samples. */
export function pyramid(full) {
  const levels = [full];
  while (Math.min(levels.at(-1).width, levels.at(-1).height) >= 512) levels.push(halved(levels.at(-1)));
  return levels;
}

/**
 * bestLevel picks the level whose samples are nearest to, but not finer than,
 * one screen pixel (picturePxPerScreenPx wide); only levels already there count.
 */
export function bestLevel(levels, picturePxPerScreenPx) {
  const wanted = Math.max(0, Math.floor(Math.log2(Math.max(1, picturePxPerScreenPx * 1.35))));
  for (let k = Math.min(wanted, levels.length - 1); k >= 0; k--) if (levels[k]) return k;
  return levels.findIndex(Boolean);
}

/**
 * flattened is a level with limb darkening taken out: each sample of the disc is
 * multiplied by the server's gain at its distance from the centre. Gains stand at
 * equal steps of r², 0 to 1; pixels beyond the limb are kept.
 */
export function flattened(level, k, limb, gains) {
  const data = new Uint16Array(level.data);
  const step = 1 << k, last = gains.length - 1;
  const [a, b, c, d] = limb.toUnit;
  for (let j = 0; j < level.height; j++) {
    const dy = (j + 0.5) * step - 0.5 - limb.y;
    for (let i = 0, at = j * level.width; i < level.width; i++, at++) {
      const dx = (i + 0.5) * step - 0.5 - limb.x;
      const u = a * dx + b * dy, v = c * dx + d * dy, rr = u * u + v * v;
      if (rr >= 1) continue;
      const value = data[at] * gains[(rr * last + 0.5) | 0];
      data[at] = value > 65535 ? 65535 : value;
    }
  }
  return { width: level.width, height: level.height, data };
}

/** levelFrom wraps the bytes of one level as the server sends them: little-endian 16-bit. */
export function levelFrom(buffer, width, height) {
  if (new Uint8Array(new Uint16Array([1]).buffer)[0] === 1) return { width, height, data: new Uint16Array(buffer) };
  const bytes = new DataView(buffer), data = new Uint16Array(width * height);
  for (let i = 0; i < data.length; i++) data[i] = bytes.getUint16(2 * i, true);
  return { width, height, data };
}
