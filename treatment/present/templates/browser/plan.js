// The room from above: the front wall at the top. What stands, hangs or is built in is dragged, or moved by keys.
"use strict";
import { UNITS, el, inFeet, keyWords, svg, onPaper, refill, metres, points, outline, same, tape } from "./parts.js";
import { builtAbove, builtCaption, isBuilt } from "./fixed.js";
import { cornerOf, nearestCorner, nextCorner, panelCaption, whereWords } from "./panels.js";

const THINGS = [["subwoofers", "subwoofer", 0.19], ["loudspeakers", "loudspeaker", 0.13], ["seats", "seat", 0.13]];

// Sends positions of one drag: the next one only after the last was answered, and the very last one always.
export class Drag {
  constructor(desk, request) {
    this.desk = desk;
    this.request = request;
    this.gesture = `drag-${Date.now()}-${Math.random()}`;
    this.next = null;
    this.sending = false;
  }

  async to(values) {
    this.next = values;
    if (this.sending) return;
    this.sending = true;
    while (this.next) {
      const now = this.next;
      this.next = null;
      this.answer = await this.desk.ask({ ...this.request(now), gesture: this.gesture });
    }
    this.sending = false;
    this.desk.tellRefusal(this.answer);
  }
}

// Follows a pointer over a drawing until it is lifted.
export function follow(event, drawing, moved, lifted) {
  const here = (e) => {
    const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(drawing.getScreenCTM().inverse());
    return [p.x, p.y];
  };
  const start = here(event);
  let far = false;
  drawing.setPointerCapture(event.pointerId);
  const move = (e) => {
    const now = here(e);
    far = far || Math.hypot(now[0] - start[0], now[1] - start[1]) > 0.02;
    if (far) moved([now[0] - start[0], now[1] - start[1]]);
  };
  const lift = () => {
    drawing.removeEventListener("pointermove", move);
    drawing.removeEventListener("pointerup", lift);
    drawing.removeEventListener("pointercancel", lift);
    lifted(far);
  };
  drawing.addEventListener("pointermove", move);
  drawing.addEventListener("pointerup", lift);
  drawing.addEventListener("pointercancel", lift);
}

export const keyStep = (event) => {
  const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  if (!way) return null;
  event.preventDefault();
  const size = (event.shiftKey ? 1 : inFeet() ? 4 : 5) * tape();
  return [way[0] * size, way[1] * size];
};

export class PlanView {
  constructor(desk) {
    this.desk = desk;
    this.show = { panels: true, keep: true, paths: true };
    this.steps = new Map();
  }

  paint(place, options, caption) {
    const { result } = this.desk;
    if (!result?.drawing) return refill(place, el("p", { class: "caption" }, "The room has errors; there is nothing to draw yet."));
    if (!result.solid) return refill(place, el("p", {}, "The drawing is being made."));
    refill(options,
      [["panels", "panels"], ["keep", "kept-free spaces"], ["paths", "bounces of what is chosen"]].map(([id, words]) =>
        el("label", {}, el("input", { type: "checkbox", "data-key": `show-${id}`, checked: this.show[id], onchange: (e) => { this.show[id] = e.target.checked; this.desk.paint("view"); } }), words)));
    refill(place, this.picture(place, result));
    this.caption(caption);
    return undefined;
  }

