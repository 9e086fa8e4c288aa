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
    for (const one of [point.up, point.down, point.mean]) {
      take(one?.expanded_uncertainty);
      take(one?.acceptance_limit);
      take(one?.permissible_error);
    }
  return decimalsBeside(Number.isFinite(least) ? least : (evaluation.largest?.deviation ?? 0) / 10, 0);
}

const pointName = (point) => (point.zero ? "zero" : point.target ?? plain(point.reference));

/// In per cent; rounding may not make certainty of what is none.
function perCent(probability) {
  if (!isNumber(probability)) return "\u2013";
  if (probability < 1e-4) return probability > 0 ? "<0.01 %" : "0 %";
  return `${rounded(probability * 100, 2)} %`;
}

const limit = (value, decimals) => (isNumber(value) ? `\u00b1${rounded(value, decimals)}` : "\u2013");

/// What each verdict rests on: a row a point and direction.
function basisTable(evaluation, decimals) {
  const {unit} = evaluation;
  const columns = [
    "Point", "Direction", {name: `Deviation, ${unit}`, numeric: true}, {name: "U", numeric: true},
    {name: "k", numeric: true}, {name: "Degrees of freedom", numeric: true}, {name: "Permissible", numeric: true},
    {name: "Accepted", numeric: true}, {name: "P outside", numeric: true}, "Verdict"
  ];
  const rows = [["up", "rising"], ["down", "falling"]].flatMap(([key,
    direction]) => evaluation.points.filter((point) => point[key]).map((point) => {
    const one = point[key];
    const known = isNumber(one.coverage_factor);
    return {
      cells: [
        pointName(point), direction, signed(one.deviation, decimals),
        rounded(one.expanded_uncertainty, decimals) + (one.at_capability ? " *" : ""), rounded(one.coverage_factor, 2),
        isNumber(one.degrees_of_freedom) ? plain(one.degrees_of_freedom, 3)
          : known                        ? "\u221e"
                                         : "\u2013",
        limit(one.permissible_error, decimals),
        isNumber(one.acceptance_limit) && !(one.acceptance_limit > 0) ? "none" : limit(one.acceptance_limit, decimals),
        perCent(one.probability_outside), one.verdict ?? "no verdict"
      ]
    };
  }));
  return table(`What each verdict of ${evaluation.channel} rests on, in ${unit}`, columns, rows);
}

/// Both directions together; no verdict rests on it.
function pointTable(evaluation, decimals) {
  const {unit} = evaluation;
  const columns = [
    "Point", {name: `Reference, ${unit}`, numeric: true}, {name: "Mean deviation", numeric: true},
    {name: "Hysteresis", numeric: true}, {name: "Repeatability", numeric: true}, {name: "U of mean", numeric: true}
  ];
  return table(`Both directions together, in ${unit}`, columns, evaluation.points.map((point) => ({
    cells: [
      pointName(point), plain(point.reference), signed(point.mean?.deviation, decimals),
      rounded(point.hysteresis, decimals), rounded(point.repeatability, decimals),
      rounded(point.mean?.expanded_uncertainty, decimals)
    ]
  })));
}

function summary(evaluation, decimals) {
  const {unit, largest: most} = evaluation;
  const facts =
    [
      ["Largest deviation", signed(most?.deviation, decimals)],
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

const OVERLAP_WORDS = {
  agree: "both ranges agree",
  differ: "the ranges do not agree",
  too_coarse: "too coarse an instrument to tell"
};

export function evaluationSection(evaluation) {
  const decimals = decimalsOf(evaluation);
  const {unit} = evaluation;
  const overlaps =
    (evaluation.overlaps ?? [])
      .map((one) => `${one.target}, ${one.direction}: low ${signed(one.deviation_low, decimals)}, high ${
                      signed(one.deviation_high, decimals)} ${unit}; ` +
          (isNumber(one.en) ? `E_n ${plain(one.en, 2)}, ${OVERLAP_WORDS[one.finding] ?? ""}` : "E_n cannot be said"));
  return make("section", {class: "evaluation"}, make("h3", {text: evaluation.channel}),
    make("p", {class: "verdict"}, make("b", {text: evaluation.verdict ?? "No verdict"}),
      evaluation.verdict_covers && ` \u2013 ${evaluation.verdict_covers}`),
    evaluation.points.length > 0 && basisTable(evaluation, decimals),
    evaluation.points.some((point) => [point.up, point.down].some((one) => one?.at_capability)) &&
      make("p", {text: "* U is the laboratory's stated capability (k = 2), larger than what was worked out."}),
    evaluation.points.length > 0 && pointTable(evaluation, decimals), summary(evaluation, decimals),
    list("Both ranges at the overlap point", overlaps),
    list("Rules looked at",
      (evaluation.findings ?? []).map((one) => `${one.met ? "met" : "not met"}: ${one.rule}. ${one.found}`)),
    list("What could not be said", (evaluation.unsaid ?? []).map((one) => `${one.what}: ${one.why}`)));
}
