// The readings of the last minutes, thinned: one row for all channels at a steady pace.

import {isNumber} from "./numbers.js";

export const ROW_US = 200_000;
const KEPT_US = 600_000_000;
/// A value that is older than this belongs to no row any more.
const LIVES_US = 1_500_000;

export class History {
  constructor() {
    this.names = [];
    this.rows = []; // [at_us, pascals of each channel or null ...], oldest first
  }
  /// The channels of the bench; another set of them begins anew.
  begin(names) {
    if (names.join("\n") === this.names.join("\n")) return false;
    this.names = names;
    this.rows = [];
    return true;
  }
  /// A frame's readings, as often as the rows' pace allows.
  take(frame, pascalsOf) {
    const last = this.rows[this.rows.length - 1];
    // The service began anew on a machine that did, too: its clock has no past here.
    if (last && frame.at_us < last[0])
      this.rows = [];
    else if (last && frame.at_us - last[0] < ROW_US)
      return;
    if (last && frame.at_us - last[0] > LIVES_US) this.rows.push([last[0] + ROW_US, ...this.names.map(() => null)]);
    const row = [frame.at_us];
    for (const channel of frame.channels) {
      if (channel.manual) continue;
      const live = isNumber(channel.value) && isNumber(channel.age_us) && channel.age_us < LIVES_US;
      row.push(live ? channel.value * pascalsOf(channel.unit) : null);
    }
    this.rows.push(row);
    let old = 0;
    while (this.rows[old][0] < frame.at_us - KEPT_US) ++old;
    if (old > 50) this.rows.splice(0, old);
  }
  /// Puts what the service kept before what this page has seen itself. `kept`: for each channel its readings,
  /// [at_us, value in Pa] in order, or nothing.
  recall(kept, from_us, to_us) {
    const first = this.rows.length > 0 ? this.rows[0][0] : to_us;
    const next = kept.map(() => 0);
    const before = [];
    for (let at = from_us; at < first; at += ROW_US) {
      const row = [at];
      let any = false;
      kept.forEach((readings, i) => {
        while (next[i] < readings.length && readings[next[i]][0] <= at) ++next[i];
        const found = next[i] > 0 ? readings[next[i] - 1] : null;
        const value = found && at - found[0] < 2 * LIVES_US ? found[1] : null;
        any = any || value !== null;
        row.push(value);
      });
      if (any || before.length > 0) before.push(row);
    }
    this.rows = [...before, ...this.rows];
  }
  /// At most about `most` rows since `from_us`: of each stretch the lowest and the highest of every channel, in the
  /// order in which they came, so that no spike is lost.
  thinned(from_us, most) {
    let first = this.rows.length;
    while (first > 0 && this.rows[first - 1][0] >= from_us) --first;
    const count = this.rows.length - first;
    if (count <= most) return this.rows.slice(first);
    const stride = Math.ceil((2 * count) / most);
    const out = [];
    // Stretches stand still while time goes on, or the curve would flicker.
    for (let i = first - (first % stride); i < this.rows.length; i += stride) {
      const end = Math.min(i + stride, this.rows.length);
      const early = [this.rows[i][0]];
      const late = [this.rows[end - 1][0]];
      for (let c = 1; c <= this.names.length; ++c) {
        let low = null, high = null, lowAt = 0, highAt = 0;
        for (let k = i; k < end; ++k) {
          const value = this.rows[k][c];
          if (value === null) continue;
          if (low === null || value < low) [low, lowAt] = [value, k];
          if (high === null || value > high) [high, highAt] = [value, k];
        }
        early.push(lowAt <= highAt ? low : high);
        late.push(lowAt <= highAt ? high : low);
      }
      out.push(early);
      if (end - 1 > i) out.push(late);
    }
    return out;
  }
}
