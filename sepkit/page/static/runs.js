// A print as runs of one combination along its rows: read, halved, painted. Flat art has one run for thirty pixels or more.

import { paint } from "/s/mix.js";

// Rows of runs as they are found, from left to right; neighbours of one id become one run.
export class Runs {
  constructor(width, height, room = 4096) {
    const Ends = width < 65536 ? Uint16Array : Uint32Array;
    Object.assign(this, { width, height, rows: new Uint32Array(height + 1), ends: new Ends(room), ids: new Uint32Array(room), used: 0, row: 0 });
  }

  push(id, end) {
    const { used } = this;
    if (used > this.rows[this.row] && this.ids[used - 1] === id) {
      this.ends[used - 1] = end;
      return;
    }
    if (used === this.ids.length) for (const kept of ["ends", "ids"]) this[kept] = grown(this[kept]);
    this.ids[used] = id;
    this.ends[used] = end;
    this.used++;
  }

  endRow() {
    this.rows[++this.row] = this.used;
  }

  done(count) {
    const { width, height, rows, used } = this, Ids = count <= 65536 ? Uint16Array : Uint32Array;
    return { width, height, count, rows, ends: this.ends.slice(0, used), ids: new Ids(this.ids.subarray(0, used)) };
  }
}

function grown(array) {
  const more = new array.constructor(2 * array.length);
  more.set(array);
  return more;
}

