// What must not be missed, in words across the top, told once to those who listen.

import {approachWords, isApproach} from "./channels_panel.js";
import {spanWords, wholeSpanWords} from "./clock.js";
import {make, renderWhenChanged, setText} from "./dom.js";
import {EXPIRY_WARNING_US, floatLeft_us, isAlarm} from "./presses.js";
import {settings} from "./settings.js";

/// How long the return of the service stays on the screen.
const RETURN_SHOWN_MS = 15_000;

export class Alarms {
  constructor(place, spoken, bench) {
    Object.assign(this, {place, spoken, bench});
    this.told = new Set();
  }

  /// The alarms now: `key` stays the same while it is the same alarm, though its numbers change.
  list(page) {
    const {frame, connected, clock} = page;
    const now_us = clock.at();
    const found = [];
    if (page.needsLogin) return found;
    if (!connected)
      found.push({
        key: "away",
        text: page.everConnected
          ? `The service is away, for ${
              wholeSpanWords((performance.now() - page.awaySince_ms) * 1000)}. Below is how it was. Trying again.`
          : "The service was not reached yet. Trying again."
      });
    else if (frame && now_us - frame.at_us > 1e6)
      found.push({
        key: "old",
        text: `No word from the service for ${wholeSpanWords(now_us - frame.at_us)}. Below is how it was.`
      });
    else if (page.wasAway_ms && performance.now() - page.backSince_ms < RETURN_SHOWN_MS)
      found.push({
        key: `back ${page.backSince_ms}`,
        mild: true,
        text: `The service was away for ${spanWords(page.wasAway_ms * 1000)}. It is live again.`
      });
    if (!frame || !connected) return found;
    if (frame.journal === "failed")
      found.push({key: "journal", text: "The journal failed: nothing that is done now is recorded. Stop here."});
    for (const text of frame.advice)
      // The page tells of expiry and journal itself, earlier and by the second.
      if (isAlarm(text) && !/^the float expires|journal/.test(text))
        found.push({key: text.replace(/[\d.]+/g, ""), text});
    for (const channel of isApproach(frame) ? frame.channels : []) {
      const approach = approachWords(channel, this.bench.units);
      if (approach?.alarm && !found.some((one) => one.text.startsWith(channel.name)))
        found.push({
          key: `approach ${channel.name} ${channel.approach.beyond}`,
          sounds: true,
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

  render(page) {
    const found = this.list(page);
    // The nearest of the approaches speaks for all: their numbers differ, what to do does not.
    const first = found.find((one) => one.approach);
    const shown = found.filter((one) => !one.approach || one === first).slice(0, 4);
    const kinds = shown.map((one) => [one.key, one.mild]);
    renderWhenChanged(this.place, kinds,
      () => shown.map((one) => make("p", {class: one.mild ? "alarm mild"
          : one.approach                                  ? "alarm over"
                                                          : "alarm"},
                        make("b", {text: one.mild ? "Note"
                            : one.approach        ? "Slow"
                                                  : "Alarm"}),
                        make("span"))));
    shown.forEach((one, i) => setText(this.place.children[i].lastChild, one.text));
    const fresh = shown.filter((one) => !this.told.has(one.key));
    this.told = new Set(shown.map((one) => one.key));
    if (fresh.length > 0) {
      setText(this.spoken, fresh.map((one) => one.text).join(" "));
      if (settings.sound && fresh.some((one) => !one.mild)) this.sound();
    }
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
