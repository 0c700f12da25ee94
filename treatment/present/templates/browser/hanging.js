// The part Panels: planning, adding one, and each that is there.
"use strict";
import { el, metres, same, taskBox } from "./parts.js";
import { choice, folded, input, wrong } from "./form.js";
import { cornerOf } from "./panels.js";

const GROUPS = [["hang", "to hang on a surface"], ["corner", "to go across a corner"], ["stand", "to stand on the floor"]];
const cornerTitle = (c) => `corner of ${c.walls.join(" and ")}`;

// A field holds a wall coordinate: it counts from an edge, or where none is there tells what it is at one.
export function startWords(wall, k) {
  const i = k === "u" ? 0 : 1;
  if (!wall) return k;
  return Math.abs(wall.start[i]) < 1e-3 ? `From the ${wall.from[i]}` : `${k} (${metres(wall.start[i])} at the ${wall.from[i]})`;
}

export function panels(desk) {
  const { result, state } = desk;
  const builds = result?.builds || [];
  const ready = result && !result.stale && builds.length;
  const locked = state.panels.filter((p) => p.locked).length;
  return [
    el("section", {}, el("h2", {}, "Plan for me"),
      el("p", { class: "hint" }, `Chooses panels within the budget.${locked ? ` The ${locked} locked ${locked === 1 ? "one stays" : "ones stay"}; the others are replaced.` : state.panels.length ? " The panels below are replaced, unless you lock them." : ""}`),
      desk.task.running && desk.task.kind === "plan"
        ? taskBox(desk, "Planning goes on")
        : el("button", { type: "button", class: "main", "data-key": "plan", disabled: !ready || desk.task.running, onclick: async () => desk.problem("plan", await desk.ask({ op: "plan" })) }, "Plan panels"),
      !desk.task.running && desk.task.kind === "plan" && desk.task.words && el("p", { class: "hint" }, desk.task.words),
      wrong(desk, "plan", "plan"),
    ),
    adding(desk, builds, ready),
    el("section", {}, el("h2", {}, state.panels.length ? `In the room: ${state.panels.length}` : "No panels yet"),
      state.panels.map((p) => hanging(desk, p, builds)),
      state.panels.some((p) => !p.locked) && el("button", { type: "button", "data-key": "clear", onclick: () => desk.ask({ op: "clear" }) }, locked ? "Take down all that are not locked" : "Take all down"),
    ),
    el("section", {}, el("h2", {}, "Builds to plan with"),
      builds.map((b) =>
        el("label", { class: "line" },
          el("input", { type: "checkbox", "data-key": `build.${b.id}`, checked: b.chosen, onchange: async (event) => {
            const ids = builds.filter((x) => (x.id === b.id ? event.target.checked : x.chosen)).map((x) => x.id);
            const answer = await desk.ask({ op: "builds", ids });
            if (answer.refused) event.target.checked = !event.target.checked;
            desk.problem("builds", answer);
          } }),
          el("span", {}, b.id, el("span", { class: "hint" }, ` ${b.size}, ${b.depth}, ${b.price.toFixed(2)} each`)),
        )),
      wrong(desk, "builds", "builds"),
    ),
  ];
}

// --- adding --------------------------------------------------------------------------------------
// Where a build may go: value of the choice, and its words.
function places(desk, build) {
  if (!build) return [];
  const walls = desk.result.walls;
  const made = [["", build.ways.includes("hang") || build.ways.length > 1 ? "where it is needed most" : "where there is room"]];
  if (build.ways.includes("hang")) made.push(...walls.filter((w) => build.on.includes(w.kind)).map((w) => [w.name, w.title]));
  if (build.ways.includes("corner")) made.push(...desk.result.corners.map((c) => [JSON.stringify(c.walls), cornerTitle(c)]));
  if (build.ways.includes("stand")) made.push(...walls.filter((w) => w.kind === "floor").map((w) => [w.name, w.title]));
  return made;
}

function adding(desk, builds, ready) {
  desk.newBuild = builds.some((b) => b.id === desk.newBuild) ? desk.newBuild : desk.state.panels.at(-1)?.build || middling(builds);
  const build = builds.find((b) => b.id === desk.newBuild);
  const where = places(desk, build);
  desk.newSurface = where.some(([v]) => v === desk.newSurface) ? desk.newSurface : "";
  const hang = async () => {
    const [surface, corner] = desk.newSurface.startsWith("[") ? JSON.parse(desk.newSurface) : [desk.newSurface];
    const answer = await desk.ask({ op: "hang", build: desk.newBuild, surface, ...(corner ? { corner } : {}) });
    desk.problem("hang", answer);
    const last = desk.state.panels.at(-1);
    if (!answer.refused && last) desk.choose({ kind: "panel", id: last.id });
  };
  const groups = GROUPS.map(([way, words]) => [words, builds.filter((b) => b.ways[0] === way).map((b) => [b.id, b.id])]).filter(([, list]) => list.length);
  return el("section", {}, el("h2", {}, "Add one"),
    el("div", { class: "pair" }, el("label", { for: "new-build" }, "Build"), picker("new-build", groups, desk.newBuild, (v) => { desk.newBuild = v; desk.paint("chosen"); })),
    build && el("p", { class: "hint" }, `${build.name}. ${build.size}, ${build.depth}.`),
    el("div", { class: "pair" }, el("label", { for: "new-surface" }, "Where"), picker("new-surface", [["", where]], desk.newSurface, (v) => { desk.newSurface = v; })),
    el("button", { type: "button", "data-key": "hang", disabled: !ready, onclick: hang }, "Add a panel"), wrong(desk, "hang", "hang"));
}

