// Small makers of elements: text goes in as text, never as markup.
"use strict";

export function el(tag, attributes = {}, ...children) {
  return filled(document.createElement(tag), attributes, children);
}

export function svg(tag, attributes = {}, ...children) {
  return filled(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);
}

const tag = (node) => node.tagName.toLowerCase();

function filled(node, attributes, children) {
  for (const [key, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else if (key === "value" && tag(node) === "progress") node.setAttribute(key, value);
    else if (key === "value") node.value = value;
    else if (key === "checked" || key === "disabled" || key === "selected") node[key] = Boolean(value);
    else node.setAttribute(key, value === true ? "" : value);
  }
  for (const child of children.flat(Infinity)) {
    if (child !== null && child !== undefined && child !== false) node.append(child);
  }
  return node;
}

// How far places are scrolled, as last told: asking them while things change makes the browser lay the page out.
const scrolled = new WeakMap();
function scrollOf(place) {
  if (!scrolled.has(place)) {
    scrolled.set(place, 0);
    place.addEventListener("scroll", () => scrolled.set(place, place.scrollTop), { passive: true });
  }
  return scrolled.get(place);
}

// Exchanges what stands in a place, and gives the focus and half-typed text back to whoever had them.
export function refill(place, ...children) {
  const active = document.activeElement;
  const key = place.contains(active) ? active.dataset.key : null;
  const typed = key && "value" in active ? { value: active.value, was: active.dataset.was } : null;
  const caret = typed && active.type === "text" ? [active.selectionStart, active.selectionEnd] : null;
  const top = scrollOf(place);
  place.replaceChildren(...children.flat(Infinity).filter((c) => c));
  if (top) place.scrollTop = top;
  if (!key) return;
  const again = place.querySelector(`[data-key="${CSS.escape(key)}"]`);
  if (!again) return;
  again.focus({ preventScroll: true });
  if (typed && active.type === "text" && typed.value !== typed.was) again.value = typed.value;
  if (caret && again.type === "text") again.setSelectionRange(...caret);
}

export const { isDark, onPaper } = globalThis.colours; // theme.js has run before

// A task that goes on: what it does, how far it is, and a way to stop it.
export function taskBox(desk, label) {
  const { task } = desk;
  return el("div", { class: "task" },
    el("p", {}, `${task.words}…`),
    el("progress", { "aria-label": label, max: "1", value: task.share ?? null }),
    el("button", { type: "button", "data-key": "cancel", onclick: () => desk.ask({ op: "cancel" }) }, "Cancel"));
}

// What the person measures in: the room's own unit.
export const UNITS = { m: 1, cm: 0.01, mm: 0.001, ft: 0.3048, in: 0.0254 };
let feet = false;
export const measureIn = (unit) => { feet = unit === "ft" || unit === "in"; };
export const inFeet = () => feet;

// Where a drag lands: on whole centimetres, or half inches; and how far keys move.
export const tape = () => (feet ? 0.0127 : 0.01);
export const keyWords = () => `Tab goes from thing to thing, arrow keys move it by ${feet ? "2 in, with shift by 1/2 in" : "5 cm, with shift by 1 cm"}.`;

// To 1/8 in: "7 ft 8 1/2 in".
const EIGHTHS = ["", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"];
const feetAndInches = (value) => {
  const eighths = Math.floor(Math.abs(value) / 0.003175 + 0.5 + 1e-9);
  const [whole, rest] = [Math.floor(eighths / 96), eighths % 96];
  const [inches, part] = [Math.floor(rest / 8), rest % 8];
  const small = [inches || whole || !part ? inches : "", EIGHTHS[part]].filter((x) => x !== "").join(" ");
  const words = [whole ? `${whole} ft` : "", rest || !whole ? `${small} in` : ""].filter(Boolean).join(" ");
  return (value < 0 && eighths ? "-" : "") + words;
};

export const area = (value) => (feet ? `${Math.round(value / 0.09290304)} sq ft (${value} m²)` : `${value} m²`);

export const metres = (value) => {
  if (feet) return feetAndInches(value);
  const thousandths = Math.round(value * 1000);
  return `${(thousandths / 1000).toFixed(thousandths % 10 ? 3 : 2)} m`;
};
export const points = (ring) => ring.map((p) => p.join(",")).join(" ");
export const outline = (rings) =>
  rings.map((ring) => `M${ring.map((p) => `${p[0]} ${p[1]}`).join("L")}Z`).join("");

// Whether two choices mean the same thing.
export const same = (a, b) => Boolean(a && b && a.kind === b.kind && a.index === b.index && a.id === b.id);
