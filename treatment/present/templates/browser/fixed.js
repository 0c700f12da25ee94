// What is built into the room, on the drawings: openings, keep-outs, obstacles and the picture are moved there.
"use strict";
import { UNITS, el, metres, points, refill, same, svg } from "./parts.js";
import { wallOf } from "./panels.js";

export const SECTIONS = ["openings", "keep_outs", "obstacles", "screen"];
export const isBuilt = (kind) => SECTIONS.includes(kind);

export function entriesOf(desk, section) {
  const { fields } = desk.state;
  return section === "screen" ? (fields.screen ? [fields.screen] : []) : fields[section] || [];
}

export const entryOf = (desk, me) => entriesOf(desk, me.kind)[me.index];
export const nameOf = (section, entry, i) => (section === "screen" ? "screen" : String(entry.name ?? `${section} ${i + 1}`));

export function surfaceOf(desk, me) {
  const entry = entryOf(desk, me);
  return entry && me.kind !== "obstacles" ? entry.surface ?? (me.kind === "screen" ? "front" : null) : null;
}

// Numbers of the file in metres; a length written as text is read by the planner, so its drawing tells.
function inMetres(desk, values) {
  const unit = UNITS[desk.state.fields.units || "m"];
  return Array.isArray(values) && values.length && values.every((v) => typeof v === "number") ? values.map((v) => v * unit) : null;
}

// Place and size on its surface: [u, v, width, height].
function flatOf(desk, me, wall) {
  const entry = entryOf(desk, me);
  const [at, size] = [inMetres(desk, entry.at), inMetres(desk, entry.size)];
  if (at && size) return [...at, ...size];
  const ring = me.kind === "screen" ? wall?.screen : wall?.[me.kind].find((x) => x.name === entry.name)?.ring;
  return ring ? [...ring[0], ring[2][0] - ring[0][0], ring[2][1] - ring[0][1]] : null;
}

const named = (list, name) => list.findIndex((entry) => entry.name === name);
const isWrong = (desk, me) => (desk.result?.findings || []).some((f) => f.severity === "error" && (f.where.startsWith(me.kind === "screen" ? "screen" : `${me.kind}[${me.index}]`)));

// What a shape of the room in the round stands for.
const GROUPS = { opening: "openings", "keep-out": "keep_outs", obstacle: "obstacles", screen: "screen" };
export function builtNamed(desk, shape) {
  const kind = GROUPS[shape?.group];
  const index = kind === "screen" ? 0 : kind ? named(entriesOf(desk, kind), shape.name) : -1;
  return index < 0 ? null : { kind, index };
}

// --- in words ------------------------------------------------------------------------------------
const KINDS = { openings: "opening", keep_outs: "kept free", obstacles: "obstacle", screen: "picture" };

export function placeWords(desk, me) {
  const entry = entryOf(desk, me);
  if (me.kind === "obstacles") {
    const at = inMetres(desk, entry.at);
    return at ? `${metres(at[0])} from the front wall, ${metres(at[1])} from the left wall, ${metres(at[2])} from the floor` : "";
  }
  const wall = wallOf(desk, surfaceOf(desk, me));
  const flat = flatOf(desk, me, wall);
  if (!wall || !flat) return "";
  const from = [0, 1].map((k) => `${metres(flat[k] - wall.start[k])} from the ${wall.from[k]}`);
  return `${wall.title.toLowerCase()}, ${from.join(", ")}; ${metres(flat[2])} by ${metres(flat[3])}`;
}

export function kindWords(desk, me) {
  const entry = entryOf(desk, me);
  const reason = me.kind === "keep_outs" && (entry.reason ?? "other");
  return reason && reason !== "other" ? `${KINDS[me.kind]}: ${desk.catalogue.reasons[reason] ?? reason}` : KINDS[me.kind];
}

// What may hurt someone is told wherever the thing is shown.
export const warningOf = (desk, me) => me.kind === "keep_outs" && desk.catalogue.warnings[entryOf(desk, me)?.reason ?? "other"];

export function builtCaption(desk, place) {
  const me = desk.chosen;
  const entry = entryOf(desk, me);
  if (!entry) return refill(place);
  const warning = desk.tab !== "built" && warningOf(desk, me); // there it stands beside the fields
  return refill(place, el("p", {}, el("h3", {}, nameOf(me.kind, entry, me.index)), `${kindWords(desk, me)}; ${placeWords(desk, me)}.`),
    warning && el("p", { class: "hint" }, warning),
    el("div", { class: "row" },
      el("button", { type: "button", class: "small", "data-key": "caption-remove", onclick: () => desk.takeOut(me) }, "Remove"),
      isWrong(desk, me) && el("span", { class: "tag bad" }, "wrong: see Findings")));
}

