// What is typed at a step: a dial's readings, the value of a check, a reason. The big control moves through the fields
// and sends, so that a foot switch is enough beside the digits.

import {decimalsOfPart, readablePart, readTyped, stepped} from "./dial_value.js";
import {button, make} from "./dom.js";
import {plain} from "./numbers.js";
import {dialsToRead} from "./presses.js";

/// The service takes no reading that was begun more than two minutes before; a field left open is begun again.
const BEGUN_ANEW_US = 60_000_000;

const form = (...children) =>
  make("form", {class: "entry", on: {submit: (event) => event.preventDefault()}}, ...children);

export class EntryPanel {
  /// `now_us()`: the service's time; `changed()`: the big control means something else now.
  constructor(place, {now_us, changed, told}) {
    Object.assign(this, {place, now_us, changed, told});
    this.subject = null;
    this.chosen = null;
    this.reasoning = false;
  }

  /// What has to be typed at this frame, as one text; a change of it begins a fresh form.
  subjectOf(frame) {
    const step = frame.run?.state === "running" ? frame.step : null;
    if (!step) return null;
    if (step.wants === "check" && this.reasoning && step.check?.failed) return {kind: "reason", step};
    if (step.wants === "check" && step.check?.by === "value")
      return {kind: "value", step, channel: frame.channels.find((one) => one.name === step.check.channel)};
    if (step.wants === "check" && step.check?.failed) return {kind: "failed", step};
    const due = dialsToRead(frame);
    const chosen = frame.channels.find((one) => one.manual && one.name === this.chosen);
    const channel = chosen ?? due[0];
    return channel ? {kind: "dial", step, channel, due} : null;
  }

  render(frame) {
    const subject = this.subjectOf(frame);
    const key = subject && [
      subject.kind, subject.step.number, subject.step.check?.name, subject.channel?.name,
      subject.kind === "dial" ? subject.due.map((one) => one.name) : subject.step.check?.failed
    ].join("|");
    if (key === this.key) {
      this.subject = subject;
      return false;
    }
    this.key = key;
    this.subject = subject;
    this.started_us = null;
    this.fields = [];
    this.place.replaceChildren(...(subject ? [this.build(subject)] : []));
    this.active = this.fields[0] ?? null;
    return true;
  }

  build(subject) {
    if (subject.kind === "reason") return this.buildReason(subject);
    if (subject.kind === "value") return this.buildValue(subject);
    if (subject.kind === "failed") return make("div", {class: "entry"}, this.goOnButton(subject.step.check));
    return this.buildDial(subject);
  }

  field(label, unit, options = {}) {
    const input = make("input", {
      type: "text",
      autocomplete: "off",
      autocapitalize: "off",
      spellcheck: "false",
      inputmode: "none",
      maxlength: "40",
      enterkeyhint: "next",
      ...options,
      on: {
        focus: () => {
          this.active = input;
          this.begin();
          // On a small screen the keypad comes into sight with its field.
          this.place.scrollIntoView({block: "nearest"});
          this.changed();
        },
        input: () => {
          this.begin();
          this.changed();
        },
      }
    });
    this.fields.push(input);
    return make("label", {class: "field typed"}, make("span", {text: label}), input,
      unit && make("span", {class: "unit", text: unit}));
  }

  /// The person begins to read when a field is entered.
  begin() {
    const now = this.now_us();
    const empty = this.fields.every((one) => one.value === "");
    if (this.started_us === null || (empty && now - this.started_us > BEGUN_ANEW_US)) this.started_us = now;
  }

  buildDial(subject) {
    const {channel, due} = subject;
    const part = readablePart(channel);
    const division = part === null ? ""
                                   : `division ${plain(channel.division)} ${channel.unit}, read to ` +
        `${part.toFixed(decimalsOfPart(part))} ${channel.unit}`;
    const others = due.filter((one) => one.name !== channel.name);
    return form(make("h2", {text: `Read ${channel.name}`}, division && make("small", {text: ` ${division}`})),
      make("div", {class: "entry-sides"},
        make("div", {class: "entry-fields"}, this.field("before tapping", channel.unit),
          this.field("after tapping", channel.unit),
          make("p", {class: "hint", text: "Nothing after tapping: unchanged."}),
          others.map((one) => button(`Read ${one.name} first`, () => this.choose(one.name)))),
        this.keypad(channel, subject.step.target_pa)));
  }

  buildValue(subject) {
    const {check} = subject.step;
    const about = check.channel ? `${check.name} of ${check.channel}` : check.name;
    return form(make("h2", {text: `What you found: ${about}`}, check.limit && make("small", {text: ` ${check.limit}`})),
      make("div", {class: "entry-sides"},
        make("div", {class: "entry-fields"}, this.field("found", check.unit), this.goOnButton(check)),
        this.keypad(subject.channel?.division ? subject.channel : null, 0)));
  }

  buildReason(subject) {
    return form(make("h2", {text: `Why the run goes on after the ${subject.step.check.name} check`}),
      make("div", {class: "entry-fields"},
        this.field("reason", "", {inputmode: "text", maxlength: "200", class: "long"}),
        button("Leave: check again", () => this.reason(false))));
  }

  goOnButton(check) { return check.failed && button("Go on with a reason", () => this.reason(true)); }

  reason(on) {
    this.reasoning = on;
    this.changed();
    if (on) this.fields[0]?.focus();
  }

  choose(name) {
    this.chosen = name;
    this.changed();
    this.fields[0]?.focus();
  }

