// One screen off register: its coverage moved by parts of a pixel, as the engine moves it, and numbered anew.

// An index like the given one with a plate moved right and down by so many pixels; nothing comes in at the edges.
export function knocked(index, plate, right, down) {
  const { width, height, plates, top, levels, dots, pixels } = index;
  const [acrossWhole, across] = parted(right), [alongWhole, along] = parted(down);
  const value = new Uint16Array(index.count), dotted = new Uint8Array(index.count);
  for (let c = 0; c < index.count; c++) {
    value[c] = Math.round(levels[c * plates + plate] * 255 / top);
    dotted[c] = dots[c * plates + plate];
  }
  const row = (y) => {
    const out = { value: new Uint8Array(width), dot: new Uint8Array(width) };
    if (y < 0 || y >= height) return out;
    const at = y * width;
    for (let x = 0; x < width; x++) {
      const a = x - acrossWhole, near = a >= 0 && a < width ? pixels[at + a] : -1;
      if (!across) {
        if (near >= 0) { out.value[x] = value[near]; out.dot[x] = dotted[near]; }
        continue;
      }
      const far = a >= 1 && a - 1 < width ? pixels[at + a - 1] : -1;
      out.value[x] = blended(near < 0 ? 0 : value[near], far < 0 ? 0 : value[far], across);
      out.dot[x] = (near >= 0 && dotted[near]) || (far >= 0 && dotted[far]) ? 1 : 0;
    }
    return out;
  };
  const ids = numbered(index.count * 512), from = [], made = [], madeDot = [];
  const out = new Uint32Array(width * height);
  let far = row(-alongWhole - 1), last = -1, lastId = 0;
  for (let y = 0; y < height; y++) {
    const near = row(y - alongWhole);
    for (let x = 0; x < width; x++) {
      const v = along ? blended(near.value[x], far.value[x], along) : near.value[x];
      const d = v > 0 && v < 255 && (near.dot[x] || (along && far.dot[x])) ? 1 : 0;
      const key = (pixels[y * width + x] * 256 + v) * 2 + d;
      if (key !== last) {
        last = key;
        lastId = ids.get(key);
        if (lastId === undefined) {
          ids.set(key, lastId = from.length);
          from.push(pixels[y * width + x]);
          made.push(v);
          madeDot.push(d);
        }
      }
      out[y * width + x] = lastId;
    }
    far = near;
  }
  const count = from.length, newLevels = new Uint8Array(count * plates), newDots = new Uint8Array(count * plates);
  for (let c = 0; c < count; c++) {
    newLevels.set(levels.subarray(from[c] * plates, (from[c] + 1) * plates), c * plates);
    newDots.set(dots.subarray(from[c] * plates, (from[c] + 1) * plates), c * plates);
    newLevels[c * plates + plate] = Math.round(made[c] * top / 255);
    newDots[c * plates + plate] = madeDot[c];
  }
  return { width, height, count, plates, top, levels: newLevels, dots: newDots, pixels: out };
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