// --- on the drawings -----------------------------------------------------------------------------
function grip(desk, me, ...shapes) {
  const entry = entryOf(desk, me);
  const name = nameOf(me.kind, entry, me.index);
  return svg("g", { class: `grip built${same(desk.chosen, me) ? " chosen" : ""}${isWrong(desk, me) ? " lost" : ""}`, tabindex: "0", role: "button", "data-key": `grip-${me.kind}-${me.index}`,
    "aria-label": `${name}, ${kindWords(desk, me)}, ${placeWords(desk, me)}` }, svg("title", {}, me.kind === "keep_outs" ? `${name}: keep free (${entry.reason ?? "other"})` : name), ...shapes);
}

const moved = (me) => ([u, v]) => (me.kind === "obstacles" ? { op: "move", section: me.kind, index: me.index, x: u, y: v } : { op: "move", section: me.kind, index: me.index, u, v });

function strip([a, b], half) {
  const long = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
  const [x, y] = [((b[0] - a[0]) / long) * half, ((b[1] - a[1]) / long) * half];
  return [[a[0] - x - y, a[1] - y + x], [a[0] - x + y, a[1] - y - x], [b[0] + x + y, b[1] + y - x], [b[0] + x - y, b[1] + y + x]];
}

// From above, what lies under the seats and the panels: obstacles, kept-free spaces, openings, the picture.
export function builtAbove(view, drawing, d, flip) {
  const { desk } = view;
  const { fields } = desk.state;
  const made = [];
  const flat = (me, shapes) => {
    const wall = wallOf(desk, surfaceOf(desk, me));
    const at = wall && flatOf(desk, me, wall);
    const group = grip(desk, me, ...shapes);
    if (at) view.alongWall(drawing, group, me, wall, [at[0], at[1]], moved(me));
    return group;
  };
  // A line is too thin to take hold of.
  const line = (kind, ends) => [svg("polygon", { class: "hit", points: points(strip(ends, 0.12)) }), svg("polyline", { class: kind, points: points(ends) }), svg("polygon", { class: "halo", points: points(strip(ends, 0.07)) })];
  (fields.obstacles || []).forEach((entry, index) => {
    const me = { kind: "obstacles", index };
    const [at, size] = [inMetres(desk, entry.at), inMetres(desk, entry.size)];
    const known = d.obstacles.find((o) => o.name === entry.name)?.ring;
    const ring = at && size ? [[at[0], at[1]], [at[0] + size[0], at[1]], [at[0] + size[0], at[1] + size[1]], [at[0], at[1] + size[1]]] : known;
    if (!ring || !ring.flat().every(Number.isFinite)) return;
    const start = [0, 1].map((k) => Math.min(...ring.map((p) => p[k])));
    const group = grip(desk, me, svg("polygon", { class: "obstacle", points: points(flip(ring)) }), svg("polygon", { class: "halo", points: points(flip(ring)) }));
    const slide = ([x, y]) => group.setAttribute("transform", `translate(${y - start[1]} ${x - start[0]})`);
    view.grip(drawing, group, me, start, ([dx, dy], [x, y]) => [x + dy, y + dx], moved(me), slide);
    made.push(group);
  });
  for (const k of view.show.keep ? d.keep_outs : []) {
    const index = named(fields.keep_outs || [], k.name);
    const ring = points(flip(k.ring));
    if (index >= 0) made.push(flat({ kind: "keep_outs", index }, [svg("polygon", { class: "kept-free", points: ring }), svg("polygon", { class: "halo", points: ring })]));
  }
  for (const o of d.openings) {
    const index = named(fields.openings || [], o.name);
    if (index >= 0) made.push(flat({ kind: "openings", index }, line("opening", flip(o.line))));
  }
  if (d.screen && fields.screen) made.push(flat({ kind: "screen", index: 0 }, line("picture", flip(d.screen))));
  return made;
}

// On one surface; the smaller lies on the larger, so that both can be taken hold of.
export function builtOn(view, drawing, wall, put, back, word) {
  const { desk } = view;
  const made = [];
  for (const [section, face, kind] of [["openings", "opening-face", "quiet"], ["screen", "picture-face", "quiet"], ["keep_outs", "kept-free", "keep"]]) {
    entriesOf(desk, section).forEach((entry, index) => {
      const me = { kind: section, index };
      const flat = surfaceOf(desk, me) === wall.name && flatOf(desk, me, wall);
      if (!flat || !flat.every(Number.isFinite)) return;
      const [u, v, w, h] = flat;
      const ring = [[u, v], [u + w, v], [u + w, v + h], [u, v + h]].map(put);
      const group = grip(desk, me, svg("polygon", { class: face, points: points(ring) }), svg("polygon", { class: "halo", points: points(ring) }));
      view.onWall(drawing, group, me, [u, v], put, back, moved(me));
      made.push({ area: w * h, nodes: [group, word(ring, nameOf(section, entry, index), kind)] });
    });
  }
  return made.sort((a, b) => b.area - a.area).flatMap((x) => x.nodes).filter(Boolean);
}
