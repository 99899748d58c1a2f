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
