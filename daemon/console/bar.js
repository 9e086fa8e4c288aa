// The bottom edge: the one big control, lost, undo, renewal, and what came of the last press.

import {OVER_PRESSURE} from "./advice.js";
import {wholeSpanWords} from "./clock.js";
import {openContradiction} from "./contradiction.js";
import {ask, dialogIsOpen} from "./dialogs.js";
import {make, setClass, setText, show} from "./dom.js";
import {openLoadDialog} from "./load_dialog.js";
import {
  EXPIRY_WARNING_US,
  floatLeft_us,
  HeldKeys,
  loadAlone,
  loadAndFloat,
  renewal,
  wanted,
  whyNot
} from "./presses.js";
import {settings} from "./settings.js";
import {Refusal, tell} from "./wire.js";

const byId = (id) => document.getElementById(id);
/// So long the words of a recorded press stay.
const SAID_FOR_MS = 6_000;

export class Bar {
  /// `page`: connected, frame, clock, mayPress, view, entry, startForm, goTo.
  constructor(page) {
    this.page = page;
    this.keys = new HeldKeys();
    this.onItsWay = false;
    this.stepShown_ms = 0;
    byId("big").addEventListener("click", (event) => this.pressBig(event));
    byId("lost").addEventListener(
      "click", (event) => this.press(event, {requests: [{what: "lost", body: {}, said: "the float was lost"}]}));
    byId("undo").addEventListener(
      "click", (event) => this.press(event, {requests: [{what: "undo", body: {}, said: "taken back"}]}));
    byId("renew").addEventListener("click", (event) => this.press(event, renewal()));
    byId("second").addEventListener("click", (event) => {
      const {frame} = this.page;
      if (frame?.step) this.press(event, settings.onePress ? loadAlone(frame) : loadAndFloat(frame));
    });
    byId("other").addEventListener("click", () => openLoadDialog(page, (event, press) => this.press(event, press)));
    // After a tap the keyboard's focus goes nowhere: a space bar pressed later is the big control's.
    document.addEventListener("pointerdown", () => { this.byPointer = true; }, true);
    document.addEventListener("keydown", () => { this.byPointer = false; }, true);
    document.addEventListener("click", () => {
      const focus = document.activeElement;
      if (this.byPointer && focus.matches("button, a, summary, [type=checkbox]") && !dialogIsOpen()) focus.blur();
    });
    document.addEventListener("keydown", (event) => this.keyDown(event));
    document.addEventListener("keyup", (event) => this.keys.release(event));
    addEventListener("blur", () => this.keys.forget());
  }

  keyDown(event) {
    if (event.ctrlKey || event.altKey || event.metaKey || dialogIsOpen()) return;
    const focus = document.activeElement;
    const entry = this.page.entry;
    const foot = event.key === settings.footKey;
    const inEntry = entry.owns(focus);
    const elsewhere =
      focus && focus !== document.body && focus !== byId("big") && focus !== byId("step-title") && !inEntry;
    const isSpace = event.key === " " && !elsewhere && !(inEntry && entry.subject?.kind === "reason");
    const isEnter = event.key === "Enter" && inEntry;
    if (foot && !(inEntry && entry.subject?.kind === "reason" && event.key.length === 1) || isSpace || isEnter) {
      event.preventDefault();
      if (this.keys.press(event)) this.pressBig(event);
      return;
    }
    if (!elsewhere && !inEntry && /^[-0-9.,]$/.test(event.key) && this.page.view === "now" &&
      entry.typedElsewhere(event.key))
      event.preventDefault();
  }

  /// What the big control means now.
  meaning() {
    const {page} = this;
    const {frame} = page;
    if (!page.connected || !frame) return {label: "Wait", detail: "the service is away", rests: true};
    if (page.view !== "now" && frame.run?.state === "running")
      return {label: "Back to the step", detail: frame.step?.title ?? "", act: () => page.goTo("now"), local: true};
    if (frame.advice.some(({code}) => code === OVER_PRESSURE))
      return {label: "Let the pressure down", detail: "over-pressure: nothing else is recorded", rests: true};
    const now_us = page.clock.at();
    const press = wanted(frame, now_us, {onePress: settings.onePress});
    if (press.opens === "start")
      return page.view === "now"
        ? {...press, ...page.startForm.bigControl(frame)}
        : {label: "Start a run", detail: "choose it first", act: () => page.goTo("now"), local: true};
    return (press.opens || press.rests || press.label === "Begin the check" || press.label === "Check again"
               ? page.entry.bigControl()
               : null) ??
      press;
  }

  pressBig(event) { this.press(event, this.meaning()); }

  situation() {
    const {page} = this;
    return {
      connected: page.connected,
      frame: page.frame,
      now_us: page.clock.at(),
      stepShown_ms: this.stepShown_ms,
      now_ms: performance.now(),
      onItsWay: this.onItsWay,
      mayPress: page.mayPress
    };
  }

  async press(event, press) {
    if (press.local) return press.act();
    const reason = whyNot(press, this.situation());
    if (reason) return this.refuse(reason);
    if (press.act) return press.act();
    const made = press.make ? press.make() : press;
    if (made.refusal) {
      made.focus?.focus();
      return this.refuse(made.refusal);
    }
    if (!made.requests) return this.refuse("There is nothing to press for here now.");
    if (made.asksFirst) {
      const {title, explanation, verb} = made.asksFirst;
      if ((await ask(title, explanation, verb)) === null) return;
      return this.again(press, made.requests);
    }
    // The instant of the press itself, not that at which the page got round to it.
    await this.send(
      press, made.requests, event.timeStamp > 0 ? Math.min(event.timeStamp, performance.now()) : performance.now());
  }

