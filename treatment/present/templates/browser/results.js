// What the room does, before and after, and everything that was found.
"use strict";
import { el, svg, refill, taskBox } from "./parts.js";

const WORDS = { error: "Wrong", warning: "Look", note: "Note" };

export function paintResults(desk, place) {
  const { result } = desk;
  if (!result) return refill(place, el("p", { class: "hint" }, "Working it out…"));
  const found = findings(desk, result.findings || []);
  const does = result.numbers && numbers(desk, result);
  // What must be mended comes first.
  const wrong = (result.findings || []).some((f) => f.severity === "error");
  return refill(place, wrong ? [found, result.stale && stale(), does] : [does, found], result.numbers && doubts(result.numbers, result.blocked || []));
}

const stale = () => el("p", { class: "task", role: "status" }, "The room has errors. Drawing and numbers are those from before them.");

function numbers(desk, result) {
  const n = result.numbers;
  const money = (x) => `${x.toFixed(2)} ${n.currency}`.trim();
  const span = ([a, b]) => (a === b ? a.toFixed(2) : `${a.toFixed(2)}–${b.toFixed(2)}`);
  const hung = desk.state.panels.length > 0;
  const fact = (name, value, more) => el("div", { class: "fact" }, el("dt", {}, name), el("dd", {}, value, more && el("small", {}, more)));
  return el("div", { class: "numbers" },
    el("h2", {}, "What it does"),
    el("p", { class: "answer" }, hung ? n.answer[0] : "The room as it is: no panel is up yet."),
    // Whether that is enough stands beside what it costs.
    hung && n.answer.slice(1, 1 + n.advice).map((sentence) => el("p", { class: "verdict" }, sentence)),
    el("dl", { class: "facts", id: "facts" },
      fact("Dies away at 1 kHz", `${span(n.middle[hung ? 1 : 0])} s`, hung ? `as it is ${span(n.middle[0])} s` : `what ${n.holds} leave open`),
      fact("Early strong bounces", `${n.strong[hung ? 1 : 0]}`, `${hung ? `as it is ${n.strong[0]}; ` : ""}single, within ${desk.catalogue.criterion.ms} ms, above −${Math.abs(desk.catalogue.criterion.db)} dB`),
      fact("Cost", money(n.cost), n.budget === null ? "no budget set" : `of ${money(n.budget)}`),
      fact("Room", n.volume, `${n.surface} of surface`),
    ),
    el("section", { "aria-label": "Reverberation" }, el("h2", {}, "Reverberation by octave"), chart(desk, n, hung), key(desk, hung), table(desk, n, hung), rays(desk, hung)),
    hung && n.answer.slice(1 + n.advice).map((sentence) => el("p", { class: "hint" }, sentence)),
  );
}

// --- chart ---------------------------------------------------------------------------------------
const W = 340, H = 210, LEFT = 34, RIGHT = 8, TOP = 10, LOW = 26;

