// The table: the print on its garment, flat on the cloth, one film against the light, or the art; exact when it is still.

import { mix, paint } from "/s/mix.js";
import { Sizes, painted } from "/s/runs.js";
import { worn } from "/s/worn.js";

const NEAREST = -4; // 16 screen pixels a pixel of the print
const BENCH = 0xff878d8f;
const CLOSEST = 4; // a picture (garment, art) is shown 16 times as large as it fits, at most

export class Table {
  constructor(canvas, onScale) {
    this.canvas = canvas;
    this.onScale = onScale;
    this.sizes = null;
    this.look = "garment";
    this.closer = 0;
    this.away = [0, 0];
    this.plate = 0;
    this.lifted = new Set();
    this.step = 0;
    this.centre = [0, 0];
    this.fitted = true;
    this.films = null; // (plate, x, y, w, h) -> bitmap of film pixels
    new ResizeObserver(() => this.resized()).observe(canvas);
    let grip = null;
    canvas.addEventListener("pointerdown", (e) => { grip = [e.clientX, e.clientY, ...(this.pictured() ? this.away : this.centre)]; });
    addEventListener("pointerup", () => { grip = null; });
    canvas.addEventListener("pointermove", (e) => {
      if (!grip || !this.sizes) return;
      if (this.pictured()) {
        this.away = [grip[2] + e.clientX - grip[0], grip[3] + e.clientY - grip[1]];
        return this.draw();
      }
      const per = this.perScreen();
      this.fitted = false;
      this.centre = [grip[2] - (e.clientX - grip[0]) * per, grip[3] - (e.clientY - grip[1]) * per];
      this.draw();
    });
    canvas.addEventListener("wheel", (e) => { e.preventDefault(); this.zoom(e.deltaY > 0 ? 1 : -1); }, { passive: false });
  }

  pictured() {
    return this.look === "garment" || this.look === "art";
  }

  // A new print: its index, and what the colours rest on.
  show(index, widthMm, filmDpi) {
    this.garment = null;
    this.sizes = new Sizes(index);
    this.widthMm = widthMm;
    this.filmPerPx = (filmDpi / 25.4) / (index.width / widthMm);
    if (this.fitted) this.fit();
  }

  recolour(stack, under) {
    this.stack = stack;
    this.under = under;
    this.linear = this.garment = null;
    this.draw();
  }

  lift(lifted) {
    this.lifted = lifted;
    this.linear = this.garment = null;
    this.draw();
  }

  hold(look, plate) {
    this.look = look;
    this.plate = plate;
    this.draw();
  }

  fit() {
    this.closer = 0;
    this.away = [0, 0];
    if (!this.sizes) return;
    const { width, height } = this.sizes.index;
    this.fitted = true;
    this.step = 0;
    while (width >> this.step > this.canvas.width || height >> this.step > this.canvas.height) this.step++;
    this.centre = [width / 2, height / 2];
  }

  zoom(by) {
    if (!this.sizes) return;
    if (this.pictured()) {
      const now = this.closer, grow = 2 ** ((this.closer = Math.min(CLOSEST, Math.max(0, now - by))) - now);
      this.away = this.closer ? this.away.map((v) => v * grow) : [0, 0];
      return this.draw();
    }
    const farthest = Math.max(0, Math.ceil(Math.log2(Math.max(this.sizes.index.width, this.sizes.index.height) / 200)));
    this.step = Math.min(farthest, Math.max(NEAREST, this.step + by));
    this.fitted = false;
    this.draw();
  }

