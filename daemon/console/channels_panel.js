// Each instrument's reading, how still it is, and what its mark waits for.

import {spanWords, wholeSpanWords} from "./clock.js";
import {button, make, setAttribute, setClass, setText, show} from "./dom.js";
import {isNumber, markNumbers, plain, rounded, signed, withMinus} from "./numbers.js";

const LEAST_SILENCE_US = 500_000;
/// A longer way is no approach yet.
const SOON_S = 60;
/// From so many on, rows give up their height for the plot.
const SEVERAL = 5;
const MANY = 9;
const MARK_WORDS = {
  none: "",
  waiting: "mark waits",
  window: "window open",
  taken: "mark taken"
};

/// True where a reading may be shown as live: the page hears the service, and the instrument answers at its pace.
export function isFresh(channel, since_us, live) {
  if (!live || channel.stillness === "silent" || !isNumber(since_us)) return false;
  return !channel.poll_us || since_us <= Math.max(3 * channel.poll_us, LEAST_SILENCE_US);
}

function expectedWords(channel) {
  if (channel.stillness === "still") return "still now";
  if (isNumber(channel.expected_s) && channel.expected_s < 3600)
    return `still in ${spanWords(channel.expected_s * 1e6)}`;
  return "";
}

/// Only while the press is wound a pressure is on its way; what creeps later is the readings' business.
export function isApproach(frame) {
  return frame.run?.state === "running" && (frame.step?.kind === "float" || Boolean(frame.step?.then));
}

/// Where the pressure is on its way, in words; and how much they matter.
export function approachWords(channel, units) {
  const {approach} = channel;
  if (!approach) return null;
  const {unit, pascals} = units.of(channel.unit);
  const away = isNumber(approach.to_go_pa) ? `${plain(Math.abs(approach.to_go_pa) / pascals, 3)} ${unit}` : "";
  if (approach.beyond) return {alarm: true, text: `went past by ${away}: go back and come again`};
  const soon = isNumber(approach.in_s) && approach.in_s < SOON_S ? `, there in ${spanWords(approach.in_s * 1e6)}` : "";
  if (approach.near) return {alarm: true, text: `slow down: ${away} to go${soon}`};
  return away && approach.to_go_pa > 0 ? {alarm: false, text: `${away} to go${soon}`} : null;
}

/// What a fault of the wire is, in words; a kind that is not listed stands as it is.
const FAULT_WORDS = {
  link_down: "the line is down",
  silent: "no answer",
  bad_frame: "a damaged answer",
  refused: "the instrument refused",
  unsupported: "the instrument does not know this request",
  instrument_fault: "the instrument reports a fault",
  under_range: "below its range",
  over_range: "above its range",
  not_a_number: "the value is no number",
  not_understood: "an answer that cannot be read"
};
/// So long a fault that is over stays at the readings; the bench view keeps it.
const FAULT_SHOWN_US = 60_000_000;

/// The latest fault in a line: what, how often, when.
export function faultWords(fault, now_us) {
  const kind = fault.kind.replaceAll(" ", "_");
  const times = fault.count > 1 ? `, ${fault.count} times` : "";
  const since = now_us === null ? "" : `, last ${wholeSpanWords(now_us - fault.at_us)} ago`;
  return `${FAULT_WORDS[kind] ?? fault.kind.replaceAll("_", " ")}${times}${since}`;
}

/// True where the instrument is not asked at its usual pace, so that asking at once makes a difference.
export function isSilenced(channel) {
  return !channel.manual &&
    (channel.stillness === "silent" || ["silent", "unsupported", "link down"].includes(channel.status));
}

