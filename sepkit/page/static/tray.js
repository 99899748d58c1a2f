// The tray of the chosen screen: its pot, coats, base, place in the order, what prints with it; choke or trap where they act.

import { able, el, isAble, mm, pot } from "/s/dom.js";

const colour = /^#[0-9a-f]{6}$/i, PAUSE_MS = 400;

export class Tray {
  constructor(box, given) {
    Object.assign(this, { box, ...given });
  }

  show(state, at, inks, edits) {
    const one = state.stations[at];
    const active = document.activeElement, keep = this.box.contains(active) ? active.dataset.field : "";
    const typing = keep && active.matches("input:not([type])") && active.value !== active.defaultValue ? active.value : null;
    this.box.replaceChildren();
    const fields = el("div", { class: "fields" });
    if (at === state.stations.length) this.finished(fields, state);
    else if (!one) this.joint(fields, state, Math.floor(at), edits);
    else {
      this.box.append(el("h2", {}, pot(one.print_srgb), `Screen ${at + 1}: ${one.name}`), fields);
      if (one.of) this.ofInk(fields, state, at, inks, edits);
      if (one.choke_mm || !one.of) fields.append(this.gap("The base draws in by", "choke", state.choke_mm, edits.choke_mm));
      this.box.append(el("p", { class: "why" }, this.words(one)));
    }
    const same = keep && this.box.querySelector(`[data-field="${keep}"]`);
    if (same) same.focus();
    if (same && typing !== null) same.value = typing; // what is half typed stays while an earlier change is decided
  }

  // A list gone through with the arrow keys counts where it comes to rest.
  rested(field, list, done) {
    list.dataset.field = field;
    const send = () => { clearTimeout(this.wait); this.wait = this.due = null; done(list.value); };
    list.addEventListener("change", () => { clearTimeout(this.wait); this.due = send; this.wait = setTimeout(send, PAUSE_MS); });
    list.addEventListener("blur", () => this.due === send && send());
    return list;
  }

  joint(fields, state, at, edits) {
    this.box.append(el("h2", {}, `Where ${state.stations[at].name} meets ${state.stations[at + 1].name}`), fields);
    fields.append(this.gap("Inks run under darker ones, here and at every joint, by", "trap", state.trap_mm, edits.trap_mm));
  }

  // The finished piece: take hold of one screen and knock it, or let the worst be found.
  finished(fields, state) {
    this.box.append(el("h2", {}, "The finished piece"), fields, el("p", { class: "why" }, "A press is never quite on register: look what shows when one screen is off."));
    const which = el("select", { "data-field": "which" }, ...state.stations.map((s, n) => el("option", { value: n }, `${n + 1} ${s.name}`)));
    const knock = () => this.knock(Number(which.value), this.value("dx"), this.value("dy"));
    fields.append(el("label", {}, "Take hold of", which), el("label", {}, "right, mm", this.number("dx", 0.5)), el("label", {}, "down, mm", this.number("dy", 0)),
      el("button", { type: "button", "data-field": "knock", onclick: knock }, "Knock it"),
      el("button", { type: "button", "data-field": "back", onclick: () => { this.put({ plate: Number(which.value), right_mm: 0, down_mm: 0 }); knock(); } }, "Put it back"),
      el("button", { type: "button", "data-field": "worst", onclick: () => this.worst() }, "Find the worst"));
  }

  // Lay a knock into the fields.
  put(found) {
    for (const [field, value] of [["which", found.plate], ["dx", found.right_mm], ["dy", found.down_mm]]) {
      const box = this.box.querySelector(`[data-field="${field}"]`);
      if (box) box.value = Math.round(value * 1000) / 1000;
    }
  }

  words(one) {
    const parts = [`${one.area_cm2.toFixed(0)} cm² of ink`, `mesh ${one.mesh}`];
    if (one.of) parts.push(`predicted ΔE00 ${one.de00.toFixed(1)} from the ink's own colour`, one.on_base ? "on a base" : "straight on the cloth");
    if (one.trap_mm) parts.push(`runs under its neighbours by ${mm(one.trap_mm)}`);
    if (one.choke_mm) parts.push(`drawn in by ${mm(one.choke_mm)}`);
    return parts.join(" · ") + (one.why ? `. ${one.why}` : "");
  }

