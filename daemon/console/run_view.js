// The marks of one run, present or past, as plots and as a table, with all that was said about it.

import {certificateParts} from "./certificates.js";
import {dateWords} from "./clock.js";
import {deviationPlot, legendItems} from "./deviation_plot.js";
import {askReason, openDialog} from "./dialogs.js";
import {button, buttons, factList, linkBeside, make, renderWhenChanged, setText, table} from "./dom.js";
import {evaluationSection} from "./evaluation.js";
import {isNumber, markNumbers, plain, remarks, rounded, signed, withMinus} from "./numbers.js";
import {adviceLines} from "./step_panel.js";
import {get, tell} from "./wire.js";

const LEAST_PAUSE_MS = 1_000;
/// Marks that no frame lists any more can still change: a sighting, a void from elsewhere.
const LOOK_AGAIN_MS = 10_000;

export class RunView {
  constructor(place, page) {
    Object.assign(this, {place, page, wished: null, results: null});
    this.title = make("h1", {text: "Marks"});
    this.facts = make("div", {class: "facts"});
    this.plots = make("div", {class: "plots"});
    this.legend = make("ul", {class: "plot-legend"});
    this.which = make("select", {"aria-label": "Instrument in the table", on: {change: () => this.showTable()}});
    this.marks = make("div");
    this.more = make("div");
    this.papers = make("div");
    place.append(this.title, this.facts, this.legend, this.plots, make("p", {class: "table-choice"}, this.which),
      this.marks, this.more, this.papers);
    new ResizeObserver(() => this.showPlots()).observe(this.plots);
    addEventListener("themechange", () => this.showPlots());
  }

  open([id]) {
    this.wished = id ?? null;
    this.results = null;
    this.asked_ms = 0;
    this.ask();
  }
  learn() { this.asked_ms = 0; }

  get id() { return this.wished ?? this.page.frame?.run?.id ?? null; }

  render(frame) {
    const now_ms = performance.now();
    const since_ms = now_ms - (this.asked_ms ?? 0);
    const signature = JSON.stringify([
      this.id, frame.run?.id, frame.run?.state, frame.marks.map((mark) => [mark.mark, mark.status]), frame.step?.number
    ]);
    const isCurrent = this.id !== null && this.id === frame.run?.id;
    if (since_ms > LEAST_PAUSE_MS && ((isCurrent && signature !== this.signature) || since_ms > LOOK_AGAIN_MS)) {
      this.signature = signature;
      this.ask();
    }
  }

  async ask() {
    const {id, page} = this;
    this.asked_ms = performance.now();
    if (id === null || page.needsLogin) {
      setText(this.title, "No run yet");
      return;
    }
    if (this.asking) return;
    this.asking = true;
    try {
      const {results} = await get(`/api/runs/${encodeURIComponent(id)}`);
      if (this.id !== id) return;
      this.results = results;
      this.certificates = results.run.state === "running" ? null : await get("/api/certificates");
      page.bench.units.learn(results.run.instruments ?? []);
      this.draw();
    } catch (trouble) {
      setText(this.title, `Run ${id}`);
      page.refuse(trouble.message);
    } finally {
      this.asking = false;
    }
  }

  draw() {
    const {run, marks} = this.results;
    setText(this.title, `Run ${run.id}: ${run.title || run.sequence}`);
    renderWhenChanged(this.facts, [run, this.page.mayPress], () => this.factParts(run));
    renderWhenChanged(this.which, run.instruments.map((one) => one.name),
      () => [make("option", {value: "", text: "All instruments"}),
        ...run.instruments.map((one) => make("option", {value: one.name, text: one.name}))]);
    renderWhenChanged(this.legend, [...new Set(marks.map((mark) => `${mark.direction} ${mark.status}`))].sort(),
      () => legendItems(marks).map(([drawing, text]) => make("li", {}, drawing, make("span", {text}))));
    this.showPlots();
    this.showTable();
    const {checks, suspicions, missing, evaluations, overruled} = this.results;
    renderWhenChanged(this.more, [checks, suspicions, missing, evaluations], () => this.moreParts());
    const {certificates, page} = this;
    const {mayPress, names} = page;
    renderWhenChanged(this.papers, [certificates, run.state, mayPress, names],
      () => certificates && certificateParts(run, certificates, {mayPress, names}, (...told) => this.send(...told)));
  }

