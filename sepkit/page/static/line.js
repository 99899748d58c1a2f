// The press line: bare cloth, a station for each screen with the garment after its stroke, what happens between, the
// cure, the finished piece. A joint (place and a half) is where the inks of two stations meet.

import { el, pot } from "/s/dom.js";

export const keyOf = (station) => station.of || `${station.role} ${station.name}`;


export class Line {
  constructor(list, { choose, lift }) {
    this.list = list;
    this.choose = choose;
    this.lift = lift;
    this.stations = [];
  }

  // Show these stations; elements stay for screens that stay, so that the focus does.
  show(stations, chosen, lifted, state) {
    if (stations.map(keyOf).join("\n") !== this.stations.map((one) => one.key).join("\n")) {
      const held = this.list.contains(document.activeElement) ? document.activeElement.dataset.key : "";
      this.build(stations);
      if (held) this.list.querySelector(`[data-key="${CSS.escape(held)}"]`)?.focus();
    }
    this.stations.forEach((made, at) => this.fill(made, stations[at], at, stations, chosen, lifted, state));
    const { end } = this, done = chosen === stations.length;
    end.box.className = `station${done ? " chosen" : ""}`;
    end.title.setAttribute("aria-pressed", String(done));
    end.facts.textContent = `ΔE00 ${state.mean_de00.toFixed(1)} to ${state.held_against}, 95 % within ${state.p95_de00.toFixed(1)}`;
  }

  build(stations) {
    this.list.replaceChildren();
    this.bare = el("canvas", { role: "img", "aria-label": "bare cloth" });
    this.list.append(el("li", {}, el("div", { class: "station" }, this.bare, el("p", {}, "bare cloth"))));
    this.stations = stations.map((one, at) => {
      const made = {
        key: keyOf(one),
        canvas: el("canvas", { role: "img" }),
        title: el("button", { class: "name", type: "button", "data-key": `${keyOf(one)} name`, onclick: () => this.choose(at) }),
        facts: el("p"),
        lift: el("button", { type: "button", "data-key": `${keyOf(one)} lift`, onclick: () => this.lift(at) }),
        after: el("div", { class: "between" }),
        joint: el("button", { type: "button", class: "name", "data-key": `${keyOf(one)} joint`, onclick: () => this.choose(at + 0.5) }),
        words: el("span"),
      };
      made.box = el("div", { class: "station" }, made.canvas, made.title, made.facts, made.lift);
      made.after.append(made.words, made.joint);
      this.list.append(el("li", {}, made.box, made.after));
      return made;
    });
    const end = (this.end = { canvas: el("canvas", { role: "img", "aria-label": "the finished piece" }), title: el("button", { class: "name", type: "button", "data-key": "finished", onclick: () => this.choose(stations.length) }, "finished"), facts: el("p") });
    end.box = el("div", { class: "station" }, end.canvas, end.title, end.facts);
    this.list.append(el("li", {}, end.box));
  }

  fill(made, one, at, stations, chosen, lifted, state) {
    const up = lifted.has(at), next = stations[at + 1];
    made.box.className = `station${at === chosen ? " chosen" : ""}${up ? " lifted" : ""}`;
    made.title.replaceChildren(pot(one.print_srgb), `${at + 1} ${one.name}`);
    made.title.setAttribute("aria-pressed", String(at === chosen));
    made.canvas.setAttribute("aria-label", `after screen ${at + 1}, ${one.name}${up ? ", lifted" : ""}`);
    const coats = one.coats === 1 ? "1 coat" : `${one.coats} coats, flash between`;
    const dots = one.lpi ? ` · ${Math.round(one.lpi)} lpi` : "";
    made.facts.textContent = `${coats} · mesh ${one.mesh.replace("-", "\u2011")}${dots}${up ? " · lifted" : ""}`;
    made.lift.textContent = up ? "put down" : "lift";
    made.lift.setAttribute("aria-label", `${up ? "put down" : "lift"} screen ${at + 1}, ${one.name}`);
    const changes = next && next.round !== one.round;
    made.after.className = `between${changes ? " round" : ""}`;
    made.words.textContent = !next ? "cure"
      : changes ? `flash · change to round ${next.round}` : one.flash_why ? "flash" : "wet";
    made.after.title = changes ? `${state.heads} heads: the screens change` : one.flash_why || "";
    made.joint.hidden = !next || !one.of || !next.of;
    made.joint.textContent = `overlap ${state.trap_mm.toFixed(2)} mm`;
    made.joint.setAttribute("aria-pressed", String(chosen === at + 0.5));
    if (next) made.joint.setAttribute("aria-label", `overlap of ${one.name} and ${next.name}, ${state.trap_mm.toFixed(2)} mm`);
  }

  async pictures(table) {
    const asked = (this.asked = {});
    const frame = () => new Promise((done) => setTimeout(done, 0));
    await frame();
    if (asked !== this.asked || !this.bare) return;
    table.thumbnail(this.bare, -1, this.stations.length);
    for (const [at, made] of this.stations.entries()) {
      await frame();
      if (asked !== this.asked) return;
      table.thumbnail(made.canvas, at, this.stations.length);
    }
    await frame();
    if (asked === this.asked) table.thumbnail(this.end.canvas, this.stations.length - 1, this.stations.length);
  }
}
