// Furniture and people: listed by number, for a room file gives them no place.
"use strict";
import { el } from "./parts.js";
import { typedAt, wrong } from "./form.js";

const both = ([low, high], unit) => `${low.toFixed(2)} ${unit} at 125 Hz, ${high.toFixed(2)} ${unit} at 1 kHz`;

export function furniture(desk) {
  const { fields } = desk.state;
  const list = fields.objects || [];
  const seats = fields.seats || [];
  const known = desk.result?.stale ? [] : desk.result?.objects || [];
  const people = known.find((o) => o.kind === "people" && o.name === "people in the seats");
  const kinds = desk.catalogue.furniture;
  desk.newFurniture = kinds.includes(desk.newFurniture) ? desk.newFurniture : "sofa";
  const add = async () => desk.problem("furnish", await desk.ask({ op: "furnish", kind: desk.newFurniture }));
  return el("section", { "aria-label": "Furniture and people" }, el("h2", {}, "Furniture and people"),
    el("p", { class: "hint" }, "They absorb too, and damp the whole room alike: a room file gives them no place, so they are not drawn. What is large and solid is an obstacle."),
    list.map((thing, i) => piece(desk, thing, i, known[i])),
    !list.length && el("p", {}, "No furniture is named."),
    el("div", { class: "pair" }, el("label", { for: "new-furniture" }, "Kind"),
      el("select", { id: "new-furniture", "data-key": "new-furniture", onchange: (e) => { desk.newFurniture = e.target.value; } }, kinds.map((k) => el("option", { value: k, selected: k === desk.newFurniture }, k)))),
    el("button", { type: "button", "data-key": "furnish", onclick: add }, "Add furniture"), wrong(desk, "furnish", "furnish"),
    seats.length > 0 && el("fieldset", { class: "taken" }, el("legend", {}, "Someone sits in"),
      seats.map((seat, i) => {
        const key = `seats.${i}.occupied`;
        return el("label", { class: "line" },
          el("input", { type: "checkbox", "data-key": key, checked: seat.occupied === true, onchange: async (e) => desk.problem(key, await desk.ask({ op: "set", path: ["seats", i, "occupied"], value: e.target.checked ? "yes" : "no" })) }),
          String(seat.name ?? i + 1), wrong(desk, key, key));
      }),
      people && el("p", { class: "hint" }, `${people.count} ${people.count === 1 ? "person absorbs" : "people absorb"} ${both(people.area, "m²")}.`)));
}

function piece(desk, thing, i, known) {
  const key = (k) => `objects.${i}.${k}`;
  const name = String(thing.name ?? i + 1);
  return el("div", { class: "thing", role: "group", "aria-label": `furniture ${name}` },
    el("div", { class: "head" }, typedAt(desk, ["objects", i, "name"], thing.name, { "aria-label": `Name of furniture ${i + 1}` }),
      el("button", { type: "button", class: "small", "data-key": key("remove"), "aria-label": `Remove ${name}`, onclick: async () => desk.problem(key("remove"), await desk.ask({ op: "remove", section: "objects", index: i })) }, "Remove")),
    el("div", { class: "pair" }, el("label", { for: `field-${key("count")}` }, "How many"), typedAt(desk, ["objects", i, "count"], thing.count ?? 1, { inputmode: "numeric" })),
    ["name", "count", "remove"].map((k) => wrong(desk, key(k), `field-${key(k)}`)),
    known && el("p", { class: "hint" }, `Absorbs ${both(known.area, "m²")} (± ${known.doubt[1].toFixed(2)})${known.count > 1 ? ", all together" : ""}.`));
}
