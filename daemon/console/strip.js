// The plot of the last minutes: how far each reading is from the target, the float and the windows shaded.

import {draw, make, renderWhenChanged, setAttribute, setText} from "./dom.js";
import {ROW_US} from "./history.js";
import {isNumber, plain, signed} from "./numbers.js";
import {change, settings} from "./settings.js";

const MOST_ROWS = 600;
const LEAST_PAUSE_MS = 250;
/// The scale follows what happens now; what was far away before may leave the picture.
const SCALED_TO_US = 6_000_000;
const SPANS = [[60, "1 min"], [120, "2 min"], [300, "5 min"], [600, "10 min"]];
const DASHES = [[], [8, 3], [2, 2], [10, 3, 2, 3]];
const LINES = 4;

export class Strip {
  constructor(place, {bench, history}) {
    Object.assign(this, {place, bench, history});
    this.words = make("p", {id: "strip-words"});
    this.drawing = make("div", {id: "strip-drawing", role: "img", "aria-label": "Plot of the last minutes"});
    this.legend = make("ul", {id: "strip-legend"});
    this.which = make("select", {"aria-label": "What is plotted", on: {change: () => this.choose()}});
    this.span = make("select", {
      "aria-label": "How long back",
      on: {
        change: () => {
          change("plot_s", Number(this.span.value));
          this.drawn_ms = 0;
        }
      }
    },
      SPANS.map(([seconds, text]) => make("option", {value: seconds, text})));
    this.span.value = String(settings.plot_s);
    place.replaceChildren(
      make("div", {class: "strip-head"}, this.words, this.which, this.span), this.drawing, this.legend);
    this.drawn_ms = 0;
    addEventListener("themechange", () => this.forget());
    new ResizeObserver(() => this.plot?.resize()).observe(this.drawing);
  }
  forget() {
    this.plot?.destroy();
    this.plot = null;
    this.drawn_ms = 0;
  }
  choose() {
    change("plotOf", this.which.value);
    this.drawn_ms = 0;
  }
  offerChannels(channels) {
    renderWhenChanged(this.which, channels.map((one) => one.name),
      () => [make("option", {value: "all", text: "all, from the target"}),
        ...channels.map((one) => make("option", {value: one.name, text: one.name}))]);
    const known = settings.plotOf === "all" || channels.some((one) => one.name === settings.plotOf);
    const value = known ? settings.plotOf : "all";
    if (this.which.value !== value) this.which.value = value;
  }

  render(frame, now_us, live) {
    const now_ms = performance.now();
    const pause = settings.plot_s > 300 ? 2 * LEAST_PAUSE_MS : LEAST_PAUSE_MS;
    if (now_ms - this.drawn_ms < pause || !globalThis.Dygraph || this.drawing.clientWidth < 40) return;
    this.drawn_ms = now_ms;
    const wired = frame.channels.filter((one) => !one.manual);
    this.offerChannels(wired);
    if (wired.length === 0) return;
    const one = wired.findIndex((channel) => channel.name === this.which.value);
    const target_pa = frame.run?.state === "running" && isNumber(frame.step?.target_pa) ? frame.step.target_pa : null;
    const {unit, pascals} = this.bench.units.of(wired[Math.max(one, 0)].unit);
    // One channel shows its own values; several are compared by how far each is from the target.
    const offset = one < 0 && target_pa !== null ? target_pa : 0;
    const columns = one < 0 ? wired.map((_, i) => i) : [one];
    const from_us = now_us - settings.plot_s * 1e6;
    const rows = this.history.thinned(from_us, MOST_ROWS);
    const data = rows.map(
      (row) => [row[0], ...columns.map((i) => (row[i + 1] === null ? null : (row[i + 1] - offset) / pascals))]);
    if (data.length < 2) data.push([now_us - ROW_US, ...columns.map(() => null)], [now_us, ...columns.map(() => null)]);
    this.view = {
      frame,
      now_us,
      unit,
      pascals,
      offset,
      target: target_pa === null ? null : (target_pa - offset) / pascals,
      permissible: one < 0 ? null : this.permissible(wired[one].name, pascals)
    };
    const options = {file: data, dateWindow: [from_us, now_us], valueRange: this.range(data, now_us)};
    const names = columns.map((i) => wired[i].name);
    if (this.plot && this.names === names.join("\n"))
      this.plot.updateOptions(options);
    else
      this.begin(data, names, columns, options);
    this.tell(names, data, unit, live);
  }
  permissible(name, pascals) {
    const found = this.bench.instruments.get(name)?.mpe_pa;
    return isNumber(found) ? found / pascals : null;
  }

