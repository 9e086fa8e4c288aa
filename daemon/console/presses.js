// What the one big control means at each step, and when a press counts. No element of the page is touched here.

/// Nobody reads and presses in less: a press was meant for what stood there before.
export const READING_TIME_MS = 300;
/// A frame that is older tells of another moment than the one at which somebody presses.
export const FRESH_US = 1_000_000;
/// From here on the control renews the float where the step wants nothing else.
export const EXPIRY_WARNING_US = 20_000_000;

export function loadIsAsPlanned(frame) {
  const {step, load} = frame;
  if (!step || !load || load.range !== step.range) return false;
  const planned = [...(step.discs ?? [])].sort();
  const stated = [...load.discs].sort();
  return planned.length === stated.length && planned.every((name, i) => name === stated[i]);
}

/// The dials of this step that still want a reading, as the service lists them.
export function dialsToRead(frame) {
  return frame.channels.filter((one) => one.manual && (one.mark === "waiting" || one.mark === "window"));
}

export function floatLeft_us(frame, now_us) {
  if (frame.float?.state !== "confirmed" || !frame.float.expires_us) return null;
  return frame.float.expires_us - now_us;
}

const loadRequest = (step) => ({what: "load", body: {step: step.number}, said: "the discs are on as listed"});
const confirmRequest = (range) => ({what: "confirm", body: {range}, said: `it floats, ${range} range`});

/// The discs by themselves, before the press is wound.
export function loadAlone({step}) {
  return {
    label: "Discs are on",
    detail: "as listed; the piston still rests",
    answers: true,
    requests: [loadRequest(step)]
  };
}

/// Where a load is planned: discs and float in one press.
export function loadAndFloat(frame) {
  const requests = [confirmRequest(frame.step.range)];
  // A load that is stated again closes the float; so it is stated only where it is not yet.
  if (frame.step.wants === "load" || !loadIsAsPlanned(frame)) requests.unshift(loadRequest(frame.step));
  return {label: "Discs are on and it floats", detail: "as listed; in the band and turning", requests, answers: true};
}

export function renewal() {
  return {
    label: "Still floats",
    detail: "looked again: in the band and turning",
    requests: [{what: "sighted", body: {close: false}, said: "it still floats"}]
  };
}

/// What a press of the big control does now:
/// `label`, `detail`; then `requests` (sent in order, each when the one before was recorded), or `opens` ("entry",
/// "value", "start") for what is typed first, or `rests` where the step wants nothing. `answers`: the press answers a
/// step, so it counts only after the step has stood for a moment.
export function wanted(frame, now_us, {onePress = false} = {}) {
  const step = frame.step;
  if (!frame.run || frame.run.state !== "running")
    return {label: "Start a run", detail: "as chosen above", opens: "start"};
  if (!step) return {label: "Wait", detail: "the run has no step at present", rests: true};
  switch (step.wants) {
  case "step_done":
    return {
      label: "Done",
      detail: "go to the next step",
      answers: true,
      requests: [{what: "step_done", body: {step: step.number}, said: "the step is done"}]
    };
  case "load":
    if (onePress && step.then) return loadAndFloat(frame);
    return loadAlone(frame);
  case "confirm":
    if (!loadIsAsPlanned(frame)) return loadAndFloat(frame);
    return {
      label: "It floats",
      detail: `in its band and turning, ${step.range} range`,
      answers: true,
      requests: [confirmRequest(step.range)]
    };
  case "vented":
    return {
      label: "The line is open",
      detail: "open to air at the level mark",
      answers: true,
      requests: [{what: "vented", body: {}, said: "the line is open to air"}]
    };
  case "sighted":
    return {
      label: "Still floats",
      detail: "looked again: the point is done",
      answers: true,
      requests: [{what: "sighted", body: {close: true}, said: "it still floats; the point is done"}]
    };
  case "check":
    if (step.check?.by === "readings")
      return {
        label: step.check.failed ? "Check again" : "Begin the check",
        detail: `${step.check.name}; hands off`,
        answers: true,
        requests: [{what: "check", body: {step: step.number}, said: `the ${step.check.name} check begins`}]
      };
    return {
      label: "State what you found",
      detail: step.check?.channel ?? step.check?.name ?? "",
      opens: "value",
      answers: true
    };
  case "enter": {
    const dial = dialsToRead(frame)[0];
    return {label: "Enter the reading", detail: dial ? dial.name : "of the instrument without a wire", opens: "entry"};
  }
  default: {
    const left_us = floatLeft_us(frame, now_us);
    if (left_us !== null && left_us < EXPIRY_WARNING_US) return renewal();
    return {
      label: step.kind === "read" || step.check?.measuring ? "Wait, hands off" : "Wait",
      detail: "nothing to press now",
      rests: true
    };
  }
  }
}

/// Counts the keys that are down: a held key, and one that bounces, count once.
export class HeldKeys {
  constructor() { this.down = new Set(); }
  /// True where this is a press of its own.
  press(event) {
    if (event.repeat || this.down.has(event.code)) return false;
    this.down.add(event.code);
    return true;
  }
  release(event) { this.down.delete(event.code); }
  /// The page lost the keyboard: it will not see the keys go up.
  forget() { this.down.clear(); }
}

/// Why a press does not count now, in words; null where it does. `situation`: connected, frame, now_us, stepShown_ms,
/// now_ms, onItsWay, mayPress.
export function whyNot(press, situation) {
  const {connected, frame, now_us, stepShown_ms, now_ms, onItsWay, mayPress} = situation;
  if (!connected) return "The service is away: nothing was sent, and nothing is kept for later.";
  if (!frame) return "Nothing is known of the bench yet: nothing was sent.";
  if (now_us - frame.at_us > FRESH_US)
    return "What stands here is old: nothing was sent. Wait until it is live again, look, and press.";
  if (!mayPress) return "You look on as a reviewer: the operator presses.";
  if (onItsWay) return "The press before is still on its way: nothing more was sent.";
  if (press.answers && now_ms - stepShown_ms < READING_TIME_MS)
    return "The step changed as you pressed: read it, then press again. Nothing was sent.";
  if (press.rests) return "This step wants no press now.";
  return null;
}
