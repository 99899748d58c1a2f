// One connected part of an ink, moved by hand to another screen or left open.

import { $, el, number } from "/s/dom.js";

export function part(table, of) {
  $("looks").querySelector('[value="flat"]').checked = true;
  table.held();
  const others = table.one.state.stations.filter((s) => s.of && s.of !== of);
  const to = el("select", { "data-field": "to" }, el("option", { value: "" }, "open: cloth shows"), ...others.map((s) => el("option", { value: s.of }, s.name)));
  const place = (field, words) => el("input", { size: 6, inputMode: "decimal", "data-field": field, "aria-label": words });
  const x = place("part-x", "right, mm"), y = place("part-y", "down, mm");
  const go = el("button", { type: "button", "data-field": "part-go", onclick: () => {
    const at = [number(x.value), number(y.value)];
    if (!at.every(Number.isFinite)) return table.shop.say("Click the part on the table, or give its place in mm from the left and the top of the art.");
    table.fill = null;
    table.next = '#tray [data-field="part"]';
    table.change({ do: "part", at_mm: at, of, to: to.value || null });
  } }, "Move it");
  $("part")?.remove();
  $("tray").append(el("div", { class: "fields", id: "part" }, el("label", {}, "The part at (click it on the table), mm right and down", el("span", {}, x, " ", y)), el("label", {}, "prints with", to), go));
  to.focus();
  table.shop.say("Click the part on the table, or give its place.");
  table.fill = (at) => { x.value = at[0].toFixed(1); y.value = at[1].toFixed(1); go.focus(); };
}