  range(data, now_us) {
    let low = Infinity, high = -Infinity;
    const take = (value) => {
      if (!isNumber(value)) return;
      low = Math.min(low, value);
      high = Math.max(high, value);
    };
    for (let i = data.length; i-- > 0 && data[i][0] > now_us - SCALED_TO_US;) data[i].slice(1).forEach(take);
    if (low > high)
      for (const row of data) row.slice(1).forEach(take);
    take(this.view.target);
    if (low > high) return [-1, 1];
    // Noise of a resting line is not to fill the picture.
    const least = this.view.permissible ?? this.leastSpan();
    const middle = (low + high) / 2;
    const half = Math.max((high - low) / 2, least) * 1.15;
    return [middle - half, middle + half];
  }
  leastSpan() {
    let least = Infinity;
    for (const one of this.bench.instruments.values())
      if (isNumber(one.mpe_pa) && !one.manual) least = Math.min(least, one.mpe_pa);
    return Number.isFinite(least) ? least / this.view.pascals / 2 : 1e-3;
  }

  begin(data, names, columns, options) {
    this.plot?.destroy();
    const {Dygraph} = globalThis;
    // Its own legend writes style attributes, which this page's policy forbids.
    Dygraph.PLUGINS = Dygraph.PLUGINS.filter((one) => one !== Dygraph.Plugins.Legend);
    this.names = names.join("\n");
    const style = getComputedStyle(document.documentElement);
    this.text = Math.round(Math.max(12, parseFloat(getComputedStyle(this.place).fontSize) * 0.85));
    const colour = (name) => style.getPropertyValue(name).trim();
    this.colours = {
      ink: colour("--ink"),
      soft: colour("--soft"),
      paper: colour("--paper"),
      line: colour("--line"),
      float: colour("--float-band")
    };
    const labels = ["at", ...names];
    const series = {};
    columns.forEach((column, i) => {
      series[names[i]] = {
        color: colour(`--line-${column % LINES + 1}`),
        strokePattern: DASHES[(column + Math.floor(column / LINES)) % DASHES.length]
      };
    });
    this.plot = new Dygraph(this.drawing, data, {
      ...options,
      labels,
      series,
      legend: "never",
      strokeWidth: Math.max(2, this.text / 8),
      interactionModel: {},
      showLabelsOnHighlight: false,
      highlightCircleSize: 0,
      axisLabelWidth: Math.round(4.6 * this.text),
      axisLineColor: this.colours.ink,
      gridLineColor: this.colours.line,
      axisLabelFontSize: this.text,
      xAxisHeight: Math.round(1.7 * this.text),
      rightGap: 8,
      underlayCallback: (canvas, area, plot) => this.shade(canvas, area, plot),
      axes: {
        x: {ticker: (from, to) => this.ticks(from, to), drawGrid: true},
        y: {pixelsPerLabel: 2.6 * this.text, axisLabelFormatter: (value) => plain(value, 5)}
      }
    });
    this.legend.replaceChildren(...names.map(
      (name, i) => make("li", {},
        draw("svg", {viewBox: "0 0 36 6", width: "2.4em", height: "0.4em", "aria-hidden": "true"}, draw("line", {
          x1: 0,
          x2: 36,
          y1: 3,
          y2: 3,
          class: `line-${columns[i] % LINES + 1}`,
          "stroke-width": 3,
          "stroke-dasharray": series[name].strokePattern.join(" ")
        })),
        make("span", {text: name}))));
  }
  ticks(from, to) {
    const span_s = (to - from) / 1e6;
    const step_s = span_s <= 60 ? 15 : span_s <= 120 ? 30 : span_s <= 300 ? 60 : 120;
    const ticks = [];
    for (let back = 0; back <= span_s; back += step_s)
      ticks.push({
        v: to - back * 1e6,
        label: back === 0   ? "now"
          : back % 60 === 0 ? `\u2212${back / 60} min`
                            : `\u2212${back} s`
      });
    return ticks;
  }

