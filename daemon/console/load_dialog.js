// Another load or range than the planned one: what is so is what counts, not what was planned.

import {openDialog} from "./dialogs.js";
import {button, buttons, labelled, make} from "./dom.js";
import {plain} from "./numbers.js";

/// `press(event, press)`: the bar's, with its rules and its words.
export function openLoadDialog(page, press) {
  const {frame, bench} = page;
  const stated = frame.load?.discs ?? frame.step?.discs ?? [];
  const range = make("select", {}, bench.ranges.map((one) => make("option", {
    value: one.name,
    text: `${one.name} range`,
    selected: one.name === (frame.step?.range ?? frame.load?.range),
  })));
  const boxes = [...bench.discs.values()].map(
    (disc) => make("input", {type: "checkbox", value: disc.name, checked: stated.includes(disc.name)}));
  const load = () => {
    const discs = boxes.filter((box) => box.checked).map((box) => box.value);
    return {what: "load", said: `on the head: ${discs.join(", ") || "no discs"}`, body: {range: range.value, discs}};
  };
  const state = (event, request) => {
    dialog.close();
    press(event, {requests: [request]});
  };
  const float = () => ({what: "confirm", said: `it floats, ${range.value} range`, body: {range: range.value}});
  const dialog = openDialog("What is on the head, and in which range",
    [
      labelled("Range that the valves are set for", range),
      make("fieldset", {class: "disc-choice"}, make("legend", {text: "Discs on the head"}), boxes.map((box) => {
        const disc = bench.discs.get(box.value);
        return make("label", {class: "choice"}, box,
          make("span", {text: `${disc.name}, ${plain(disc.mass_kg)} kg${disc.two_hands ? ", two hands" : ""}`}));
      })),
      buttons(button("This is on the head", (event) => state(event, load())),
        button("It floats in this range", (event) => state(event, float()))),
    ],
    {focusAfter: document.getElementById("big")});
}
