// The part Built in: doors and windows, what must stay free, obstacles, the picture.
"use strict";
import { el, same } from "./parts.js";
import { choice, folded, materialChoice, pair, typedAt, wrong } from "./form.js";
import { entriesOf, nameOf, surfaceOf, warningOf } from "./fixed.js";
import { startWords } from "./hanging.js";

const PARTS = [
  { section: "openings", title: "Doors, windows, passages", one: "opening", ask: "Kind", surfaces: ["wall", "ceiling"], hint: "A piece of a surface made of something else. Nothing hangs there." },
  { section: "keep_outs", title: "Kept free", one: "kept-free space", ask: "What is there", surfaces: ["wall", "ceiling", "floor"], hint: "Where nothing may hang, and how far into the room it stays free: fuse boards, sockets, lamps, vents, detectors, heaters." },
  { section: "obstacles", title: "Obstacles", one: "obstacle", ask: "Kind", surfaces: [], hint: "Solid boxes: posts, soffits, counters, risers, cupboards. They reflect and stand in the way." },
  { section: "screen", title: "Screen", one: "screen", surfaces: ["wall"], hint: "The picture. Nothing is hung in the way of it." },
];

export function built(desk) {
  return PARTS.map((part) => {
    const entries = entriesOf(desk, part.section);
    return el("section", { "aria-label": part.title }, el("h2", {}, part.title), el("p", { class: "hint" }, part.hint),
      entries.map((entry, i) => thing(desk, part, entry, i)),
      (part.section !== "screen" || !entries.length) && adding(desk, part));
  });
}

const surfacesOf = (desk, part) => (desk.result?.walls || []).filter((w) => part.surfaces.includes(w.kind));

// --- adding --------------------------------------------------------------------------------------
function adding(desk, part) {
  const { section } = part;
  const kinds = desk.catalogue.kinds[section] || [];
  const chosen = (desk.newBuilt ||= {});
  // Of a kept-free space one has to say what it is: it decides how far panels keep away.
  const first = section === "keep_outs" ? "" : kinds[0]?.id ?? "";
  const mine = (chosen[section] ||= { kind: first, surface: "" });
  const reason = kinds.find((k) => k.id === mine.kind)?.reason;
  const warning = desk.catalogue.warnings[reason];
  const key = (k) => `new-${section}-${k}`;
  const pick = (k, label, options) => el("div", { class: "pair" }, el("label", { for: key(k) }, label),
    el("select", { id: key(k), "data-key": key(k), onchange: (e) => { mine[k] = e.target.value; desk.paint("chosen"); } },
      options.map(([v, words]) => el("option", { value: v, selected: v === mine[k] }, words))));
  const surfaces = surfacesOf(desk, part);
  if (mine.surface && !surfaces.some((w) => w.name === mine.surface)) mine.surface = "";
  const add = async () => {
    const answer = await desk.ask({ op: "add", section, kind: mine.kind, surface: mine.surface });
    desk.problem(`add-${section}`, answer);
    if (answer.refused) return;
    mine.kind = first;
    const me = { kind: section, index: entriesOf(desk, section).length - 1 };
    desk.choose(me);
    document.querySelector(`#form [data-key="${section}.${me.index}.open"]`)?.focus();
  };
  return el("div", { class: "adding" },
    kinds.length > 0 && pick("kind", part.ask, [...(first ? [] : [["", "choose what it is"]]), ...kinds.map((k) => [k.id, k.id])]),
    part.surfaces.length > 0 && pick("surface", "Where", [["", "where it fits"], ...surfaces.map((w) => [w.name, w.title])]),
    warning && el("p", { class: "hint caution" }, warning),
    el("button", { type: "button", "data-key": `add-${section}`, onclick: add }, `Add a${/^[aeiou]/.test(part.one) ? "n" : ""} ${part.one}`),
    wrong(desk, `add-${section}`, `add-${section}`));
}