  factParts(run) {
    const method = run.method
      ? `${run.method}${
          run.method_confirmed ? `, ${run.method_confirmed}` : "; not compared with the edition by anybody"}`
                               : "the laboratory's own list of points";
    const facts = [
      ["State", run.reason ? `${run.state}: ${run.reason}` : run.state], ["Condition", run.condition],
      ["Begun", dateWords(run.started_utc_us)], ["By", run.by || "not said"], ["Method", method],
      ["Bench", `${run.bench}, revision ${String(run.bench_revision).slice(0, 12)}`]
    ];
    return [
      factList(facts),
      (run.departures ?? []).length > 0 &&
        make("details", {}, make("summary", {text: "Otherwise than the method asks"}),
          make("ul", {}, run.departures.map((text) => make("li", {text})))),
      buttons(linkBeside(`/api/runs/${encodeURIComponent(run.id)}`, "Its record (JSON)"),
        run.state === "running" && this.page.mayPress && button("Stop this run", () => this.stop(run)))
    ];
  }
  async stop(run) {
    const given = await askReason(
      `Stop run ${run.id}`, "The marks so far stay on record. A stopped run is not taken up again.", "Stop the run");
    if (given) await this.send("run_stop", given, `run ${run.id} is stopped`);
  }
  async send(what, body, said) {
    const pressed_us = this.page.clock.at();
    if (!this.page.live || pressed_us === null) return this.page.refuse("The service is away: nothing was sent.");
    try {
      await tell(what, {...body, pressed_us});
      this.page.say(`Recorded: ${said}.`);
    } catch (trouble) {
      this.page.refuse(trouble.message);
    }
    this.ask();
  }

  showPlots() {
    if (!this.results || this.plots.clientWidth === 0) return;
    const {run, marks} = this.results;
    const names = run.instruments.map((one) => one.name).filter((name) => marks.some((mark) => mark.channel === name));
    const across = Math.max(1,
      Math.min(names.length,
        Math.floor(this.plots.clientWidth / (35 * parseFloat(getComputedStyle(this.plots).fontSize))), 3));
    const width = Math.floor((this.plots.clientWidth - (across - 1) * 24) / across);
    // Drawn in the size of its words, so that it can be read on a wall as well.
    const scale = Math.max(1, parseFloat(getComputedStyle(this.plots).fontSize) / 16);
    renderWhenChanged(this.plots, [width, names, marks.map((mark) => [mark.mark, mark.status, mark.deviation_pa])],
      () => names.map((name) => {
        const instrument = run.instruments.find((one) => one.name === name);
        return make("figure", {},
          make("figcaption", {text: `${name}: deviation, ${this.page.bench.units.of(instrument.unit).unit}`}),
          deviationPlot(name, marks.filter((mark) => mark.channel === name), this.page.bench.units, {
            width: Math.floor(width / scale),
            height: Math.round(Math.min(Math.max(width * 0.5 / scale, 230), 520)),
            scale,
            limit_pa: instrument.mpe_pa,
            highest_pa: this.highest_pa(run)
          }));
      }));
  }

  /// Where the run's points end, so that a plot does not stretch while it fills.
  highest_pa(run) {
    const points = this.page.bench.sequences.find((one) => one.name === run.sequence)?.points ?? [];
    return Math.max(0, ...points.map((point) => point.target_pa).filter(isNumber));
  }

