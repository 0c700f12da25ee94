// The room in words and numbers: every value can be typed.
"use strict";
import { area, el, metres, refill, same } from "./parts.js";
import { built } from "./built.js";
import { furniture } from "./furniture.js";
import { panels } from "./hanging.js";

export const TABS = [["room", "Room"], ["surfaces", "Surfaces"], ["built", "Built in"], ["places", "Places"], ["panels", "Panels"], ["aim", "Aim"]];
const SECTIONS = [
  ["seats", "Seats", "seat", "seat"],
  ["loudspeakers", "Loudspeakers", "loudspeaker", "loudspeaker"],
  ["subwoofers", "Subwoofers", "subwoofer", "subwoofer"],
];
const AXES = ["from front", "from left", "height"];

const shown = (value) => (value === undefined || value === null ? "" : String(value));

export function paintForm(desk, place) {
  const parts = { room, surfaces, built, places, panels, aim };
  refill(place, parts[desk.tab](desk));
}

// --- fields --------------------------------------------------------------------------------------
export function wrong(desk, key, id) {
  const problem = desk.problems[key];
  return problem && el("p", { class: "wrong", id: `${id}-wrong`, role: "alert" }, `${problem.message}${problem.hint ? `: ${problem.hint}` : ""}`);
}

export function input(desk, key, value, send, more = {}) {
  const id = `field-${key}`;
  const refused = desk.problems[key];
  const text = refused && refused.typed !== undefined ? refused.typed : shown(value);
  const node = el("input", {
    type: "text", id, "data-key": key, value: text, autocomplete: "off", spellcheck: "false",
    "aria-invalid": refused ? "true" : null, "aria-describedby": refused ? `${id}-wrong` : null, ...more,
  });
  node.dataset.was = text;
  node.addEventListener("change", async () => {
    const typed = node.value;
    node.dataset.was = typed; // what is sent is no longer half-typed
    const answer = await send(typed);
    desk.problem(key, answer.refused ? { ...answer, typed } : answer);
  });
  node.addEventListener("keydown", (event) => {
    if (event.key === "Escape") node.value = node.dataset.was;
  });
  return node;
}

export const typedAt = (desk, path, value, more) => input(desk, path.join("."), value, (typed) => desk.ask({ op: "set", path, value: typed }), more);

export function pair(desk, words, path, value, more) {
  const key = path.join(".");
  return el("div", { class: "pair" }, el("label", { for: `field-${key}` }, words), typedAt(desk, path, value, more), wrong(desk, key, `field-${key}`));
}

// A thing of a list while it is folded: one press shows all of it.
export function folded(desk, me, key, name, words, tags) {
  const told = tags.filter((tag) => tag.words);
  return el("button", { type: "button", class: "bar", "data-key": key, onclick: () => desk.choose(me), "aria-label": `${name}, ${words}${told.map((tag) => `, ${tag.words}`).join("")}: change it` },
    el("b", {}, name), el("span", {}, words), told.map((tag) => el("span", { class: tag.bad ? "tag bad" : "tag" }, tag.words)));
}

export function choice(desk, key, value, groups, send, label) {
  const node = el("select", { id: `field-${key}`, "data-key": key, "aria-label": label });
  for (const [group, options] of groups) {
    const home = group ? node.appendChild(el("optgroup", { label: group })) : node;
    for (const [id, words] of options) home.append(el("option", { value: id, selected: id === value }, words));
  }
  node.addEventListener("change", async () => desk.problem(key, await send(node.value)));
  return node;
}

