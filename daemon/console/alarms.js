// What must not be missed, in words across the top, told once to those who listen.

import {OVER_PRESSURE} from "./advice.js";
import {approachWords, isApproach} from "./channels_panel.js";
import {spanWords, wholeSpanWords} from "./clock.js";
import {alarmOverDialogs} from "./dialogs.js";
import {make, renderWhenChanged, setClass, setText, show} from "./dom.js";
import {EXPIRY_WARNING_US, floatLeft_us} from "./presses.js";
import {settings} from "./settings.js";

/// How long the return of the service stays on the screen.
const RETURN_SHOWN_MS = 15_000;

/// These the page tells itself, earlier or by the second.
const OWN_WORDS = ["journal_failed", "float_expires"];

/// The alarms now: `key` stays the same while it is the same alarm, though its numbers change. `situation`: frame,
/// connected, everConnected, needsLogin, awaySince_ms, backSince_ms, wasAway_ms, now_us, now_ms, units.
export function alarmsOf(situation) {
  const {frame, connected, needsLogin, now_us, units} = situation;
  if (needsLogin) return [];
  const found = [...overPressure(situation), ...connection(situation)];
  if (!frame || !connected) return found;
  if (frame.journal === "failed")
    found.push({key: "journal", text: "The journal failed: nothing that is done now is recorded. Stop here."});
  const said = frame.advice.filter(({code, alarm}) => alarm && code !== OVER_PRESSURE && !OWN_WORDS.includes(code));
  for (const {code, channel, text} of said) found.push({key: `${code} ${channel ?? ""}`, text});
  for (const channel of isApproach(frame) ? frame.channels : []) {
    const approach = approachWords(channel, units);
    if (approach?.alarm && !said.some((one) => one.channel === channel.name))
      found.push({
        key: `approach ${channel.name} ${channel.approach.beyond}`,
        approach: true,
        text: `${channel.name}: ${approach.text}`
      });
  }
  const left_us = floatLeft_us(frame, now_us);
  if (left_us !== null && left_us > 0 && left_us < EXPIRY_WARNING_US)
    found.push({
      key: `expiry ${frame.float.since_us}`,
      text: `The float expires in ${wholeSpanWords(left_us)}: look at the piston and say that it still floats.`
    });
  return found;
}

/// Stays until a frame says that it is over: a lost connection ends no pressure.
function overPressure({frame, connected}) {
  if (!frame) return [];
  return frame.advice.filter(({code}) => code === OVER_PRESSURE).map(({channel, text}) => ({
    key: `${OVER_PRESSURE} ${channel ?? ""}`,
    over: true,
    text: connected ? text : `${text} (when the service was last heard)`
  }));
}

function connection(situation) {
  const {frame, connected, everConnected, awaySince_ms, backSince_ms, wasAway_ms, now_us, now_ms} = situation;
  if (!connected)
    return [{
      key: "away",
      text: everConnected ? `The service is away, for ${
                              wholeSpanWords((now_ms - awaySince_ms) * 1000)}. Below is how it was. Trying again.`
                          : "The service was not reached yet. Trying again."
    }];
  if (frame && now_us - frame.at_us > 1e6)
    return [
      {key: "old", text: `No word from the service for ${wholeSpanWords(now_us - frame.at_us)}. Below is how it was.`}
    ];
  if (wasAway_ms && now_ms - backSince_ms < RETURN_SHOWN_MS)
    return [{
      key: `back ${backSince_ms}`,
      mild: true,
      text: `The service was away for ${spanWords(wasAway_ms * 1000)}. It is live again.`
    }];
  return [];
}

const headOf = ({mild, approach}) => (mild ? "Note" : approach ? "Slow" : "Alarm");
const classOf = ({mild, approach}) => (mild ? "alarm mild" : approach ? "alarm over" : "alarm");

export class Alarms {
  /// `top`: the whole top of the page, for over-pressure alone.
  constructor({place, top, spoken}, bench) {
    Object.assign(this, {place, top, spoken, bench});
    this.told = new Set();
  }

  render(page) {
    const found = alarmsOf({...page, now_us: page.clock.at(), now_ms: performance.now(), units: this.bench.units});
    const over = found.filter((one) => one.over);
    this.renderOver(over);
    // The nearest of the approaches speaks for all: their numbers differ, what to do does not. Beside over-pressure
    // none speaks.
    const first = over.length > 0 ? null : found.find((one) => one.approach);
    const shown = found.filter((one) => !one.over && (!one.approach || one === first)).slice(0, 4);
    renderWhenChanged(this.place, shown.map((one) => [one.key, one.mild]),
      () => shown.map((one) => make("p", {class: classOf(one)}, make("b", {text: headOf(one)}), make("span"))));
    shown.forEach((one, i) => setText(this.place.children[i].lastChild, one.text));
    const all = [...over, ...shown];
    const fresh = all.filter((one) => !this.told.has(one.key));
    this.told = new Set(all.map((one) => one.key));
    if (fresh.length > 0) {
      setText(this.spoken, fresh.map((one) => one.text).join(" "));
      if (settings.sound && fresh.some((one) => !one.mild)) this.sound();
    }
  }

  renderOver(over) {
    const texts = over.map((one) => one.text);
    setClass(document.body, "over-pressure", over.length > 0);
    show(this.top, over.length > 0);
    renderWhenChanged(
      this.top, texts, () => [make("h2", {text: "Over-pressure"}), ...texts.map((text) => make("p", {text}))]);
    alarmOverDialogs(over.length > 0 ? `Over-pressure: ${texts.join("; ")}` : "");
  }

  /// Two short tones; browsers allow them only after somebody touched the page.
  sound() {
    try {
      this.audio ??= new AudioContext();
      const start = this.audio.currentTime;
      for (const [after, pitch] of [[0, 880], [0.22, 660]]) {
        const tone = this.audio.createOscillator();
        const loudness = this.audio.createGain();
        loudness.gain.value = 0.2;
        tone.frequency.value = pitch;
        tone.connect(loudness).connect(this.audio.destination);
        tone.start(start + after);
        tone.stop(start + after + 0.18);
      }
    } catch {
      // A machine without sound has the words.
    }
  }
}
