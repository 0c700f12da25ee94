// The page's heart: talks to the planner, holds what it said, and lets the parts paint it.
"use strict";
import { el, measureIn, refill, same } from "./parts.js";
import { paintForm, TABS } from "./form.js";
import { isBuilt, surfaceOf } from "./fixed.js";
import { PlanView } from "./plan.js";
import { WallView } from "./wall.js";
import { SolidView } from "./solid.js";
import { paintResults } from "./results.js";

const at = (id) => document.getElementById(id);
const VIEWS = [["plan", "From above"], ["wall", "One surface"], ["solid", "In the round"]];

const desk = {
  state: null, // the draft, as written
  result: null, // what it comes to
  catalogue: null,
  task: { running: false, words: "" },
  chosen: null, // {kind, index} or {kind: "panel", id}
  tab: "room",
  view: "plan",
  wall: null,
  problems: {}, // refused entries by key
  busy: false, // a drag is going on
  drawn: null, // revision whose result the drawing shows
  ask,
  choose,
  open,
  paint,
  problem,
  takeOut,
  tellRefusal,
};

// --- talking -------------------------------------------------------------------------------------
const STORE = "treatment-planner";
if (location.hash.length > 1) {
  localStorage.setItem(STORE, location.hash.slice(1));
  history.replaceState(null, "", "/");
}
const secret = localStorage.getItem(STORE) || "";
let line = null;
let number = 0;
const waiting = new Map();

function connect() {
  line = new WebSocket(`ws://${location.host}/talk`, ["treatment-planner", secret]);
  let heard = false;
  line.addEventListener("message", (event) => {
    heard = true;
    hear(JSON.parse(event.data));
  });
  line.addEventListener("open", () => banner(null));
  line.addEventListener("close", () => {
    for (const answer of waiting.values()) answer({ refused: true, message: "the planner does not answer", hint: "" });
    waiting.clear();
    at("kept").textContent = "not connected";
    banner(
      heard || desk.state
        ? "The planner has stopped. Nothing is lost: start it again with the same command, and use the address that it prints."
        : "This page cannot reach its planner. Use the address that the planner printed last.",
    );
    setTimeout(connect, 1500);
  });
}

// Asks for something; the answer is {words} or {refused, message, hint}.
function ask(request) {
  return new Promise((resolve) => {
    if (!line || line.readyState !== WebSocket.OPEN) {
      resolve({ refused: true, message: "the planner does not answer", hint: "" });
      return;
    }
    number += 1;
    waiting.set(number, resolve);
    line.send(JSON.stringify({ ...request, re: number }));
    tellBusy();
  });
}

function hear(message) {
  if (message.type === "done" || message.type === "refused") {
    const answer = waiting.get(message.re);
    waiting.delete(message.re);
    if (answer) answer(message.type === "refused" ? { refused: true, ...message } : message);
    tellBusy();
    return;
  }
  if (message.type === "catalogue") desk.catalogue = message;
  if (message.type === "state") hearState(message);
  if (message.type === "task") hearTask(message);
  if (message.type === "traced" && desk.result?.revision === message.revision) desk.result.traced = message.traced;
  if (message.type === "solid" && desk.result) {
    const news = JSON.stringify(message.blocked) !== JSON.stringify(desk.result.blocked);
    Object.assign(desk.result, { solid: message.solid, blocked: message.blocked });
    if (news) paintSoon("blocked");
  }
  if (message.type === "result") {
    // A room that never was without errors has no drawing yet.
    desk.result = { ...(desk.result || {}), ...message };
    if (message.revision === desk.state?.revision) tellResult();
  }
  paintSoon(message.type);
}

// --- telling those who listen ----------------------------------------------------------------------
// One place that stays: a reader speaks what is written there. What comes in quick succession is told once.
let telling = null;
function tell(words) {
  clearTimeout(telling);
  telling = setTimeout(() => { at("said").textContent = words; }, 700);
}

function tellResult() {
  const { numbers: n, stale, findings } = desk.result;
  const wrong = (findings || []).filter((f) => f.severity === "error");
  if (stale || !n) return tell(`The room has ${wrong.length === 1 ? "an error" : `${wrong.length} errors`}: ${wrong[0]?.message ?? ""}`);
  const hung = desk.state.panels.length > 0;
  const [a, b] = n.middle[hung ? 1 : 0];
  const time = a === b ? a.toFixed(2) : `${a.toFixed(2)} to ${b.toFixed(2)}`;
  return tell(`Worked out: dies away in ${time} seconds at 1 kHz; ${n.strong[hung ? 1 : 0]} early strong bounces; cost ${n.cost.toFixed(2)} ${n.currency}.${wrong.length ? ` ${wrong.length} errors.` : ""}`);
}

