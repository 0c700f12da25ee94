// The room in the round, on a 2D canvas: a room is some hundred polygons, and sorting those by depth is enough.
"use strict";
import { el, isDark, onPaper, refill } from "./parts.js";
import { builtNamed } from "./fixed.js";
import { panelCaption } from "./panels.js";

const sub = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const add = (a, b, k = 1) => [a[0] + k * b[0], a[1] + k * b[1], a[2] + k * b[2]];
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const middle = (ring) => ring.reduce((s, p) => add(s, p), [0, 0, 0]).map((x) => x / ring.length);
const shade = (hex) => [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16));
const HOME = { yaw: 32, pitch: 34, zoom: 1 };

export class SolidView {
  constructor(desk) {
    this.desk = desk;
    this.camera = { ...HOME };
    this.show = { paths: "chosen", labels: true, keep: true };
    this.told = null;
    this.canvas = el("canvas", { tabindex: "0", role: "img", "data-key": "canvas" });
    this.canvas.setAttribute("aria-label", "The room in three dimensions. Arrow keys turn it, plus and minus zoom, Home resets. Everything in it is listed in the tabs Places and Panels.");
    this.pen = this.canvas.getContext("2d");
    this.listen();
    new ResizeObserver(() => this.draw()).observe(this.canvas);
  }

  paint(place, options, caption) {
    const { desk } = this;
    if (!desk.result?.drawing) return refill(place, el("p", { class: "caption" }, "The room has errors; there is nothing to draw yet."));
    if (!desk.result.solid) return refill(place, el("p", {}, "The drawing is being made."));
    const check = (id, words) => el("label", {}, el("input", { type: "checkbox", "data-key": `solid-${id}`, checked: this.show[id], onchange: (e) => { this.show[id] = e.target.checked; this.draw(); } }), words);
    refill(options,
      el("label", {}, "Bounces", el("select", { "data-key": "solid-paths", onchange: (e) => { this.show.paths = e.target.value; this.draw(); } }, [["chosen", "of what is chosen"], ["all", "all"], ["none", "none"]].map(([v, words]) => el("option", { value: v, selected: v === this.show.paths }, words)))),
      check("labels", "names"), check("keep", "kept-free spaces"),
      el("button", { type: "button", class: "small", "data-key": "solid-home", onclick: () => { this.camera = { ...HOME }; this.draw(); } }, "Reset the view"));
    if (this.canvas.parentNode !== place) place.replaceChildren(this.canvas);
    if (desk.chosen?.kind === "panel") panelCaption(desk, caption);
    else this.tell(caption);
    this.captionPlace = caption;
    this.draw();
    return undefined;
  }

  tell(caption) {
    const lines = this.told?.detail;
    refill(caption, lines ? el("p", {}, el("h3", {}, lines[0]), lines.slice(1).join("; ")) : el("p", { class: "hint" }, "Drag to turn, wheel to zoom. Click a thing to read its numbers; near walls are cut away."));
  }

  // --- view --------------------------------------------------------------------------------------
  aim(bounds) {
    const [low, high] = bounds;
    const target = middle([low, high]);
    const reach = Math.hypot(...sub(high, low));
    const [yaw, pitch] = [this.camera.yaw, this.camera.pitch].map((a) => (a * Math.PI) / 180);
    const out = [Math.cos(pitch) * Math.cos(yaw), Math.cos(pitch) * Math.sin(yaw), Math.sin(pitch)];
    this.eye = add(target, out, (1.5 * reach) / this.camera.zoom);
    this.ahead = out.map((x) => -x);
    this.right = [-Math.sin(yaw), Math.cos(yaw), 0];
    const [r, a] = [this.right, this.ahead];
    this.up = [r[1] * a[2] - r[2] * a[1], r[2] * a[0] - r[0] * a[2], r[0] * a[1] - r[1] * a[0]];
    this.focal = 1.35 * Math.min(this.width, 1.6 * this.height);
  }

  project(p) {
    const d = sub(p, this.eye);
    const depth = Math.max(dot(d, this.ahead), 0.05);
    return [this.width / 2 + (this.focal * dot(d, this.right)) / depth, this.height / 2 - (this.focal * dot(d, this.up)) / depth, depth];
  }

  facesEye(f) {
    return dot(sub(this.eye, f.middle), f.normal) > 0;
  }