// --- each one ------------------------------------------------------------------------------------
function thing(desk, part, entry, i) {
  const { section } = part;
  const me = { kind: section, index: i };
  const path = section === "screen" ? ["screen"] : [section, i];
  const key = (k) => `${section}.${i}.${k}`;
  const name = nameOf(section, entry, i);
  const bad = (desk.result?.findings || []).some((f) => f.severity === "error" && `${f.where}.`.replace(/\[(\d+)\]/g, ".$1").startsWith(`${path.join(".")}.`));
  const surface = surfaceOf(desk, me);
  const wall = desk.result?.walls?.find((w) => w.name === surface);
  const where = wall ? wall.title.toLowerCase() : surface;
  const words = { obstacles: "obstacle", keep_outs: whatFor(desk, entry, name, where) }[section] ?? where;
  if (!same(desk.chosen, me)) return folded(desk, me, key("open"), name, words, [{ words: bad && "wrong", bad: true }]);
  const list = (k) => (Array.isArray(entry[k]) ? entry[k] : []);
  const typed = (label, k, n) => pair(desk, label, [...path, k, n], list(k)[n]);
  const warning = warningOf(desk, me);
  return el("div", { class: "thing chosen", role: "group", tabindex: "-1", "data-key": key("open"), "aria-label": `${part.one} ${name}` },
    el("div", { class: "head" },
      section === "screen" ? el("h3", {}, "screen") : typedAt(desk, [...path, "name"], entry.name, { "aria-label": `Name of ${part.one} ${i + 1}` }),
      el("button", { type: "button", class: "small", "data-key": key("remove"), "aria-label": `Remove ${name}`, onclick: () => desk.takeOut(me) }, "Remove")),
    section !== "screen" && wrong(desk, key("name"), `field-${key("name")}`),
    bad && el("p", { class: "wrong" }, "Something is wrong with it: see Findings."),
    section === "keep_outs" && reason(desk, entry, path),
    section === "obstacles" ? block(typed) : flat(desk, part, surface, wall, me, typed),
    section === "keep_outs" && pair(desk, "Free in front of it", [...path, "depth"], entry.depth, { placeholder: "0" }),
    section === "screen" && picture(desk, entry),
    (section === "openings" || section === "obstacles") && material(desk, entry, path),
    warning && el("p", { class: "hint caution" }, warning),
    wrong(desk, key("remove"), key("remove")));
}

// The reason of a kept-free space, where its name does not tell it.
function whatFor(desk, entry, name, where) {
  const words = desk.catalogue.reasons[entry.reason ?? "other"] ?? String(entry.reason);
  return words === "other" || name.toLowerCase().includes(words) ? where : `${words}; ${where}`;
}

function flat(desk, part, surface, wall, me, typed) {
  const key = [...(me.kind === "screen" ? ["screen"] : [me.kind, me.index]), "surface"].join(".");
  const known = surfacesOf(desk, part).map((w) => [w.name, w.title]);
  const all = known.some(([n]) => n === surface) ? known : [[surface, wall?.title ?? surface], ...known];
  const move = (name) => desk.ask({ op: "move", section: me.kind, index: me.index, surface: name });
  return [
    el("div", { class: "pair" }, el("label", { for: `field-${key}` }, "On"), choice(desk, key, surface, [["", all]], move), wrong(desk, key, `field-${key}`)),
    typed(startWords(wall, "u"), "at", 0), typed(startWords(wall, "v"), "at", 1), typed("Width", "size", 0), typed("Height", "size", 1),
  ];
}

const block = (typed) => [
  typed("From the front wall", "at", 0), typed("From the left wall", "at", 1), typed("From the floor", "at", 2),
  typed("Front to back", "size", 0), typed("Left to right", "size", 1), typed("Height", "size", 2),
];

function reason(desk, entry, path) {
  const key = [...path, "reason"].join(".");
  return el("div", { class: "pair" }, el("label", { for: `field-${key}` }, "Kept free for"),
    choice(desk, key, entry.reason ?? "other", [["", Object.entries(desk.catalogue.reasons)]], (value) => desk.ask({ op: "set", path: [...path, "reason"], value })), wrong(desk, key, `field-${key}`));
}

function material(desk, entry, path) {
  const key = [...path, "material"].join(".");
  const own = entry.material === undefined ? [["", [["", "an absorption of its own, in the room file"]]]] : [];
  return el("div", { class: "stack" }, el("label", { for: `field-${key}` }, "Made of"),
    materialChoice(desk, key, entry.material, own, (value) => desk.ask({ op: "set", path: [...path, "material"], value })), wrong(desk, key, `field-${key}`));
}

function picture(desk, entry) {
  const key = "screen.sound_passes";
  const send = async (e) => desk.problem(key, await desk.ask({ op: "set", path: ["screen", "sound_passes"], value: e.target.checked ? "yes" : "no" }));
  return [
    pair(desk, "Before its wall", ["screen", "distance"], entry.distance, { placeholder: "0" }),
    el("label", { class: "line" }, el("input", { type: "checkbox", "data-key": key, checked: entry.sound_passes === true, onchange: send }), "sound passes through it (woven or perforated)"),
    wrong(desk, key, key),
  ];
}
