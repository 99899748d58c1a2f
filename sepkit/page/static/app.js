// The page: art to the desk, prints to the table, changes to the server, films to the folder.

import { Refused, bitmap, get, inflated, picture, post, put } from "/s/api.js";
import { $, el, pot } from "/s/dom.js";
import { Line } from "/s/line.js";
import { parseIndex } from "/s/mix.js";
import { Table } from "/s/table.js";
import { Tray } from "/s/tray.js";

const desk = { shelf: { garments: [], inks: [], presses: [] }, prints: [], at: null, print: null };
let chosen = 0, lifted = new Set(), digest = "", partOf = null, knocked = null;

const table = new Table($("cloth"), (mmPerPx, step) => {
  const size = step > 0 ? `1 : ${2 ** step}` : `${2 ** -step} : 1`;
  $("scale").textContent = `${size} · 1 px = ${Math.round(1000 * mmPerPx)} µm`;
});
table.films = (plate, x, y, w, h) => bitmap(`/api/print/${desk.at}/film?plate=${plate}&x=${x}&y=${y}&w=${w}&h=${h}`);
const line = new Line($("line"), { choose, lift });
const tray = new Tray($("tray"), { change, say, part: startPart, knock });

function say(text) {
  $("status").textContent = text;
}

function trouble(error) {
  $("bar").hidden = !error;
  $("bar").textContent = error ? `${error.message || error.error}${error.hint ? ` (${error.hint})` : ""}` : "";
}

async function safely(work) {
  try {
    trouble(null);
    return await work();
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    trouble(error);
    if (error.status === 409) await look(desk.at);
    return null;
  }
}

// The desk.

async function start() {
  const found = await safely(() => get("/api/desk"));
  if (!found) return;
  Object.assign(desk, found);
  for (const one of found.shelf.garments) $("garment").append(el("option", { value: one.name }, one.name));
  $("garment").value = "black tee";
  stubs();
  if (found.prints.length) await look(found.prints[found.prints.length - 1].id);
}

function stubs() {
  $("stubs").replaceChildren(...desk.prints.map((one) => el("button", {
    type: "button", "aria-pressed": String(one.id === desk.at), onclick: () => look(one.id),
  }, `${one.art} on ${one.garment}`)));
}

for (const kind of ["dragenter", "dragover"]) addEventListener(kind, (e) => { e.preventDefault(); $("drop").classList.add("over"); });
for (const kind of ["dragleave", "drop"]) addEventListener(kind, () => $("drop").classList.remove("over"));
addEventListener("drop", (e) => {
  e.preventDefault();
  if (e.dataTransfer.files.length) {
    $("art").files = e.dataTransfer.files;
    $("lay").disabled = false;
  }
});
$("art").addEventListener("change", () => { $("lay").disabled = !$("art").files.length; });
$("new").addEventListener("submit", async (e) => {
  e.preventDefault();
  const file = $("art").files[0];
  if (!file) return;
  say("Taking the art in…");
  await safely(async () => {
    const { art } = await put(`/api/art?name=${encodeURIComponent(file.name)}`, file);
    const made = await post("/api/print", {
      art, garment: $("garment").value, width_mm: Number($("width").value.replace(",", ".")), inks: $("inks").value.trim() || "auto",
      background: $("background").checked ? "drop" : "print",
    });
    desk.prints.push(made);
    await look(made.id);
  });
});

// One print.

async function look(id) {
  desk.at = id;
  stubs();
  chosen = 0;
  lifted = new Set();
  let one = await safely(() => get(`/api/print/${id}`));
  while (one && !one.state && !one.trouble && desk.at === id) {
    say(one.working ? `${one.working.stage}…` : "starting…");
    $("stop").hidden = false;
    await new Promise((done) => setTimeout(done, 300));
    one = await safely(() => get(`/api/print/${id}`));
  }
  $("stop").hidden = true;
  if (!one || desk.at !== id) return;
  if (!one.state) {
    trouble(one.trouble);
    say("");
    $("main").hidden = true;
    return;
  }
  digest = "";
  table.fitted = true;
  $("main").hidden = false;
  table.resized();
  await show(one);
  $("folder").value = `${one.art.replace(/\.[^.]*$/, "")}-${one.garment.replaceAll(" ", "-")}`;
  say(summary(one.state));
}

const summary = (state) => `${state.stations.length} screens, ${state.rounds} rounds on ${state.heads} heads; ΔE00 ${state.mean_de00.toFixed(1)} to the art.`;

