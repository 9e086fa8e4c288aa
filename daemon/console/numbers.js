// Values as they are shown: two digits of the expanded uncertainty, and no more of the value.

const MOST_DECIMALS = 9;
const MINUS = "\u2212";

function leadingDigit(value) { return +value.toExponential().split("e")[1]; }

export function isNumber(value) { return typeof value === "number" && Number.isFinite(value); }

/// A hyphen is no minus: it is hard to see from two metres.
export function withMinus(shown) { return shown.replace("-", MINUS); }

/// How many decimals a value has beside an uncertainty; negative where digits before the point are zeros.
export function decimalsBeside(uncertainty, example) {
  if (uncertainty > 0) {
    let decimals = 1 - leadingDigit(uncertainty);
    // 0.0996 has its first digit in the third decimal, but is 0.10 once rounded.
    if (leadingDigit(+rounded(uncertainty, decimals)) > 1 - decimals) --decimals;
    return Math.min(decimals, MOST_DECIMALS);
  }
  if (isNumber(example) && example) return Math.min(Math.max(0, 6 - leadingDigit(example)), MOST_DECIMALS);
  return 0;
}

/// As certificates round: ISO 80000-1, B, rule A, applied to the shortest digits of the value.
export function rounded(value, decimals) {
  if (!isNumber(value)) return "\u2013";
  const [digits, power] = Math.abs(value).toExponential().replace(".", "").split("e");
  const shift = power - digits.length + 1 + decimals;
  let steps = BigInt(digits) * 10n ** BigInt(Math.max(shift, 0));
  if (shift < 0) {
    const step = 10n ** BigInt(-shift), rest = steps % step * 2n;
    steps /= step;
    if (rest > step || (rest === step && steps % 2n)) ++steps;
  }
  const text = String(steps * 10n ** BigInt(Math.max(-decimals, 0))).padStart(decimals + 1, "0");
  const point = text.length - Math.max(decimals, 0);
  return (value < 0 && steps ? MINUS : "") + text.slice(0, point) + (decimals > 0 ? `.${text.slice(point)}` : "");
}

export function signed(value, decimals) {
  const text = rounded(value, decimals);
  return value > 0 && /[1-9]/.test(text) ? `+${text}` : text;
}

/// At most six digits and no zeros behind them: limits, targets, figures without an uncertainty.
export function plain(value, digits = 6) {
  if (!isNumber(value)) return "\u2013";
  return String(Number(value.toPrecision(digits))).replace("-", MINUS);
}

/// Pascals in one of an instrument's unit. The service says it with each instrument; what is not there is in Pa.
export class Units {
  constructor(instruments = []) {
    this.scales = new Map([["Pa", 1]]);
    this.learn(instruments);
  }
  learn(instruments) {
    for (const one of instruments)
      if (one.pascals_per_unit > 0) this.scales.set(one.unit, one.pascals_per_unit);
  }
  /// The unit to show in and its pascals.
  of(unit) {
    const pascals = this.scales.get(unit);
    return pascals === undefined ? {unit: "Pa", pascals: 1} : {unit, pascals};
  }
}

/// The numbers of a mark in its instrument's unit, with the decimals that its uncertainty carries.
export function markNumbers(mark, units) {
  const {unit, pascals} = units.of(mark.unit);
  const per = (pa) => (isNumber(pa) ? pa / pascals : null);
  const expanded = per(mark.expanded_pa);
  return {
    unit,
    reference: per(mark.reference_pa),
    reading: per(mark.mean_pa),
    deviation: per(mark.deviation_pa),
    expanded,
    permissible: per(mark.permissible_pa),
    decimals: decimalsBeside(expanded, per(mark.reference_pa))
  };
}

/// What is particular about a mark; nothing for one that is sighted without remarks.
export function remarks(mark) {
  const words = mark.status === "sighted" ? [] : [mark.why ? `${mark.status}: ${mark.why}` : mark.status];
  if (mark.status === "sighted" && mark.why) words.push(mark.why);
  if (mark.accepted_by) words.push(`accepted by ${mark.accepted_by}`);
  return [...words, ...(mark.flags ?? [])].join("; ");
}
