// A reading as a person types it from a dial, and the steps that can be read on that dial.

const LONGEST = 24;
const ROUNDING = 1e-6;

/// The smallest part that a person reads on the dial, in its unit; null where it is not known.
export function readablePart(channel) {
  const part = channel.division / channel.parts;
  return Number.isFinite(part) && part > 0 ? part : null;
}

export function decimalsOfPart(part) {
  if (part === null) return 3;
  for (let decimals = 0; decimals < 9; ++decimals) {
    const scaled = part * 10 ** decimals;
    if (Math.abs(scaled - Math.round(scaled)) < ROUNDING * scaled) return decimals;
  }
  return 9;
}

/// One part up or down from what is typed. Where nothing is, the first press gives the part nearest to `start`.
export function stepped(typed, channel, parts, start) {
  const part = readablePart(channel);
  if (part === null) return typed;
  const value = Number(typed.replace(",", "."));
  const empty = typed.trim() === "" || !Number.isFinite(value);
  const steps = empty ? Math.round((start ?? 0) / part) : Math.round(value / part) + parts;
  return (steps * part).toFixed(decimalsOfPart(part)).replace(/^-(0(\.0*)?)$/, "$1");
}

/// {text} with the unit for the service, or {refusal} in words.
export function readTyped(typed, channel) {
  const text = typed.trim().replace("\u2212", "-");
  const found = /^([+-]?)(\d+)(?:([.,])(\d+))?\s*([^\d\s].*)?$/.exec(text);
  if (text === "") return {refusal: `Nothing was typed yet: type what ${channel.name} shows.`};
  if (!found || text.length > LONGEST)
    return {refusal: `"${text.slice(0, LONGEST)}" is no reading; type a number such as 40.2`};
  const [, sign, whole, mark, decimals, unit] = found;
  if (mark === "," && decimals.length === 3)
    return {refusal: `"${text}" can be read in two ways; write decimals with a point`};
  if (unit && unit !== channel.unit)
    return {refusal: `${channel.name} reads in ${channel.unit}, not in ${unit}; type what the dial shows`};
  const number = `${sign === "-" ? "-" : ""}${whole}${decimals ? "." + decimals : ""}`;
  const part = readablePart(channel);
  if (part !== null) {
    const steps = Number(number) / part;
    if (Math.abs(steps - Math.round(steps)) > ROUNDING * Math.max(1, Math.abs(steps))) {
      const show = (count) => (count * part).toFixed(decimalsOfPart(part));
      return {
        refusal: `${number} ${channel.unit} lies between two steps of the dial (division ${channel.division} ` +
          `${channel.unit}, read to 1/${channel.parts}): give ${show(Math.floor(steps))} or ${show(Math.ceil(steps))} ${
            channel.unit}`
      };
    }
  }
  return {text: `${number} ${channel.unit}`};
}