async function show(one) {
  desk.print = one;
  const { state } = one;
  if (one.trouble) trouble(one.trouble);
  lifted = new Set([...lifted].filter((at) => at < state.stations.length));
  chosen = Math.min(chosen, state.stations.length - 1);
  if (state.index !== digest) {
    table.show(parseIndex(await inflated(`/api/print/${one.id}/index`)), state.width_mm, state.film_dpi);
    digest = state.index;
  }
  table.lifted = lifted;
  table.recolour(state.stack, state.under);
  $("facts").textContent = `${state.art} on ${state.garment} · ${state.width_mm.toFixed(0)} × ${state.height_mm.toFixed(0)} mm · `
    + `${state.stations.length} screens, ${state.heads} heads, ${state.rounds} rounds · ΔE00 ${state.mean_de00.toFixed(1)}, 95 % within ${state.p95_de00.toFixed(1)}`;
  $("undo").disabled = !one.undo;
  $("redo").disabled = !one.redo;
  line.show(state.stations, chosen, lifted, state.heads);
  tray.show(state, chosen, desk.shelf.inks, one.edits);
  opened(state);
  $("told").replaceChildren(el("h2", {}, "To know"), el("ul", {}, ...state.findings.map((f) => el("li", { class: f.word }, `${f.text}${f.hint ? ` – ${f.hint}` : ""}`))));
  held();
  line.pictures(table);
}

function opened(state) {
  const gone = state.areas.filter((area) => area.open || area.with_);
  $("open").hidden = !gone.length;
  $("open").replaceChildren(el("h2", {}, "Without a screen of their own"), el("div", { class: "fields" }, ...gone.map((area) => el("span", {},
    pot(area.srgb), `${area.name} ${area.open ? "is left open" : `prints with ${area.with_}`} `,
    el("button", { type: "button", onclick: () => change({ do: "own", of: area.srgb }) }, "give it a screen")))));
}

// One change after the other, each on what the last one made.
let queue = Promise.resolve();
function change(what) {
  queue = queue.then(() => changeNow(what));
  return queue;
}

async function changeNow(what) {
  const before = desk.print.state;
  say("Deciding again…");
  $("stop").hidden = false;
  const one = await safely(() => post(`/api/print/${desk.at}/edit`, { rev: desk.print.rev, change: what }));
  $("stop").hidden = true;
  if (!one) {
    say("Nothing was changed.");
    return;
  }
  await show(one);
  say(difference(before, one.state));
}

function difference(before, after) {
  const said = [`ΔE00 to the art ${before.mean_de00.toFixed(1)} to ${after.mean_de00.toFixed(1)}`];
  if (before.stations.length !== after.stations.length) said.unshift(`${before.stations.length} to ${after.stations.length} screens`);
  if (before.rounds !== after.rounds) said.unshift(`${before.rounds} to ${after.rounds} rounds`);
  if (after.missed.length) said.push(`not found: ${after.missed.join(", ")}`);
  return `${said.join("; ")}.`;
}

function step(by) {
  queue = queue.then(() => stepNow(by));
  return queue;
}

async function stepNow(by) {
  const one = await safely(() => post(`/api/print/${desk.at}/step`, { rev: desk.print.rev, by }));
  if (!one) return;
  await show(one);
  say(`${by < 0 ? "Undone" : "Done again"}: ${summary(one.state)}`);
}
$("undo").addEventListener("click", () => step(-1));
$("redo").addEventListener("click", () => step(1));
$("stop").addEventListener("click", () => safely(() => post(`/api/print/${desk.at}/stop`)));

function choose(at) {
  chosen = at;
  const { state, edits } = desk.print;
  line.show(state.stations, chosen, lifted, state.heads);
  tray.show(state, chosen, desk.shelf.inks, edits);
  held();
}

function lift(at) {
  const { state } = desk.print;
  lifted = new Set(lifted);
  if (!lifted.delete(at)) lifted.add(at);
  table.lift(lifted);
  line.show(state.stations, chosen, lifted, state.heads);
  line.pictures(table);
  held();
  say(`${state.stations[at].name} ${lifted.has(at) ? "is lifted: it does not print" : "is down again"}.`);
}

// Ways to hold it.

