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

export function pot(colour) {
  const made = el("span", { class: "pot", "aria-hidden": "true" });
  made.style.backgroundColor = colour;
  return made;
}

export const mm = (value) => `${Number(value.toFixed(2))} mm`;