  keypad(channel, target_pa) {
    const type = (text) => () => this.type(text);
    const keys = ["7", "8", "9", "4", "5", "6", "1", "2", "3", "0", ".", "\u2212"].map(
      (text) => button(text, type(text), {"aria-label": {"\u2212": "minus sign", ".": "point"}[text] ?? text}));
    const pad = make("div", {class: "keypad", role: "group", "aria-label": "Digits"}, keys,
      button("\u232b", () => this.erase(), {"aria-label": "take the last character back", class: "wide"}));
    if (channel && readablePart(channel) !== null) {
      const part = readablePart(channel);
      const words = `${part.toFixed(decimalsOfPart(part))} ${channel.unit}`;
      const move = (parts) => () => this.move(channel, parts, target_pa);
      pad.append(button(`\u2212 ${words}`, move(-1), {class: "part", "aria-label": `one part down, ${words}`}),
        button(`+ ${words}`, move(1), {class: "part", "aria-label": `one part up, ${words}`}));
    }
    return pad;
  }

  type(text) {
    if (!this.active) return;
    this.begin();
    const typed = text === "\u2212" ? "-" : text;
    if (this.active.value.length < 40) this.active.value += typed;
    this.changed();
  }
  erase() {
    if (!this.active) return;
    this.active.value = this.active.value.slice(0, -1);
    this.changed();
  }
  move(channel, parts, target_pa) {
    if (!this.active) return;
    this.begin();
    const scale = this.pascals?.(channel.unit);
    const before = this.active === this.fields[1] ? Number(this.fields[0].value) : NaN;
    const start = Number.isFinite(before) && this.fields[0].value !== "" ? before : scale ? target_pa / scale : 0;
    this.active.value = stepped(this.active.value, channel, parts, start);
    this.changed();
  }

  /// A digit typed where no field is in focus goes into the first one.
  typedElsewhere(character) {
    if (this.fields === undefined || this.fields.length === 0 || this.subject?.kind === "reason") return false;
    const field = this.active ?? this.fields[0];
    field.focus();
    this.type(character);
    return true;
  }

  owns(element) { return this.fields?.includes(element) ?? false; }

  /// What the big control means while something is to be typed; null where nothing is.
  bigControl() {
    const {subject} = this;
    if (!subject || subject.kind === "failed") return null;
    if (subject.kind === "dial") return this.dialControl(subject);
    const [field] = this.fields;
    const typed = field.value.trim();
    const reason = subject.kind === "reason";
    if (typed === "")
      return {
        label: reason ? "Type the reason" : "Type what you found",
        detail: subject.step.check.channel ?? subject.step.check.name,
        act: () => field.focus()
      };
    const {step} = subject;
    if (reason)
      return {
        label: "Go on",
        detail: "with this reason on record",
        answers: true,
        requests: [{what: "go_on", body: {step: step.number, reason: typed}, said: "the run goes on with a reason"}],
        done: () => this.reason(false)
      };
    const number = typed.replace(/^\u2212/, "-").replace(/^(-?\d+),(\d+)/, "$1.$2");
    const value = /[a-z%]/i.test(number) ? number : `${number} ${step.check.unit ?? ""}`.trim();
    const body = {step: step.number, value};
    if (step.check.channel) body.channel = step.check.channel;
    return {
      label: "State it",
      detail: value,
      answers: true,
      requests: [{what: "check", body, said: `${step.check.name}: ${value}`}],
      done: () => this.fresh()
    };
  }

  dialControl({channel}) {
    const [untapped, tapped] = this.fields;
    if (untapped.value.trim() === "")
      return {label: "Enter the reading", detail: `${channel.name}, before tapping`, act: () => untapped.focus()};
    if (this.active !== tapped)
      return {
        label: "Now tap it",
        detail: `then read ${channel.name} again`,
        act: () => {
          const read = readTyped(untapped.value, channel);
          if (read.refusal) return this.told(read.refusal);
          tapped.focus();
        }
      };
    const unchanged = tapped.value.trim() === "";
    return {
      label: "Send the reading",
      detail: unchanged ? `${untapped.value} ${channel.unit}, unchanged by tapping`
                        : `${untapped.value}, tapped ${tapped.value} ${channel.unit}`,
      failed: () => this.readAgain(),
      make: () => this.dialRequest(channel),
      done: () => this.fresh()
    };
  }

  dialRequest(channel) {
    const untapped = readTyped(this.fields[0].value, channel);
    if (untapped.refusal) return {refusal: untapped.refusal, focus: this.fields[0]};
    const typed = this.fields[1].value.trim();
    const tapped = typed === "" ? untapped : readTyped(typed, channel);
    if (tapped.refusal) return {refusal: tapped.refusal, focus: this.fields[1]};
    return {
      requests: [{
        what: "enter",
        said: `${channel.name}: ${untapped.text}, tapped ${tapped.text}`,
        body: {channel: channel.name, untapped: untapped.text, tapped: tapped.text, started_us: this.started_us}
      }]
    };
  }

  /// After a refusal the dial is read again: what was typed stays to be compared, and the time of reading begins anew.
  readAgain() {
    this.started_us = null;
    this.fields[0].focus();
    this.fields[0].select();
  }

  /// After it was recorded: the next entry begins with empty fields.
  fresh() {
    if (this.fields.includes(document.activeElement)) document.activeElement.blur();
    this.key = undefined;
    this.chosen = null;
  }
}
