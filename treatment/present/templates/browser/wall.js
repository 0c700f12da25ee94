// One surface, flat, as seen from inside the room: panels are dragged over the places where sound bounces.
"use strict";
import { area, el, keyWords, svg, onPaper, refill, metres, points, outline, same } from "./parts.js";
import { PlanView } from "./plan.js";
import { builtCaption, builtOn, isBuilt, surfaceOf } from "./fixed.js";
import { panelCaption, whereWords } from "./panels.js";

export class WallView {
  constructor(desk) {
    this.desk = desk;
    this.bounces = true;
    this.seat = "";
    this.hands = new PlanView(desk); // the same grips
  }

  paint(place, options, caption) {
    const { desk } = this;
    const walls = (desk.result?.walls || []).filter((w) => w.kind !== "floor");
    if (!walls.length) return refill(place, el("p", { class: "caption" }, "The room has errors; there is nothing to draw yet."));
    const wall = walls.find((w) => w.name === desk.wall) || walls.find((w) => w.name === "left") || walls[0];
    desk.wall = wall.name;
    const seats = (desk.state.fields.seats || []).map((s) => s.name);
    refill(options,
      el("label", {}, "Surface", el("select", { "data-key": "wall-name", onchange: (e) => { desk.wall = e.target.value; desk.paint("view"); } }, walls.map((w) => el("option", { value: w.name, selected: w === wall }, w.title)))),
      el("label", {}, el("input", { type: "checkbox", "data-key": "wall-bounces", checked: this.bounces, onchange: (e) => { this.bounces = e.target.checked; desk.paint("view"); } }), "bounces to"),
      el("select", { "aria-label": "Seat", "data-key": "wall-seat", onchange: (e) => { this.seat = e.target.value; desk.paint("view"); } }, [["", "all seats"], ...seats.map((s) => [s, s])].map(([v, words]) => el("option", { value: v, selected: v === this.seat }, words))));
    refill(place, this.picture(place, wall));
    if (desk.chosen?.kind === "panel" && desk.result.panels.some((p) => p.id === desk.chosen.id && [...(p.on || []), ...(p.before || [])].some((o) => o.surface === wall.name))) panelCaption(desk, caption);
    else if (isBuilt(desk.chosen?.kind) && surfaceOf(desk, desk.chosen) === wall.name) builtCaption(desk, caption);
    else {
      const strong = wall.bounces.filter((b) => b.treat).length;
      refill(caption, el("p", {}, el("h3", {}, wall.title), `${area(wall.area)}, ${wall.material}. `, strong ? `${strong} early strong ${strong === 1 ? "bounce" : "bounces"} (ringed) of ${wall.bounces.length}.` : wall.bounces.length ? `No early strong bounce of ${wall.bounces.length}.` : "No single bounce reaches a seat from here."),
        el("p", { class: "hint" }, "As seen from inside. Drag a panel, a door or a kept-free space, or choose it with Tab and use the arrow keys."));
    }
    return undefined;
  }

