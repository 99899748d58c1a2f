// The table: the print flat on the cloth, or one film against the light, at any size; exact at every size shown.

import { Sizes, mix, paint } from "/s/mix.js";

const NEAREST = -4; // 16 screen pixels a pixel of the print

export class Table {
  constructor(canvas, onScale) {
    this.canvas = canvas;
    this.onScale = onScale;
    this.sizes = null;
    this.look = "flat";
    this.plate = 0;
    this.lifted = new Set();
    this.step = 0;
    this.centre = [0, 0];
    this.fitted = true;
    this.films = null; // (plate, x, y, w, h) -> bitmap of film pixels
    new ResizeObserver(() => this.resized()).observe(canvas);
    let grip = null;
    canvas.addEventListener("pointerdown", (e) => { grip = [e.clientX, e.clientY, ...this.centre]; });
    addEventListener("pointerup", () => { grip = null; });
    canvas.addEventListener("pointermove", (e) => {
      if (!grip || !this.sizes) return;
      const per = this.perScreen();
      this.fitted = false;
      this.centre = [grip[2] - (e.clientX - grip[0]) * per, grip[3] - (e.clientY - grip[1]) * per];
      this.draw();
    });
    canvas.addEventListener("wheel", (e) => { e.preventDefault(); this.zoom(e.deltaY > 0 ? 1 : -1); }, { passive: false });
  }

  // A new print: its index, and what the colours rest on.
  show(index, widthMm, filmDpi) {
    this.sizes = new Sizes(index);
    this.widthMm = widthMm;
    this.filmPerPx = (filmDpi / 25.4) / (index.width / widthMm);
    if (this.fitted) this.fit();
  }

  recolour(stack, under) {
    this.stack = stack;
    this.under = under;
    this.linear = null;
    this.draw();
  }

  lift(lifted) {
    this.lifted = lifted;
    this.linear = null;
    this.draw();
  }

  hold(look, plate) {
    this.look = look;
    this.plate = plate;
    this.draw();
  }

  fit() {
    if (!this.sizes) return;
    const { width, height } = this.sizes.index;
    this.fitted = true;
    this.step = 0;
    while (width >> this.step > this.canvas.width || height >> this.step > this.canvas.height) this.step++;
    this.centre = [width / 2, height / 2];
  }

  zoom(by) {
    if (!this.sizes) return;
    const farthest = Math.max(0, Math.ceil(Math.log2(Math.max(this.sizes.index.width, this.sizes.index.height) / 200)));
    this.step = Math.min(farthest, Math.max(NEAREST, this.step + by));
    this.fitted = false;
    this.draw();
  }

  pan(right, down) {
    if (!this.sizes) return;
    const per = this.perScreen() * 60;
    this.centre = [this.centre[0] + right * per, this.centre[1] + down * per];
    this.fitted = false;
    this.draw();
  }

  perScreen() {
    return 2 ** this.step * devicePixelRatio;
  }

  // Where on the art a pointer is, in mm.
  placeMm(event) {
    const box = this.canvas.getBoundingClientRect(), per = this.perScreen();
    const x = this.centre[0] + (event.clientX - box.left - box.width / 2) * per;
    const y = this.centre[1] + (event.clientY - box.top - box.height / 2) * per;
    const perMm = this.sizes.index.width / this.widthMm;
    return [x / perMm, y / perMm];
  }

  resized() {
    const box = this.canvas.getBoundingClientRect();
    const width = Math.max(1, Math.round(box.width * devicePixelRatio));
    const height = Math.max(1, Math.round(box.height * devicePixelRatio));
    if (width === this.canvas.width && height === this.canvas.height) return;
    this.canvas.width = width;
    this.canvas.height = height;
    if (this.fitted) this.fit();
    this.draw();
  }