function chart(desk, n, hung) {
  const bands = desk.catalogue.bands;
  const traced = desk.result.traced || [];
  const ends = traced.flatMap((t) => t.t30.map((s, i) => (s === null ? 0 : s + (t.error[i] || 0))));
  const top = 1.12 * Math.max(...n.before.high, ...n.target.upper.filter((x) => x !== null), ...ends);
  const x = (i) => LEFT + 14 + (i * (W - LEFT - RIGHT - 28)) / (bands.length - 1);
  const y = (s) => TOP + (1 - s / top) * (H - TOP - LOW);
  const step = top > 1.6 ? 0.5 : top > 0.7 ? 0.2 : 0.1;
  const lines = [];
  for (let s = 0; s <= top; s += step) {
    lines.push(svg("line", { class: "grid", x1: LEFT, x2: W - RIGHT, y1: y(s), y2: y(s) }), svg("text", { class: "quiet", x: LEFT - 5, y: y(s) + 4, "text-anchor": "end" }, s.toFixed(1)));
  }
  const area = (low, high, name) => {
    const known = low.map((_, i) => i).filter((i) => low[i] !== null && high[i] !== null);
    const ring = [...known.map((i) => [x(i), y(high[i])]), ...known.reverse().map((i) => [x(i), y(low[i])])];
    return svg("polygon", { class: name, points: ring.map((p) => p.join(",")).join(" ") });
  };
  const trace = (times, name) => svg("polyline", { class: name, points: times.map((t, i) => `${x(i)},${y(t)}`).join(" ") });
  const marks = (times, name, square) => times.map((t, i) => (square ? svg("rect", { class: name, x: x(i) - 3, y: y(t) - 3, width: 6, height: 6 }) : svg("circle", { class: name, cx: x(i), cy: y(t), r: 3.2 })));
  // Rays beside the line, so that neither hides the other: a diamond, and a bar of one standard error each way.
  const diamonds = (t, name, shift) => t.t30.map((s, i) => {
    if (s === null) return null;
    const [cx, cy, e] = [x(i) + shift, y(s), t.error[i] || 0];
    return svg("g", { class: name },
      svg("path", { class: "bar", d: `M${cx} ${y(s + e)}V${y(Math.max(s - e, 0))}M${cx - 3} ${y(s + e)}h6M${cx - 3} ${y(Math.max(s - e, 0))}h6` }),
      svg("path", { class: "diamond", d: `M${cx} ${cy - 4.5}l4 4.5l-4 4.5l-4 -4.5z` }));
  });
  const edge = Math.min(Math.max(x(Math.log2(n.schroeder / 62.5)), LEFT), W - RIGHT);
  const was = n.before.formulas.eyring, is = n.after.formulas.eyring;
  const words = bands.map((b, i) => `${b}: ${was[i].toFixed(2)} s${hung ? `, with panels ${is[i].toFixed(2)} s` : ""}`).join("; ") + (traced.length ? ". Traced rays: see the table." : "");
  return svg("svg", { class: "chart marks", viewBox: `0 0 ${W} ${H}`, role: "img", "aria-label": `Reverberation time by octave, Eyring's formula. ${words}` },
    svg("rect", { class: "unsure", x: LEFT, y: TOP, width: Math.max(edge - LEFT, 0), height: H - TOP - LOW }),
    lines, area(n.target.lower, n.target.upper, "aim"),
    area(n.before.low, n.before.high, "span was-span"), hung && area(n.after.low, n.after.high, "span is-span"),
    trace(was, "was"), marks(was, "mark-was", false), hung && [trace(is, "is"), marks(is, "mark-is", true)],
    traced[0] && diamonds(traced[0], "ray-was", hung ? -6 : 6), hung && traced[1] && diamonds(traced[1], "ray-is", 6),
    bands.map((b, i) => svg("text", { class: "quiet", x: x(i), y: H - 9, "text-anchor": "middle" }, b.replace(/ ?k?Hz$/, (u) => (u.includes("k") ? "k" : "")))),
    svg("text", { class: "quiet", x: LEFT + 4, y: TOP + 12 }, "s"),
  );
}

function key(desk, hung) {
  const sample = (...shapes) => svg("svg", { class: "marks", viewBox: "0 0 34 16", "aria-hidden": "true" }, shapes);
  const item = (shape, words) => el("li", {}, shape, words);
  return el("ul", { class: "key" },
    item(sample(svg("line", { class: "was", x1: 0, x2: 34, y1: 8, y2: 8 }), svg("circle", { class: "mark-was", cx: 17, cy: 8, r: 3.2 })), "as it is (Eyring)"),
    hung && item(sample(svg("line", { class: "is", x1: 0, x2: 34, y1: 8, y2: 8 }), svg("rect", { class: "mark-is", x: 14, y: 5, width: 6, height: 6 })), "with panels (Eyring)"),
    item(sample(svg("rect", { class: "aim", x: 1, y: 2, width: 32, height: 12 })), "published range"),
    item(sample(svg("rect", { class: "unsure", x: 1, y: 2, width: 32, height: 12 })), "indicative: single modes decide"),
    desk.result.traced && item(sample(svg("g", { class: hung ? "ray-is" : "ray-was" }, svg("path", { class: "bar", d: "M17 1V15M14 1h6M14 15h6" }), svg("path", { class: "diamond", d: "M17 3.5l4 4.5l-4 4.5l-4 -4.5z" }))), "traced rays (T30), mean of all places, bar: standard error"),
    el("li", {}, "Tints: what the formulas alone span; the materials leave more open."),
  );
}

