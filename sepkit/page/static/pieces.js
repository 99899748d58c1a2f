// How many screens: the finished pieces that there are to choose from, each with what it takes and what is lost.

import { parcel } from "/s/api.js";
import { el } from "/s/dom.js";

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
    this.box.replaceChildren(el("h2", {}, "How many screens"), found.length ? list : el("p", {}, "There is nothing to choose: the inks were named, are one, or were solved together for tones. At most so many screens: say it on the ticket, and lay it again."));
    for (const piece of found) {
      const src = URL.createObjectURL(new Blob([sent.octets.slice(...piece.octets)], { type: "image/png" }));
      const image = el("img", { alt: `${piece.called.join(", ")}: ${piece.inks} inks`, width: 200, src, onload: () => URL.revokeObjectURL(src) });
      const pick = { load: state.heads, worth: null, all: "all" }[piece.pick];
      const take = el("button", { type: "button", disabled: piece.made, onclick: () => this.change({ do: "screens", most: pick }, "#pieces button") }, piece.made ? "as it is planned" : "Print this one");
      list.append(el("li", { class: piece.made ? "piece made" : "piece" }, image, el("h3", {}, piece.called.join(", ")), el("p", {}, piece.effort),
        el("p", {}, `ΔE00 ${piece.mean_de00.toFixed(1)} to ${state.held_against}; ${piece.lost.length ? piece.lost.slice(0, 4).join(", ") : "nothing is lost"}`), take));
    }
  }
}