  picture(place, result) {
    const d = result.drawing;
    const [w, h] = [d.high[1] - d.low[1], d.high[0] - d.low[0]];
    const margin = 0.42;
    this.text = Math.max(w + 2 * margin, ((h + 2 * margin) * place.clientWidth) / Math.max(place.clientHeight, 1)) / Math.max(place.clientWidth, 1) * 13;
    const node = svg("svg", { viewBox: `${d.low[1] - margin} ${d.low[0] - margin} ${w + 2 * margin} ${h + 2 * margin}`, role: "group", "aria-label": `Room from above. ${keyWords()}` });
    const flip = (ring) => ring.map(([x, y]) => [y, x]);
    node.append(
      svg("defs", {}, svg("pattern", { id: "hatch", width: 0.09, height: 0.09, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, svg("line", { class: "hatch", x1: 0, y1: 0, x2: 0, y2: 0.09 }))),
      svg("path", { class: "floor", d: outline(d.floor.map(flip)), "fill-rule": "evenodd" }),
    );
    node.append(...builtAbove(this, node, d, flip));
    const words = [];
    this.taken = [];
    const title = [d.low[1] + w / 2, d.low[0] - 0.14];
    this.taken.push([title[0] - 3 * this.text, title[1] - this.text, title[0] + 3 * this.text, title[1] + this.text * 0.3]);
    this.ends = [d.low[1] - margin, d.low[1] + w + margin]; // names stay on the paper
    const low = (ring) => [ring.reduce((s, p) => s + p[0], 0) / ring.length, ring.reduce((s, p) => s + p[1], 0) / ring.length];
    d.obstacles.forEach((o) => {
      const ring = flip(o.ring);
      const [x, y] = low(ring);
      // Its name would hide a post.
      if (Math.max(...ring.map((p) => Math.abs(p[0] - x) + Math.abs(p[1] - y))) < this.text) this.taken.push([x, y, x, y]);
      words.push([x, y, o.name, "quiet"]);
    });
    d.openings.forEach((o) => words.push([...low(flip(o.line)), o.name, "quiet"]));
    if (d.screen) words.push([...low(flip(d.screen)), "screen", "quiet"]);
    if (this.show.keep) d.keep_outs.forEach((k) => words.push([...low(flip(k.ring)), k.name, "keep"]));
    if (this.show.paths) node.append(...this.paths(result));
    for (const [section, , size] of THINGS) {
      for (const thing of this.desk.state.fields[section] || []) {
        const p = this.where(thing);
        if (p) this.taken.push([p[1] - size, p[0] - size, p[1] + size, p[0] + size]);
      }
    }
    if (this.show.panels) node.append(...result.panels.filter((p) => p.above).map((p) => this.panel(node, p, flip)));
    for (const [section, name, size] of THINGS) {
      (this.desk.state.fields[section] || []).forEach((thing, i) => {
        const grip = this.thing(node, section, name, size, thing, i);
        if (grip) node.append(grip);
      });
    }
    node.append(svg("text", { x: title[0], y: title[1], "text-anchor": "middle", "font-size": this.text }, "front wall"));
    node.append(this.ruler(d, w, h));
    this.label(node, words);
    return node;
  }

  titled(node, words) {
    node.append(svg("title", {}, words));
    return node;
  }

  ruler(d, w, h) {
    const y = d.low[0] + h + 0.2, x = d.low[1];
    const long = inFeet() ? 4 * 0.3048 : 1;
    this.taken.push([x, y - this.text * 0.6, x + long + 0.06 + 2 * this.text, y + this.text * 0.6]);
    const group = svg("g", { "aria-hidden": "true" }, svg("line", { class: "ruler", x1: x, x2: x + long, y1: y, y2: y }));
    for (const k of [0, 0.5, 1]) group.append(svg("line", { class: "ruler", x1: x + k * long, x2: x + k * long, y1: y - 0.04, y2: y + 0.04 }));
    group.append(svg("text", { class: "quiet", x: x + long + 0.06, y: y + this.text * 0.35, "font-size": this.text * 0.92 }, inFeet() ? "4 ft" : "1 m"));
    return group;
  }

  // A free spot for a name: beside the thing, or else nowhere; pointing at the thing still tells it.
  spot(x, y, text, spots, size) {
    const half = text.length * size * 0.27 + 0.02;
    for (const [dx, dy] of spots) {
      const cy = y + dy;
      const cx = this.ends ? Math.min(Math.max(x + dx * half, this.ends[0] + 1.25 * half), this.ends[1] - 1.25 * half) : x + dx * half;
      const box = [cx - half, cy - 0.55 * size, cx + half, cy + 0.55 * size];
      if (this.taken.every((b) => b[0] > box[2] || b[2] < box[0] || b[1] > box[3] || b[3] < box[1])) {
        this.taken.push(box);
        return [cx, cy + 0.35 * size];
      }
    }
    return null;
  }

  // Names of fixed things.
  label(node, words) {
    const size = this.text * 0.85;
    for (const [x, y, text, name] of words) {
      const short = text.length > 22 ? `${text.slice(0, 21)}…` : text;
      const at = this.spot(x, y, short, [0, 1, -1, 2, -2, 3].map((k) => [0, k * size * 1.2]), size);
      if (at) node.append(svg("text", { class: name, x: at[0], y: at[1], "text-anchor": "middle", "font-size": size, "aria-hidden": "true" }, short));
    }
  }

  // First bounces from the chosen loudspeaker, or to the chosen seat.
  paths(result) {
    const c = this.desk.chosen;
    if (!c || (c.kind !== "seats" && c.kind !== "loudspeakers")) return [];
    const name = this.desk.state.fields[c.kind]?.[c.index]?.name;
    const group = this.desk.state.panels.length ? "path-after" : "path-before";
    return result.solid.lines
      .filter((l) => l.group === group && (c.kind === "seats" ? l.seat : l.source) === name)
      .map((l) => this.titled(svg("polyline", { class: "path", points: points(l.points.map((p) => [p[1], p[0]])), stroke: onPaper(l.colour) }), l.detail.join("; ")));
  }

  // --- what can be moved ------------------------------------------------------------------------
  where(thing) {
    const unit = UNITS[this.desk.state.fields.units || "m"];
    const at = (thing.position || []).map((v) => (typeof v === "number" ? v * unit : NaN));
    return at.length === 3 && at.every(Number.isFinite) ? at : null;
  }

  thing(drawing, section, name, size, thing, index) {
    const known = this.desk.result.solid;
    // A length written as text ("7 ft 8 in") is read by the planner; its drawing tells where that is.
    const at = this.where(thing) || this.drawn(known, section, thing.name);
    if (!at) return null;
    const me = { kind: section, index };
    const [x, y] = [at[1], at[0]];
    const group = svg("g", { class: `grip${same(this.desk.chosen, me) ? " chosen" : ""}`, tabindex: "0", role: "button", "data-key": `grip-${section}-${index}`, transform: `translate(${x} ${y})`,
      "aria-label": `${name} ${thing.name}${thing.occupied === true ? ", taken" : ""}, ${metres(at[0])} from the front wall, ${metres(at[1])} from the left wall` });
    if (section === "seats") {
      const unit = UNITS[this.desk.state.fields.units || "m"];
      const reach = typeof thing.spread === "number" ? thing.spread * unit : 0.15;
      if (reach > 0) group.append(svg("rect", { class: "reach", x: -reach, y: -reach, width: 2 * reach, height: 2 * reach }));
      group.append(...(thing.occupied === true ? [svg("ellipse", { class: "sitter", rx: 0.23, ry: 0.13 })] : []), svg("circle", { class: "seat", r: size * 0.75 }), svg("circle", { class: "halo", r: size * 0.75 + 0.05 }));
    } else {
      group.append(svg("rect", { class: name, x: -size, y: -size, width: 2 * size, height: 2 * size, rx: section === "subwoofers" ? size * 0.4 : 0.02 }), svg("rect", { class: "halo", x: -size - 0.05, y: -size - 0.05, width: 2 * size + 0.1, height: 2 * size + 0.1, rx: 0.04 }));
    }
    const text = String(thing.name ?? "").slice(0, 18);
    const below = size + 0.05 + this.text * 0.55;
    const side = 1 + (size + 0.05) / (text.length * this.text * 0.27 + 0.02);
    const spot = this.spot(x, y, text, [[0, below], [0, -below], [side, 0], [-side, 0], [side, below], [-side, below]], this.text);
    if (spot) group.append(svg("text", { x: spot[0] - x, y: spot[1] - y, "text-anchor": "middle", "font-size": this.text }, text));
    const request = ([px, py]) => ({ op: "move", section, index, x: px, y: py });
    this.grip(drawing, group, me, [at[0], at[1]], ([dx, dy], [px, py]) => [px + dy, py + dx], request, (p) => group.setAttribute("transform", `translate(${p[1]} ${p[0]})`));
    return group;
  }

  drawn(solid, section, name) {
    const dot = section === "seats" && solid.dots.find((d) => d.name === name);
    if (dot) return dot.position;
    const faces = solid.faces.filter((f) => f.group === "equipment" && f.name === name).flatMap((f) => f.rings[0]);
    return faces.length ? [0, 1, 2].map((k) => faces.reduce((s, p) => s + p[k], 0) / faces.length) : null;
  }

  panel(drawing, p, flip) {
    const me = { kind: "panel", id: p.id };
    const ring = flip(p.above);
    const wall = this.desk.result.walls.find((w) => w.name === p.surface);
    const middle = [0, 1].map((k) => ring.reduce((s, q) => s + q[k], 0) / ring.length);
    const name = p.locked ? `${p.id} ·` : p.id;
    const size = this.text * 0.85;
    // Panels lie above each other, and below seats: each name goes where none is, or at worst in its middle.
    const spots = [0, 1, -1, 2, -2].flatMap((k) => [0, 1.3, -1.3].map((side) => [side, k * size * 1.15]));
    const at = this.spot(...middle, name, spots, size) ?? [middle[0], middle[1] + size * 0.35];
    const group = svg("g", { class: `grip${same(this.desk.chosen, me) ? " chosen" : ""}${p.locked ? " fixed" : ""}`, tabindex: "0", role: "button", "data-key": `grip-panel-${p.id}`,
      "aria-label": `panel ${p.id}, ${p.build}, ${whereWords(this.desk, p)}${p.locked ? ", locked" : ""}` },
      svg("polygon", { class: `panel${p.overhead ? " overhead" : ""}${p.counted ? "" : " lost"}`, points: points(ring) }), svg("polygon", { class: "halo", points: points(ring) }),
      svg("text", { x: at[0], y: at[1], "text-anchor": "middle", "font-size": size }, name));
    if (p.locked || !wall) {
      group.addEventListener("pointerdown", () => this.desk.choose(me));
      group.addEventListener("focus", () => this.desk.choose(me));
      return group;
    }
    if (p.way === "corner") return this.cornered(drawing, group, me, p);
    this.alongWall(drawing, group, me, wall, [p.u, p.v], ([u, v]) => ({ op: "panel", id: p.id, change: { u, v } }));
    return group;
  }

  // What is on a surface moves along it: paper x is the room's y.
  alongWall(drawing, group, me, wall, start, request) {
    const along = (axis, dx, dy) => {
      const flat = axis[0] ** 2 + axis[1] ** 2;
      return flat > 0.01 ? (axis[0] * dy + axis[1] * dx) / flat : 0;
    };
    const to = ([dx, dy], [u, v]) => [u + along(wall.frame.u, dx, dy), v + along(wall.frame.v, dx, dy)];
    const slide = ([u, v]) => {
      const d = [0, 1].map((k) => (u - start[0]) * wall.frame.u[k] + (v - start[1]) * wall.frame.v[k]);
      group.setAttribute("transform", `translate(${d[1]} ${d[0]})`);
    };
    this.grip(drawing, group, me, start, to, request, slide);
  }

  // A panel across a corner goes from corner to corner.
  cornered(drawing, group, me, p) {
    const { desk } = this;
    const home = cornerOf(desk, p)?.at;
    if (!home) return group;
    const to = ([dx, dy], [x, y]) => [x + dy, y + dx];
    const request = (at) => {
      const [surface, corner] = nearestCorner(desk, at).walls;
      return { op: "panel", id: p.id, change: { surface, corner } };
    };
    const slide = (at) => group.setAttribute("transform", `translate(${at[1] - home[1]} ${at[0] - home[0]})`);
    this.grip(drawing, group, me, home, to, request, slide, ([dx, dy], from) => nextCorner(desk, from, [dy, dx]));
    return group;
  }

  // Gives a shape its pointer and its keys.
  grip(drawing, group, me, start, to, request, slide, byKeys = null) {
    const { desk } = this;
    // What did not move keeps its last millimetre: along a wall the height.
    const snap = (p, from) => p.map((v, k) => (Math.abs(v - from[k]) < 1e-6 ? from[k] : Math.round(v / tape()) * tape()));
    group.addEventListener("focus", () => desk.choose(me));
    group.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      const drag = new Drag(desk, request);
      desk.busy = true;
      group.focus({ preventScroll: true });
      follow(event, drawing,
        (d) => {
          const p = snap(to(d, start), start);
          slide(p);
          drag.to(p);
        },
        () => {
          desk.busy = false;
          desk.choose(me, { tab: true });
          desk.paint("drag");
        });
    });
    group.addEventListener("keydown", (event) => {
      const step = keyStep(event);
      if (step) this.step(group.dataset.key, start, (from) => (byKeys ? byKeys(step, from) : snap(to(step, from), from)), request);
      else if (event.key === "Delete" || event.key === "Backspace") desk.takeOut(me);
    });
  }

  // Keys may come faster than answers and drawings: each step starts where the last one was asked to end, until a
  // drawing shows it, or something else has changed the room.
  async step(key, start, to, request) {
    const { desk } = this;
    let last = this.steps.get(key);
    const shown = last && !last.waiting && (desk.drawn === desk.state.revision || desk.state.revision !== last.revision);
    if (!last || shown) this.steps.set(key, (last = { at: start, waiting: 0, revision: null }));
    last.at = to(last.at);
    last.waiting += 1;
    const answer = await desk.ask({ ...request(last.at), gesture: `keys-${key}` });
    last.waiting -= 1;
    last.revision = desk.state.revision;
    if (answer.refused) this.steps.delete(key);
    desk.tellRefusal(answer);
  }

  caption(place) {
    const c = this.desk.chosen;
    const { state, result } = this.desk;
    if (!c) return refill(place, el("p", { class: "hint" }, "Drag a seat, a loudspeaker, a panel, a door or a post; or choose one with Tab and move it with the arrow keys."));
    if (c.kind === "panel") return panelCaption(this.desk, place);
    if (isBuilt(c.kind)) return builtCaption(this.desk, place);
    const thing = state.fields[c.kind]?.[c.index];
    if (!thing) return refill(place);
    const known = [...result.solid.dots, ...result.solid.faces].find((x) => x.name === thing.name && (x.group === "seat" || x.group === "equipment"));
    return refill(place, el("p", {}, el("h3", {}, `${c.kind.slice(0, -1)} ${thing.name}`), known ? known.detail.slice(1).join("; ") : ""));
  }
}