// --- room ----------------------------------------------------------------------------------------
function room(desk) {
  const { fields } = desk.state;
  const r = fields.room || {};
  const rows = [];
  if (r.shape === "box") {
    for (const [key, words] of [["length", "Length"], ["width", "Width"], ["height", "Height"]]) {
      rows.push(pair(desk, words, ["room", key], r[key]));
    }
  } else if (r.shape === "plan") {
    if (r.height !== undefined) rows.push(pair(desk, "Height", ["room", "height"], r.height));
    (r.ceiling || []).forEach((part, i) => {
      if (typeof part !== "object") {
        rows.push(pair(desk, `Ceiling at corner ${i + 1}`, ["room", "ceiling", i], part));
        return;
      }
      const name = part.name || `slope ${i + 1}`;
      if (part.knee !== undefined) rows.push(pair(desk, `${name}: knee`, ["room", "ceiling", i, "knee"], part.knee));
      if (part.pitch !== undefined) rows.push(pair(desk, `${name}: pitch, degrees`, ["room", "ceiling", i, "pitch"], part.pitch));
    });
    rows.push(el("h3", {}, "Corners of the floor"));
    rows.push(el("p", { class: "hint" }, "From the front wall, then from the left wall. Corners are added and taken away in the room file, and so are names of walls and slopes that are given by points."));
    (r.corners || []).forEach((corner, i) => {
      rows.push(
        el("div", { class: "pair" }, el("span", {}, `Corner ${i + 1}`),
          el("div", { class: "two" }, [0, 1].map((k) => typedAt(desk, ["room", "corners", i, k], corner[k], { "aria-label": `Corner ${i + 1} ${AXES[k]}` }))),
          [0, 1].map((k) => wrong(desk, `room.corners.${i}.${k}`, `field-room.corners.${i}.${k}`)),
        ),
      );
    });
  } else {
    rows.push(el("p", { class: "hint" }, "The room is a mesh: its sizes are changed in the program that drew it."));
  }
  const units = fields.units || "m";
  return [
    el("section", {}, el("h2", {}, "Name"), pair(desk, "Title", ["title"], fields.title)),
    el("section", {}, el("h2", {}, "Sizes"),
      el("p", { class: "hint" }, `Plain numbers are in ${units}. You may write any unit: 2.35 m, 235 cm, 7 ft 8 1/2 in.`), rows,
      desk.result?.drawing && el("p", { class: "hint" }, `Overall: ${desk.result.drawing.size}; ${desk.result.numbers.volume}.`),
    ),
    furniture(desk),
  ];
}

// --- surfaces ------------------------------------------------------------------------------------
function materialGroups(desk, first) {
  const groups = new Map();
  for (const m of desk.catalogue.materials) {
    if (!groups.has(m.kind)) groups.set(m.kind, []);
    groups.get(m.kind).push([m.id, m.name]);
  }
  return [...first, ...[...groups].map(([kind, list]) => [kind.replace(/-/g, " "), list])];
}

export function materialChoice(desk, key, value, first, send, label) {
  const known = desk.catalogue.materials.some((m) => m.id === value);
  const own = value && !known ? [["", [[value, `${value} (of this room file)`]]]] : [];
  return choice(desk, key, value || "", materialGroups(desk, [...first, ...own]), send, label);
}

function surfaces(desk) {
  const { fields } = desk.state;
  const said = fields.surfaces || {};
  const walls = desk.result?.walls || [];
  const names = [...new Set([...walls.map((w) => w.name), ...Object.keys(said).filter((n) => n !== "default")])];
  const row = (words, key, control) => el("div", { class: "stack" }, el("label", { for: `field-${key}` }, words), control, wrong(desk, key, `field-${key}`));
  const inherit = said.default ? [["", [["", "as the default"]]]] : [["", [["", "not said"]]]];
  const rows = names.map((name) => {
    const wall = walls.find((w) => w.name === name);
    const words = wall ? `${wall.title}, ${area(wall.area)}` : name;
    const key = `surfaces.${name}`;
    return row(words, key, materialChoice(desk, key, said[name], inherit, (material) => desk.ask({ op: "surface", name, material })));
  });
  return [
    el("section", {}, el("h2", {}, "What surfaces are made of"),
      row("Default", "surfaces.default", materialChoice(desk, "surfaces.default", said.default, said.default ? [] : [["", [["", "not said"]]]], (material) => desk.ask({ op: "surface", name: "default", material }))),
      rows,
      el("p", { class: "hint" }, "What doors, windows and obstacles are made of stands under Built in."),
    ),
  ];
}

