// One print on the table: shown, held, lifted, knocked, changed, and sent to the darkroom.

import { bitmap, get, inflated, post } from "/s/api.js";
import { $, able, el, findings, home, plural, pot } from "/s/dom.js";
import { Line, keyOf } from "/s/line.js";
import { Pieces } from "/s/pieces.js";
import { indexOf, parseIndex } from "/s/runs.js";
import { Table } from "/s/table.js";
import { Tray } from "/s/tray.js";
import { parseGarment } from "/s/worn.js";

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

export class PrintTable {
  constructor(shop) {
    Object.assign(this, { shop, one: null, chosen: 0, lifted: new Set(), digest: "", off: null, queue: Promise.resolve() });
    this.table = new Table($("cloth"), (text) => { $("scale").textContent = text; });
    this.table.films = (plate, x, y, w, h) => bitmap(this.at(`film?plate=${plate}&x=${x}&y=${y}&w=${w}&h=${h}`));
    this.line = new Line($("line"), { choose: (at) => this.choose(at), lift: (at) => this.lift(at) });
    const change = (what, next = "") => { this.next = next; return this.change(what); };
    this.tray = new Tray($("tray"), {
      change, say: shop.say, part: (of) => this.part(of), knock: (at, dx, dy) => this.knock(at, dx, dy), worst: () => this.worst(), slide: (kind, mm) => this.slide(kind, mm),
    });
    this.pieces = new Pieces($("pieces"), { shop, change, at: (path) => this.at(path) });
    this.listen();
  }

  at(path = "") {
    return `/api/print/${this.shop.desk.at}${path ? `/${path}` : ""}`;
  }

  listen() {
    for (const [id, by] of [["undo", -1], ["redo", 1]]) $(id).addEventListener("click", () => this.step(by));
    $("looks").addEventListener("change", () => this.held());
    $("nearer").addEventListener("click", () => this.table.zoom(-1));
    $("farther").addEventListener("click", () => this.table.zoom(1));
    $("whole").addEventListener("click", () => { this.table.fit(); this.table.draw(); });
    $("make").addEventListener("submit", (e) => { e.preventDefault(); this.make(); });
    $("away").addEventListener("click", () => this.away());
    $("cloth").addEventListener("click", (e) => this.fill?.(this.table.placeMm(e)));
    for (const place of [$("cloth"), $("press")]) place.addEventListener("keydown", (e) => this.key(e, place));
    const aside = (e) => e.target === $("cloth") || $("press").contains(e.target);
    addEventListener("keydown", (e) => { if (e.key.toLowerCase() === "a" && aside(e) && !e.ctrlKey && !e.metaKey && !e.repeat) this.hold("art"); });
    addEventListener("keyup", (e) => { if (e.key.toLowerCase() === "a" && aside(e)) this.held(); });
    addEventListener("keydown", (e) => {
      const typing = /^(INPUT|TEXTAREA)$/.test(e.target.tagName) && e.target.type !== "radio";
      if (!(e.ctrlKey || e.metaKey) || e.key.toLowerCase() !== "z" || !this.one || typing || this.shop.here() !== "table") return;
      e.preventDefault();
      this.step(e.shiftKey ? 1 : -1);
    });
  }

  async enter() {
    if (this.one?.state) this.table.resized();
  }

  // Open a print that lies on the desk, and wait until it is decided; `known` is what was just told of it.
  async look(id, known = null) {
    const { shop } = this;
    shop.desk.at = id;
    shop.stubs();
    Object.assign(this, { chosen: 0, lifted: new Set(), off: null, fill: null });
    if (!known?.state) shop.say("Reading, separating and deciding: seconds for flat art, longer for tones and for large art.");
    const one = await shop.busy("reading the art", this.at("stop"), () => shop.safely(async () => {
      let now = known?.state ? known : await get(this.at());
      while (!now.state && !now.trouble && shop.desk.at === id) {
        await new Promise((done) => setTimeout(done, 250));
        now = await get(this.at());
      }
      return now;
    }));
    if (!one || shop.desk.at !== id) return;
    this.one = one;
    if (!one.state) {
      shop.trouble(one.trouble, ["Take it off the desk", () => this.away()]);
      shop.say("");
      $("place-table").hidden = true;
      return;
    }
    this.digest = "";
    this.table.fitted = true;
    $("made").textContent = "";
    this.table.bare = null;
    await shop.busy("drawing it", this.at("stop"), () => shop.safely(() => this.show(one)));
    $("place-table").hidden = shop.here() !== "table";
    this.table.resized();
    $("folder").value = `${one.art.replace(/\.[^.]*$/, "")}-${one.garment.replaceAll(" ", "-").replace("#", "")}`;
    shop.say(LAID);
    this.pieces.show(one, true);
  }