  pan(right, down) {
    if (!this.sizes) return;
    if (this.pictured()) {
      this.away = [this.away[0] - 60 * right, this.away[1] - 60 * down];
      return this.draw();
    }
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
    if (this.look !== "film" || this.pictured()) {
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
    if (this.pictured()) return this.drawPicture(context, w, h);
    const step = Math.max(0, this.step), grow = 2 ** -Math.min(0, this.step);
    const level = this.sizes.at(step), colours = this.sizes.colours(step, this.light());
    const scale = 2 ** step;
    const left = Math.round(this.centre[0] / scale - w / grow / 2), top = Math.round(this.centre[1] / scale - h / grow / 2);
    if (this.frame?.width !== w || this.frame.height !== h) this.frame = new ImageData(w, h);
    painted(level, colours, { left, top, w, h, grow, beside: BENCH, out: new Uint32Array(this.frame.data.buffer) });
    context.putImageData(this.frame, 0, 0);
    const um = Math.round(1000 * this.widthMm / this.sizes.index.width * 2 ** this.step);
    this.onScale(`${this.step > 0 ? `1 : ${2 ** this.step}` : `${2 ** -this.step} : 1`} · 1 px = ${um} µm${this.step === NEAREST ? " · nearest" : ""}`);
    if (this.look === "film" && this.step <= 0 && this.films) this.drawFilm(left, top, w / grow, h / grow, grow);
  }

  // The part of the print in view, in its pixels; null where it is not shown pixel by pixel.
  inView() {
    if (!this.sizes || this.look !== "flat" || this.step > 0) return null;
    const { width, height } = this.sizes.index, grow = 2 ** -this.step, wide = this.canvas.width / grow, tall = this.canvas.height / grow;
    const x = Math.max(0, Math.round(this.centre[0] - wide / 2)), y = Math.max(0, Math.round(this.centre[1] - tall / 2));
    const w = Math.min(width, Math.ceil(this.centre[0] + wide / 2)) - x, h = Math.min(height, Math.ceil(this.centre[1] + tall / 2)) - y;
    return w > 0 && h > 0 ? [x, y, w, h] : null;
  }

  patch([x, y], index) {
    if (this.look !== "flat" || this.step > 0) return;
    const colours = paint(mix(index, this.stack, this.under, this.lifted), index.count), frame = new ImageData(index.width, index.height);
    const out = new Uint32Array(frame.data.buffer), canvas = new OffscreenCanvas(index.width, index.height), grow = 2 ** -this.step;
    for (let i = 0; i < out.length; i++) out[i] = colours[index.pixels[i]];
    canvas.getContext("2d").putImageData(frame, 0, 0);
    const left = Math.round(this.centre[0] - this.canvas.width / grow / 2), top = Math.round(this.centre[1] - this.canvas.height / grow / 2);
    const context = this.canvas.getContext("2d");
    context.imageSmoothingEnabled = false;
    context.drawImage(canvas, (x - left) * grow, (y - top) * grow, index.width * grow, index.height * grow);
  }

  // The garment with the print, or the art, as a picture that fits or is nearer.
  drawPicture(context, w, h) {
    const shown = this.look === "art" ? this.art : this.dressed();
    context.fillStyle = "#8f8d87";
    context.fillRect(0, 0, w, h);
    if (!shown) return;
    const scale = Math.min(w / shown.width, h / shown.height) * 2 ** this.closer, far = devicePixelRatio, { bare } = this;
    const wide = shown.width * scale, tall = shown.height * scale, near = this.closer && this.look === "garment"; // the print comes nearer
    const centre = near ? [bare.left + bare.wide / 2, bare.top + bare.tall / 2] : [shown.width / 2, shown.height / 2];
    const x = w / 2 - centre[0] * scale + this.away[0] * far, y = h / 2 - centre[1] * scale + this.away[1] * far;
    context.imageSmoothingEnabled = scale < 4;
    context.imageSmoothingQuality = "high";
    if (this.look === "garment") { // what it lies on goes on beside it
      context.drawImage(shown, 0, 0, 1, shown.height, 0, y, Math.max(0, x) + 1, tall);
      context.drawImage(shown, shown.width - 1, 0, 1, shown.height, x + wide - 1, y, Math.max(0, w - x - wide) + 1, tall);
    }
    context.drawImage(shown, x, y, wide, tall);
    this.onScale(this.closer ? `${2 ** this.closer} times as it fits` : "all of it");
  }

  dressed() {
    if (this.garment || !this.bare) return this.garment;
    const { index } = this.sizes, { count, plates, levels } = index, inked = new Uint8Array(count);
    for (let c = 0; c < count; c++) for (let k = 0; k < plates; k++) if (levels[c * plates + k] && !this.lifted.has(k)) inked[c] = 1;
    const frame = worn(this.bare, index, this.light(), inked);
    const canvas = (this.garment = new OffscreenCanvas(frame.width, frame.height));
    canvas.getContext("2d").putImageData(frame, 0, 0);
    return canvas;
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
    canvas.getContext("2d").putImageData(frameOf(painted(level, colours), level.width, level.height), 0, 0);
  }
}

function bare(count, stack) {
  const out = new Float64Array(3 * count);
  for (let i = 0; i < out.length; i++) out[i] = stack[i % 3];
  return out;
}

const frameOf = (pixels, width, height) => new ImageData(new Uint8ClampedArray(pixels.buffer), width, height);
