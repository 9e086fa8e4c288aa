// Deviations of one instrument over the reference pressure: direction by the marker's shape, standing by its filling.

import {draw} from "./dom.js";
import {isNumber, markNumbers, plain, remarks, rounded, signed} from "./numbers.js";

const LEFT = 74, RIGHT = 26, TOP = 10, BOTTOM = 46;
const HALF = 7;

/// Steps of 1, 2 or 5 with so many of them at most.
export function niceTicks(low, high, most) {
  const raw = (high - low) / Math.max(most, 1);
  if (!(raw > 0) || !Number.isFinite(raw)) return [low];
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5, 10].map((one) => one * power).find((one) => one >= raw * (1 - 1e-9));
  const ticks = [];
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high + step * 1e-9 && ticks.length < 50; ++i)
    ticks.push(i * step);
  return ticks;
}

function markerPath(direction) {
  if (direction === "rising") return `M0 ${- HALF}L${HALF} ${HALF - 1}H${- HALF}Z`;
  if (direction === "falling") return `M0 ${HALF}L${HALF} ${1 - HALF}H${- HALF}Z`;
  return `M${- HALF + 1} ${- HALF + 1}H${HALF - 1}V${HALF - 1}H${- HALF + 1}Z`;
}

/// The marker of one mark by itself: also for the legend.
export function marker(direction, status) {
  const group = draw("g", {class: `marker ${status}`}, draw("path", {d: markerPath(direction), class: "shape"}));
  if (status === "void")
    group.append(
      draw("path", {d: `M${- HALF} ${- HALF}L${HALF} ${HALF}M${HALF} ${- HALF}L${- HALF} ${HALF}`, class: "cross"}));
  if (status === "unbracketed") group.append(draw("path", {d: `M${- HALF - 3} 0H${HALF + 3}`, class: "cross"}));
  if (status === "provisional") group.append(draw("circle", {r: 1.8, class: "dot"}));
  return group;
}

export function markSentence(mark, units) {
  const {unit, deviation, expanded, decimals} = markNumbers(mark, units);
  const more = remarks(mark);
  return `Mark ${mark.mark ?? "without number"}, ${mark.target} ${mark.direction}: deviation ${
           signed(deviation, decimals)} ${unit}, ` +
    `U ${rounded(expanded, decimals)} ${unit}, ${more || mark.status}`;
}