function hearTask(task) {
  // How far it is may be looked up; spoken are start and end.
  if (task.running !== desk.task.running && task.words) tell(task.words);
  desk.task = task;
}

function hearState(state) {
  const first = desk.state === null;
  desk.state = state;
  measureIn(state.fields.units || "m");
  if (first && state.resumed) banner("Taken up again where it was left.", "Fine", () => banner(null));
  if (state.source_changed) {
    banner(
      `${state.source} has changed since this work began. The page shows your work.`,
      "Start again from the file",
      async () => {
        await ask({ op: "restart" });
        banner(null);
      },
    );
  }
}

function banner(words, button, act) {
  const place = at("banner");
  place.hidden = !words;
  place.replaceChildren(...(words ? [words] : []));
  if (words && button) place.append(el("button", { type: "button", onclick: act }, button));
}

// --- choosing and opening ------------------------------------------------------------------------
function choose(thing, { tab = false, quiet = false } = {}) {
  if (thing && thing.kind === "panel") {
    const panel = desk.state.panels.find((p) => p.id === thing.id);
    if (panel && !panel.standing && panel.surface !== desk.wall && panel.corner !== desk.wall) desk.wall = panel.surface;
  }
  showWallOf(thing);
  const other = !same(desk.chosen, thing);
  desk.chosen = thing;
  if (tab && thing) desk.tab = thing.kind === "panel" ? "panels" : isBuilt(thing.kind) ? "built" : "places";
  if (other || tab) paint(quiet ? "looked" : "chosen"); // "looked": all but the form
}

// What is built into a wall is shown on it; the floor has no view of its own.
function showWallOf(thing) {
  const surface = thing && isBuilt(thing.kind) ? surfaceOf(desk, thing) : null;
  if (surface && desk.result?.walls?.some((w) => w.name === surface && w.kind !== "floor")) desk.wall = surface;
}

// Takes a thing away, whatever it is; undo brings it back.
async function takeOut(thing) {
  const panel = thing.kind === "panel";
  const answer = await ask(panel ? { op: "unhang", id: thing.id } : { op: "remove", section: thing.kind, index: thing.index });
  if (!answer.refused && !panel) {
    desk.chosen = null; // the one behind it now bears its number
    paint("chosen");
  }
  tellRefusal(answer);
}

// What is asked for on a drawing has no field beside which a refusal could stand. That the planner is gone is told already.
function tellRefusal(answer) {
  if (answer?.refused && line.readyState === WebSocket.OPEN) banner([answer.message, answer.hint].filter(Boolean).join(": "), "Fine", () => banner(null));
}

// Opens the tab of a field and goes there.
function open(tab, key) {
  desk.tab = tab;
  // What is built in is folded until it is chosen.
  if (tab === "built") {
    desk.chosen = { kind: key.split(".")[0], index: Number(key.split(".")[1]) || 0 };
    showWallOf(desk.chosen);
  }
  paint("chosen");
  const field = at("form").querySelector(`[data-key="${CSS.escape(key)}"], [data-key^="${CSS.escape(key)}."]`);
  (field || at("form")).focus();
}

function problem(key, answer) {
  if (answer.refused) desk.problems[key] = answer;
  else delete desk.problems[key];
  paint(key === "rays" ? "traced" : "problem");
}

// --- painting ------------------------------------------------------------------------------------
const views = { plan: new PlanView(desk), wall: new WallView(desk), solid: new SolidView(desk) };

// What each piece of news changes; whatever is not listed changes everything.
const PARTS = {
  state: ["form", "drawing"],
  solid: ["drawing"],
  blocked: ["results"],
  task: ["form", "results"],
  traced: ["results"],
  problem: ["form"],
  looked: ["drawing", "results"],
};
const ALL = ["form", "drawing", "results"];

// Whether what is shown is still to change: something is asked, or has come and is not painted, or is being worked out.
function tellBusy() {
  const behind = !desk.result || desk.result.revision !== desk.state?.revision;
  at("results").setAttribute("aria-busy", String(behind || due !== null || waiting.size > 0));
}

// Messages that are waiting already are painted together. A frame is not waited for: a hidden page has none, and where
// frames are slow they would be what a person waits for.
let due = null;
function paintSoon(why) {
  if (due) return due.push(why);
  due = [why];
  return setTimeout(() => {
    const news = due;
    due = null;
    paint(...news);
  });
}

