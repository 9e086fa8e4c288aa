// What a run says of one instrument, up to the verdict and what it covers.

import {factList, make, table} from "./dom.js";
import {decimalsBeside, isNumber, plain, rounded, signed} from "./numbers.js";

/// The decimals go by the smallest of all that decides.
function decimalsOf(evaluation) {
  let least = Infinity;
  const take = (value) => {
    if (isNumber(value) && value > 0) least = Math.min(least, value);
  };
  for (const point of evaluation.points)
    for (const one of [point, point.up, point.down]) {
      take(one?.expanded_uncertainty);
      take(one?.acceptance_limit);
      take(one?.permissible_error);
    }
  return decimalsBeside(Number.isFinite(least) ? least : (evaluation.largest?.deviation ?? 0) / 10, 0);
}

function pointTable(evaluation, decimals) {
  const {unit} = evaluation;
  const columns = [
    {name: `Reference, ${unit}`, numeric: true}, {name: "Rising", numeric: true}, {name: "Falling", numeric: true},
    {name: "Mean deviation", numeric: true}, {name: "Hysteresis", numeric: true},
    {name: "Repeatability", numeric: true}, {name: "U", numeric: true}, {name: "Permissible", numeric: true}, "Verdict"
  ];
  const deviation = (one) =>
    (one ? `${signed(one.deviation, decimals)}${one.verdict ? ` (${one.verdict})` : ""}` : "\u2013");
  return table(`Points of ${evaluation.channel}, in ${unit}`, columns, evaluation.points.map((point) => ({
    cells: [
      point.zero ? "zero" : point.target ?? plain(point.reference), deviation(point.up), deviation(point.down),
      signed(point.mean_deviation, decimals), rounded(point.hysteresis, decimals),
      rounded(point.repeatability, decimals),
      rounded(largest(point, "expanded_uncertainty"), decimals) + (point.at_capability ? " *" : ""),
      isNumber(point.permissible_error) ? `\u00b1${rounded(point.permissible_error, decimals)}` : "\u2013",
      point.verdict ?? "not said"
    ]
  })));
}

/// Verdicts count on each direction; the table shows the larger U of both.
function largest(point, key) {
  const found = [point.up?.[key], point.down?.[key], point[key]].filter(isNumber);
  return found.length > 0 ? Math.max(...found) : null;
}

function summary(evaluation, decimals) {
  const {unit, largest: most} = evaluation;
  const facts =
    [
      ["Largest deviation", rounded(most?.deviation, decimals)],
      ["Largest hysteresis", rounded(most?.hysteresis, decimals)],
      ["Largest repeatability", rounded(most?.repeatability, decimals)],
      ["Zero deviation", signed(evaluation.zero_deviation, decimals)],
      ["Shift by tapping", rounded(most?.tapping_shift, decimals)],
      ["Largest error span", rounded(most?.error_span, decimals)]
    ].filter(([, value]) => value !== "\u2013")
      .map(([name, value]) => [name, `${value} ${unit}`]);
  if (evaluation.line?.slope)
    facts.push([
      "Line through the readings",
      `slope ${plain(evaluation.line.slope, 8)}, intercept ${signed(evaluation.line.intercept, decimals)} ${unit}`
    ]);
  if (evaluation.permissible_error) facts.push(["Permissible error", evaluation.permissible_error]);
  if (evaluation.decision_rule)
    facts.push(["Decision rule", evaluation.decision_rule.words ?? evaluation.decision_rule.rule]);
  return factList(facts);
}

function list(title, texts) {
  return texts.length > 0 &&
    make("div", {}, make("h4", {text: title}), make("ul", {}, texts.map((text) => make("li", {text}))));
}

export function evaluationSection(evaluation) {
  const decimals = decimalsOf(evaluation);
  const {unit} = evaluation;
  const overlaps =
    (evaluation.overlaps ?? [])
      .map((one) => `${one.target}, ${one.direction}: low ${signed(one.deviation_low, decimals)}, high ${
                      signed(one.deviation_high, decimals)} ${unit}; ` +
          (isNumber(one.en) ? `E_n ${plain(one.en, 2)}, ${one.agrees ? "both ranges agree" : "the ranges do not agree"}`
                            : "E_n cannot be said"));
  return make("section", {class: "evaluation"}, make("h3", {text: evaluation.channel}),
    make("p", {class: "verdict"}, make("b", {text: evaluation.verdict ?? "No verdict"}),
      evaluation.verdict_covers && ` \u2013 ${evaluation.verdict_covers}`),
    evaluation.points.length > 0 && pointTable(evaluation, decimals), summary(evaluation, decimals),
    list("Both ranges at the overlap point", overlaps),
    list("Rules looked at",
      (evaluation.findings ?? []).map((one) => `${one.met ? "met" : "not met"}: ${one.rule}. ${one.found}`)),
    list("What could not be said", (evaluation.unsaid ?? []).map((one) => `${one.what}: ${one.why}`)));
}