// Neither the cheapest nor the dearest of the builds to plan with: a thin one would be a poor first offer.
function middling(builds) {
  const chosen = builds.filter((b) => b.chosen && b.ways[0] === "hang").sort((a, b) => a.price - b.price);
  return (chosen[Math.floor(chosen.length / 2)] ?? builds.find((b) => b.chosen))?.id;
}

function picker(id, groups, value, set) {
  const option = ([v, words]) => el("option", { value: v, selected: v === value }, words);
  return el("select", { id, "data-key": id, onchange: (event) => set(event.target.value) },
    groups.map(([label, list]) => (label ? el("optgroup", { label }, list.map(option)) : list.map(option))));
}

// --- each one ------------------------------------------------------------------------------------
function hanging(desk, panel, builds) {
  const me = { kind: "panel", id: panel.id };
  const known = desk.result?.panels?.find((p) => p.id === panel.id);
  const walls = desk.result?.walls || [];
  const wall = walls.find((w) => w.name === panel.surface);
  const way = panel.standing ? "stand" : panel.corner ? "corner" : "hang";
  const where = { stand: "stands on the floor", corner: `corner of ${panel.surface} and ${panel.corner}`, hang: wall ? wall.title.toLowerCase() : panel.surface }[way];
  const key = (k) => `panel.${panel.id}.${k}`;
  const ask = (change) => desk.ask({ op: "panel", id: panel.id, change });
  const send = async (k, value) => desk.problem(key(k), await ask({ [k]: value }));
  const off = panel.locked;
  const bad = known && !known.counted;
  if (!same(desk.chosen, me)) {
    return folded(desk, me, key("open"), panel.id, `${panel.build}, ${where}`, [{ words: off && "locked" }, { words: bad && "not counted", bad: true }]);
  }
  const fitting = builds.filter((b) => b.ways.includes(way) || b.id === panel.build).map((b) => [b.id, b.id]);
  const surface = () => {
    if (way === "stand") return null;
    const own = [panel.surface, wall ? wall.title : panel.surface];
    const here = cornerOf(desk, panel);
    const [value, list, change] = way === "corner"
      ? [JSON.stringify(here?.walls), desk.result?.corners.map((c) => [JSON.stringify(c.walls), cornerTitle(c)]) || [], (v) => { const [s, corner] = JSON.parse(v); return ask({ surface: s, corner }); }]
      : [panel.surface, walls.some((w) => w.name === panel.surface) ? walls.filter((w) => w.kind !== "floor").map((w) => [w.name, w.title]) : [own, ...walls.filter((w) => w.kind !== "floor").map((w) => [w.name, w.title])], (v) => ask({ surface: v })];
    return el("div", { class: "pair" }, el("label", { for: `field-${key("surface")}` }, way === "corner" ? "Across" : "On"), locked(off, choice(desk, key("surface"), value, [["", list]], change)));
  };
  const turns = { stand: "Turn by 90°", hang: "Turn" }[way];
  // It bears the key of the folded one, which had the focus.
  return el("div", { class: "thing chosen", role: "group", tabindex: "-1", "data-key": key("open"), "aria-label": `Panel ${panel.id}` },
    el("div", { class: "head" }, el("h3", {}, panel.id), off && el("span", { class: "tag" }, "locked"), bad && el("span", { class: "tag bad" }, "not counted"),
      el("button", { type: "button", class: "small", "data-key": key("lock"), onclick: () => send("locked", !panel.locked) }, off ? "Unlock" : "Lock"),
      turns && el("button", { type: "button", class: "small", "data-key": key("turn"), disabled: off, onclick: () => send("turned", !panel.turned) }, turns),
      el("button", { type: "button", class: "small", "data-key": key("remove"), "aria-label": `Remove panel ${panel.id}`, onclick: () => desk.takeOut(me) }, "Remove")),
    way !== "hang" && el("p", { class: "hint" }, way === "stand" ? "Stands on the floor; the tape goes to its nearest corner." : "Goes across a corner; only its height and its corner can be changed."),
    el("div", { class: "pair" }, el("label", { for: `field-${key("build")}` }, "Build"), locked(off, choice(desk, key("build"), panel.build, [["", fitting]], (v) => ask({ build: v })))),
    surface(),
    (way === "corner" ? ["v"] : ["u", "v"]).map((k) =>
      el("div", { class: "pair" }, el("label", { for: `field-${key(k)}` }, startWords(wall, k)),
        input(desk, key(k), metres(panel[k]), (value) => ask({ [k]: value }), { disabled: off }), wrong(desk, key(k), `field-${key(k)}`))),
    ["lock", "turn", "remove", "locked", "turned", "build", "surface"].map((k) => wrong(desk, key(k), key(k))),
    known?.reasons?.length ? el("ul", { class: "plain" }, known.reasons.map((r) => el("li", {}, r))) : null,
  );
}

function locked(off, node) {
  node.disabled = off;
  return node;
}