  showTable() {
    if (!this.results) return;
    const {units} = this.page.bench;
    const chosen = this.which.value;
    const marks = this.results.marks.filter((mark) => chosen === "" || mark.channel === chosen).reverse();
    const columns = [
      "Mark", "Point", "Direction", "Range", "Instrument", {name: "Reference", numeric: true},
      {name: "Reading", numeric: true}, {name: "Deviation", numeric: true}, {name: "U", numeric: true}, "Status"
    ];
    renderWhenChanged(this.marks, [chosen, marks.map((mark) => [mark.mark, mark.status, mark.why, mark.flags])],
      () => (marks.length === 0
          ? make("p", {text: "No marks yet."})
          : table(`Marks of run ${this.results.run.id}, latest first`, columns, marks.map((mark) => {
              const {unit, reference, reading, deviation, expanded, decimals} = markNumbers(mark, units);
              return {
                class: `mark-row ${mark.status}`,
                cells: [
                  isNumber(mark.mark)
                    ? button(String(mark.mark), () => this.openMark(mark), {"aria-label": `mark ${mark.mark}, more`})
                    : "\u2013",
                  `${mark.target}${mark.overlap ? ", overlap" : ""}${mark.series > 1 ? `, series ${mark.series}` : ""}`,
                  mark.direction, mark.range ?? "vented", mark.channel, `${rounded(reference, decimals)} ${unit}`,
                  `${rounded(reading, decimals)} ${unit}`, `${signed(deviation, decimals)} ${unit}`,
                  `${rounded(expanded, decimals)} ${unit}`, statusWords(mark)
                ]
              };
            }))));
  }

  openMark(mark) {
    const {units} = this.page.bench;
    const {unit, pascals} = units.of(mark.unit);
    const numbers = markNumbers(mark, units);
    const n = (value) => `${rounded(value, numbers.decimals)} ${unit}`;
    const seconds =
      isNumber(mark.window?.to_us) ? `${plain((mark.window.to_us - mark.window.from_us) / 1e6, 3)} s` : "";
    const facts = [
      ["Instrument", mark.channel],
      ["Point", `${mark.target}, ${mark.direction}${mark.range ? `, ${mark.range} range` : ""}`],
      ["Status", statusWords(mark)], ["Reference", n(numbers.reference)], ["Reading", n(numbers.reading)],
      ["Deviation", `${signed(numbers.deviation, numbers.decimals)} ${unit}`],
      [`U (k = ${rounded(mark.coverage_factor, 2)})`, n(numbers.expanded)],
      [
        "Permissible error",
        isNumber(numbers.permissible) ? `\u00b1${plain(numbers.permissible)} ${unit}` : "not stated"
      ],
      ...(isNumber(mark.untapped_pa) ? [[
        "Before and after tapping",
        `${plain(mark.untapped_pa / pascals)} and ${plain(mark.tapped_pa / pascals)} ${unit}`
      ]]
                                     : []),
      ["Window", `${seconds}, readings ${mark.window?.first} to ${mark.window?.last}`],
      ["Float", `number ${mark.float?.number}, ${mark.float?.end ?? "open"}`]
    ];
    const budget = make("div", {}, make("p", {text: "The budget is being asked for."}));
    const running = this.results.run.state === "running" && this.results.run.id === this.page.frame?.run?.id;
    const {mayPress, mayReview, names} = this.page;
    const act = (label, explanation, what, said, more = []) => button(label, async () => {
      const given = await askReason(`${label}: mark ${mark.mark}`, explanation, label, more);
      if (given) await this.send(what, {mark: mark.mark, ...given}, `mark ${mark.mark} ${said}`);
    });
    const actions = buttons(mayPress && mark.status !== "void" &&
        act("Void it", "It stays on record, with the reason, and counts nowhere.", "void", "is void"),
      mayReview && mark.status === "unbracketed" && !mark.accepted_by &&
        act("Let it count", "It has no closing float check. A reviewer who did not work at the run may accept it.",
          "accept", "counts", names),
      running && mayPress && ["void", "unbracketed"].includes(mark.status) && button("Do its point again", async () => {
        dialog.close();
        await this.send("redo", {mark: mark.mark}, `the point of mark ${mark.mark} is done again`);
      }));
    const dialog = openDialog(`Mark ${mark.mark}`, [factList(facts), actions, budget]);
    this.showBudget(budget, mark);
  }