  picture(place, wall) {
    const all = wall.rings.flat();
    const [u0, u1] = [Math.min(...all.map((p) => p[0])), Math.max(...all.map((p) => p[0]))];
    const [v0, v1] = [Math.min(...all.map((p) => p[1])), Math.max(...all.map((p) => p[1]))];
    const overhead = wall.kind === "ceiling";
    // A wall stands on its lower edge and may run to the left; a ceiling is drawn like the plan: front at the top.
    const put = ([u, v]) => (overhead ? (Math.abs(wall.frame.u[0]) > 0.7 ? [v, u] : [u, v]) : [wall.mirrored ? u1 + u0 - u : u, v1 + v0 - v]);
    const back = (d) => (overhead ? (Math.abs(wall.frame.u[0]) > 0.7 ? [d[1], d[0]] : d) : [wall.mirrored ? -d[0] : d[0], -d[1]]);
    const corners = all.map(put);
    const low = [0, 1].map((k) => Math.min(...corners.map((p) => p[k])));
    const high = [0, 1].map((k) => Math.max(...corners.map((p) => p[k])));
    const margin = 0.34;
    const [w, h] = [high[0] - low[0] + 2 * margin, high[1] - low[1] + 2 * margin];
    const text = (Math.max(w, (h * place.clientWidth) / Math.max(place.clientHeight, 1)) / Math.max(place.clientWidth, 1)) * 13;
    this.hands.text = text;
    const node = svg("svg", { viewBox: `${low[0] - margin} ${low[1] - margin} ${w} ${h}`, role: "group", "aria-label": `${wall.title}. ${keyWords()}` });
    // Names keep off the bounces and off each other; pointing at the thing still tells one that found no room.
    this.hands.ends = [low[0] - margin, low[0] - margin + w];
    this.hands.taken = this.bounces ? wall.bounces.filter((b) => !this.seat || b.seat === this.seat).map((b) => put(b.at)).map(([x, y]) => [x - 0.07, y - 0.07, x + 0.07, y + 0.07]) : [];
    const word = (ring, name, kind) => {
      const p = [0, 1].map((k) => ring.reduce((s, q) => s + q[k], 0) / ring.length);
      const short = name.length > 24 ? `${name.slice(0, 23)}…` : name;
      const at = this.hands.spot(p[0], p[1], short, [0, 1, -1, 2, -2, 3, -3, 4, -4].map((k) => [0, k * text * 1.2]), text * 0.9);
      return at ? svg("text", { class: kind, x: at[0], y: at[1], "text-anchor": "middle", "font-size": text * 0.9 }, short) : "";
    };
    node.append(
      svg("defs", {}, svg("pattern", { id: "hatch", width: 0.09, height: 0.09, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, svg("line", { class: "hatch", x1: 0, y1: 0, x2: 0, y2: 0.09 }))),
      svg("path", { class: "floor", d: outline(wall.rings.map((r) => r.map(put))), "fill-rule": "evenodd" }));
    node.append(...builtOn(this, node, wall, put, back, word));
    for (const p of this.desk.result.panels) {
      for (const b of (p.before || []).filter((x) => x.surface === wall.name)) node.append(svg("polygon", { class: "panel standing", points: points(b.ring.map(put)) }, svg("title", {}, `${p.id} stands before this wall`)), word(b.ring.map(put), `${p.id} stands before it`, "quiet"));
      for (const o of (p.on || []).filter((x) => x.surface === wall.name)) node.append(this.panel(node, p, o, wall, put, back, text));
    }
    if (this.bounces) node.append(...wall.bounces.filter((b) => !this.seat || b.seat === this.seat).map((b) => this.bounce(b, put, wall)));
    const foot = high[1] + margin * 0.62;
    node.append(
      svg("text", { class: "quiet", x: (low[0] + high[0]) / 2, y: foot, "text-anchor": "middle", "font-size": text }, `${metres(u1 - u0)} by ${metres(v1 - v0)}`),
      svg("text", { class: "quiet", x: put([u0, v0])[0], y: low[1] - margin * 0.3, "text-anchor": put([u0, v0])[0] < put([u1, v0])[0] || overhead ? "start" : "end", "font-size": text }, `tape starts at the ${wall.from[0]}`));
    return node;
  }

  bounce(b, put, wall) {
    const [x, y] = put(b.at);
    // Red on a panel would drown: the ring lies on a wider one of paper.
    const ring = b.treat ? [["var(--paper)", 0.036], ["var(--wrong)", 0.018]].map(([stroke, width]) => svg("circle", { cx: x, cy: y, r: 0.062, fill: "none", stroke, "stroke-width": width })) : null;
    const words = `${b.source} to ${b.seat}: ${b.after} dB re direct (as it is ${b.before}), ${b.ms} ms late`;
    // A panel under it is what one wants to take hold of.
    const covered = this.desk.result.panels.some((p) => (p.on || []).some((o) => o.surface === wall.name && b.at[0] >= o.u && b.at[0] <= o.u + o.size[0] && b.at[1] >= o.v && b.at[1] <= o.v + o.size[1]));
    return svg("g", { role: "img", "aria-label": words, "pointer-events": covered ? "none" : "auto" }, svg("title", {}, words), ring, svg("circle", { class: "bounce", cx: x, cy: y, r: 0.036, fill: onPaper(b.colour) }));
  }

  panel(drawing, p, on, wall, put, back, text) {
    const me = { kind: "panel", id: p.id };
    const ring = [[on.u, on.v], [on.u + on.size[0], on.v], [on.u + on.size[0], on.v + on.size[1]], [on.u, on.v + on.size[1]]].map(put);
    const [left, top] = [0, 1].map((k) => Math.min(ring[0][k], ring[2][k]));
    const group = svg("g", { class: `grip${same(this.desk.chosen, me) ? " chosen" : ""}${p.locked ? " fixed" : ""}`, tabindex: "0", role: "button", "data-key": `grip-panel-${p.id}`,
      "aria-label": `panel ${p.id}, ${p.build}, ${whereWords(this.desk, p)}${p.locked ? ", locked" : ""}` },
      svg("polygon", { class: `panel${p.counted ? "" : " lost"}`, points: points(ring) }), svg("polygon", { class: "halo", points: points(ring) }),
      svg("text", { class: "on-panel", x: left + 0.03, y: top + text, "font-size": text }, p.locked ? `${p.id} locked` : p.id));
    if (p.locked) {
      group.addEventListener("pointerdown", () => this.desk.choose(me));
      group.addEventListener("focus", () => this.desk.choose(me));
      return group;
    }
    // One across a corner goes up and down here; on both its walls by the same.
    const corner = p.way === "corner";
    this.onWall(drawing, group, me, [p.u, p.v], put, (d) => (corner ? [0, back(d)[1]] : back(d)), ([u, v]) => ({ op: "panel", id: p.id, change: corner ? { v } : { u, v } }));
    return group;
  }

  onWall(drawing, group, me, start, put, back, request) {
    const to = (d, [u, v]) => { const [du, dv] = back(d); return [u + du, v + dv]; };
    const slide = (at) => {
      const [a, b] = [put(start), put(at)];
      group.setAttribute("transform", `translate(${b[0] - a[0]} ${b[1] - a[1]})`);
    };
    this.hands.grip(drawing, group, me, start, to, request, slide);
  }
}
