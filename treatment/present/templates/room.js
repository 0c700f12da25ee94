// Paints a room of plain shapes on a 2D canvas. No library, no network: all data stands in the page.
"use strict";
(() => {
  const data = JSON.parse(document.getElementById("room-data").textContent);
  const canvas = document.getElementById("view");
  const pen = canvas.getContext("2d");
  const info = document.getElementById("info");
  const controls = document.getElementById("controls");
  const sourceBox = document.getElementById("source");
  const seatBox = document.getElementById("seat");
  const bandBox = document.getElementById("band");
  data.lines.push(...doubleLines(data));

  // --- small vectors -------------------------------------------------------------------------
  const sub = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
  const add = (a, b, k = 1) => [a[0] + k * b[0], a[1] + k * b[1], a[2] + k * b[2]];
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const middleOf = (points) => {
    const sum = points.reduce((s, p) => add(s, p), [0, 0, 0]);
    return sum.map((x) => x / points.length);
  };

  const [low, high] = data.bounds;
  const reach = Math.hypot(...sub(high, low));
  const home = { yaw: 32, pitch: 34, distance: 1.72 * reach, target: middleOf([low, high]) };
  const camera = { ...home, target: [...home.target] };
  let selected = "";
  let hovered = "";
  let targets = []; // what was painted where, for the pointer; later entries lie on top

  for (const face of data.faces) face.middle = middleOf(face.rings[0]);
  for (const line of data.lines) line.middle = middleOf(line.points);

  // --- view ----------------------------------------------------------------------------------
  let eye, ahead, right, up, focal, width, height;

  function aim() {
    const yaw = (camera.yaw * Math.PI) / 180;
    const pitch = (camera.pitch * Math.PI) / 180;
    const outward = [Math.cos(pitch) * Math.cos(yaw), Math.cos(pitch) * Math.sin(yaw), Math.sin(pitch)];
    eye = add(camera.target, outward, camera.distance);
    ahead = outward.map((x) => -x);
    right = [-Math.sin(yaw), Math.cos(yaw), 0];
    up = [
      right[1] * ahead[2] - right[2] * ahead[1],
      right[2] * ahead[0] - right[0] * ahead[2],
      right[0] * ahead[1] - right[1] * ahead[0],
    ];
    focal = 1.35 * Math.min(width, 1.6 * height);
  }

  function project(point) {
    const d = sub(point, eye);
    const depth = Math.max(dot(d, ahead), 0.05);
    return [width / 2 + (focal * dot(d, right)) / depth, height / 2 - (focal * dot(d, up)) / depth, depth];
  }

  const facesEye = (face) => dot(sub(eye, face.middle), face.normal) > 0;
  const isOn = (name) => {
    const box = controls.elements[name];
    return !box || box.checked;
  };
  const panelState = () => controls.elements.state.value; // before | after

  function wanted(shape) {
    if (shape.group === "panel") return panelState() === "after";
    if (shape.group === "keep-out") return isOn("keepouts");
    if (shape.group === "opening" || shape.group === "room") return !isOn("cut") || facesEye(shape);
    return true;
  }

  // Shapes behind a wall that faces the eye must be painted before that wall (an inner corner may
  // hide a part of the room); among equals the farther comes first.
  function inOrder(shapes) {
    const walls = data.faces.filter((f) => f.group === "room" && facesEye(f));
    for (const shape of shapes) {
      shape.behind = walls.filter((w) => w !== shape && dot(sub(shape.middle, w.middle), w.normal) < -0.02).length;
      shape.first = shape.group === "room" ? 0 : shape.group === "opening" ? 1 : 2;
      shape.depth = dot(sub(shape.middle, eye), ahead);
    }
    return shapes.sort((a, b) => b.behind - a.behind || a.first - b.first || b.depth - a.depth);
  }

  // --- colours -------------------------------------------------------------------------------
  const style = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const parts = (colour) => [1, 3, 5].map((i) => parseInt(colour.slice(i, i + 2), 16));
  let ink, paper, dark;

  // Colour of a path in the chosen octave; "loudest" is the one that the page was written with.
  function pathColour(line) {
    const level = bandBox.value === "loudest" ? line.level : line.levels[Number(bandBox.value)];
    if (level === undefined) return line.colour;
    const scale = data.scale;
    if (level <= scale[0][0]) return scale[0][1];
    for (let i = 1; i < scale.length; i++) {
      if (level > scale[i][0]) continue;
      const part = (level - scale[i - 1][0]) / (scale[i][0] - scale[i - 1][0]);
      const low = parts(scale[i - 1][1]);
      const high = parts(scale[i][1]);
      return `rgb(${low.map((c, k) => Math.round(c + part * (high[k] - c))).join(",")})`;
    }
    return scale[scale.length - 1][1];
  }

  function tint(face) {
    const light = 0.9 + 0.1 * dot(face.normal, [0.35, 0.25, 0.9]);
    const room = face.group === "room";
    const own = face.group === "equipment" || face.group === "seat" ? colours.onPaper(face.colour) : face.colour;
    const shaded = parts(own).map((c) => Math.min(255, c * light));
    const rgb = shaded.map((c, i) => Math.round(dark && room ? 0.13 * c + 0.9 * parts(paper)[i] : c));
    const hides = face.facing && dot(sub(eye, face.middle), face.facing) <= 0;
    const alpha = room ? 1 : hides ? 0.45 : face.opacity;
    return `rgba(${rgb.join(",")},${alpha})`;
  }

  // --- painting ------------------------------------------------------------------------------
  function outline(rings) {
    const path = new Path2D();
    for (const ring of rings) {
      ring.forEach((p, i) => {
        const [x, y] = project(p);
        if (i) path.lineTo(x, y);
        else path.moveTo(x, y);
      });
      path.closePath();
    }
    return path;
  }

  function paintFace(face) {
    // Solids are closed: what looks away from the eye lies behind what looks at it.
    if (face.group !== "room" && face.group !== "opening" && face.opacity > 0.5 && !facesEye(face)) return;
    const path = outline(face.rings);
    const strong = face.name === selected || face.name === hovered;
    pen.fillStyle = tint(face);
    pen.fill(path, "evenodd");
    pen.lineWidth = strong ? 2.5 : 0.8;
    pen.strokeStyle = strong ? style("--accent") : dark ? "rgba(220,228,232,0.45)" : "rgba(34,48,58,0.55)";
    pen.stroke(path);
    if (face.group !== "room") targets.push({ path, fill: true, shape: face });
  }

  function paintDot(ball) {
    const [x, y, depth] = project(ball.position);
    const r = (focal * ball.radius) / depth;
    const path = new Path2D();
    path.arc(x, y, r, 0, 2 * Math.PI);
    const glow = pen.createRadialGradient(x - 0.3 * r, y - 0.4 * r, 0.1 * r, x, y, r);
    glow.addColorStop(0, "#ffffff");
    glow.addColorStop(0.25, colours.onPaper(ball.colour));
    glow.addColorStop(1, colours.onPaper(ball.colour));
    pen.fillStyle = glow;
    pen.fill(path);
    targets.push({ path, fill: true, shape: ball });
  }

  function paintLine(line) {
    const path = new Path2D();
    line.points.forEach((p, i) => {
      const [x, y] = project(p);
      if (i) path.lineTo(x, y);
      else path.moveTo(x, y);
    });
    const strong = line.name === selected || line.name === hovered;
    pen.lineWidth = strong ? 4 : 1.8;
    const colour = colours.onPaper(pathColour(line));
    pen.strokeStyle = colour;
    pen.setLineDash(line.twice ? [7, 4] : []);
    pen.stroke(path);
    pen.setLineDash([]);
    pen.fillStyle = colour;
    for (const point of line.points.slice(1, -1)) {
      const [x, y] = project(point);
      pen.beginPath();
      pen.arc(x, y, strong ? 5 : 3, 0, 2 * Math.PI);
      pen.fill();
    }
    targets.push({ path, fill: false, shape: line });
  }

  function paintLabels() {
    const taken = [];
    const px = 13;
    pen.font = `${px}px system-ui, sans-serif`;
    pen.textBaseline = "middle";
    for (const label of data.labels) {
      if (label.group === "panel" && panelState() !== "after") continue;
      if (label.group === "keep-out" && !isOn("keepouts")) continue;
      if (label.normal && isOn("cut") && dot(sub(eye, label.position), label.normal) <= 0) continue;
      const [x, y] = project(label.position);
      const w = pen.measureText(label.text).width + 10;
      const h = px + 7;
      const spots = [[0, 0], [0, -h], [0, h], [w * 0.6, 0], [-w * 0.6, 0], [0, -2 * h], [0, 2 * h]];
      // A name at the edge stays whole, and there, too, off the others.
      const inside = (v, half, end) => Math.max(half + 2, Math.min(end - half - 2, v));
      const spot = spots
        .map(([dx, dy]) => [inside(x + dx, w / 2, width), inside(y + dy, h / 2, height)])
        .find(([cx, cy]) => taken.every((b) => Math.abs(b[0] - cx) > (b[2] + w) / 2 || Math.abs(b[1] - cy) > (b[3] + h) / 2));
      if (!spot) continue; // no room: pointing at the thing still tells its name
      const [cx, cy] = spot;
      taken.push([cx, cy, w, h]);
      pen.globalAlpha = 0.85;
      pen.fillStyle = paper;
      pen.fillRect(cx - w / 2, cy - h / 2, w, h);
      pen.globalAlpha = 1;
      pen.fillStyle = ink;
      pen.textAlign = "center";
      pen.fillText(label.text, cx, cy + 1);
    }
  }

  let waiting = false;
  function repaint() {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      paint();
    });
  }

  function paint() {
    const ratio = window.devicePixelRatio || 1;
    width = canvas.clientWidth;
    height = canvas.clientHeight;
    canvas.width = Math.round(width * ratio);
    canvas.height = Math.round(height * ratio);
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    ink = style("--ink");
    paper = style("--paper");
    dark = colours.isDark();
    for (const part of document.querySelectorAll("[data-colour]")) part.style.background = colours.onPaper(part.dataset.colour);
    pen.fillStyle = paper;
    pen.fillRect(0, 0, width, height);
    targets = [];
    aim();
    for (const dotted of data.dots) dotted.middle = dotted.position;
    for (const shape of inOrder([...data.faces.filter(wanted), ...data.dots])) {
      if (shape.rings) paintFace(shape);
      else paintDot(shape);
    }
    if (isOn("paths") || isOn("doubles")) {
      const group = panelState() === "after" && data.has_after ? "path-after" : "path-before";
      for (const line of data.lines) {
        const ours = (line.group === group || !data.has_before) && isOn(line.twice ? "doubles" : "paths");
        if (ours && matches(line.source, sourceBox.value) && matches(line.seat, seatBox.value)) paintLine(line);
      }
    }
    if (isOn("labels")) paintLabels();
  }

  // Choices are indices, so that no name can be mistaken for "all" or "none".
  const matches = (index, value) => value === "all" || (value !== "none" && index === Number(value));

  // --- reading ---------------------------------------------------------------------------------
  function tell(shape) {
    info.replaceChildren();
    (shape ? shape.detail : ["Point at a panel, a path or a loudspeaker to read its numbers."]).forEach((line, i) => {
      const row = document.createElement(i || !shape ? "p" : "h2");
      row.textContent = line;
      info.append(row);
    });
  }

  function under(x, y) {
    const ratio = window.devicePixelRatio || 1;
    for (let i = targets.length - 1; i >= 0; i--) {
      const t = targets[i];
      pen.lineWidth = 9;
      const hit = t.fill
        ? pen.isPointInPath(t.path, x * ratio, y * ratio, "evenodd")
        : pen.isPointInStroke(t.path, x * ratio, y * ratio);
      if (hit) return t.shape;
    }
    return null;
  }

  // --- pointer, touch, keyboard ----------------------------------------------------------------
  const turn = (dx, dy) => {
    camera.yaw -= dx;
    camera.pitch = Math.max(-85, Math.min(89, camera.pitch + dy));
  };
  const zoom = (factor) => {
    camera.distance = Math.max(0.4 * reach, Math.min(8 * reach, camera.distance * factor));
  };
  const pan = (dx, dy) => {
    const k = camera.distance / focal;
    camera.target = add(add(camera.target, right, -dx * k), up, dy * k);
  };

  const fingers = new Map();
  let moved = 0;
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    moved = 0;
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    const now = [event.clientX, event.clientY];
    if (!before) {
      const shape = under(event.offsetX, event.offsetY);
      const name = shape ? shape.name : "";
      if (name !== hovered) {
        hovered = name;
        if (!selected) tell(shape);
        repaint();
      }
      return;
    }
    const dx = now[0] - before[0];
    const dy = now[1] - before[1];
    moved += Math.abs(dx) + Math.abs(dy);
    if (fingers.size === 2) {
      const other = [...fingers.entries()].find(([id]) => id !== event.pointerId)[1];
      const was = Math.hypot(before[0] - other[0], before[1] - other[1]);
      const is = Math.hypot(now[0] - other[0], now[1] - other[1]);
      if (is > 0) zoom(was / is);
      pan(dx / 2, dy / 2);
    } else if (event.shiftKey || event.buttons === 2 || event.buttons === 4) {
      pan(dx, dy);
    } else {
      turn(0.35 * dx, 0.35 * dy);
    }
    fingers.set(event.pointerId, now);
    repaint();
  });
  const lift = (event) => {
    fingers.delete(event.pointerId);
    if (event.type === "pointerup" && moved < 5) {
      const shape = under(event.offsetX, event.offsetY);
      selected = shape && shape.name !== selected ? shape.name : "";
      tell(shape);
      repaint();
    }
  };
  canvas.addEventListener("pointerup", lift);
  canvas.addEventListener("pointercancel", lift);
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener(
    "wheel",
    (event) => {
      event.preventDefault();
      zoom(Math.exp(0.0012 * event.deltaY));
      repaint();
    },
    { passive: false },
  );
  canvas.addEventListener("keydown", (event) => {
    const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    const arrow = arrows[event.key];
    if (arrow && event.shiftKey) pan(-30 * arrow[0], 30 * arrow[1]);
    else if (arrow) turn(-6 * arrow[0], 6 * arrow[1]);
    else if (event.key === "+" || event.key === "=") zoom(0.88);
    else if (event.key === "-") zoom(1.14);
    else if (event.key === "Home" || event.key === "0") Object.assign(camera, home, { target: [...home.target] });
    else if (event.key === "Escape") selected = "";
    else return;
    event.preventDefault();
    repaint();
  });

  // --- controls --------------------------------------------------------------------------------
  function fill(box, names, chosen) {
    for (const [value, words] of [["all", "all"], ["none", "none"], ...names.map((n, i) => [String(i), n])]) {
      const option = document.createElement("option");
      option.value = value;
      option.textContent = words;
      box.append(option);
    }
    box.value = chosen;
  }
  for (const [value, words] of [["loudest", "loudest, 1 to 8 kHz"], ...data.bands.map((n, i) => [String(i), n])]) {
    const option = document.createElement("option");
    option.value = value;
    option.textContent = words;
    bandBox.append(option);
  }
  fill(sourceBox, data.sources, data.sources.length ? "0" : "none");
  fill(seatBox, data.seats, data.seats.length ? String(data.middle_seat) : "none");
  controls.addEventListener("input", repaint);
  document.getElementById("reset").addEventListener("click", () => {
    Object.assign(camera, home, { target: [...home.target] });
    repaint();
  });
  document.getElementById("items").addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    const shape = [...data.faces, ...data.dots][Number(button.dataset.index)];
    selected = shape.name;
    tell(shape);
    repaint();
  });
  data.labels.sort((a, b) => a.rank - b.rank);
  new ResizeObserver(repaint).observe(canvas);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", repaint);
  document.addEventListener("themechange", repaint);
  tell(null);
  paint();
})();