class Row {
  constructor(name, {enter, askAgain}) {
    this.name = make("h3", {text: name});
    this.value = make("output", {class: "value", "aria-label": `${name} reads`});
    this.state = make("span", {class: "state"});
    this.fill = make("span", {class: "fill"});
    this.bar = make("span", {
      class: "window-bar",
      role: "progressbar",
      "aria-label": `window of ${name}`,
      "aria-valuemin": 0,
      "aria-valuemax": 100
    },
      this.fill);
    this.expected = make("span", {class: "expected"});
    this.mark = make("span", {class: "mark-word"});
    this.note = make("p", {class: "note"});
    this.enter = button("Enter its reading", () => enter(name), {hidden: true});
    this.askAgain =
      button("Ask again at once", () => askAgain(name), {hidden: true, "aria-label": `Ask ${name} again at once`});
    this.faultHead = make("summary");
    this.faultDetail = make("p");
    this.fault = make("details", {class: "fault", hidden: true}, this.faultHead, this.faultDetail);
    this.line = make("div", {class: "state-line"}, this.state, this.bar, this.expected, this.mark);
    this.element = make("article", {class: "channel"}, make("div", {class: "head"}, this.name, this.value), this.line,
      this.note, this.fault, this.enter, this.askAgain);
  }
  render(channel, context) {
    const {live, units, lastMark, takesEntry, approaching, mayPress, now_us} = context;
    if (channel.manual) return this.renderManual(channel, lastMark, units, takesEntry);
    const since_us = isNumber(channel.age_us) ? channel.age_us + context.frameAge_us : null;
    const fresh = isFresh(channel, since_us, live);
    const faulty = channel.stillness === "faulty" || !isNumber(channel.value);
    setText(this.value, isNumber(channel.value) ? `${withMinus(channel.shown)} ${channel.unit}` : "no value");
    setClass(this.element, "stale", !fresh);
    setClass(this.element, "moving", fresh && channel.stillness === "moving");
    if (!fresh) {
      setText(this.state, since_us === null ? "no reading yet" : `last seen ${wholeSpanWords(since_us)} ago`);
      setText(this.expected, "");
    } else if (faulty) {
      setText(this.state, `faulty: ${channel.status}`);
      setText(this.expected, "");
    } else {
      setText(this.state, channel.stillness);
      setText(this.expected, expectedWords(channel));
    }
    const filled = fresh && !faulty ? Math.round((channel.progress ?? 0) * 100) : 0;
    show(this.bar, fresh && !faulty);
    if (this.filled !== filled) {
      this.filled = filled;
      this.fill.style.transform = `scaleX(${filled / 100})`;
      setAttribute(this.bar, "aria-valuenow", filled);
    }
    setText(this.mark, live ? MARK_WORDS[channel.mark] ?? channel.mark : "");
    const approach = fresh && approaching ? approachWords(channel, units) : null;
    const why = fresh && channel.stillness !== "still" && channel.why ? `not still: ${channel.why}` : "";
    setText(this.note, approach?.text ?? (why || markWords(lastMark, units)));
    setClass(this.note, "alarm", approach?.alarm);
    show(this.askAgain, live && mayPress && isSilenced(channel));
    const {fault} = channel;
    const tell = Boolean(fault) && live && (!fresh || faulty || now_us - fault.at_us < FAULT_SHOWN_US);
    show(this.fault, tell);
    if (!tell) return;
    setText(this.faultHead, `Latest fault: ${faultWords(fault, now_us)}`);
    setText(this.faultDetail, fault.detail);
  }
  renderManual(channel, lastMark, units, takesEntry) {
    setText(this.value, channel.shown ? `${withMinus(channel.shown)} ${channel.unit}` : "");
    setText(this.state, "read by hand");
    show(this.bar, false);
    setText(this.mark,
      channel.mark === "waiting" || channel.mark === "window" ? "reading wanted" : MARK_WORDS[channel.mark] ?? "");
    setText(this.note, markWords(lastMark, units));
    show(this.enter, takesEntry);
  }
}

function markWords(mark, units) {
  if (!mark) return "";
  const {unit, deviation, expanded, decimals} = markNumbers(mark, units);
  const u = isNumber(expanded) ? `, U ${rounded(expanded, decimals)} ${unit}` : "";
  return `last mark, ${mark.target} ${mark.direction}: ${signed(deviation, decimals)} ${unit}${u}, ${mark.status}`;
}

export class ChannelsPanel {
  /// `enter(name)` opens the entry of a dial; `askAgain(name)` asks an instrument again at once.
  constructor(place, {bench, ...actions}) {
    Object.assign(this, {place, bench, actions});
    this.rows = new Map();
  }
  /// `entered`: the dial whose reading is being typed beside the step.
  render(frame, {live, frameAge_us, mayPress, entered, now_us}) {
    const names = frame.channels.map((one) => one.name).join("\n");
    if (names !== this.names) {
      this.names = names;
      this.rows = new Map(frame.channels.map((one) => [one.name, new Row(one.name, this.actions)]));
      this.place.replaceChildren(...[...this.rows.values()].map((row) => row.element));
      setClass(this.place, "several", frame.channels.length >= SEVERAL);
      setClass(this.place, "many", frame.channels.length >= MANY);
    }
    const approaching = isApproach(frame);
    const last = new Map();
    for (const mark of frame.marks ?? [])
      if (mark.status !== "void") last.set(mark.channel, mark);
    const running = frame.run?.state === "running";
    for (const channel of frame.channels)
      this.rows.get(channel.name)?.render(channel, {
        live,
        frameAge_us,
        mayPress,
        now_us,
        units: this.bench.units,
        lastMark: last.get(channel.name),
        approaching,
        takesEntry: channel.manual && running && mayPress && channel.name !== entered && channel.mark !== "none" &&
          channel.mark !== "taken"
      });
  }
}
