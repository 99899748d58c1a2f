// The drop: prints of the desk, what is ordered of each garment, and the day that comes of it.

import { get, picture, post } from "/s/api.js";
import { el, findings, plural, pot } from "/s/dom.js";

const row = (...cells) => el("tr", {}, ...cells.map((cell, n) => el(n ? "td" : "th", n ? {} : { scope: "row" }, cell)));
const table = (heads, rows) => el("div", { class: "wide" }, el("table", {}, el("thead", {}, el("tr", {}, ...heads.map((h) => el("th", { scope: "col" }, h)))), el("tbody", {}, ...rows)));

const warned = (list) => {
  const count = list.filter((one) => one.word !== "note").length;
  return count ? ` ${plural(count, "warning")}: read them below.` : "";
};

// An ink that is known by its colour alone is shown in it.
const called = (ink) => (ink.startsWith("#") ? [pot(ink), ink] : [ink]);

export class Place {
  constructor(box, shop) {
    Object.assign(this, { box, shop });
  }

  async enter() {
    await this.shop.shelf();
    this.show(await get("/api/drop"));
  }

  async set(what) {
    const drop = await this.shop.safely(() => post("/api/drop/set", what));
    if (!drop) return;
    this.missing.textContent = drop.missing;
    this.shop.say(drop.missing || "Noted.");
    if (drop.made && !drop.missing) await this.plan();
  }

  // The plan as it is now, over the films that stand: other orders and prices change no film.
  async plan() {
    const asked = (this.asked = {}), said = await this.work("planning the day again", "/api/drop/plan", {});
    if (!said || asked !== this.asked) return;
    if (said.missing.length) {
      this.note.textContent = `Made before a change of ${said.missing.join(" and ")}: plan the day again for its films.`;
      return this.shop.say(this.note.textContent);
    }
    this.told(said, !said.same);
    if (!said.same) this.shop.say(`Planned again: ${this.facts(said)}`);
  }

  show(drop) {
    const { prints } = this.shop.desk;
    const title = el("input", { size: 24, value: drop.title, onchange: () => this.set({ title: title.value }) });
    const places = prints.map((one) => {
      const at = el("select", { onchange: () => this.set({ places: [{ print: one.id, place: at.value }] }) },
        ...drop.place_names.map((name) => el("option", { value: name, selected: name === (drop.places[one.id] || one.placement || "full front") }, name)));
      at.setAttribute("aria-label", `place of ${one.art} on ${one.garment}`);
      return row(one.art, one.garment, `${Math.round(one.width_mm || 0)} mm`, at);
    });
    const orders = drop.garments.map((one) => {
      const typed = () => this.set({ orders: [{ garment: one.name, sizes: sizes.value, price: price.value }] });
      const sizes = el("input", { size: 24, value: one.sizes, placeholder: "S 4, M 10, XL 2", "aria-label": `ordered of ${one.name}`, onchange: typed });
      const price = el("input", { size: 6, value: one.price, inputMode: "decimal", "aria-label": `price of one ${one.name}`, onchange: typed });
      return row(one.name, sizes, price);
    });
    this.missing = el("p", { class: "why" }, drop.missing);
    const folder = el("input", { size: 20, value: drop.made?.folder || "drop" });
    this.made = el("div");
    this.note = el("p", { class: "why" });
    this.box.replaceChildren(
      el("section", { "aria-label": "What is printed" }, el("h2", {}, "What is printed"), el("label", {}, "The drop is called ", title),
        prints.length ? table(["art", "on", "wide", "where"], places) : el("p", {}, "Nothing lies on the desk yet: lay art on the table. A second print or a second garment is laid the same way.")),
      el("section", { "aria-label": "What is ordered" }, el("h2", {}, "What is ordered"), table(["garment", "pieces by size", "price of one blank"], orders), this.missing),
      el("section", { "aria-label": "To the darkroom" }, el("h2", {}, "To the darkroom"), el("form", { class: "strip", onsubmit: (e) => { e.preventDefault(); this.make(folder.value.trim()); } },
        el("label", {}, "Folder ", folder), el("button", { type: "button", onclick: () => this.check() }, "Look whether it fits"), el("button", { type: "submit", disabled: !prints.length }, "Plan the day and make the films"))),
      this.note, this.made);
    if (!drop.made) return;
    this.told(drop.made);
    if (!drop.missing) return this.plan();
  }

  work(words, path, body) {
    return this.shop.busy(words, "/api/stop/drop", () => this.shop.safely(() => post(path, body)));
  }

  async check() {
    const said = await this.work("looking whether it fits", "/api/drop/check", {});
    if (!said) return;
    this.made.replaceChildren(el("section", {}, said.findings.length ? findings(said.findings) : el("p", {}, "Nothing stands in the way.")));
    this.shop.say(said.findings.length ? `${plural(said.findings.length, "thing")} to know.` : "Nothing stands in the way.");
  }

  async make(folder) {
    const said = await this.work("planning the drop", "/api/drop/make", { folder });
    if (!said) return;
    this.told(said);
    this.shop.say(said.unchanged ? "Nothing has changed: the folder stands as it is." : `The folder ${said.folder} is made: ${plural(said.prints_made, "print")} made, ${said.prints_kept} kept.${warned(said.findings)}`);
  }

  facts(job) {
    const hours = (job.minutes.all / 60).toFixed(1), buy = job.blanks.reduce((sum, line) => sum + line.buy, 0);
    return `${plural(job.screens.length, "screen")} (${job.screens_one_each} with one for each film), ${buy} blanks to buy, ${hours} hours alone; changing over ${job.order.minutes.toFixed(0)} min, ${job.order.minutes_as_written.toFixed(0)} in the order as written.`;
  }

  async told(job, again = false) {
    this.note.textContent = again ? `Planned with what stands above; the folder ${job.folder} holds the plan as it was made: plan the day again to renew it.` : "";
    const steps = job.order.steps.map((step, n) => row(`${n + 1}. ${step.print} on ${step.garment}`, String(step.pieces), step.before.join("; "),
      el("ol", {}, ...step.pulls.map((p) => el("li", {}, `screen ${p.screen}: ${p.open}, `, ...called(p.ink), `, ${plural(p.coats, "coat")}${p.flash_after ? ", flash" : ""}`)))));
    const gang = el("div", { class: "pictures" });
    this.made.replaceChildren(el("section", { "aria-label": "The day" }, el("h2", {}, `${job.title}: the day`), el("p", {}, this.facts(job)), el("p", { class: "why" }, `All of it stands in ${job.folder}: sheet.html is the day and a card for each round, films lie in its folder screens.`),
      table(["round", "pieces", "before it", "pulls"], steps), el("h3", {}, "Blanks"), table(["garment", "size", "ordered", "spare", "buy"], job.blanks.map((b) => row(b.garment, b.size, String(b.ordered), String(b.spares + b.tests), String(b.buy)))),
      el("h3", {}, "Ink"), table(["ink", "stage, g", "comes back, g", "of"], job.ink.map((i) => row(el("span", {}, ...called(i.name)), i.stage_g.toFixed(0), i.back_g.toFixed(0), (i.recipe || []).map(([name, mass]) => `${name} ${mass}`).join(" + ")))),
      el("h3", {}, "Screens"), gang, el("h3", {}, "To know"), findings(job.findings)));
    for (const name of job.gang) {
      const url = await this.shop.safely(() => picture(`/api/made/picture?folder=${encodeURIComponent(job.folder)}&name=${encodeURIComponent(name)}`));
      if (url) gang.append(el("img", { src: url, alt: `films on ${name.slice(8, -4)}` }));
    }
  }
}