function table(desk, n, hung) {
  const row = (name, values) => el("tr", {}, el("th", { scope: "row" }, name), values.map((v) => el("td", {}, v === null ? "–" : typeof v === "string" ? v : v.toFixed(2))));
  const rows = [row("as it is", n.before.formulas.eyring), row("Sabine", n.before.formulas.sabine)];
  if (hung) rows.push(row("with panels", n.after.formulas.eyring), row("Sabine", n.after.formulas.sabine));
  const traced = desk.result.traced || [];
  const told = (t) => t.t30.map((s, i) => (s === null ? "–" : `${s.toFixed(2)} ± ${(t.error[i] || 0).toFixed(2)}`));
  if (traced[0]) rows.push(row("rays, as it is", told(traced[0])));
  if (hung && traced[1]) rows.push(row("rays, with panels", told(traced[1])));
  rows.push(row("range from", n.target.lower), row("to", n.target.upper));
  return el("details", {}, el("summary", {}, "As a table, in seconds"),
    el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Reverberation times" }, el("table", { id: "times" }, el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "Eyring"), desk.catalogue.bands.map((b) => el("th", { scope: "col" }, b.replace(" Hz", "").replace(" kHz", "k"))))), el("tbody", {}, rows))));
}

// Rays are a check that takes its time: the person asks for it, and may stop it.
function rays(desk, hung) {
  const { task, result } = desk;
  const mine = task.kind === "rays";
  const most = desk.rays || 20000;
  const notes = (result.traced || []).flatMap((t, k) => t.findings.map((f) => `${result.traced.length > 1 ? (k ? "With panels: " : "As it is: ") : ""}${f.message}.`));
  return el("div", { class: "rays", id: "rays" },
    el("h3", {}, "Check by rays"),
    el("p", { class: "hint" }, result.traced ? "The diamonds hold until the next change; undo brings them back." : `Follows sound through the room${hung ? ", without and with the panels" : ""}. It stops by itself when the times are sure to 3 %.`),
    task.running && mine ? taskBox(desk, "Tracing goes on")
      : el("div", { class: "row" },
        el("label", { for: "ray-count" }, "At most"),
        el("select", { id: "ray-count", "data-key": "ray-count", onchange: (e) => { desk.rays = Number(e.target.value); } }, [[5000, "5 000 rays"], [20000, "20 000 rays"], [100000, "100 000 rays"]].map(([v, words]) => el("option", { value: String(v), selected: v === most }, words))),
        el("button", { type: "button", "data-key": "rays", disabled: task.running || result.stale, onclick: async () => desk.problem("rays", await desk.ask({ op: "rays", rays: desk.rays || 20000 })) }, "Trace rays")),
    mine && !task.running && task.words && el("p", { class: "hint" }, task.words),
    desk.problems.rays && el("p", { class: "wrong", role: "alert" }, `${desk.problems.rays.message}: ${desk.problems.rays.hint}`),
    notes.length > 0 && el("ul", { class: "plain" }, notes.map((words) => el("li", {}, words))));
}

// --- findings ------------------------------------------------------------------------------------
function findings(desk, list) {
  const count = (s) => list.filter((f) => f.severity === s).length;
  const words = [["error", "error"], ["warning", "warning"], ["note", "note"]].filter(([s]) => count(s)).map(([s, w]) => `${count(s)} ${w}${count(s) === 1 ? "" : "s"}`);
  const first = list.filter((f) => f.severity !== "note");
  const notes = list.filter((f) => f.severity === "note");
  return el("section", { id: "findings", "aria-label": "Findings" }, el("h2", {}, "Findings"), el("p", { class: "hint", role: "status" }, words.length ? `${words.join(", ")}.` : "Nothing to tell."),
    el("ul", { class: "findings" }, first.map((f) => finding(desk, f))),
    notes.length > 0 && el("details", { open: notes.length < 4 }, el("summary", {}, "Notes"), el("ul", { class: "findings" }, notes.map((f) => finding(desk, f)))));
}

function finding(desk, f) {
  const target = place(desk, f.where);
  return el("li", { class: f.severity, "data-code": f.code },
    el("b", { class: f.severity }, `${WORDS[f.severity]}: `), whose(desk, f), f.message, f.hint && el("p", { class: "hint" }, `${f.hint[0].toUpperCase()}${f.hint.slice(1)}.`),
    target && el("button", { type: "button", class: "small", "data-key": `go-${f.code}-${f.where}`, onclick: target }, "Go there"));
}

// A sentence about "it" says which panel it is about.
function whose(desk, f) {
  const ids = f.where.split(", ").filter((id) => desk.state.panels.some((p) => p.id === id));
  return ids.length && !ids.some((id) => f.message.startsWith(`${id} `)) ? el("b", {}, `${ids.join(" and ")}: `) : null;
}

// Where a finding can be mended: seats[0].position is a field of the tab Places.
function place(desk, where) {
  const last = where.split(", ").at(-1);
  if (desk.state.panels.some((p) => p.id === last)) where = last;
  if (desk.state.panels.some((p) => p.id === where)) return () => desk.choose({ kind: "panel", id: where }, { tab: true });
  const key = where.replace(/\[(\d+)\]/g, ".$1");
  const top = key.split(".")[0];
  const tab = { room: "room", objects: "room", title: "room", surfaces: "surfaces", openings: "built", keep_outs: "built", obstacles: "built", screen: "built", seats: "places", loudspeakers: "places", subwoofers: "places", budget: "aim", target: "aim", panels: "panels" }[top];
  return tab && key.includes(".") | (top === "room" || top === "budget" || top === "screen") ? () => desk.open(tab, key) : null;
}

function doubts(n, blocked) {
  return el("section", {},
    blocked.length > 0 && el("details", {}, el("summary", {}, `What no panel can meet (${blocked.length})`), el("ul", { class: "plain" }, blocked.map((b) => el("li", {}, b)))),
    n.cautions.length > 0 && el("details", {}, el("summary", {}, "Before you drill"), el("ul", { class: "plain" }, n.cautions.map((c) => el("li", {}, c)))));
}