  async showBudget(place, mark) {
    try {
      const {budget} = await get(`/api/runs/${encodeURIComponent(mark.run)}/budget?mark=${mark.mark}`);
      place.replaceChildren(budgetTable(budget));
    } catch (trouble) {
      place.replaceChildren(make("p", {class: "refusal", text: trouble.message}));
    }
  }

  moreParts() {
    const {checks, suspicions, missing, evaluations, overruled} = this.results;
    const parts = [];
    if (suspicions.length > 0)
      parts.push(make("h2", {text: "Advice that was given"}),
        ...adviceLines(suspicions.map(({target, direction, words, ranked}) =>
                                        ({text: `${target ? `${target}, ${direction}: ` : ""}${words}`, ranked}))));
    if (overruled.length > 0)
      parts.push(make("h2", {text: "Presses that stood although the readings contradicted them"}),
        make("ul", {},
          overruled.map(({step, words, because, by}) => make("li",
                          {text: `Step ${step + 1}: ${withMinus(words)}. Reason: ${because} (${by || "no name"})`}))));
    if (missing.length > 0)
      parts.push(make("h2", {text: "Points without a mark"}),
        make("ul", {}, missing.map((one) => make("li", {text: `${one.channel}: ${one.target} ${one.direction}`}))));
    if (checks.length > 0)
      parts.push(make("h2", {text: "Checks before the run"}),
        table("Checks", ["Check", "Instrument", "Result", "Found"], checks.map((one) => ({
          cells: [
            one.check, one.channel ?? "the bench",
            one.passed             ? "passed"
              : one.waived_because ? "not passed; gone on"
                                   : "not passed",
            one.waived_because
              ? `${one.words}. Gone on because: ${one.waived_because}${one.waived_by ? ` (${one.waived_by})` : ""}`
                                                                                     : one.words
          ]
        }))));
    if (evaluations.length > 0) parts.push(make("h2", {text: "Evaluation"}), ...evaluations.map(evaluationSection));
    return parts;
  }
}

/// How a mark stands, and what is particular about it.
function statusWords(mark) {
  const more = remarks(mark);
  return mark.status === "sighted" && more ? `sighted; ${more}` : more || mark.status;
}

/// What each input gives to the uncertainty of one mark, and what each correction does to its reference.
export function budgetTable(budget) {
  const {unit, pascals_per_unit} = budget;
  const inUnit = (pa) =>
    (isNumber(pa) && isNumber(pascals_per_unit) ? `${plain(pa / pascals_per_unit, 3)} ${unit}` : `${plain(pa, 3)} Pa`);
  const parts = (lines) => (lines ?? []).map((line) => ({
    cells: [
      line.input, inUnit(Math.abs(line.contribution_pa)),
      isNumber(line.share) ? `${plain(line.share * 100, 2)} %` : "\u2013"
    ]
  }));
  const columns = ["Input", {name: "Its part of u", numeric: true}, {name: "Share", numeric: true}];
  const corrections =
    (budget.corrections ?? []).map((one) => ({cells: [one.name, inUnit(one.pa), `${plain(one.ppm, 3)} ppm`]}));
  return make("div", {}, make("h3", {text: "Budget"}),
    table(`Of the deviation: u = ${inUnit(budget.u_pa)}`, columns, parts(budget.reading)),
    table(`Of the reference pressure: u = ${inUnit(budget.u_reference_pa)}`, columns, parts(budget.lines)),
    corrections.length > 0 &&
      table("Corrections from the nominal to the reference pressure",
        ["Correction", {name: "Pressure", numeric: true}, {name: "", numeric: true}], corrections),
    (budget.notes ?? []).map((text) => make("p", {class: "hint", text})));
}