  async back() {
    if (this.shop.desk.at) await this.look(this.shop.desk.at);
  }

  // Something was changed elsewhere: by another window, or the art on the disk.
  async elsewhere(now) {
    if (!this.one) return;
    if (now.art_changed && this.toldOf !== now.art_changed) {
      this.toldOf = now.art_changed;
      const words = now.art_changed === "gone" ? "is gone from the disk" : "was changed on the disk";
      this.shop.trouble({ error: `${this.one.art} ${words}`, hint: "what you see is the art as it was; films are not made until you take the new one in" },
        now.art_changed === "gone" ? null : ["Take the new art in", () => this.again()]);
    }
    if (!now.art_changed) this.toldOf = "";
    if (now.rev !== this.one.rev && this.one.state) {
      const one = await this.shop.safely(() => get(this.at()));
      if (!one?.state) return;
      await this.show(one);
      this.shop.say("Changed in another window: this is the newer print.");
    }
  }

  async again() {
    this.shop.trouble(null);
    this.toldOf = "";
    await this.shop.busy("reading the art", this.at("stop"), () => this.shop.safely(() => post(this.at("again"))));
    await this.look(this.shop.desk.at);
  }

  async show(one) {
    const before = this.one.state?.stations || [], { state } = (this.one = one);
    if (one.trouble) this.shop.trouble(one.trouble);
    this.follow(before, state.stations);
    if (state.index !== this.digest) {
      this.index = parseIndex(await inflated(this.at("index")));
      this.table.show(this.index, state.width_mm, state.film_dpi);
      this.digest = state.index;
    } else if (this.off) this.table.show(this.index, state.width_mm, state.film_dpi);
    this.off = null;
    if (!this.table.bare) this.table.bare = parseGarment(await inflated(this.at("bare")));
    this.table.lifted = this.lifted;
    this.table.recolour(state.stack, state.under);
    $("facts").textContent = `${state.art} on ${state.garment} · ${state.width_mm.toFixed(0)} × ${state.height_mm.toFixed(0)} mm · ${summary(state)}`;
    $("make").firstElementChild.hidden = $("make").querySelector("[type=submit]").hidden = one.of_job;
    if (one.of_job) $("made").textContent = "Its films are made with the drop.";
    able($("undo"), one.undo);
    able($("redo"), one.redo);
    this.drawLine();
    this.opened(state);
    $("told").replaceChildren(el("h2", {}, "To know"), findings(state.findings));
    this.held();
  }

  // Show what a change came to; the focus stays, or goes to what stands where its control was.
  async landed(one, had) {
    const of = this.one.state.stations[Math.floor(this.chosen)]?.of;
    await this.show(one);
    this.pieces.show(one, false);
    if (had) home(`#open [data-of="${of}"]`, this.next, `#line [data-key="${of} name"]`, "#tray [data-field]", "#cloth");
    this.next = "";
  }

  // What is chosen and lifted are screens, wherever they stand now.
  follow(before, now) {
    const to = (at) => now.findIndex((one) => before[at] && keyOf(one) === keyOf(before[at]));
    if (!before.length) return;
    const was = Math.floor(this.chosen), place = was >= before.length ? now.length : to(was);
    this.lifted = new Set([...this.lifted].map(to).filter((at) => at >= 0));
    this.chosen = place < 0 ? Math.min(was, now.length) : place + (this.chosen % 1 && place < now.length - 1 ? this.chosen % 1 : 0);
  }

  drawLine() {
    const { state, edits } = this.one;
    this.line.show(state.stations, this.chosen, this.lifted, state);
    this.tray.show(state, this.chosen, this.shop.desk.shelf.inks, edits);
    this.line.pictures(this.table);
  }

  opened(state) {
    const gone = state.areas.filter((area) => area.open || area.with_);
    $("open").hidden = !gone.length;
    $("open").replaceChildren(el("h2", {}, "Without a screen of their own"), el("div", { class: "fields" }, ...gone.map((area) => el("span", {},
      pot(area.srgb), `${area.name} ${area.open ? "is left open" : `prints with ${area.with_}`} `,
      el("button", { type: "button", "data-of": area.srgb, onclick: () => { this.next = `#line [data-key="${area.srgb} name"]`; this.change({ do: "own", of: area.srgb }); } }, "give it a screen")))));
  }

  // One change after the other, each on what the last one made.
  change(what) {
    return (this.queue = this.queue.catch(() => null).then(() => this.changeNow(what)));
  }

