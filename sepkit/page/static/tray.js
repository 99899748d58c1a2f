// The tray of the chosen screen: its pot, coats, base, place in the order, what prints with it; choke or trap where they act.

import { el, mm, pot } from "/s/dom.js";

const colour = /^#[0-9a-f]{6}$/i;

export class Tray {
  constructor(box, { change, say, part, knock }) {
    Object.assign(this, { box, change, say, part, knock });
  }

  show(state, at, inks, edits) {
    const one = state.stations[at];
    const active = document.activeElement, keep = this.box.contains(active) ? active.dataset.field : "";
    this.box.replaceChildren();
    if (!one) return;
    this.box.append(el("h2", {}, pot(one.print_srgb), `Screen ${at + 1}: ${one.name}`));
    const fields = el("div", { class: "fields" });
    this.box.append(fields);
    if (one.of) this.ofInk(fields, state, at, inks, edits);
    else fields.append(this.gap("The base draws in by", "choke", state.choke_mm, edits.choke_mm));
    fields.append(this.gap("Inks run under darker ones by", "trap", state.trap_mm, edits.trap_mm));
    fields.append(el("label", {}, "Knock it right / down by", el("span", {},
      this.number("dx", 0.5), " ", this.number("dy", 0), " mm ",
      el("button", { type: "button", onclick: () => this.knock(at, this.value("dx"), this.value("dy")) }, "look"))));
    this.box.append(el("p", { class: "why" }, this.words(one)));
    if (keep) this.box.querySelector(`[data-field="${keep}"]`)?.focus();
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
    const pots = el("select", { "data-field": "pot", onchange: (e) => set({ ink: e.target.value || null }) });
    pots.append(el("option", { value: "" }, "as found in the art"));
    for (const ink of inks) pots.append(el("option", { value: ink.name, selected: entry.ink === ink.name }, ink.name));
    const typed = el("input", { "data-field": "typed", size: 9, value: colour.test(entry.ink || "") ? entry.ink : "", placeholder: one.of });
    typed.addEventListener("change", () => {
      if (colour.test(typed.value)) set({ ink: typed.value.toLowerCase() });
      else this.say("Type a colour as #rrggbb.");
    });
    const coats = el("select", { "data-field": "coats", onchange: (e) => set({ coats: e.target.value ? Number(e.target.value) : null }) });
    for (const [value, words] of [["", `as planned (${one.coats})`], ["1", "1"], ["2", "2"], ["3", "3"]]) {
      coats.append(el("option", { value, selected: String(entry.coats || "") === value }, words));
    }
    const base = el("select", { "data-field": "base", onchange: (e) => set({ base: e.target.value || null }) });
    for (const [value, words] of [["", "as planned"], ["always", "on a base"], ["never", "straight on the cloth"]]) {
      base.append(el("option", { value, selected: (entry.base || "") === value }, words));
    }
    const name = el("input", { "data-field": "name", size: 12, value: entry.name || "", placeholder: one.name });
    name.addEventListener("change", () => set({ name: name.value.trim() || null }));
    const others = state.stations.filter((s) => s.of && s.of !== one.of);
    const into = el("select", { "data-field": "into", onchange: (e) => e.target.value && this.change({ do: "with", of: one.of, to: e.target.value }) });
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
      el("button", { type: "button", "data-field": "earlier", disabled: place < 1, onclick: () => move(-1) }, "Earlier"),
      el("button", { type: "button", "data-field": "later", disabled: place >= order.length - 1, onclick: () => move(1) }, "Later"),
      el("button", { type: "button", "data-field": "leave", disabled: order.length < 2, onclick: () => this.change({ do: "open", of: one.of }) }, "Leave it open: cloth shows"),
      el("button", { type: "button", "data-field": "part", disabled: !others.length, onclick: () => this.part(one.of) }, "Move one part of it"),
    );
  }

  gap(words, kind, value, asked) {
    const field = el("input", { "data-field": kind, size: 6, inputMode: "decimal", value: asked ?? "", placeholder: value.toFixed(2) });
    field.addEventListener("change", () => {
      const text = field.value.trim().replace(",", ".");
      const number = text === "" ? null : Number(text);
      if (number !== null && !(number >= 0 && number <= 10)) this.say("Give 0 to 10 mm, or nothing for what is planned.");
      else this.change({ do: kind, mm: number });
    });
    return el("label", {}, `${words} (mm)`, field);
  }

  number(field, value) {
    return el("input", { "data-field": field, size: 4, inputMode: "decimal", value, "aria-label": field === "dx" ? "right, mm" : "down, mm" });
  }

  value(field) {
    return Number(this.box.querySelector(`[data-field="${field}"]`).value.replace(",", ".")) || 0;
  }
}