  shade(canvas, area, plot) {
    const {frame, now_us, target, permissible} = this.view;
    const {colours, text} = this;
    canvas.save();
    canvas.font = `${text}px system-ui, sans-serif`;
    canvas.textBaseline = "top";
    const edge = (at_us) => Math.min(Math.max(plot.toDomXCoord(at_us), area.x), area.x + area.w);
    const seen = new Set();
    const each = (from_us, to_us, paint) => {
      const key = `${paint.name} ${from_us}`;
      if (!isNumber(from_us) || seen.has(key)) return;
      seen.add(key);
      const left = edge(from_us), right = edge(Math.min(to_us ?? now_us, now_us));
      if (right > left) paint(left, right);
    };
    const afloat = (left, right) => {
      canvas.fillStyle = colours.float;
      canvas.fillRect(left, area.y, right - left, area.h);
      canvas.fillStyle = colours.ink;
      if (right - left > 3.2 * text) canvas.fillText("afloat", left + 4, area.y + 3);
    };
    const windowed = (left, right) => {
      canvas.strokeStyle = colours.soft;
      canvas.lineWidth = 1;
      canvas.strokeRect(left + 0.5, area.y + 1.4 * text + 0.5, Math.max(right - left - 1, 1), area.h - 1.4 * text - 2);
      canvas.beginPath();
      for (let x = left + 6; x < right; x += 8) {
        canvas.moveTo(x, area.y + area.h - 10);
        canvas.lineTo(x, area.y + area.h - 2);
      }
      canvas.stroke();
      canvas.fillStyle = colours.ink;
      if (right - left > 4 * text) canvas.fillText("window", left + 3, area.y + 1.5 * text);
    };
    for (const mark of frame.marks ?? []) each(mark.float?.from_us, mark.float?.to_us, afloat);
    if (frame.float?.state !== "none")
      each(frame.float?.since_us,
        frame.float?.state === "confirmed" ? now_us : frame.float?.to_us ?? frame.float?.since_us, afloat);
    for (const mark of frame.marks ?? []) each(mark.window?.from_us, mark.window?.to_us, windowed);
    for (const channel of frame.channels)
      if (channel.window) each(channel.window.from_us, channel.window.to_us, windowed);
    const level = (value, words, dash) => {
      const y = plot.toDomYCoord(value);
      if (!(y >= area.y && y <= area.y + area.h)) return;
      canvas.strokeStyle = colours.ink;
      canvas.lineWidth = 2;
      canvas.setLineDash(dash);
      canvas.beginPath();
      canvas.moveTo(area.x, y);
      canvas.lineTo(area.x + area.w, y);
      canvas.stroke();
      canvas.setLineDash([]);
      const width = canvas.measureText(words).width;
      canvas.fillStyle = colours.paper;
      const top = y - area.y < 1.4 * text ? y + 2 : y - 1.3 * text;
      canvas.fillRect(area.x + area.w - width - 8, top, width + 8, 1.2 * text);
      canvas.fillStyle = colours.ink;
      canvas.fillText(words, area.x + area.w - width - 4, top + 1);
    };
    if (target !== null) level(target, `target ${frame.step.target}`, []);
    if (target !== null && permissible !== null) {
      level(target + permissible, "permissible", [3, 4]);
      level(target - permissible, "permissible", [3, 4]);
    }
    canvas.restore();
  }

  /// The service is away: what is drawn stays, as what it is.
  stand() {
    if (this.shows) setText(this.words, `${this.shows}; not live`);
  }

  tell(names, data, unit, live) {
    const from = this.view.offset ? `From the target, in ${unit}` : `In ${unit}`;
    this.shows = from;
    setText(this.words, live ? from : `${from}; not live`);
    const last = data[data.length - 1];
    const said =
      names.map((name, i) => `${name} ${isNumber(last[i + 1]) ? signed(last[i + 1], 3) : "no reading"}`).slice(0, 8);
    // Not at every drawing: nobody listens that fast.
    if (performance.now() - (this.said_ms ?? 0) > 3000) {
      this.said_ms = performance.now();
      setAttribute(this.drawing, "aria-label",
        `Plot of the last ${settings.plot_s / 60} minutes. ${from}: ${said.join(", ")} ${unit}`);
    }
  }
}
