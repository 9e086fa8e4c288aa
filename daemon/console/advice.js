// What the service says in a frame, as data: the page acts on codes and only shows the sentences.

export const OVER_PRESSURE = "over_pressure";

/// The service before this form: sentences alone, whose code is their kind. `channel`: the instrument that it is about.
const KINDS = [
  ["over_pressure", true, /^(.*) reads above the lowest rating/], ["journal_failed", true, /journal cannot be written/],
  ["beyond_point", true, /^(.*) went beyond the point/], ["float_expires", true, /^the float expires in/],
  ["turn", false, /^turn the discs /], ["ranked", false, /^\d+\. /]
];
function codedAdvice(text) {
  for (const [code, alarm, pattern] of KINDS) {
    const found = pattern.exec(text);
    if (found) return {code, alarm, text: code === "ranked" ? text.slice(found[0].length) : text, channel: found[1]};
  }
  return {code: "", alarm: false, text};
}
const STEPS = [["moves", /^(Take off|Put on), from/], ["turn", /^Turn the discs by hand\.$/]];
function codedStep(text) { return {code: STEPS.find(([, pattern]) => pattern.test(text))?.[0] ?? "", text}; }

/// {code, alarm, text, channel} each; those of code `ranked` are the reasons of the one before.
export const adviceOf = (frame) => frame.advice.map((one) => (typeof one === "string" ? codedAdvice(one) : one));

/// A step's instructions or cautions, {code, text} each.
export const instructionsOf = (list) => (list ?? []).map((one) => (typeof one === "string" ? codedStep(one) : one));