  draw() {
    const solid = this.desk.result?.solid;
    if (!solid || !this.canvas.isConnected) return;
    const ratio = window.devicePixelRatio || 1;
    this.width = this.canvas.clientWidth;
    this.height = this.canvas.clientHeight;
    if (!this.width || !this.height) return;
    this.canvas.width = Math.round(this.width * ratio);
    this.canvas.height = Math.round(this.height * ratio);
    const { pen } = this;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    const css = getComputedStyle(document.documentElement);
    const style = (name) => css.getPropertyValue(name).trim();
    this.colours = { ink: style("--ink"), paper: style("--paper"), accent: style("--accent"), dark: isDark() };
    pen.fillStyle = this.colours.paper;
    pen.fillRect(0, 0, this.width, this.height);
    for (const f of solid.faces) f.middle ??= middle(f.rings[0]);
    for (const x of solid.dots) x.middle = x.position;
    this.aim(solid.bounds);
    this.targets = [];
    for (const shape of this.ordered(solid)) {
      if (shape.rings) this.face(shape);
      else this.ball(shape);
    }
    this.lines(solid);
    if (this.show.labels) this.labels(solid);
  }

  ordered(solid) {
    const walls = solid.faces.filter((f) => f.group === "room" && this.facesEye(f));
    const seen = solid.faces.filter((f) => (f.group === "room" || f.group === "opening" ? this.facesEye(f) : f.group !== "keep-out" || this.show.keep));
    const shapes = [...seen, ...solid.dots];
    for (const s of shapes) {
      // What stands behind a wall that faces the eye is hidden by it: an inner corner may do that.
      s.behind = walls.filter((w) => w !== s && dot(sub(s.middle, w.middle), w.normal) < -0.02).length;
      s.first = s.group === "room" ? 0 : s.group === "opening" ? 1 : 2;
      s.depth = dot(sub(s.middle, this.eye), this.ahead);
    }
    return shapes.sort((a, b) => b.behind - a.behind || a.first - b.first || b.depth - a.depth);
  }

  isChosen(shape) {
    const c = this.desk.chosen;
    if (!c) return false;
    if (c.kind === "panel") return shape.group === "panel" && shape.name === c.id;
    return (shape.group === "seat" || shape.group === "equipment") && shape.name === this.desk.state.fields[c.kind]?.[c.index]?.name;
  }

  face(f) {
    if (f.group !== "room" && f.group !== "opening" && f.opacity > 0.5 && !this.facesEye(f)) return;
    const path = new Path2D();
    for (const ring of f.rings) {
      ring.forEach((p, i) => path[i ? "lineTo" : "moveTo"](...this.project(p).slice(0, 2)));
      path.closePath();
    }
    const room = f.group === "room";
    const light = 0.9 + 0.1 * dot(f.normal, [0.35, 0.25, 0.9]);
    const paper = shade(this.colours.paper);
    const own = f.group === "equipment" || f.group === "seat" ? onPaper(f.colour) : f.colour;
    const rgb = shade(own).map((c, i) => Math.round(this.colours.dark && room ? 0.13 * c * light + 0.9 * paper[i] : Math.min(255, c * light)));
    const hides = f.facing && dot(sub(this.eye, f.middle), f.facing) <= 0;
    this.pen.fillStyle = `rgba(${rgb.join(",")},${room ? 1 : hides ? 0.45 : f.opacity})`;
    this.pen.fill(path, "evenodd");
    const strong = this.isChosen(f);
    this.pen.lineWidth = strong ? 2.5 : 0.8;
    this.pen.strokeStyle = strong ? this.colours.accent : this.colours.dark ? "rgba(220,228,232,0.45)" : "rgba(34,48,58,0.55)";
    this.pen.stroke(path);
    if (!room) this.targets.push({ path, shape: f });
  }

  ball(b) {
    const [x, y, depth] = this.project(b.position);
    const path = new Path2D();
    path.arc(x, y, (this.focal * b.radius) / depth, 0, 2 * Math.PI);
    this.pen.fillStyle = onPaper(b.colour);
    this.pen.fill(path);
    this.pen.lineWidth = this.isChosen(b) ? 3 : 1;
    this.pen.strokeStyle = this.isChosen(b) ? this.colours.accent : this.colours.paper;
    this.pen.stroke(path);
    this.targets.push({ path, shape: b });
  }

  lines(solid) {
    if (this.show.paths === "none") return;
    const c = this.desk.chosen;
    const name = c && c.kind !== "panel" ? this.desk.state.fields[c.kind]?.[c.index]?.name : null;
    const group = this.desk.state.panels.length ? "path-after" : "path-before";
    for (const l of solid.lines) {
      if (l.group !== group) continue;
      if (this.show.paths === "chosen" && (!name || (c.kind === "seats" ? l.seat : l.source) !== name)) continue;
      const path = new Path2D();
      l.points.forEach((p, i) => path[i ? "lineTo" : "moveTo"](...this.project(p).slice(0, 2)));
      this.pen.lineWidth = 1.8;
      this.pen.strokeStyle = onPaper(l.colour);
      this.pen.stroke(path);
      const [x, y] = this.project(l.points[1]);
      this.pen.fillStyle = onPaper(l.colour);
      this.pen.beginPath();
      this.pen.arc(x, y, 3, 0, 2 * Math.PI);
      this.pen.fill();
      this.targets.push({ path, line: true, shape: l });
    }
  }

