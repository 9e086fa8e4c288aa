// Which run begins, where none is going on.

import {labelled, make, renderWhenChanged, setText, show} from "./dom.js";

const CONDITIONS = ["as found", "as left", "after adjustment"];

export class StartForm {
  constructor(page) {
    this.page = page;
    this.place = document.getElementById("step-start");
  }
  render(frame) {
    const {bench, mayPress} = this.page;
    const idle = frame.run?.state !== "running";
    show(this.place, idle);
    if (!idle) return;
    const over = frame.run ? [frame.run.id, frame.run.state] : null;
    renderWhenChanged(this.place,
      [
        bench.revision, bench.sequences.map((one) => one.name), [...bench.instruments.keys()], over, mayPress,
        frame.surroundings?.stated, frame.poor_ranges
      ],
      () => this.build(frame));
  }
  build(frame) {
    const {bench, mayPress} = this.page;
    const over = frame.run &&
      make("p", {}, make("a", {href: `#run/${frame.run.id}`, text: `Marks and evaluation of run ${frame.run.id}`}));
    if (!mayPress) return [over, make("p", {text: "An operator starts the next run."})];
    this.sequence =
      make("select", {}, bench.sequences.map((one) => make("option", {value: one.name, text: one.title || one.name})));
    this.condition = make("select", {}, CONDITIONS.map((text) => make("option", {value: text, text})));
    this.poor = frame.poor_ranges ?? [];
    this.reason = make("input", {type: "text", maxlength: 2000});
    this.name = make("input", {type: "text", maxlength: 200, autocomplete: "name"});
    // Where people log in, the service knows who presses.
    this.nameless = !this.page.session?.session?.user;
    this.override = make("div", {}, labelled("Override (reason required)", this.reason),
      this.nameless && labelled("Your name", this.name),
      make("p", {class: "hint", text: "It is kept with the run and printed on its certificates."}));
    this.found = make("p", {class: "hint"});
    const asked = () => {
      setText(this.found, this.poorWords());
      show(this.override, this.poorWords() !== "");
    };
    this.sequence.addEventListener("change", asked);
    asked();
    this.boxes =
      [...bench.instruments.keys()].map((name) => make("input", {type: "checkbox", value: name, checked: true}));
    return [
      over,
      make("form", {class: "start", on: {submit: (event) => event.preventDefault()}},
        labelled("Sequence", this.sequence), labelled("Condition of the instruments", this.condition),
        make("fieldset", {}, make("legend", {text: "Instruments that take part"}), this.boxes.map((box) => {
          const one = bench.instruments.get(box.value);
          return make("label", {class: "choice"}, box, make("span", {text: `${one.name}, ${one.serial}`}));
        })),
        this.found, this.override),
      make("p", {class: "hint"},
        frame.surroundings?.stated ? "Surroundings are stated. "
                                   : "Nobody stated the surroundings: the bench file's would count. ",
        make("a", {href: "#bench", text: "Look at the surroundings"}))
    ];
  }
  /// What was found of the ranges that the chosen sequence needs; empty where none is in poor health.
  poorWords() {
    const sequence = this.page.bench.sequences.find((one) => one.name === this.sequence.value);
    const needed = new Set((sequence?.points ?? []).map((point) => point.range));
    return this.poor.filter((one) => needed.has(one.range)).map((one) => one.words).join("; ");
  }
  /// After a run is over, a press by habit starts nothing: it asks.
  bigControl(frame) {
    if (!this.sequence?.value) return {label: "Wait", detail: "the bench has no sequence", rests: true};
    const chosen = `${this.sequence.value}, ${this.condition.value}`;
    const asksFirst = frame.run && {
      title: "Start another run?",
      explanation: `Run ${frame.run.id} is ${frame.run.state}. The next one: ${chosen}.`,
      verb: "Start the run"
    };
    return {
      label: asksFirst ? "Another run" : "Start the run",
      detail: asksFirst ? `asks first; ${chosen}` : chosen,
      answers: true,
      opens: undefined,
      make: () => {
        const instruments = this.boxes.filter((box) => box.checked).map((box) => box.value);
        if (instruments.length === 0)
          return {refusal: "No instrument takes part: choose at least one.", focus: this.boxes[0]};
        const reason = this.reason.value.trim();
        const poor = this.poorWords() !== "";
        const by = this.name.value.trim();
        if (poor && !reason)
          return {refusal: "A range of this sequence is in poor health: give a reason to use it.", focus: this.reason};
        if (poor && this.nameless && !by) return {refusal: "An override has a name: give yours.", focus: this.name};
        return {
          asksFirst,
          requests: [{
            what: "run_start",
            said: "the run began",
            body: {
              sequence: this.sequence.value,
              condition: this.condition.value,
              instruments,
              ...(poor ? {override_health: reason} : {}),
              ...(poor && this.nameless ? {by} : {})
            }
          }]
        };
      }
    };
  }
}
