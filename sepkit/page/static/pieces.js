// How many screens: the finished pieces that there are to choose from, each with what it takes and what is lost.

import { parcel, post } from "/s/api.js";
import { el, home } from "/s/dom.js";

export class Pieces {
  constructor(box, { shop, change, at }) {
    Object.assign(this, { box, shop, change, at, asked: null });
  }

  // Show what there is for a print; worked out when it is new, else when asked.
  show(one, fresh) {
    this.one = one;
    const ask = el("button", { type: "button", onclick: () => this.fill() }, "Show the pieces to choose from");
    this.box.replaceChildren(el("h2", {}, "How many screens"), ask);
    this.asked = null;
    if (fresh) this.fill();
  }

  async fill() {
    const asked = (this.asked = {}), { state } = this.one;
    const sent = await this.shop.safely(() => parcel(this.at("pieces")));
    if (!sent || asked !== this.asked) return;
    const found = sent.told, list = el("ul", { class: "pieces" });
    this.box.replaceChildren(el("h2", {}, "How many screens"), found.length ? list : el("p", {}, this.one.undo ? "There is nothing to choose while changes by hand stand: undo them to see what there was." : "There is nothing to choose: the inks were named, or are one. At most so many screens: say it on the ticket, and lay it again."));
    for (const piece of found) {
      const src = URL.createObjectURL(new Blob([sent.octets.slice(...piece.octets)], { type: "image/webp" }));
      const image = el("img", { alt: `${piece.called.join(", ")}: ${piece.inks} inks`, width: 200, src, onload: () => URL.revokeObjectURL(src) });
      const pick = { load: state.heads, worth: null, all: "all" }[piece.pick];
      const choose = () => (piece.lay ? this.beside(piece.lay) : this.change({ do: "screens", most: pick }, "#pieces button"));
      const take = el("button", { type: "button", disabled: piece.made, onclick: choose }, piece.made ? "as it is planned" : piece.lay ? "Lay it beside this one" : "Print this one");
      list.append(el("li", { class: piece.made ? "piece made" : "piece" }, image, el("h3", {}, piece.called.join(", ")), el("p", {}, piece.effort),
        el("p", {}, `ΔE00 ${piece.mean_de00.toFixed(1)} to ${state.held_against}; ${piece.lost.length ? piece.lost.slice(0, 4).join(", ").replaceAll("dE00", "ΔE00") : "nothing is lost"}`), take));
    }
  }

  // Dots are solved for their inks together: another number of them is a print of its own, laid beside this one.
  async beside(lay) {
    const { shop } = this, made = await shop.safely(() => post(this.at("beside"), lay));
    if (!made) return;
    if (!shop.desk.prints.some((one) => one.id === made.id)) shop.desk.prints.push(made);
    await shop.look(made.id);
    home('#stubs [aria-pressed="true"]', "#cloth");
  }
}