const held = () => hold(new FormData($("looks")).get("look"));
async function hold(way) {
  const flat = way === "flat" || way === "film";
  const asked = (hold.asked = {});
  if (flat) {
    $("cloth").hidden = false;
    $("shown").hidden = true;
    table.hold(way, chosen);
    return;
  }
  const path = way === "art" ? "art" : `garment?lifted=${[...lifted].join(",")}`;
  await picked(`/api/print/${desk.at}/${path}`, way === "art" ? "the art on the cloth's colour" : "the print on its garment", asked);
}

async function picked(path, alt, asked) {
  const url = await safely(() => picture(path));
  if (!url || asked !== hold.asked) return;
  if (knocked) URL.revokeObjectURL(knocked);
  knocked = url;
  $("shown").src = url;
  $("shown").alt = alt;
  $("shown").hidden = false;
  $("cloth").hidden = true;
}

async function knock(at, dx, dy) {
  const asked = (hold.asked = {});
  await picked(`/api/print/${desk.at}/knocked?plate=${at}&dx=${dx}&dy=${dy}`, `screen ${at + 1} off by ${dx} mm right, ${dy} mm down`, asked);
  say(`Screen ${at + 1}, ${desk.print.state.stations[at].name}, off by ${dx} mm right and ${dy} mm down. Choose how you hold it to go on.`);
}

$("looks").addEventListener("change", held);
$("nearer").addEventListener("click", () => table.zoom(-1));
$("farther").addEventListener("click", () => table.zoom(1));
$("whole").addEventListener("click", () => { table.fit(); table.draw(); });

// Keys act while the table or the line has the focus.

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
for (const place of [$("cloth"), $("press")]) {
  place.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.altKey || e.metaKey || !desk.print) return;
    const stations = desk.print.state.stations.length;
    if (e.key >= "1" && e.key <= "9" && Number(e.key) <= stations) lift(Number(e.key) - 1);
    else if (e.key === "0") { lifted = new Set(); table.lift(lifted); show(desk.print); }
    else if (e.key === "[") choose(Math.max(0, chosen - 1));
    else if (e.key === "]") choose(Math.min(stations - 1, chosen + 1));
    else if (e.key === "+") table.zoom(-1);
    else if (e.key === "-") table.zoom(1);
    else if (place === $("cloth") && ARROWS[e.key]) table.pan(...ARROWS[e.key]);
    else return;
    e.preventDefault();
  });
}
addEventListener("keydown", (e) => {
  if (!(e.ctrlKey || e.metaKey) || e.key.toLowerCase() !== "z" || !desk.print || /^(INPUT|TEXTAREA)$/.test(e.target.tagName)) return;
  e.preventDefault();
  if (e.shiftKey ? desk.print.redo : desk.print.undo) step(e.shiftKey ? 1 : -1);
});

// One part to another screen.

function startPart(of) {
  partOf = of;
  $("looks").querySelector('[value="flat"]').checked = true;
  held();
  const others = desk.print.state.stations.filter((s) => s.of && s.of !== of);
  const to = el("select", { "data-field": "to" }, el("option", { value: "" }, "open: cloth shows"), ...others.map((s) => el("option", { value: s.of }, s.name)));
  const x = el("input", { size: 6, inputMode: "decimal", "aria-label": "right, mm" }), y = el("input", { size: 6, inputMode: "decimal", "aria-label": "down, mm" });
  const go = el("button", { type: "button", onclick: () => { partOf = null; change({ do: "part", at_mm: [Number(x.value.replace(",", ".")), Number(y.value.replace(",", "."))], of, to: to.value || null }); } }, "Move it");
  $("tray").append(el("div", { class: "fields" }, el("label", {}, "The part at (click it on the table), mm right and down", el("span", {}, x, " ", y)), el("label", {}, "prints with", to), go));
  to.focus();
  say("Click the part on the table, or give its place.");
  startPart.fill = (at) => { x.value = at[0].toFixed(1); y.value = at[1].toFixed(1); go.focus(); };
}
$("cloth").addEventListener("click", (e) => { if (partOf) startPart.fill(table.placeMm(e)); });

$("make").addEventListener("submit", async (e) => {
  e.preventDefault();
  say("Making films, pictures and sheet…");
  $("stop").hidden = false;
  const made = await safely(() => post(`/api/print/${desk.at}/export`, { folder: $("folder").value.trim() }));
  $("stop").hidden = true;
  say(made ? `The folder ${made.folder} is made: ${made.files.length} files, films.pdf and sheet.html among them.` : "No folder was made.");
  $("made").textContent = made ? `${made.folder} is ready` : "";
});

start();
