// The test print: photographs held against a print folder, and the printed wedge read.

import { get, picture, post, put } from "/s/api.js";
import { $, el, field, findings, values } from "/s/dom.js";

export class Place {
  constructor(box, shop) {
    Object.assign(this, { box, shop, photos: [] });
  }

  async enter() {
    const made = await get("/api/made");
    this.prints = made.folders.filter((f) => f.kind === "print").map((f) => f.name);
    const { presses } = this.shop.desk.shelf;
    this.files = el("input", { type: "file", multiple: true, accept: ".jpg,.jpeg,.png,.tif,.tiff,.webp", onchange: () => this.dropped(this.files.files) });
    this.list = el("p", { class: "why" }, this.words());
    this.answer = this.answer || el("div", { role: "status" });
    const look = el("form", { class: "fields" }, field(["folder", "It is a print of", this.prints, this.prints[0]]),
      field(["top", "its top is", [["auto", "where it looks right"], "up", "right", "down", "left"], "auto"]), el("button", { type: "submit", disabled: !this.prints.length }, "Hold it against the films"));
    const wedge = el("form", { class: "fields" }, field(["press", "It was printed on", presses.map((p) => p.name), "two-head"]), el("button", { type: "submit" }, "Read the wedge"),
      el("button", { type: "button", onclick: () => this.film() }, "Make the wedge's films"));
    look.addEventListener("submit", (e) => { e.preventDefault(); this.inspect(values(look)); });
    wedge.addEventListener("submit", (e) => { e.preventDefault(); this.read(values(wedge)); });
    this.box.replaceChildren(el("section", { "aria-label": "Photographs" }, el("h2", {}, "A photograph of the test print, or of the wedge"), el("label", { class: "drop" }, "Photographs ", this.files), this.list,
      el("button", { type: "button", onclick: () => this.guide() }, "How to take it")),
    el("section", { "aria-label": "Against the films" }, el("h2", {}, "Against the films"), this.prints.length ? look : el("p", {}, "There is no print folder here yet: make the films on the table first.")),
    el("section", { "aria-label": "The wedge" }, el("h2", {}, "The wedge"), wedge), el("section", { "aria-label": "What it shows" }, this.answer));
  }

  words() {
    return this.photos.length ? `Laid out: ${this.photos.join(", ")}` : "None is laid out.";
  }

  async dropped(files) {
    const names = [];
    await this.shop.busy("taking photographs in", "/api/stop/photo", () => this.shop.safely(async () => {
      for (const file of files) names.push((await put(`/api/photo?name=${encodeURIComponent(file.name)}`, file)).photo);
    }));
    this.photos = names;
    this.list.textContent = this.words();
    this.shop.say(this.words());
  }

  ask(what, words, typed) {
    return this.shop.busy(words, "/api/stop/photo", () => this.shop.safely(() => post(`/api/photo/${what}`, { ...typed, photos: this.photos })));
  }

  async inspect(typed) {
    const said = await this.ask("inspect", "laying the photograph on the films", typed);
    if (!said) return;
    const shown = el("div", { class: "pictures" });
    this.answer.replaceChildren(el("h2", {}, `What ${said.photos.join(", ")} shows`), el("ul", {}, ...said.moves.map((m) => el("li", {}, `${m.name}: ${m.words}`))),
      el("p", {}, `${said.spots.length} spots. Tried on simulated photographs only: look before you tape. All of it stands in ${said.folder}.`), findings(said.findings), shown);
    this.shop.say(`Read: ${said.spots.length} spots, ${said.findings.length} things to know.`);
    for (const one of said.pictures) {
      const url = await this.shop.safely(() => picture(`/api/made/picture?folder=${encodeURIComponent(said.folder)}&name=${encodeURIComponent(one.name)}`));
      if (url) shown.append(el("figure", {}, el("img", { src: url, alt: one.words }), el("figcaption", {}, one.words)));
    }
  }

  async read(typed) {
    const said = await this.ask("wedge-read", "reading the wedge", typed);
    if (!said) return;
    this.answer.replaceChildren(el("h2", {}, `What the wedge says of ${said.press}`), el("ul", {}, ...Object.entries(said.numbers).map(([key, value]) => el("li", {}, `${key.replaceAll("_", " ")}: ${Number(value.toFixed(3))}`))),
      el("p", {}, `Filled in: ${said.sheet}; written: ${said.file}.${said.used ? "" : " It is used once the variable SEPKIT_RECIPES names the folder that it lies in."}`), findings(said.findings));
    this.shop.say("The wedge is read.");
  }

  async film() {
    const said = await this.ask("wedge-film", "drawing the wedge", {});
    if (said) this.shop.say(`Made: ${said.files.join(" and ")}. Print it with your mesh, ink and press, and photograph it.`);
  }

  async guide() {
    const said = await this.ask("guide", "…", {});
    if (said) this.answer.replaceChildren(el("pre", {}, said.text));
  }
}
