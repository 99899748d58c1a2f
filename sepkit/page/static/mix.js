// The colour of every combination of coverages, as the engine mixes it: soft edges lie side by side, dots by chance
// (Demichel), averages in linear light (Neugebauer). All sums in doubles.

const THRESHOLDS = new Float64Array(256); // linear light from which a level is reached
for (let k = 1; k < 256; k++) {
  const s = (k - 0.5) / 255;
  THRESHOLDS[k] = s <= 0.04045 ? s / 12.92 : Math.pow((s + 0.055) / 1.055, 2.4);
}
const GUESS = new Uint8Array(4097);
for (let i = 0, k = 0; i <= 4096; i++) {
  while (k < 255 && i / 4096 >= THRESHOLDS[k + 1]) k++;
  GUESS[i] = k;
}

export const LINEAR = Float64Array.from({ length: 256 }, (_, k) => {
  const v = k / 255;
  return v <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4);
});

export function level(linear) {
  if (!(linear > 0)) return 0;
  if (linear >= 1) return 255;
  let k = GUESS[Math.floor(linear * 4096)];
  while (k < 255 && linear >= THRESHOLDS[k + 1]) k++;
  return k;
}

export function paint(linear, count) {
  const out = new Uint32Array(count);
  for (let c = 0; c < count; c++) {
    const r = level(linear[3 * c]), g = level(linear[3 * c + 1]), b = level(linear[3 * c + 2]);
    out[c] = (0xff000000 | (b << 16) | (g << 8) | r) >>> 0;
  }
  return out;
}

export function parseIndex(buffer) {
  const head = new DataView(buffer);
  if (head.getUint32(0, true) !== 0x31584953) throw new Error("not an index");
  const [width, height, count, plates, size, top] = [1, 2, 3, 4, 5, 6].map((k) => head.getUint32(4 * k, true));
  let at = 32;
  const levels = new Uint8Array(buffer, at, count * plates);
  at += count * plates;
  const dots = new Uint8Array(buffer, at, count * plates);
  at += count * plates;
  const pixels = size === 2 ? new Uint16Array(width * height) : new Uint32Array(width * height);
  for (let byte = 0; byte < size; byte++) {
    const plane = new Uint8Array(buffer, at, width * height);
    at += width * height;
    for (let i = 0; i < plane.length; i++) pixels[i] |= plane[i] << (8 * byte);
  }
  return { width, height, count, plates, top, levels, dots, pixels };
}

// An index of planes without dots: the part of a print that a slider changes.
export function indexOf(buffer) {
  const head = new DataView(buffer), [width, height, plates] = [1, 2, 3].map((k) => head.getUint32(4 * k, true));
  const size = width * height, planes = new Uint8Array(buffer, 32), ids = new Map(), found = [], pixels = new Uint32Array(size);
  for (let i = 0, last = "", id = 0; i < size; i++) {
    let key = "";
    for (let k = 0; k < plates; k++) key += String.fromCharCode(planes[k * size + i]);
    if (key !== last) {
      last = key;
      id = ids.get(key);
      if (id === undefined) {
        ids.set(key, id = ids.size);
        for (let k = 0; k < plates; k++) found.push(planes[k * size + i]);
      }
    }
    pixels[i] = id;
  }
  return { width, height, count: ids.size, plates, top: 255, levels: Uint8Array.from(found), dots: new Uint8Array(found.length), pixels };
}

// Linear light (3 a combination) with the screens of `lifted` (a Set) not printed.
export function mix(index, stack, under, lifted) {
  const { count, plates, top, levels, dots } = index;
  const out = new Float64Array(3 * count);
  const share = new Float64Array(plates), start = new Float64Array(plates), stop = new Float64Array(plates);
  const dot = new Uint8Array(plates);
  for (let c = 0; c < count; c++) {
    let solid = 0, soft = false, anyDot = false;
    for (let i = 0; i < plates; i++) {
      const off = lifted.has(i);
      dot[i] = off ? 0 : dots[c * plates + i];
      share[i] = off ? 0 : levels[c * plates + i] / top;
      const s = dot[i] ? 0 : share[i];
      if (dot[i]) anyDot = true;
      if (s >= 1) solid |= 1 << i;
      if (s > 0 && s < 1) soft = true;
    }
    if (!soft && !anyDot) {
      for (let k = 0; k < 3; k++) out[3 * c + k] = stack[3 * solid + k];
      continue;
    }
    let weights = [1], stacks = [solid];
    if (soft) {
      let filled = 0;
      const cuts = [1];
      for (let i = 0; i < plates; i++) {
        const s = dot[i] ? 0 : share[i];
        start[i] = 0;
        if (!under[i] && s > 0 && s < 1) {
          start[i] = Math.min(filled, 1 - s);
          filled = Math.min(filled + s, 1);
        }
        stop[i] = start[i] + s;
        cuts.push(start[i], stop[i]);
      }
      cuts.sort((a, b) => a - b);
      weights = [];
      stacks = [];
      let before = 0;
      for (const cut of cuts) {
        const width = cut - before, middle = (cut + before) / 2;
        before = cut;
        if (width <= 1e-9) continue;
        let bits = 0;
        for (let i = 0; i < plates; i++) if (start[i] <= middle && middle < stop[i]) bits |= 1 << i;
        weights.push(width);
        stacks.push(bits);
      }
    }
    for (let i = 0; i < plates; i++) {
      if (!dot[i]) continue;
      for (let k = 0, n = weights.length; k < n; k++) {
        const inked = weights[k] * share[i];
        weights[k] -= inked;
        weights.push(inked);
        stacks.push(stacks[k] | (1 << i));
      }
    }
    for (let k = 0; k < weights.length; k++) {
      for (let j = 0; j < 3; j++) out[3 * c + j] += weights[k] * stack[3 * stacks[k] + j];
    }
  }
  return out;
}