  async changeNow(what) {
    const { shop } = this, before = this.one.state, had = document.activeElement !== document.body;
    shop.say("Deciding again…");
    const one = await shop.busy("deciding again", this.at("stop"), () => shop.safely(() => this.sent(what)));
    if (!one) return shop.say("Nothing was changed.");
    await this.landed(one, had);
    shop.say(difference(before, one.state));
  }

  async sent(what) {
    try {
      return await post(this.at("edit"), { rev: this.one.rev, change: what });
    } catch (error) {
      if (error.status === 409) {
        await this.show(await get(this.at()));
        error.again = ["Make my change all the same", () => this.change(what)];
      }
      throw error;
    }
  }

  step(by) {
    return (this.queue = this.queue.catch(() => null).then(async () => {
      if (!(by < 0 ? this.one.undo : this.one.redo)) return this.shop.say(by < 0 ? "Nothing to undo." : "Nothing to do again.");
      const had = document.activeElement !== document.body;
      const one = await this.shop.busy("going back", this.at("stop"), () => this.shop.safely(() => post(this.at("step"), { rev: this.one.rev, by })));
      if (!one) return;
      await this.landed(one, had);
      this.shop.say(`${by < 0 ? "Undone" : "Done again"}: ${summary(one.state)}`);
    }));
  }

  choose(at) {
    this.chosen = at;
    this.drawLine();
    if (this.look_ === "film") this.held();
  }

  async lift(at) {
    const { state } = this.one, asked = (this.asked = {});
    this.lifted = new Set(this.lifted);
    if (!this.lifted.delete(at)) this.lifted.add(at);
    this.table.lift(this.lifted);
    this.drawLine();
    const words = `${state.stations[at].name} ${this.lifted.has(at) ? "is lifted: it does not print" : "is down again"}`;
    this.shop.say(`${words}.`);
    const now = await this.shop.safely(() => get(this.at(`lifted?lifted=${[...this.lifted].join(",")}`)));
    if (now && asked === this.asked) this.shop.say(`${words}; ΔE00 to ${state.held_against} ${state.mean_de00.toFixed(1)} to ${now.mean_de00.toFixed(1)}.`);
  }

  // Ways to hold it.

  held() {
    return this.hold(new FormData($("looks")).get("look"));
  }

  async hold(way) {
    this.look_ = way;
    if (way === "art" && this.table.artOf !== this.digest) {
      const of = this.digest, art = await this.shop.safely(() => bitmap(this.at("art")));
      if (!art || of !== this.digest) return;
      Object.assign(this.table, { art, artOf: of });
    }
    const plate = Math.min(Math.floor(this.chosen), this.one.state.stations.length - 1);
    if (this.look_ === way) this.table.hold(way, plate);
    const names = { garment: "The print on its garment", flat: "The print flat on the cloth", art: "The art", film: `The film of screen ${plate + 1}` };
    $("cloth").setAttribute("aria-label", names[way]);
  }

  // While a slider is held, the part in view is shown as it will be: flat and at true pixels or nearer.
  async slide(kind, mm) {
    const box = this.table.inView();
    this.wanted = [kind, mm];
    if (!box || this.sliding) return;
    this.sliding = true;
    while (this.wanted) {
      const [what, value] = this.wanted;
      this.wanted = null;
      const planes = await inflated(this.at(`window?x=${box[0]}&y=${box[1]}&w=${box[2]}&h=${box[3]}&trap=${what === "trap" ? value : ""}&choke=${what === "choke" ? value : ""}`)).catch(() => null);
      if (planes) this.table.patch(box, indexOf(planes));
    }
    this.sliding = false;
  }

  async knock(at, dx, dy) {
    const { shop } = this, { state } = this.one, perMm = this.index.width / state.width_mm;
    if (!(Math.abs(dx) <= 20 && Math.abs(dy) <= 20)) return this.shop.say("Give -20 to 20 mm.");
    const none = !dx && !dy;
    if (none && !this.off) return this.shop.say("Give a distance in mm, right or down.");
    const { knocked } = await import("/s/knock.js");
    const own = none || this.index.top === 255 ? null : await shop.safely(() => this.alone(at));
    this.off = none ? null : { at, dx, dy };
    this.table.show(none ? this.index : knocked(this.index, at, dx * perMm, dy * perMm, own), state.width_mm, state.film_dpi);
    this.table.recolour(state.stack, state.under);
    this.line.pictures(this.table);
    this.shop.say(none ? "All screens are on register again." : `${state.stations[at].name} is off by ${dx} mm right and ${dy} mm down, everywhere you look. Give 0 and 0 to put it back.`);
  }