/// `limit_pa`: the permissible error where the marks do not carry their own.
export function deviationPlot(name, marks, units, {width, height, scale, limit_pa, highest_pa}) {
  const numbers = marks.map((mark) => ({mark, ...markNumbers(mark, units)}))
                    .filter((one) => isNumber(one.deviation) && isNumber(one.reference));
  const unit = numbers[0]?.unit ?? units.of(marks[0]?.unit).unit;
  const {pascals} = units.of(marks[0]?.unit);
  for (const one of numbers) one.permissible ??= isNumber(limit_pa) ? limit_pa / pascals : null;
  const standing = numbers.filter((one) => one.mark.status !== "void");
  const highest =
    Math.max(...numbers.map((one) => one.reference), isNumber(highest_pa) ? highest_pa / pascals : 0) * 1.03;
  // Markers at the ends stay clear of the axes.
  const lowest = Math.min(0, ...numbers.map((one) => one.reference)) - 0.03 * highest;
  // What is void may lie far away: it is drawn at the edge then, so that it does not flatten what stands.
  const reach = Math.max(...standing.map((one) => Math.abs(one.deviation) + (one.expanded ?? 0)),
                  ...standing.map((one) => one.permissible ?? 0), 0) ||
    Math.max(...numbers.map((one) => Math.abs(one.deviation)), 1e-6);
  const top = reach * 1.12;
  const x = (value) => LEFT + ((value - lowest) / (highest - lowest || 1)) * (width - LEFT - RIGHT);
  const y = (value) => TOP + ((top - Math.max(-top, Math.min(top, value))) / (2 * top)) * (height - TOP - BOTTOM);
  const drawing = draw("svg", {
    viewBox: `0 0 ${width} ${height}`,
    width: width * scale,
    height: height * scale,
    class: "deviations",
    role: "img",
    "aria-label": `Deviations of ${name} with permissible error and uncertainty; the table below has the same numbers`
  });

  const yTicks = niceTicks(-top, top, Math.max(2, Math.floor(height / 60)));
  const yDecimals = Math.max(0, -Math.floor(Math.log10((yTicks[1] ?? 1) - (yTicks[0] ?? 0)) + 1e-9));
  for (const tick of yTicks)
    drawing.append(
      draw("line", {x1: LEFT, x2: width - RIGHT, y1: y(tick), y2: y(tick), class: tick === 0 ? "zero" : "grid"}),
      textAt(LEFT - 8, y(tick) + 5, signed(tick, yDecimals), "end"));
  const xTicks = niceTicks(lowest, highest, Math.max(2, Math.floor(width / 110)));
  for (const tick of xTicks)
    drawing.append(
      draw("line", {x1: x(tick), x2: x(tick), y1: height - BOTTOM, y2: height - BOTTOM + 5, class: "axis"}),
      textAt(x(tick), height - BOTTOM + 21, plain(tick, 4), "middle"));
  drawing.append(draw("path", {d: `M${LEFT} ${TOP}V${height - BOTTOM}H${width - RIGHT}`, class: "axis"}),
    textAt(width - RIGHT, height - 6, `reference pressure, ${unit}`, "end"));

  const limits = [
    ...new Map(standing.filter((one) => isNumber(one.permissible)).map((one) => [one.reference, one.permissible]))
      .entries()
  ].sort((a, b) => a[0] - b[0]);
  if (limits.length > 0) {
    // The limit stands at the marks; beyond the outermost it goes on level.
    const ends = [[lowest, limits[0][1]], ...limits, [highest, limits[limits.length - 1][1]]];
    for (const sign of [1, -1])
      drawing.append(draw("path", {
        class: "limit",
        d: ends.map(([at, limit], i) => `${i === 0 ? "M" : "L"}${x(at).toFixed(1)} ${y(sign * limit).toFixed(1)}`)
             .join("")
      }));
    drawing.append(textAt(width - RIGHT - 4, y(ends[ends.length - 1][1]) + 18, "permissible error", "end"));
  }
  const shift = {rising: -7, falling: 7};
  const series = new Map();
  for (const one of standing) {
    const key = `${one.mark.series ?? 1} ${one.mark.direction} ${one.mark.range}`;
    if (!series.has(key)) series.set(key, []);
    series.get(key).push(one);
  }
  for (const list of series.values()) {
    list.sort((a, b) => a.reference - b.reference);
    drawing.append(draw("path", {
      class: `course ${list[0].mark.direction}`,
      d: list
           .map((one, i) => `${i === 0 ? "M" : "L"}${
                  (x(one.reference) + (shift[one.mark.direction] ?? 0)).toFixed(1)} ${y(one.deviation).toFixed(1)}`)
           .join("")
    }));
  }
  for (const one of numbers) {
    const at = x(one.reference) + (shift[one.mark.direction] ?? 0);
    if (isNumber(one.expanded) && one.mark.status !== "void") {
      const up = y(one.deviation + one.expanded), down = y(one.deviation - one.expanded);
      drawing.append(draw(
        "path", {class: "u-bar", d: `M${at} ${up}V${down}M${at - 5} ${up}H${at + 5}M${at - 5} ${down}H${at + 5}`}));
    }
    const group = marker(one.mark.direction, one.mark.status);
    group.setAttribute("transform", `translate(${at.toFixed(1)} ${y(one.deviation).toFixed(1)})`);
    const title = draw("title");
    title.textContent = markSentence(one.mark, units);
    group.append(title);
    drawing.append(group);
  }
  return drawing;
}

function textAt(x, y, text, anchor) {
  const element = draw("text", {x: x.toFixed(1), y: y.toFixed(1), "text-anchor": anchor});
  element.textContent = text;
  return element;
}

/// What each shape means, with the shapes themselves.
export function legendItems(marks) {
  const entries = [];
  const add = (direction, status, text) => {
    const drawing =
      draw("svg", {viewBox: "-12 -10 24 20", width: 24, height: 20, "aria-hidden": "true"}, marker(direction, status));
    entries.push([drawing, text]);
  };
  const has = (test) => marks.some(test);
  if (has((one) => one.direction === "rising")) add("rising", "sighted", "rising");
  if (has((one) => one.direction === "falling")) add("falling", "sighted", "falling");
  for (const [status, text] of [["vented", "vented: a zero, open to air"],
         ["provisional", "provisional: no second look yet"], ["unbracketed", "unbracketed: never got a second look"],
         ["void", "void: withdrawn"]])
    if (has((one) => one.status === status)) add(marks.find((one) => one.status === status).direction, status, text);
  return entries;
}