// A picture half as large: each pixel is a numbered four of the pixels below; a four is kept once.
export function half(ids, width, height) {
  const w = (width + 1) >> 1, h = (height + 1) >> 1;
  const out = new Uint32Array(w * h);
  let room = 1 << 12, mask = room - 1, used = 0;
  let slots = new Int32Array(room).fill(-1);
  let fours = new Uint32Array(4 * (room >> 1));
  const hash = (a, b, c, d) => {
    let x = Math.imul(a, 0x9e3779b1) ^ Math.imul(b, 0x85ebca6b) ^ Math.imul(c, 0xc2b2ae35) ^ Math.imul(d, 0x27d4eb2f);
    x ^= x >>> 15;
    return Math.imul(x, 0x2c1b3c6d) >>> 7;
  };
  const grow = () => {
    room *= 2;
    mask = room - 1;
    const more = new Uint32Array(4 * (room >> 1));
    more.set(fours);
    fours = more;
    slots = new Int32Array(room).fill(-1);
    for (let n = 0; n < used; n++) {
      let at = hash(fours[4 * n], fours[4 * n + 1], fours[4 * n + 2], fours[4 * n + 3]) & mask;
      while (slots[at] >= 0) at = (at + 1) & mask;
      slots[at] = n;
    }
  };
  let la = -1, lb = -1, lc = -1, ld = -1, ln = 0;
  for (let y = 0; y < h; y++) {
    const upper = 2 * y * width, lower = Math.min(2 * y + 1, height - 1) * width;
    for (let x = 0; x < w; x++) {
      const left = 2 * x, right = Math.min(2 * x + 1, width - 1);
      const a = ids[upper + left], b = ids[upper + right], c = ids[lower + left], d = ids[lower + right];
      if (a !== la || b !== lb || c !== lc || d !== ld) {
        let at = hash(a, b, c, d) & mask;
        for (;;) {
          const n = slots[at];
          if (n < 0) {
            if (used >= room >> 1) {
              grow();
              at = hash(a, b, c, d) & mask;
              continue;
            }
            fours.set([a, b, c, d], 4 * used);
            slots[at] = ln = used++;
            break;
          }
          if (fours[4 * n] === a && fours[4 * n + 1] === b && fours[4 * n + 2] === c && fours[4 * n + 3] === d) {
            ln = n;
            break;
          }
          at = (at + 1) & mask;
        }
        la = a; lb = b; lc = c; ld = d;
      }
      out[y * w + x] = ln;
    }
  }
  return { ids: out, width: w, height: h, fours: fours.slice(0, 4 * used), count: used };
}

export function halfColours(fours, count, below, channels = 3) {
  const out = new Float64Array(channels * count), c = channels;
  for (let n = 0; n < count; n++) {
    for (let k = 0; k < c; k++) {
      out[c * n + k] = (below[c * fours[4 * n] + k] + below[c * fours[4 * n + 1] + k]
        + below[c * fours[4 * n + 2] + k] + below[c * fours[4 * n + 3] + k]) / 4;
    }
  }
  return out;
}

// All sizes of a print, whole, half, quarter ... until it is small; each made when it is first looked at.
export class Sizes {
  constructor(index) {
    this.index = index;
    this.levels = [{ ids: index.pixels, width: index.width, height: index.height, count: index.count }];
  }

  at(step) {
    while (this.levels.length <= step) {
      const last = this.levels[this.levels.length - 1];
      this.levels.push(half(last.ids, last.width, last.height));
    }
    return this.levels[step];
  }

  // Means of a size for values of the combinations.
  channels(step, values, channels) {
    let below = values;
    for (let k = 1; k <= step; k++) below = halfColours(this.at(k).fours, this.at(k).count, below, channels);
    return below;
  }

  // Colours (Uint32 RGBA) of a size for the linear light of the combinations.
  colours(step, linear) {
    return paint(this.channels(step, linear, 3), this.at(step).count);
  }
}
