// A press that the instruments deny: what they say over the full width, then look again, or go on with a reason.

import {openDialog, REASON, textForm} from "./dialogs.js";
import {button, buttons, make, table} from "./dom.js";
import {isNumber, signed, withMinus} from "./numbers.js";

/// How many decimals show a difference in three digits, within what a pressure needs.
function decimalsOf(difference) {
  return difference ? Math.min(Math.max(2 - Math.floor(Math.log10(Math.abs(difference))), 0), 6) : 2;
}

function row({channel, shows, shows_pa, expected, expected_pa, far}, {units, unitOf}) {
  const {unit, pascals} = units.of(unitOf(channel));
  const apart = isNumber(shows_pa) && isNumber(expected_pa) ? (shows_pa - expected_pa) / pascals : null;
  return {
    cells: [
      channel, withMinus(shows), withMinus(expected),
      apart === null ? "\u2013" : `${signed(apart, decimalsOf(apart))} ${unit}`, far
    ]
  };
}

/// `refusal`: the service's, with `contradicted`. `said`: what the press states. `goOn(reason)` and `lookAgain()`: what
/// the person chose; closing is looking again.
export function openContradiction(refusal, {said, units, unitOf}, {goOn, lookAgain}) {
  let reason = null;
  const columns = [
    "Instrument", {name: "Shows", numeric: true}, {name: "Expected", numeric: true}, {name: "Apart", numeric: true},
    {name: "Far is more than", numeric: true}
  ];
  const form = textForm([REASON], "Go on with this reason", (texts) => {
    ({reason} = texts);
    dialog.close();
  }, {typed: false});
  const dialog = openDialog("The instruments contradict this press",
    [
      make("p", {class: "contradicted", text: refusal.message}),
      make("p", {}, "Your press states: ", make("b", {text: said}), ". Nothing is recorded of it yet."),
      table("What the instruments say", columns, refusal.contradicted.map((one) => row(one, {units, unitOf}))),
      buttons(button("Look again", () => dialog.close(), {class: "first"})), form
    ],
    {wide: true, ownClose: true, onClose: () => (reason === null ? lookAgain() : goOn(reason))});
}
