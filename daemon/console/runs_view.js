// All runs, and the search among them.

import {dateWords} from "./clock.js";
import {labelled, make, renderWhenChanged, setText, table} from "./dom.js";
import {get} from "./wire.js";

const STATES = ["running", "finished", "stopped"];

/// True where every word of the search stands somewhere in what is known of the run.
export function matches(run, {text, instrument, state, from, to}) {
  const instruments = (run.instruments ?? []).flatMap((one) => [one.name, one.serial, one.model]);
  const all =
    [
      run.id, run.sequence, run.title, run.method, run.condition, run.state, run.reason, run.by, run.bench,
      run.laboratory, ...instruments
    ].filter(Boolean)
      .join(" ")
      .toLowerCase();
  const day = dateWords(run.started_utc_us).slice(0, 10);
  return text.toLowerCase().split(/\s+/).every((word) => all.includes(word)) &&
    (instrument === "" || (run.instruments ?? []).some((one) => one.name === instrument)) &&
    (state === "" || run.state === state) && (from === "" || day >= from) && (to === "" || day <= to);
}

export class RunsView {
  constructor(place, page) {
    Object.assign(this, {place, page, runs: []});
    const changed = {on: {input: () => this.list()}};
    this.text = make("input", {type: "search", autocomplete: "off", ...changed});
    this.instrument = make("select", changed);
    this.state = make("select", changed, make("option", {value: "", text: "any"}),
      STATES.map((text) => make("option", {value: text, text})));
    this.from = make("input", {type: "date", ...changed});
    this.to = make("input", {type: "date", ...changed});
    this.count = make("p", {role: "status"});
    this.found = make("div");
    place.append(make("h1", {text: "Past runs"}),
      make("form", {class: "search", role: "search", on: {submit: (event) => event.preventDefault()}},
        labelled("Words", this.text), labelled("Instrument", this.instrument), labelled("State", this.state),
        labelled("From", this.from), labelled("To", this.to)),
      this.count, this.found);
  }
  open() { this.learn(); }
  render(frame) {
    const key = `${frame.run?.id} ${frame.run?.state}`;
    if (this.key !== undefined && this.key !== key) this.learn();
    this.key = key;
  }
  async learn() {
    if (this.page.view !== "runs" || this.page.needsLogin) return;
    try {
      this.runs = [...(await get("/api/runs")).runs].reverse();
    } catch (trouble) {
      this.page.refuse(trouble.message);
    }
    const names = [...new Set(this.runs.flatMap((run) => (run.instruments ?? []).map((one) => one.name)))].sort();
    renderWhenChanged(this.instrument, names,
      () => [make("option", {value: "", text: "any"}), ...names.map((text) => make("option", {value: text, text}))]);
    this.list();
  }
  list() {
    const wished = {
      text: this.text.value.trim(),
      instrument: this.instrument.value,
      state: this.state.value,
      from: this.from.value,
      to: this.to.value
    };
    const found = this.runs.filter((run) => matches(run, wished));
    setText(this.count, `${found.length} of ${this.runs.length} runs`);
    const columns =
      ["Run", "Begun", "Sequence", "Condition", "Instruments", "State", {name: "Marks", numeric: true}, "By"];
    renderWhenChanged(this.found, found.map((run) => [run.id, run.state, run.marks]),
      () => table("Runs, latest first", columns, found.map((run) => ({
        cells: [
          make("a", {href: `#run/${run.id}`, class: "target", text: run.id}), dateWords(run.started_utc_us),
          run.title || run.sequence, run.condition, (run.instruments ?? []).map((one) => one.name).join(", "),
          run.reason ? `${run.state}: ${run.reason}` : run.state, run.marks, run.by || "not said"
        ]
      }))));
  }
}
