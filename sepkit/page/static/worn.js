// The print on its garment: averaged to the garment's picture in linear light, lit as the cloth under it is.

import { LINEAR, level } from "/s/mix.js";

export function parseGarment(buffer) {
  const head = new DataView(buffer);
  if (head.getUint32(0, true) !== 0x32474253) throw new Error("not a garment");
  const [width, height, x, y, w, h, turned] = [1, 2, 3, 4, 5, 6, 7].map((k) => head.getUint32(4 * k, true));
  const [left, top, wide, tall, least, step] = [0, 1, 2, 3, 4, 5].map((k) => head.getFloat64(32 + 8 * k, true));
  let at = 80;
  const bytes = (length) => new Uint8Array(buffer, (at += length) - length, length);
  const first = bytes(1)[0], [one, other] = [0, 1, 2].filter((k) => k !== first), usual = [bytes(256), bytes(256)], size = width * height;
  const lead = added(bytes(size), width), off = [bytes(size), bytes(size)], rgb = new Uint8Array(3 * size);
  for (let i = 0, to = 0; i < size; i++, to += 3) {
    rgb[to + first] = lead[i];
    rgb[to + one] = off[0][i] + usual[0][lead[i]];
    rgb[to + other] = off[1][i] + usual[1][lead[i]];
  }
  const light = Float32Array.from(added(bytes(w * h), w), (k) => least + k * step);
  return { width, height, x, y, w, h, turned: turned === 1, left, top, wide, tall, rgb, light, open: bytes(w * h) };
}

// A plane of which each row is told less the row above.
function added(plane, width) {
  for (let i = width; i < plane.length; i++) plane[i] += plane[i - width];
  return plane;
}

// ImageData of the garment with the print; `inked` (0 or 1) a combination.
export function worn(bare, index, linear, inked) {
  const ink = premultiplied(linear, inked), { width, height, rows, ends, ids } = index;
  const dx = bare.left - Math.floor(bare.left), dy = bare.top - Math.floor(bare.top);
  const [along, alongFrom] = bare.turned ? [bare.tall / width, dy] : [bare.wide / width, dx];
  const [down, downFrom] = bare.turned ? [bare.wide / height, dx] : [bare.tall / height, dy];
  const long = Math.ceil(alongFrom + along * width) + 1, short = Math.ceil(downFrom + down * height) + 1;
  const sum = new Float64Array(4 * long * short), line = new Float64Array(4 * long);
  for (let y = 0; y < height; y++) {
    line.fill(0);
    for (let k = rows[y], x = 0; k < rows[y + 1]; x = ends[k++]) {
      const at = 4 * ids[k];
      if (!ink[at + 3]) continue;
      overlaps(alongFrom + x * along, alongFrom + ends[k] * along, (bin, share) => {
        for (let c = 0; c < 4; c++) line[4 * bin + c] += ink[at + c] * share;
      });
    }
    const row = bare.turned ? height - 1 - y : y;
    overlaps(downFrom + row * down, downFrom + (row + 1) * down, (bin, share) => {
      const at = 4 * long * bin;
      for (let i = 0; i < line.length; i++) sum[at + i] += line[i] * share;
    });
  }
  return painted(bare, sum, long);
}

// Bins that a stretch lies in, with how much of each it takes.
function overlaps(from, to, each) {
  for (let bin = Math.floor(from); bin < to; bin++) each(bin, Math.min(to, bin + 1) - Math.max(from, bin));
}

function premultiplied(linear, inked) {
  const out = new Float64Array(4 * inked.length);
  for (let c = 0; c < inked.length; c++) {
    if (!inked[c]) continue;
    for (let k = 0; k < 3; k++) out[4 * c + k] = LINEAR[level(linear[3 * c + k])];
    out[4 * c + 3] = 1;
  }
  return out;
}

function painted(bare, sum, long) {
  const { width, height, rgb } = bare, frame = new ImageData(width, height), out = frame.data;
  for (let i = 0, j = 0; j < rgb.length; i += 4, j += 3) {
    out[i] = rgb[j];
    out[i + 1] = rgb[j + 1];
    out[i + 2] = rgb[j + 2];
    out[i + 3] = 255;
  }
  const x0 = Math.floor(bare.left), y0 = Math.floor(bare.top);
  for (let y = 0; y < bare.h; y++) {
    for (let x = 0; x < bare.w; x++) {
      const row = bare.y + y - y0, column = bare.x + x - x0, n = y * bare.w + x, shown = bare.open[n] / 255;
      const at = 4 * (bare.turned ? column * long + row : row * long + column), share = sum[at + 3] * shown;
      if (!(share > 0)) continue;
      const to = 4 * ((bare.y + y) * width + bare.x + x);
      for (let k = 0; k < 3; k++) {
        const lit = Math.min(sum[at + k] * shown * bare.light[n], share);
        out[to + k] = level(LINEAR[out[to + k]] * (1 - share) + lit);
      }
    }
  }
  return frame;
}
