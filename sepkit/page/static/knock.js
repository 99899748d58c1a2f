// One screen off register: its coverage moved by parts of a pixel, as the engine moves it, and numbered anew.

import { Runs } from "/s/runs.js";

// An index like the given one with a plate moved right and down by so many pixels; nothing comes in at the edges.
// `own` is the plate alone with every level of its coverage, where the index holds fewer: then they would be off.
export function knocked(index, plate, right, down, own = null) {
  const { width, height, plates, top, levels, dots } = index;
  const [acrossWhole, across] = parted(right), [alongWhole, along] = parted(down);
  const alone = own || index, at = own ? 0 : plate, value = new Uint16Array(alone.count), dotted = new Uint8Array(alone.count);
  for (let c = 0; c < alone.count; c++) {
    value[c] = Math.round(alone.levels[c * alone.plates + at] * 255 / alone.top);
    dotted[c] = alone.dots[c * alone.plates + at];
  }
  const ids = numbered(index.count * 512), from = [], made = [], madeDot = [], out = new Runs(width, height, index.ids.length);
  let far = new Row(width), near = new Row(width), last = -1, lastId = 0;
  far.fill(alone, -alongWhole - 1, value, dotted, acrossWhole, across);
  for (let y = 0; y < height; y++) {
    near.fill(alone, y - alongWhole, value, dotted, acrossWhole, across);
    for (let x = 0, i = index.rows[y], a = 0, b = 0; x < width;) {
      const v = along ? blended(near.values[a], far.values[b], along) : near.values[a];
      const d = v > 0 && v < 255 && (near.dots[a] || (along && far.dots[b])) ? 1 : 0;
      const key = (index.ids[i] * 256 + v) * 2 + d;
      if (key !== last) {
        last = key;
        lastId = ids.get(key);
        if (lastId === undefined) {
          ids.set(key, lastId = from.length);
          from.push(index.ids[i]);
          made.push(v);
          madeDot.push(d);
        }
      }
      x = Math.min(index.ends[i], near.ends[a], along ? far.ends[b] : width);
      out.push(lastId, x);
      if (index.ends[i] === x) i++;
      if (near.ends[a] === x) a++;
      if (far.ends[b] === x) b++;
    }
    out.endRow();
    [far, near] = [near, far];
  }
  const count = from.length, newLevels = new Uint8Array(count * plates), newDots = new Uint8Array(count * plates);
  for (let c = 0; c < count; c++) {
    newLevels.set(levels.subarray(from[c] * plates, (from[c] + 1) * plates), c * plates);
    newDots.set(dots.subarray(from[c] * plates, (from[c] + 1) * plates), c * plates);
    newLevels[c * plates + plate] = Math.round(made[c] * top / 255);
    newDots[c * plates + plate] = madeDot[c];
  }
  return { ...out.done(count), plates, top, levels: newLevels, dots: newDots };
}

// Runs of one plate in a row of the print: where they end, their coverage, whether it is a dot.
class Row {
  constructor(width) {
    Object.assign(this, { width, n: 0, last: 0, ends: new Uint32Array(width + 1), values: new Uint8Array(width + 1), dots: new Uint8Array(width + 1) });
  }

  put(end, value, dot) {
    const to = end < this.width ? end : this.width;
    if (to <= this.last) return;
    if (!this.n || this.values[this.n - 1] !== value || this.dots[this.n - 1] !== dot) {
      this.values[this.n] = value;
      this.dots[this.n++] = dot;
    }
    this.ends[this.n - 1] = this.last = to;
  }

  // Row y of the print, moved right by so many whole pixels and part of one (in 256ths).
  fill({ width, height, rows, ends, ids }, y, value, dotted, whole, part) {
    this.n = this.last = 0;
    if (y >= 0 && y < height) {
      let before = 0, beforeDot = 0, from = whole;
      this.put(whole, 0, 0);
      for (let k = rows[y], after = rows[y + 1]; k < after; k++) {
        const id = ids[k], v = value[id], d = dotted[id];
        if (v !== before || d !== beforeDot) {
          if (part) this.put(from + 1, blended(v, before, part), d | beforeDot);
          before = v;
          beforeDot = d;
        }
        from = ends[k] + whole;
        this.put(from, v, d);
      }
      if (part) this.put(width + whole + 1, blended(0, before, part), beforeDot);
    }
    this.put(width, 0, 0);
  }
}

// Numbers by key: a table where it is small, else a map.
function numbered(keys) {
  if (keys > 1 << 24) return new Map();
  const table = new Int32Array(keys).fill(-1);
  return { get: (key) => (table[key] < 0 ? undefined : table[key]), set: (key, id) => { table[key] = id; } };
}

function parted(by) {
  const whole = Math.floor(by + 1e-6);
  return [whole, Math.round((by - whole) * 256)];
}

const blended = (near, far, part) => (near * (256 - part) + far * part + 128) >> 8;
