// What the service says in a frame, as data: the page acts on codes and only shows the sentences.

export const OVER_PRESSURE = "over_pressure";

/// Which way to turn the discs stands in the step itself.
const IN_THE_STEP = "turn_direction";
export const besideTheStep = (frame) => frame.advice.filter(({code, alarm}) => !alarm && code !== IN_THE_STEP);

/// What the lists of discs of a load say already.
const LISTED = ["take_off", "put_on"];
const TURN = "turn_discs";

/// A step's instructions in words: what its lists of discs say is left out, and which way to turn stands in the
/// sentence that says so.
export function instructionTexts({kind, say, turn}, next) {
  const own = say.filter(({code}) => kind !== "load" || !LISTED.includes(code));
  return [...own, ...(next?.say ?? [])].map(
    ({code, text}) => (turn && code === TURN ? `Turn the discs by hand, ${turn} this time.` : text));
}