export function parseIndex(buffer) {
  const head = new DataView(buffer);
  if (head.getUint32(0, true) !== 0x32584953) throw new Error("not an index");
  const [width, height, count, plates, size, top, runs] = [1, 2, 3, 4, 5, 6, 7].map((k) => head.getUint32(4 * k, true));
  let at = 32;
  const bytes = (length) => new Uint8Array(buffer, (at += length) - length, length);
  const numbers = (length, octets) => {
    const out = octets === 2 ? new Uint16Array(length) : new Uint32Array(length);
    for (let byte = 0; byte < octets; byte++) {
      const plane = bytes(length);
      for (let i = 0; i < length; i++) out[i] |= plane[i] << (8 * byte);
    }
    return out;
  };
  const levels = bytes(count * plates), dots = bytes(count * plates), inRow = numbers(height, 4), ids = numbers(runs, size), lengths = numbers(runs, 4);
  const rows = new Uint32Array(height + 1), ends = width < 65536 ? new Uint16Array(runs) : lengths;
  for (let y = 0, k = 0; y < height; y++) {
    rows[y + 1] = rows[y] + inRow[y];
    for (let end = 0; k < rows[y + 1]; k++) ends[k] = end += lengths[k];
  }
  return { width, height, count, plates, top, levels: levels.slice(), dots: dots.slice(), rows, ends, ids };
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

// Numbers for fours of ids, each kept once.
class Fours {
  constructor() {
    Object.assign(this, { used: 0, mask: 4095, slots: new Int32Array(4096).fill(-1), kept: new Uint32Array(4 * 2048), last: -1 });
  }

  slot(a, b, c, d) {
    const { slots, kept, mask } = this;
    let x = Math.imul(a, 0x9e3779b1) ^ Math.imul(b, 0x85ebca6b) ^ Math.imul(c, 0xc2b2ae35) ^ Math.imul(d, 0x27d4eb2f);
    x = Math.imul(x ^ (x >>> 15), 0x2c1b3c6d) >>> 7;
    for (let at = x & mask; ; at = (at + 1) & mask) {
      const n = slots[at], k = 4 * n;
      if (n < 0 || (kept[k] === a && kept[k + 1] === b && kept[k + 2] === c && kept[k + 3] === d)) return at;
    }
  }

  of(a, b, c, d) {
    const { kept, last } = this, k = 4 * last;
    if (last >= 0 && kept[k] === a && kept[k + 1] === b && kept[k + 2] === c && kept[k + 3] === d) return last;
    let at = this.slot(a, b, c, d);
    if (this.slots[at] < 0) {
      if (4 * this.used === kept.length) {
        this.grow();
        at = this.slot(a, b, c, d);
      }
      this.kept.set([a, b, c, d], 4 * this.used);
      this.slots[at] = this.used++;
    }
    return (this.last = this.slots[at]);
  }

  grow() {
    const { kept } = this;
    this.kept = grown(kept);
    this.slots = new Int32Array(2 * this.slots.length).fill(-1);
    this.mask = this.slots.length - 1;
    for (let n = 0; n < this.used; n++) this.slots[this.slot(kept[4 * n], kept[4 * n + 1], kept[4 * n + 2], kept[4 * n + 3])] = n;
  }
}

// A picture half as large: each pixel is a numbered four of the pixels below.
function half({ width, height, rows, ends, ids }) {
  const w = (width + 1) >> 1, h = (height + 1) >> 1, out = new Runs(w, h), fours = new Fours();
  for (let y = 0; y < h; y++) {
    let i = rows[2 * y], j = rows[Math.min(2 * y + 1, height - 1)];
    for (let x = 0; x < w;) {
      while (ends[i] <= 2 * x) i++;
      while (ends[j] <= 2 * x) j++;
      const a = ids[i], c = ids[j], least = Math.min(ends[i], ends[j]), to = least === width ? w : least >> 1;
      if (to > x) out.push(fours.of(a, a, c, c), (x = to));
      else out.push(fours.of(a, ends[i] > 2 * x + 1 ? a : ids[i + 1], c, ends[j] > 2 * x + 1 ? c : ids[j + 1]), ++x);
    }
    out.endRow();
  }
  return { ...out.done(fours.used), fours: fours.kept.slice(0, 4 * fours.used) };
}

function halfColours(fours, count, below) {
  const out = new Float64Array(3 * count);
  for (let n = 0; n < count; n++) {
    for (let k = 0; k < 3; k++) {
      out[3 * n + k] = (below[3 * fours[4 * n] + k] + below[3 * fours[4 * n + 1] + k]
        + below[3 * fours[4 * n + 2] + k] + below[3 * fours[4 * n + 3] + k]) / 4;
    }
  }
  return out;
}

// All sizes of a print, whole, half, quarter ... until it is small; each made when it is first looked at.
export class Sizes {
  constructor(index) {
    this.index = index;
    this.levels = [index];
  }

  at(step) {
    while (this.levels.length <= step) this.levels.push(half(this.levels[this.levels.length - 1]));
    return this.levels[step];
  }

  // Colours (Uint32 RGBA) of a size for the linear light of the combinations: means of what lies below.
  colours(step, linear) {
    let below = linear;
    for (let k = 1; k <= step; k++) below = halfColours(this.at(k).fours, this.at(k).count, below);
    return paint(below, this.at(step).count);
  }
}

// Pixels of a size in its colours, the window of w x h whose left and top are given, each pixel `grow` wide and tall.
// Into `out` where it is given: making room takes longer than painting.
export function painted(level, colours, { left = 0, top = 0, w = level.width, h = level.height, grow = 1, beside = 0, out = new Uint32Array(w * h) } = {}) {
  const { width, height, rows, ends, ids } = level, last = Math.min(width, left + Math.ceil(w / grow));
  for (let y = 0; y < h; y++) {
    const row = top + Math.floor(y / grow), from = y * w;
    if (y % grow) {
      out.copyWithin(from, from - w, from);
      continue;
    }
    if (beside) out.fill(beside, from, from + w);
    if (row < 0 || row >= height) continue;
    let x = Math.max(0, left), k = runAt(ends, rows[row], rows[row + 1], x);
    for (; x < last; k++) {
      const end = Math.min(ends[k], last), colour = colours[ids[k]], to = from + Math.min(w, (end - left) * grow);
      let at = from + (x - left) * grow;
      if (to - at > 16) out.fill(colour, at, to);
      else while (at < to) out[at++] = colour;
      x = end;
    }
  }
  return out;
}

// The run that holds a column.
function runAt(ends, first, after, column) {
  let low = first, high = after - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (ends[middle] > column) high = middle;
    else low = middle + 1;
  }
  return low;
}