  labels(solid) {
    const { pen } = this;
    const taken = [];
    pen.font = "13px system-ui, sans-serif";
    pen.textBaseline = "middle";
    pen.textAlign = "center";
    for (const l of [...solid.labels].sort((a, b) => a.rank - b.rank)) {
      if (l.group === "keep-out" && !this.show.keep) continue;
      if (l.normal && dot(sub(this.eye, l.position), l.normal) <= 0) continue;
      const [x, y] = this.project(l.position);
      const [w, h] = [pen.measureText(l.text).width + 10, 20];
      // A name at the edge stays whole, and there, too, off the others.
      const inside = (v, half, end) => Math.max(half + 2, Math.min(end - half - 2, v));
      const spot = [[0, 0], [0, -h], [0, h], [w * 0.6, 0], [-w * 0.6, 0], [0, -2 * h], [0, 2 * h]]
        .map(([dx, dy]) => [inside(x + dx, w / 2, this.width), inside(y + dy, h / 2, this.height)])
        .find(([cx, cy]) => taken.every((b) => Math.abs(b[0] - cx) > (b[2] + w) / 2 || Math.abs(b[1] - cy) > (b[3] + h) / 2));
      if (!spot) continue;
      const [cx, cy] = spot;
      taken.push([cx, cy, w, h]);
      pen.globalAlpha = 0.85;
      pen.fillStyle = this.colours.paper;
      pen.fillRect(cx - w / 2, cy - h / 2, w, h);
      pen.globalAlpha = 1;
      pen.fillStyle = this.colours.ink;
      pen.fillText(l.text, cx, cy + 1);
    }
  }

  // --- pointer and keys --------------------------------------------------------------------------
  under(x, y) {
    const ratio = window.devicePixelRatio || 1;
    for (let i = (this.targets || []).length - 1; i >= 0; i--) {
      const t = this.targets[i];
      this.pen.lineWidth = 9;
      const hit = t.line ? this.pen.isPointInStroke(t.path, x * ratio, y * ratio) : this.pen.isPointInPath(t.path, x * ratio, y * ratio, "evenodd");
      if (hit) return t.shape;
    }
    return null;
  }

  pick(shape) {
    this.told = shape;
    const { fields } = this.desk.state;
    const kind = ["seats", "loudspeakers", "subwoofers"].find((k) => (k === "seats") === (shape?.group === "seat") && (fields[k] || []).some((t) => t.name === shape?.name));
    if (shape?.group === "panel") this.desk.choose({ kind: "panel", id: shape.name }, { tab: true });
    else if (shape && kind && (shape.group === "seat" || shape.group === "equipment")) this.desk.choose({ kind, index: fields[kind].findIndex((t) => t.name === shape.name) }, { tab: true });
    else this.desk.choose(builtNamed(this.desk, shape), { tab: true });
    this.desk.paint("pick");
  }

  listen() {
    let last = null;
    let far = 0;
    this.canvas.addEventListener("pointerdown", (e) => {
      this.canvas.setPointerCapture(e.pointerId);
      last = [e.clientX, e.clientY];
      far = 0;
    });
    this.canvas.addEventListener("pointermove", (e) => {
      if (!last) return;
      const [dx, dy] = [e.clientX - last[0], e.clientY - last[1]];
      far += Math.abs(dx) + Math.abs(dy);
      last = [e.clientX, e.clientY];
      this.turn(-0.35 * dx, 0.35 * dy);
    });
    this.canvas.addEventListener("pointerup", (e) => {
      last = null;
      if (far < 5) this.pick(this.under(e.offsetX, e.offsetY));
    });
    this.canvas.addEventListener("pointercancel", () => { last = null; });
    this.canvas.addEventListener("wheel", (e) => { e.preventDefault(); this.zoom(Math.exp(-0.0012 * e.deltaY)); }, { passive: false });
    this.canvas.addEventListener("keydown", (e) => {
      const way = { ArrowLeft: [6, 0], ArrowRight: [-6, 0], ArrowUp: [0, 6], ArrowDown: [0, -6] }[e.key];
      if (way) this.turn(...way);
      else if (e.key === "+" || e.key === "=") this.zoom(1.14);
      else if (e.key === "-") this.zoom(0.88);
      else if (e.key === "Home") { this.camera = { ...HOME }; this.draw(); }
      else return;
      e.preventDefault();
    });
  }

  turn(yaw, pitch) {
    this.camera.yaw += yaw;
    this.camera.pitch = Math.max(-85, Math.min(89, this.camera.pitch + pitch));
    this.draw();
  }

  zoom(factor) {
    this.camera.zoom = Math.max(0.25, Math.min(5, this.camera.zoom * factor));
    this.draw();
  }
}