// --- places --------------------------------------------------------------------------------------
function places(desk) {
  return SECTIONS.map(([section, title, word, colour]) =>
    el("section", {}, el("h2", {}, title),
      (desk.state.fields[section] || []).map((thing, i) => placed(desk, section, word, colour, thing, i)),
      el("button", { type: "button", "data-key": `add-${section}`, onclick: async () => desk.problem(`add-${section}`, await desk.ask({ op: "add", section })) }, `Add a ${word}`),
      wrong(desk, `add-${section}`, `add-${section}`),
    ),
  );
}

function placed(desk, section, word, colour, thing, i) {
  const me = { kind: section, index: i };
  const at = Array.isArray(thing.position) ? thing.position : [];
  const key = (k) => `${section}.${i}.${k}`;
  const dot = el("span", { class: "dot", "aria-hidden": "true" });
  dot.style.background = `var(--${colour})`;
  const extra = section === "seats" ? ["spread", "head ±"] : section === "loudspeakers" ? ["channel", "channel"] : null;
  const cells = [...AXES.map((words, k) => [words, `position.${k}`, [section, i, "position", k], at[k]]), ...(extra ? [[extra[1], extra[0], [section, i, extra[0]], thing[extra[0]]]] : [])];
  const keys = ["name", "position.0", "position.1", "position.2", ...(extra ? [extra[0]] : [])];
  return el("div", { class: `thing${same(desk.chosen, me) ? " chosen" : ""}`, role: "group", "aria-label": `${word} ${shown(thing.name)}`,
    // The field that gets the focus must stay the same one: its text is being marked, or its caret set.
    onfocusin: (event) => {
      if (event.target.matches("button") || same(desk.chosen, me)) return;
      for (const node of document.querySelectorAll("#form .thing.chosen")) node.classList.remove("chosen");
      event.currentTarget.classList.add("chosen");
      desk.choose(me, { quiet: true });
    } },
    el("div", { class: "head" }, el("div", { class: "row" }, dot, typedAt(desk, [section, i, "name"], thing.name, { "aria-label": `Name of ${word} ${i + 1}` })),
      el("button", { type: "button", class: "small", "data-key": key("remove"), "aria-label": `Remove ${word} ${shown(thing.name)}`, onclick: () => desk.takeOut(me) }, "Remove"),
    ),
    el("div", { class: "four" }, cells.map(([words, k, path, value]) => el("div", {}, el("label", { for: `field-${key(k)}` }, words), typedAt(desk, path, value, k === "spread" ? { placeholder: metres(0.15) } : {})))),
    keys.map((k) => wrong(desk, key(k), `field-${key(k)}`)),
  );
}

// --- aim -----------------------------------------------------------------------------------------
function aim(desk) {
  const { fields } = desk.state;
  const use = fields.target?.use || desk.catalogue.uses[0];
  return [
    el("section", {}, el("h2", {}, "Budget"), pair(desk, "Amount", ["budget", "amount"], fields.budget?.amount), pair(desk, "Currency", ["budget", "currency"], fields.budget?.currency),
      el("p", { class: "hint" }, "Prices of builds are in the same currency.")),
    el("section", {}, el("h2", {}, "Use of the room"),
      el("div", { class: "pair" }, el("label", { for: "field-target.use" }, "Published range"),
        choice(desk, "target.use", use, [["", desk.catalogue.uses.map((u) => [u, u.replace(/-/g, " ")])]], (value) => desk.ask({ op: "set", path: ["target", "use"], value }))),
      wrong(desk, "target.use", "field-target.use"),
      desk.result?.numbers && el("p", { class: "hint" }, `Source: ${desk.result.numbers.target.source}`)),
  ];
}
