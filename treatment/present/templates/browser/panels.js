// Panels in words, and the corners that they go across.
"use strict";
import { el, metres, refill } from "./parts.js";

export const wallOf = (desk, name) => desk.result?.walls?.find((w) => w.name === name);
const titled = (desk, name) => wallOf(desk, name)?.title ?? name;

// Where a panel is, for a reader.
export function whereWords(desk, p) {
  const [along, up] = p.words ?? [metres(p.u), metres(p.v)];
  if (p.way === "corner") return `across the corner of ${p.surface} and ${p.corner}, ${up}`;
  const place = `${along}, ${up}`;
  return p.way === "stand" ? `stands on the floor, ${place}` : `on ${titled(desk, p.surface)}, ${place}`;
}

export const cornerOf = (desk, p) => (desk.result?.corners || []).find((c) => c.walls.includes(p.surface) && c.walls.includes(p.corner));

export function nearestCorner(desk, [x, y]) {
  const far = (c) => Math.hypot(c.at[0] - x, c.at[1] - y);
  return desk.result.corners.reduce((best, c) => (far(c) < far(best) ? c : best));
}

// The nearest corner in a direction; the same one where there is none.
export function nextCorner(desk, from, way) {
  const size = Math.hypot(...way);
  const ahead = desk.result.corners
    .map((c) => [c, (c.at[0] - from[0]) * way[0] / size + (c.at[1] - from[1]) * way[1] / size, Math.hypot(c.at[0] - from[0], c.at[1] - from[1])])
    .filter(([, along, far]) => along > 0.05 && along > 0.5 * far);
  return ahead.length ? ahead.reduce((best, c) => (c[2] < best[2] ? c : best))[0].at : from;
}

export function panelCaption(desk, place) {
  const p = desk.result.panels.find((x) => x.id === desk.chosen?.id);
  if (!p) return refill(place);
  const wall = wallOf(desk, p.surface);
  const from = wall && p.words;
  const words = !from ? "" : p.way === "corner" ? `Across the corner of ${p.surface} and ${p.corner}: lower edge ${from[1]}; ${p.high} high.`
    : p.way === "stand" ? `Stands on the floor: ${from.join(", ")}; ${p.high} high.` : `${wall.title}: ${from.join(", ")}.`;
  const send = async (change) => desk.tellRefusal(await desk.ask({ op: "panel", id: p.id, change }));
  return refill(place, el("p", {}, el("h3", {}, `${p.id}: ${p.build}`), words),
    el("div", { class: "row" },
      el("button", { type: "button", class: "small", "data-key": "caption-lock", onclick: () => send({ locked: !p.locked }) }, p.locked ? "Unlock" : "Lock"),
      p.way !== "corner" && el("button", { type: "button", class: "small", "data-key": "caption-turn", disabled: p.locked, onclick: () => send({ turned: !p.turned }) }, "Turn"),
      el("button", { type: "button", class: "small", "data-key": "caption-remove", onclick: () => desk.takeOut({ kind: "panel", id: p.id }) }, "Remove"),
      !p.counted && el("span", { class: "tag bad" }, "not counted: see Findings")));
}