  light() {
    if (this.look !== "film") {
      this.linear = this.linear || mix(this.sizes.index, this.stack, this.under, this.lifted);
      return this.linear;
    }
    const { count, plates, top, levels } = this.sizes.index;
    const out = new Float64Array(3 * count);
    for (let c = 0; c < count; c++) out.fill(1 - levels[c * plates + this.plate] / top, 3 * c, 3 * c + 3);
    return out;
  }

  draw() {
    if (this.waits) return;
    this.waits = true;
    requestAnimationFrame(() => {
      this.waits = false;
      this.drawNow();
    });
  }

  drawNow() {
    if (!this.sizes || !this.stack) return;
    const context = this.canvas.getContext("2d");
    const { width: w, height: h } = this.canvas;
    const step = Math.max(0, this.step), grow = 2 ** -Math.min(0, this.step);
    const level = this.sizes.at(step), colours = this.sizes.colours(step, this.light());
    const scale = 2 ** step;
    const left = Math.round(this.centre[0] / scale - w / grow / 2), top = Math.round(this.centre[1] / scale - h / grow / 2);
    const frame = new ImageData(w, h), out = new Uint32Array(frame.data.buffer);
    const bench = 0xff878d8f;
    for (let y = 0; y < h; y++) {
      const row = top + Math.floor(y / grow), inside = row >= 0 && row < level.height;
      for (let x = 0; x < w; x++) {
        const column = left + (grow === 1 ? x : Math.floor(x / grow));
        out[y * w + x] = inside && column >= 0 && column < level.width ? colours[level.ids[row * level.width + column]] : bench;
      }
    }
    context.putImageData(frame, 0, 0);
    this.onScale(this.widthMm / this.sizes.index.width * 2 ** this.step, this.step);
    if (this.look === "film" && this.step <= 0 && this.films) this.drawFilm(left, top, w / grow, h / grow, grow);
  }

  // Film pixels over the window, once they are there.
  async drawFilm(left, top, wide, tall, grow) {
    const asked = (this.asked = {}), f = this.filmPerPx, { width, height } = this.sizes.index;
    const x0 = Math.max(0, left), y0 = Math.max(0, top), x1 = Math.min(width, left + wide), y1 = Math.min(height, top + tall);
    if (x1 <= x0 || y1 <= y0) return;
    const at = [Math.floor(x0 * f), Math.floor(y0 * f), Math.ceil((x1 - x0) * f), Math.ceil((y1 - y0) * f)];
    if (at[2] * at[3] > 4e6) return;
    const film = await this.films(this.plate, ...at).catch(() => null);
    if (!film || asked !== this.asked || this.look !== "film") return;
    const context = this.canvas.getContext("2d");
    context.imageSmoothingEnabled = grow / f < 1;
    context.drawImage(film, (at[0] / f - left) * grow, (at[1] / f - top) * grow, film.width / f * grow, film.height / f * grow);
  }

  // A small picture of the garment after the stroke of screen `last` (-1: bare cloth), into a canvas of a station.
  thumbnail(canvas, last, plates) {
    const { width, height } = this.sizes.index;
    let step = 0;
    while (Math.max(width, height) >> step > 150) step++;
    const level = this.sizes.at(step);
    const lifted = new Set(this.lifted);
    for (let k = last + 1; k < plates; k++) lifted.add(k);
    const linear = last < 0 ? bare(this.sizes.index.count, this.stack) : mix(this.sizes.index, this.stack, this.under, lifted);
    const colours = step ? this.sizes.colours(step, linear) : paint(linear, this.sizes.index.count);
    canvas.width = level.width;
    canvas.height = level.height;
    const frame = new ImageData(level.width, level.height), out = new Uint32Array(frame.data.buffer);
    for (let i = 0; i < out.length; i++) out[i] = colours[level.ids[i]];
    canvas.getContext("2d").putImageData(frame, 0, 0);
  }
}

function bare(count, stack) {
  const out = new Float64Array(3 * count);
  for (let i = 0; i < out.length; i++) out[i] = stack[i % 3];
  return out;
}
