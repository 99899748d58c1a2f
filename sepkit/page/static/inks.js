// The ink bench: match a colour, let one down, a neck label, a batch that measured off; every answer with swatches.

import { post } from "/s/api.js";
import { el, field, findings, swatch, values } from "/s/dom.js";

const grams = (doses) => doses.map((d) => `${d.ink} ${d.mass_g} g`).join(" + ") || "add nothing";
const off = (value) => (value === null || value === undefined ? "" : `ΔE00 ${value.toFixed(1)}`);

export class Place {
  constructor(box, shop) {
    Object.assign(this, { box, shop });
  }

  enter() {
    if (this.box.firstChild) return;
    const { garments, inks } = this.shop.desk.shelf, cloths = garments.map((g) => g.name), pots = inks.map((i) => i.name);
    const parts = (n) => Array.from({ length: n }, (_, k) => [[`ink${k}`, k ? "and" : "Ink", ["", ...pots], ""], [`parts${k}`, "parts or g", 6, ""]]).flat();
    this.box.append(
      this.desk("match", "Match a colour", "Find it", [["target", "Colour: #rrggbb, a name, or lab(L a b)", 22, "#bf2f3a"], ["garment", "on", cloths, "black tee"],
        ["aim", "It should look right", [["opaque", "as an opaque film"], ["straight", "printed straight"], ["base", "printed on a base"]], "opaque"],
        ["batch_g", "batch, g", 6, "500"], ["keep", "keep the best as (a name)", 14, ""]]),
      this.desk("tint", "Let an ink down", "Show it", [...parts(3), ["garment", "on", cloths, "black tee"], ["against", "hold it against", 14, ""], ["batch_g", "batch, g", 6, "500"]]),
      this.desk("label", "A neck label", "Find the tint", [["garment", "in", cloths, "white tee"], ["tint", "tinted with", pots, "black"], ["wide_mm", "wide, mm", 5, "60"], ["tall_mm", "tall, mm", 5, "30"],
        ["count", "labels", 5, "50"], ["weight_g_m2", "cloth, g/m² (the garment's own)", 6, ""]]),
      this.desk("correct", "Correct a batch", "Tell what to add", [...parts(3), ["measured", "it measured", 14, ""], ["target", "it should be", 14, ""]]),
    );
  }

  desk(what, title, does, fields) {
    const answer = el("div", { role: "status" });
    const form = el("form", { class: "fields" }, ...fields.map(field), el("button", { type: "submit" }, does));
    form.addEventListener("submit", async (e) => {
      e.preventDefault();
      const typed = values(form), parts = [];
      for (let k = 0; `ink${k}` in typed; k++) if (typed[`ink${k}`]) parts.push({ ink: typed[`ink${k}`], parts: typed[`parts${k}`] });
      const said = await this.shop.busy(`${does.toLowerCase()}…`, "/api/stop/ink", () => this.shop.safely(() => post(`/api/ink/${what}`, { ...typed, parts })));
      answer.replaceChildren(...(said ? this[what](said) : []));
      if (said?.kept) await this.shop.shelf();
    });
    return el("section", { "aria-label": title }, el("h2", {}, title), form, answer);
  }

  match(said) {
    return [el("ul", { class: "swatches" }, swatch(said.target, "what is wanted", said.target.words),
      ...said.recipes.map((r, n) => swatch({ ...r, advised: !n }, grams(r.doses), `${off(r.de00)} as weighed`))),
    el("h3", {}, "The best of them printed"), el("ul", { class: "swatches" }, ...said.prints.map((p) => swatch(p, p.words, off(p.de00)))),
    el("p", {}, said.reached ? "" : "No recipe of these inks comes near: what is first is the nearest. ", ...said.pastes, said.kept ? ` Kept as "${said.kept}": it stands among the pots now.` : ""), findings(said.findings)];
  }

  tint(said) {
    return [el("p", {}, grams(said.doses)), el("ul", { class: "swatches" }, ...said.looks.map((l) => swatch(l, l.words, off(l.de00)))),
      el("h3", {}, "More and less of the last ink"), el("ul", { class: "swatches" }, ...said.steps.map((s) => swatch(s, s.words, off(s.de00)))), findings(said.findings)];
  }

  label(said) {
    return [el("p", {}, grams(said.doses)), el("ul", { class: "swatches" }, ...said.rows.map((r) => swatch(r, r.words, `${r.reads ? "reads" : "too faint to read"} inside`, `${r.outside} outside, ${off(r.outside_de00)}`))),
      el("p", {}, ...said.pastes), findings(said.findings)];
  }

  correct(said) {
    return [el("ul", { class: "swatches" }, swatch(said.target, "should be"), swatch(said.measured, "measured"), ...said.additions.map((a) => swatch(a, grams(a.doses), `then ${off(a.de00)}`))), findings(said.findings)];
  }
}
