// The page: places of the shop, art to the desk, what the server says meanwhile.

import { Refused, get, post, put } from "/s/api.js";
import { $, el, home, number, plural } from "/s/dom.js";
import { PrintTable } from "/s/print.js";

const PULSE_MS = 1200, SLOW_MS = 500;
const desk = { shelf: { garments: [], inks: [], presses: [] }, prints: [], art: [], at: null };
let place = "table", gone = false, working = 0;

export const shop = { desk, say, safely, busy, stubs, look: (id) => print.look(id), shelf };
const print = new PrintTable(shop);
const places = { table: print }; // the others are made when they are first gone to
const doors = { drop: () => import("/s/drop.js"), inks: () => import("/s/inks.js"), photo: () => import("/s/photo.js") };

function say(text) {
  $("status").textContent = text;
}

function trouble(error, does = null) {
  const held = $("bar").contains(document.activeElement);
  $("bar").hidden = !error;
  $("bar-text").textContent = error ? `${error.message || error.error}${error.hint ? ` – ${error.hint}` : ""}` : "";
  $("bar-more").replaceChildren(...(error?.more || []).map((text) => el("li", {}, text)));
  $("bar-do").hidden = !does;
  if (does) {
    $("bar-do").textContent = does[0];
    $("bar-do").onclick = does[1];
  }
  if (held) home("#cloth", '#places [aria-pressed="true"]');
}
shop.trouble = trouble;

async function safely(work) {
  try {
    if (!gone) trouble(null);
    return await work();
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    trouble(error, error.again);
    gone = error.status === 0;
    return null;
  }
}

// Long work: what is at work is told by the pulse, and may be stopped.
async function busy(what, stop, work) {
  working++;
  $("work").hidden = false;
  $("stage").textContent = what;
  $("progress").removeAttribute("value");
  busy.of = stop;
  $("stop").onclick = () => safely(() => post(stop));
  later();
  try {
    return await work();
  } finally {
    const held = document.activeElement === $("stop");
    if (!--working) $("work").hidden = true;
    if (held) home("#cloth", '#places [aria-pressed="true"]');
  }
}

let pulsing = false;
async function pulse() {
  if (pulsing) return;
  pulsing = true;
  try {
    const now = await get("/api/pulse");
    if (gone) {
      gone = false;
      trouble(null);
      say("sepkit is there again.");
      await print.back();
    }
    told(now);
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    gone = error.status === 0;
    trouble(error);
  } finally {
    pulsing = false;
    later();
  }
}

function later() {
  clearTimeout(pulse.next);
  pulse.next = setTimeout(pulse, working ? SLOW_MS : PULSE_MS);
}

function told(now) {
  const work = busy.of?.startsWith("/api/stop/") ? now.benches[busy.of.slice(10)] : now.prints[desk.at]?.working;
  if (working && work) {
    $("stage").textContent = `${work.stage}…`;
    if (work.total > 1) $("progress").value = work.done / work.total;
    else $("progress").removeAttribute("value");
  }
  const mine = now.prints[desk.at];
  if (mine && !working) print.elsewhere(mine);
}

// Places of the shop.

function go(to) {
  if (place !== to) say("");
  place = to;
  for (const button of $("places").children) button.setAttribute("aria-pressed", String(button.dataset.place === to));
  $("new").hidden = to !== "table";
  $("stubs").hidden = to !== "table" || !desk.prints.length;
  $("first").hidden = to !== "table" || desk.prints.length > 0;
  $("place-table").hidden = to !== "table" || !print.one?.state;
  for (const name of ["drop", "inks", "photo"]) $(`place-${name}`).hidden = name !== to;
  return safely(async () => {
    places[to] = places[to] || new (await doors[to]()).Place($(`place-${to}`), shop);
    await places[to].enter();
  });
}
$("places").addEventListener("click", (e) => e.target.dataset.place && go(e.target.dataset.place));
shop.here = () => place;

async function shelf() {
  const found = await get("/api/desk");
  Object.assign(desk, found);
  return found;
}

async function start() {
  const found = await safely(shelf);
  if (!found) return;
  document.title = `sepkit: ${found.folder}`;
  for (const one of found.shelf.garments) $("garment").append(el("option", { value: one.name }, one.name));
  $("garment").value = "black tee";
  $("heads").append(el("option", { value: "" }, "as usual"), ...found.shelf.presses.map((one) => el("option", { value: one.name }, one.name)));
  $("placed").append(el("option", { value: "" }, "where its size goes"), ...found.shelf.places.map((name) => el("option", { value: name }, name)));
  $("pots").append(...found.shelf.inks.map((one) => el("option", { value: one.name })));
  $("heres").hidden = !found.art.length;
  $("here").append(el("option", { value: "" }, "–"), ...found.art.map((name) => el("option", { value: name }, name)));
  stubs();
  later();
  const last = found.prints[found.prints.length - 1];
  if (last) await print.look(last.id, last);
}

function stubs() {
  $("first").hidden = desk.prints.length > 0 || place !== "table";
  $("stubs").hidden = !desk.prints.length || place !== "table";
  $("stubs").replaceChildren(...desk.prints.map((one) => el("button", {
    type: "button", "aria-pressed": String(one.id === desk.at), onclick: () => print.look(one.id),
  }, `${one.art} on ${one.garment}, ${Math.round(one.width_mm || 0) || "as drawn"}${one.width_mm ? " mm" : ""}${one.screens ? `, at most ${plural(one.screens, "screen")}` : ""}${one.kind === "flat" ? ", solid inks" : ""}`)));
}

// Art comes in.

function over(yes) {
  for (const id of ["drop", "first"]) $(id).classList.toggle("over", yes);
}

for (const kind of ["dragenter", "dragover"]) addEventListener(kind, (e) => { e.preventDefault(); over(true); });
for (const kind of ["dragleave", "drop"]) addEventListener(kind, () => over(false));
addEventListener("drop", (e) => {
  e.preventDefault();
  if (!e.dataTransfer.files.length) return;
  if (place === "photo") return places.photo?.dropped(e.dataTransfer.files);
  go("table");
  $("art").files = e.dataTransfer.files;
  chosen();
});
function chosen() {
  const name = $("art").files[0]?.name || $("here").value;
  $("lay").disabled = !name;
  if (name) say(`${name}: say the garment and the width, then lay it on the table.`);
}
$("art").addEventListener("change", () => { $("here").value = ""; chosen(); });
$("here").addEventListener("change", () => { $("art").value = ""; chosen(); });
$("new").addEventListener("submit", async (e) => {
  e.preventDefault();
  const file = $("art").files[0];
  if (!file && !$("here").value) return;
  say("Taking the art in…");
  await safely(async () => {
    const { art } = file ? await put(`/api/art?name=${encodeURIComponent(file.name)}`, file) : { art: $("here").value };
    const made = await post("/api/print", {
      art, garment: $("garment").value, width_mm: number($("width").value), inks: $("inks").value.trim() || "auto",
      press: $("heads").value, screens: $("screens").value.trim(), one_ink: $("one-ink").value.trim(), kind: $("kind").value, placement: $("placed").value, background: $("background").checked ? "drop" : "print",
    });
    if (!desk.prints.some((one) => one.id === made.id)) desk.prints.push(made);
    await print.look(made.id);
    $("cloth").focus();
  });
});

start();