function paint(...news) {
  if (!desk.state || !desk.catalogue) return;
  const { state, result } = desk;
  const title = state.fields.title || "Room planner";
  at("title").textContent = title;
  document.title = `${title}: planner`;
  const behind = !result || result.revision !== state.revision;
  at("kept").textContent = behind ? "every step is kept; working it out…" : `every step is kept; worked out in ${result.seconds ?? "?"} s`;
  for (const [id, label] of [["undo", state.undo], ["redo", state.redo]]) {
    at(id).disabled = !label;
    at(id).title = label ? `${id === "undo" ? "Undo" : "Redo"}: ${label}` : "";
  }
  const parts = new Set(news.flatMap((why) => PARTS[why] || ALL));
  // First, while the page is still laid out: the drawing asks how large its place is.
  if (parts.has("drawing") && !desk.busy) {
    views[desk.view].paint(at("drawing"), at("options"), at("caption"));
    desk.drawn = result?.revision ?? null;
  }
  if (parts.has("form") && !(desk.busy && news.every((why) => why === "result"))) {
    paintTabs();
    paintForm(desk, at("form"));
  }
  at("results").classList.toggle("waiting", behind);
  if (parts.has("results") || !result) paintResults(desk, at("results"));
  tellBusy();
}

function paintTabs() {
  refill(
    at("tabs"),
    TABS.map(([id, words]) =>
      el(
        "button",
        {
          type: "button",
          role: "tab",
          id: `tab-${id}`,
          "data-key": `tab-${id}`,
          "aria-selected": String(desk.tab === id),
          "aria-controls": "form",
          tabindex: desk.tab === id ? "0" : "-1",
          onclick: () => {
            desk.tab = id;
            paint("chosen");
          },
        },
        words,
      ),
    ),
  );
  at("form").setAttribute("aria-labelledby", `tab-${desk.tab}`);
}

at("tabs").addEventListener("keydown", (event) => {
  const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (!step) return;
  event.preventDefault();
  const now = TABS.findIndex(([id]) => `tab-${id}` === event.target.id);
  desk.tab = TABS[(now + step + TABS.length) % TABS.length][0];
  paint("chosen");
  at(`tab-${desk.tab}`).focus();
});

at("views").append(
  ...VIEWS.map(([id, words]) =>
    el(
      "label",
      {},
      el("input", { type: "radio", name: "view", value: id, checked: id === desk.view }),
      words,
    ),
  ),
);
at("views").addEventListener("change", (event) => {
  views[desk.view].leave?.();
  desk.view = event.target.value;
  at("drawing").replaceChildren();
  at("options").replaceChildren();
  paint("view");
});

// --- buttons of the head -------------------------------------------------------------------------
function walk(op) {
  desk.problems = {}; // what was refused before is not about the state that comes back
  ask({ op });
}
at("undo").addEventListener("click", () => walk("undo"));
at("redo").addEventListener("click", () => walk("redo"));
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  const typing = event.target.matches?.("input[type=text]") && event.target.value !== event.target.dataset.was;
  if (typing) return; // the browser takes back what is being typed
  const key = event.key.toLowerCase();
  if (key === "z" || key === "y") {
    event.preventDefault();
    walk(key === "y" || event.shiftKey ? "redo" : "undo");
  }
});

const dialog = at("saving");
const dialogForm = at("saving-form");
at("save").addEventListener("click", () => {
  at("saving-answer").textContent = "";
  dialogForm.elements.replace.checked = false;
  dialog.showModal();
  at("saving-name").focus();
});
at("saving-stop").addEventListener("click", () => dialog.close());
dialogForm.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = dialogForm.querySelector("button.main");
  button.disabled = true;
  at("saving-answer").textContent = "";
  const answer = await ask({
    op: dialogForm.elements.what.value,
    name: at("saving-name").value,
    replace: dialogForm.elements.replace.checked,
  });
  button.disabled = false;
  if (answer.refused) at("saving-answer").textContent = `${answer.message}. ${answer.hint}`;
  else {
    dialog.close();
    banner(answer.words, "Fine", () => banner(null));
  }
});

at("report").addEventListener("click", async () => {
  at("report").disabled = true;
  try {
    const response = await fetch("/report", { headers: { Authorization: `Bearer ${secret}` } });
    if (!response.ok) {
      banner(await response.text(), "Fine", () => banner(null));
      return;
    }
    const url = URL.createObjectURL(await response.blob());
    el("a", { href: url, download: "report.html" }).click();
    setTimeout(() => URL.revokeObjectURL(url), 10000);
  } finally {
    at("report").disabled = false;
  }
});

// Canvases do not follow a style sheet by themselves.
document.addEventListener("themechange", () => paint("view"));
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => paint("view"));

connect();