  /// Sends what a dialog asked about, as it was decided now.
  async again(press, requests, said = []) {
    const reason = whyNot({requests}, this.situation());
    if (reason) return this.refuse(reason);
    await this.send(press, requests, performance.now(), said);
  }

  /// `said`: what of this press is recorded already.
  async send(press, requests, pressed_ms, said = []) {
    const pressed_us = this.page.clock.at(pressed_ms);
    const left = [...requests];
    this.onItsWay = true;
    try {
      while (left.length > 0) {
        await tell(left[0].what, {...left[0].body, pressed_us});
        said.push(left.shift().said);
      }
      press.done?.();
      this.say(`Recorded: ${said.join("; ")}.`);
    } catch (trouble) {
      if (!(trouble instanceof Refusal)) throw trouble;
      if (trouble.code === "contradicted") return this.contradicted(trouble, press, left, said);
      this.refuse(`${recordedWords(said)}${trouble.message}`);
      press.failed?.();
      if (trouble.status === 401) this.page.sessionEnded();
    } finally {
      this.onItsWay = false;
    }
  }

  /// The instruments deny what the first of `left` states: the person looks again, or says why it is so all the same.
  contradicted(refusal, press, left, said) {
    const {frame, bench} = this.page;
    const step = this.stepKey;
    const [denied, ...others] = left;
    openContradiction(refusal,
      {said: denied.said, units: bench.units, unitOf: (name) => frame.channels.find((one) => one.name === name)?.unit},
      {
        lookAgain: () => {
          this.refuse(`${recordedWords(said)}${refusal.message}`);
          press.failed?.();
        },
        goOn: (reason) => {
          // What was recorded of this press before has itself moved the step on.
          if (said.length === 0 && this.stepKey !== step)
            return this.refuse("The step changed meanwhile: read it, then press again.");
          const despite = {...denied, body: {...denied.body, reason, despite: true}};
          this.again(press, [despite, ...others], said);
        }
      });
  }

  say(text) { this.message(text, false); }
  refuse(text) { this.message(text.charAt(0).toUpperCase() + text.slice(1), true); }
  message(text, refusal) {
    const place = byId("message");
    setClass(place, "refusal", refusal);
    // The same words again are told again.
    place.replaceChildren(refusal ? make("b", {text: "Not done: "}) : "", text);
    clearTimeout(this.timer);
    this.timer = setTimeout(() => place.replaceChildren(), refusal ? 3 * SAID_FOR_MS : SAID_FOR_MS);
  }

  render() {
    const {page} = this;
    const {frame} = page;
    const stepKey = frame ? `${frame.run?.id} ${frame.step?.number} ${frame.step?.wants}` : "";
    if (stepKey !== this.stepKey) {
      this.stepKey = stepKey;
      this.stepShown_ms = performance.now();
    }
    const meaning = this.meaning();
    const looksOn = !page.mayPress && !meaning.local;
    setText(byId("big-label"), looksOn ? "You look on" : meaning.label);
    setText(byId("big-detail"), looksOn ? `the operator's control says: ${meaning.label}` : meaning.detail ?? "");
    setClass(byId("big"), "rests", meaning.rests || !page.mayPress);
    setClass(byId("bar"), "looks-on", !page.mayPress);
    const now_us = page.clock.at();
    const live = page.connected && frame && now_us - frame.at_us < 1e6;
    const undo_us = live && page.mayPress && frame.undo ? frame.undo.until_us - now_us : 0;
    show(byId("undo"), undo_us > 0);
    if (undo_us > 0) setText(byId("undo"), `Take back: ${frame.undo.what}, ${Math.ceil(undo_us / 1e6)} s`);
    const left_us = live && frame ? floatLeft_us(frame, now_us) : null;
    const soon = left_us !== null && left_us < EXPIRY_WARNING_US;
    show(byId("renew"), left_us !== null && page.mayPress && frame.step?.wants !== "sighted");
    setClass(byId("renew"), "urgent", soon);
    show(byId("second"),
      live && page.mayPress && page.view === "now" && frame.step?.wants === "load" && Boolean(frame.step.then));
    setText(byId("second"), settings.onePress ? "Discs on, not afloat yet" : "Discs on and it floats");
    show(
      byId("other"), live && page.mayPress && page.view === "now" && ["load", "confirm"].includes(frame.step?.wants));
    setText(byId("float-words"), frame ? floatWords(frame, live, left_us) : "");
    setClass(byId("float-words"), "urgent", soon);
  }
}

const recordedWords = (said) => (said.length > 0 ? `Recorded: ${said.join("; ")}. But then: ` : "");

export function floatWords(frame, live, left_us) {
  const range = frame.float.range ? `, ${frame.float.range} range` : "";
  if (!live) return `Float not known now; it was: ${frame.float.state}${range}`;
  switch (frame.float.state) {
  case "confirmed": {
    const left = left_us === null ? "" : left_us > 0 ? `: look again within ${wholeSpanWords(left_us)}` : ": expired";
    return `Afloat${range}${left}`;
  }
  case "none":
    return "Float not confirmed";
  case "expired":
    return `Float expired${range}: confirmed too long ago`;
  case "unknown":
    return `Float unknown${range}: the service was away meanwhile`;
  default:
    return `Float ${frame.float.state}${range}`;
  }
}
