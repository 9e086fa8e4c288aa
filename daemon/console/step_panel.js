// The step now, in words for somebody two metres away.

import {besideTheStep, instructionTexts} from "./advice.js";
import {spanWords} from "./clock.js";
import {make, renderWhenChanged, setClass, setText} from "./dom.js";
import {plain} from "./numbers.js";
import {settings} from "./settings.js";

const byId = (id) => document.getElementById(id);
/// Text begins so large where there is room, and is made smaller in such steps until the step fits; below the smallest
/// the panel scrolls.
const LARGEST_FIT = 1.36;
const FIT_STEP = 0.06;
const SMALLEST_FIT = 0.52;

function discItem(name, discs) {
  const disc = discs.get(name);
  return make("li", {}, make("b", {text: name}), disc ? make("span", {text: ` ${plain(disc.mass_kg)} kg`}) : null,
    disc?.two_hands ? make("em", {text: "two hands"}) : null);
}

function discList(title, names, discs) {
  if (!names || names.length === 0) return null;
  return make(
    "section", {class: "discs"}, make("h2", {text: title}), make("ol", {}, names.map((name) => discItem(name, discs))));
}

function headAfter(step, discs) {
  if (step.discs.length === 0) return "Then on the head: no discs, the floating parts alone.";
  let mass_kg = 0;
  for (const name of step.discs) mass_kg += discs.get(name)?.mass_kg ?? NaN;
  const mass = Number.isFinite(mass_kg) ? `, ${plain(mass_kg)} kg` : "";
  return `Then on the head, from the bottom: ${step.discs.join(", ")} (${step.discs.length} discs${mass}).`;
}

/// Where one press states discs and float, the step shows what comes before that press.
function winding(step) { return settings.onePress ? step.then : null; }

function body(step, bench) {
  const parts = [];
  if (step.kind === "load")
    parts.push(discList("Take off, from the top", step.take_off, bench.discs),
      discList("Put on, from the bottom", step.put_on, bench.discs),
      make("p", {class: "after", text: headAfter(step, bench.discs)}));
  const say = instructionTexts(step, winding(step));
  if (say.length === 1) parts.push(make("p", {class: "say", text: say[0]}));
  if (say.length > 1) parts.push(make("ol", {class: "say"}, say.map((text) => make("li", {text}))));
  return parts;
}

/// One place for each range, always in the same order: the place and the words tell them apart.
function ranges(step, bench) {
  if (!step?.range || bench.ranges.length < 2) return [];
  return bench.ranges.map((range) => make("span", {
    class: range.name === step.range ? "slot in-use" : "slot",
    text: range.name === step.range ? `${range.name} range, in use` : `not ${range.name}`
  }));
}

function title(frame) {
  const {run, step} = frame;
  if (!run) return "No run is going on";
  if (run.state !== "running") return `Run ${run.id} is ${run.state}`;
  return step ? step.title : `Run ${run.id} has no step at present`;
}

function waits(step) {
  if (!step) return "";
  // A check that watches says the time in its sentence.
  const left = step.kind === "wait" && typeof step.left_s === "number" ? `${spanWords(step.left_s * 1e6)} left` : "";
  return [step.waits_for, left].filter(Boolean).join("; ");
}

export class StepPanel {
  constructor(bench) {
    this.bench = bench;
    this.panel = byId("step");
    new ResizeObserver(() => this.fit()).observe(this.panel);
  }
  render(frame) {
    const running = frame.run?.state === "running";
    const step = running ? frame.step : null;
    setText(byId("step-count"), step ? `Step ${step.number + 1} of ${frame.run.steps}` : "");
    setText(byId("step-title"), title(frame));
    let changed = renderWhenChanged(
      byId("step-ranges"), [step?.range, this.bench.revision, this.bench.ranges], () => ranges(step, this.bench));
    changed =
      renderWhenChanged(byId("step-body"),
        [
          step && [step.number, step.kind, step.say, step.put_on, step.take_off, step.discs, step.turn, winding(step)],
          this.bench.revision
        ],
        () => (step ? body(step, this.bench) : [])) ||
      changed;
    setText(byId("step-waits"), waits(step));
    const cautions =
      step ? [...new Set([...step.caution, ...(winding(step)?.caution ?? [])].map(({text}) => text))] : [];
    changed = renderWhenChanged(byId("step-cautions"), cautions,
                () => cautions.map(
                  (text) => make("p", {class: "caution"}, make("b", {text: "Caution"}), make("span", {text})))) ||
      changed;
    const advice = besideTheStep(frame);
    changed = renderWhenChanged(byId("step-advice"), advice, () => adviceLines(advice)) || changed;
    // A sentence that grows by a line may no longer fit.
    const waitsLines = Math.ceil(byId("step-waits").textContent.length / 30);
    changed = changed || waitsLines !== this.waitsLines;
    this.waitsLines = waitsLines;
    setClass(this.panel, "no-step", !step);
    if (changed) this.fit();
  }
  /// As large as fits; a person stands away from it.
  fit() {
    if (this.fitting) return;
    this.fitting = true;
    requestAnimationFrame(() => {
      this.fitting = false;
      const {panel} = this;
      const bounded = getComputedStyle(panel).overflowY === "auto";
      let fit = bounded ? LARGEST_FIT : 1;
      panel.style.setProperty("--fit", fit.toFixed(2));
      while (bounded && fit > SMALLEST_FIT && panel.scrollHeight > panel.clientHeight + 1) {
        fit -= FIT_STEP;
        panel.style.setProperty("--fit", fit.toFixed(2));
      }
    });
  }
}

/// Each with its explanations, the likely first.
export function adviceLines(advice) {
  return advice.map(
    ({text, ranked}) => make("div", {class: "advice"}, make("b", {text: "Advice"}), make("span", {text}),
      ranked.length > 0 && make("ol", {}, ranked.map((one) => make("li", {text: one})))));
}