  // A plate with every level of its coverage, which the print of many plates has not; asked for once.
  async alone(at) {
    const key = `${this.digest} ${at}`;
    if (this.own?.key !== key) this.own = { key, index: parseIndex(await inflated(this.at(`plane?plate=${at}`))) };
    return this.own.index;
  }

  async worst() {
    const { shop } = this, { stations } = this.one.state;
    const found = await shop.busy("trying each screen in eight directions", this.at("stop"), () => shop.safely(() => get(this.at("worst"))));
    if (!found) return;
    if (found.plate < 0) return shop.say(`Off by ${found.error_mm} mm, nothing shows, whichever screen it is.`);
    const round = (v) => Math.round(v * 1000) / 1000;
    await this.knock(found.plate, round(found.right_mm), round(found.down_mm));
    shop.say(`At worst ${stations[found.plate].name} off by ${found.error_mm} mm shows ${found.base_mm2.toFixed(1)} mm² of base and ${found.gaps_mm2.toFixed(1)} mm² of cloth; `
      + `without trap and choke it would be ${found.base_before_mm2.toFixed(0)} and ${found.gaps_before_mm2.toFixed(0)}. You look at it now.`);
    this.choose(this.one.state.stations.length);
    this.tray.put(found);
  }

  // Keys act while the table or the line has the focus.
  key(e, place) {
    if (e.ctrlKey || e.altKey || e.metaKey || !this.one?.state) return;
    const { table } = this, count = this.one.state.stations.length;
    if (e.key >= "1" && e.key <= "9" && Number(e.key) <= count) this.lift(Number(e.key) - 1);
    else if (e.key === "0") { this.lifted = new Set(); table.lift(this.lifted); this.drawLine(); this.shop.say("All screens are down."); }
    else if (e.key === "[") this.choose(Math.max(0, Math.ceil(this.chosen) - 1));
    else if (e.key === "]") this.choose(Math.min(count, Math.floor(this.chosen) + 1));
    else if (e.key === "+") table.zoom(-1);
    else if (e.key === "-") table.zoom(1);
    else if (place === $("cloth") && ARROWS[e.key]) table.pan(...ARROWS[e.key]);
    else return;
    e.preventDefault();
  }

  async part(of) {
    (await import("/s/part.js")).part(this, of);
  }

  async make() {
    const { shop } = this;
    shop.say("Making films, pictures and sheet…");
    const made = await shop.busy("making films, pictures and sheet", this.at("stop"), () => shop.safely(() => post(this.at("export"), { folder: $("folder").value.trim() })));
    shop.say(made ? `The folder ${made.folder} is made: open its sheet.html first.` : "No folder was made.");
    $("made").textContent = made ? `${made.folder}, in your folder ${shop.desk.folder}, holds ${made.files.length} files: films.pdf goes to the film printer, sheet.html hangs at the press.` : "";
  }

  async away() {
    const { shop } = this;
    const left = await shop.safely(() => post(this.at("away")));
    if (!left) return;
    shop.desk.prints = left.prints;
    shop.desk.at = this.one = null;
    $("place-table").hidden = true;
    shop.stubs();
    shop.trouble(null);
    shop.say("Taken off the desk; what was made of it stays in its folder.");
    if (left.prints.length) await this.look(left.prints[left.prints.length - 1].id);
    home('#stubs [aria-pressed="true"]', "#art");
  }
}

const LAID = "It lies on the table. Choose a screen in the press line to change it; films are made below, in the darkroom.";
const summary = (state) => `${plural(state.stations.length, "screen")}, ${plural(state.rounds, "round")} on ${plural(state.heads, "head")}; ΔE00 ${state.mean_de00.toFixed(1)} to ${state.held_against}, 95 % within ${state.p95_de00.toFixed(1)}`;

function difference(before, after) {
  const said = [`ΔE00 to ${after.held_against} ${before.mean_de00.toFixed(1)} to ${after.mean_de00.toFixed(1)}`];
  if (before.stations.length !== after.stations.length) said.unshift(`${before.stations.length} to ${plural(after.stations.length, "screen")}`);
  if (before.rounds !== after.rounds) said.unshift(`${before.rounds} to ${plural(after.rounds, "round")}`);
  if (after.missed.length) said.push(`not found: ${after.missed.join(", ")}`);
  const by = after.mean_de00 - before.mean_de00;
  said.push(Math.abs(by) < 0.1 ? "no eye sees that" : Math.abs(by) < 1 ? `hardly seen, ${by < 0 ? "nearer" : "farther"}` : by < 0 ? "nearer to the art" : "farther from the art");
  return `${said.join("; ")}.`;
}
