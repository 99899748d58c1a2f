// Small helpers for elements: text only, never markup.

export const $ = (id) => document.getElementById(id);

export function el(tag, props = {}, ...children) {
  const made = document.createElement(tag);
  for (const [key, value] of Object.entries(props)) {
    if (key === "class") made.className = value;
    else if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key in made && key !== "list") made[key] = value;
    else made.setAttribute(key, value);
  }
  made.append(...children);
  return made;
}

// A button that does nothing now keeps the focus of whoever pressed it: it is told as disabled, not taken away.
export function able(button, yes) {
  button.setAttribute("aria-disabled", String(!yes));
  return button;
}
export const isAble = (button) => button.getAttribute("aria-disabled") !== "true";

// The focus of a control that is gone goes to the first of these that can be seen.
export function home(...places) {
  const now = document.activeElement;
  if (now && now !== document.body && now.isConnected && now.checkVisibility()) return;
  places.filter(Boolean).map((one) => document.querySelector(one)).find((one) => one?.checkVisibility())?.focus();
}

export function pot(colour) {
  const made = el("span", { class: "pot", "aria-hidden": "true" });
  made.style.backgroundColor = colour;
  return made;
}

export const mm = (value) => `${Number(value.toFixed(2))} mm`;

export const plural = (count, word) => `${count} ${word}${count === 1 ? "" : "s"}`;

export const number = (text) => (String(text).trim() === "" ? null : Number(String(text).replace(",", ".")));

// Hints name options of the command line; here they have names of the page.
const OPTIONS = [[/--one-ink (\S+)/g, "“all in one ink: $1” on the ticket"], [/--kind (\w+)/g, "“the art is: $1” on the ticket"], [/--inks all/g, "“All inks” below"], [/--screens (\d+)/g, "“Fits one load” below"], [/--screens N/g, "“screens, at most” on the ticket"],
  [/--background drop/g, "“leave its background open” on the ticket"], [/: see choices\.png/g, ""], [/--base (\w+)/g, "“Base: $1” at its screen"], [/--inks (?:"([^"]+)"|(\d+))/g, "“inks: $1$2” on the ticket"], [/--inks\b/g, "“inks” on the ticket"], [/--width\b/g, "“wide” on the ticket"],
  [/--(soft|edges|dots|shading|white-screens) ([\w-]+)/g, "“--$1 $2” on the command line"], [/(?<!“)--([a-z-]+)/g, "“--$1” on the command line"], [/sepkit ink measure/g, "sepkit ink measure, on the command line,"]];
const said = (hint) => OPTIONS.reduce((text, [from, to]) => text.replace(from, to), hint);

// What to know, each in its own line; errors and warnings first.
export function findings(list) {
  const rank = { error: 0, warning: 1, note: 2 };
  const rows = [...list].sort((a, b) => rank[a.word] - rank[b.word]);
  const why = (f) => (f.more ? [el("details", {}, el("summary", {}, "more"), said(f.more))] : []);
  return el("ul", {}, ...rows.map((f) => el("li", { class: f.word }, `${f.word === "note" ? "" : `${f.word}: `}${f.text}${f.hint ? ` – ${said(f.hint)}` : ""}`, ...why(f))));
}

// An ink on its cloth.
export function swatch(one, ...words) {
  const ink = el("span", { class: "ink" }), cloth = el("span", { class: "cloth", "aria-hidden": "true" }, ink);
  cloth.style.backgroundColor = one.ground;
  ink.style.backgroundColor = one.srgb;
  return el("li", { class: one.advised || one.asked ? "swatch best" : "swatch" }, cloth, el("span", {}, ...words.map((w) => el("span", { class: "words" }, w))));
}

// A labelled field of a form: [name, words, kind or options, value].
export function field([name, words, kind, value]) {
  const made = Array.isArray(kind)
    ? el("select", { name }, ...kind.map((o) => (Array.isArray(o) ? o : [o, o])).map(([v, text]) => el("option", { value: v, selected: v === value }, text)))
    : el("input", { name, size: kind, value: value ?? "", autocomplete: "off", ...(kind < 9 ? { inputMode: "decimal" } : {}) });
  return el("label", {}, words, made);
}

export const values = (form) => Object.fromEntries(new FormData(form));