  ofInk(fields, state, at, inks, edits) {
    const one = state.stations[at];
    const entry = (edits.ink || []).find((e) => e.of.toLowerCase() === one.of) || {};
    const set = (values) => this.change({ do: "ink", of: one.of, set: values });
    const pots = this.rested("pot", el("select"), (value) => set({ ink: value || null }));
    pots.append(el("option", { value: "" }, "as found in the art"));
    for (const ink of inks) pots.append(el("option", { value: ink.name, selected: entry.ink === ink.name }, ink.name));
    const typed = el("input", { "data-field": "typed", size: 9, value: colour.test(entry.ink || "") ? entry.ink : "", placeholder: one.of });
    typed.addEventListener("change", () => {
      if (colour.test(typed.value)) set({ ink: typed.value.toLowerCase() });
      else this.say("Type a colour as #rrggbb.");
    });
    const coats = this.rested("coats", el("select"), (value) => set({ coats: value ? Number(value) : null }));
    for (const [value, words] of [["", `as planned (${one.coats})`], ["1", "1"], ["2", "2"], ["3", "3"]]) {
      coats.append(el("option", { value, selected: String(entry.coats || "") === value }, words));
    }
    const base = this.rested("base", el("select"), (value) => set({ base: value || null }));
    for (const [value, words] of [["", "as planned"], ["always", "on a base"], ["never", "straight on the cloth"]]) {
      base.append(el("option", { value, selected: (entry.base || "") === value }, words));
    }
    const name = el("input", { "data-field": "name", size: 12, value: entry.name || "", placeholder: one.name });
    name.addEventListener("change", () => set({ name: name.value.trim() || null }));
    const others = state.stations.filter((s) => s.of && s.of !== one.of);
    const into = this.rested("into", el("select"), (value) => value && this.change({ do: "with", of: one.of, to: value }));
    into.append(el("option", { value: "" }, "its own screen"));
    for (const s of others) into.append(el("option", { value: s.of }, s.name));
    const order = state.stations.filter((s) => s.of).map((s) => s.of), place = order.indexOf(one.of);
    const move = (by) => {
      const to = [...order];
      [to[place], to[place + by]] = [to[place + by], to[place]];
      this.change({ do: "order", order: to });
    };
    fields.append(
      el("label", {}, "Pot", pots), el("label", {}, "or a colour", typed), el("label", {}, "Coats", coats),
      el("label", {}, "Base", base), el("label", {}, "Name", name), el("label", {}, "Print with the screen of", into),
      this.does("earlier", "Earlier", place > 0, () => move(-1)), this.does("later", "Later", place < order.length - 1, () => move(1)),
      this.does("leave", "Leave it open: cloth shows", order.length > 1, () => this.change({ do: "open", of: one.of })),
      this.does("part", "Move one part of it", others.length > 0, () => this.part(one.of)),
    );
  }

  does(field, words, can, work) {
    const made = el("button", { type: "button", "data-field": field, onclick: () => isAble(made) && work() }, words);
    return able(made, can);
  }

  gap(words, kind, value, asked) {
    const field = el("input", { "data-field": kind, size: 6, inputMode: "decimal", value: asked ?? "", placeholder: value.toFixed(2) });
    field.addEventListener("change", () => {
      const text = field.value.trim().replace(",", ".");
      const number = text === "" ? null : Number(text);
      if (number !== null && !(number >= 0 && number <= 10)) this.say("Give 0 to 10 mm, or nothing for what is planned.");
      else this.change({ do: kind, mm: number });
    });
    const slide = el("input", { type: "range", "data-field": `${kind}-slide`, min: 0, max: 2, step: 0.05, value: asked ?? value, "aria-label": words });
    slide.addEventListener("input", () => { field.value = slide.value; this.slide(kind, Number(slide.value)); });
    this.rested(`${kind}-slide`, slide, (at) => this.change({ do: kind, mm: Number(at) }));
    return el("label", {}, `${words} (mm)`, el("span", {}, field, " ", slide));
  }

  number(field, value) {
    return el("input", { "data-field": field, size: 4, inputMode: "decimal", value });
  }

  value(field) {
    return Number(this.box.querySelector(`[data-field="${field}"]`).value.replace(",", ".")) || 0;
  }
}
