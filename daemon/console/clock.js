// The service's clock as this page knows it, and spans of time in words. All instants in microseconds.

const REMEMBERED_MS = 30_000;

/// A frame's stamp is never later than its arrival, so the largest difference seen is the nearest to the truth: the
/// frame that was on its way for the least time.
export class ServiceClock {
  constructor() { this.forget(); }
  /// After a connection was lost: the service may have begun anew on a machine that did, too.
  forget() { this.seen = []; }
  take(at_us, now_ms = performance.now()) {
    const offset = at_us - now_ms * 1000;
    // Of the past only what is larger than everything later can still be the largest one.
    while (this.seen.length > 0 && this.seen[this.seen.length - 1].offset <= offset) this.seen.pop();
    this.seen.push({at: now_ms, offset});
    while (this.seen[0].at < now_ms - REMEMBERED_MS) this.seen.shift();
  }
  get known() { return this.seen.length > 0; }
  /// The service's time at an instant of this page; null where no frame came yet.
  at(now_ms = performance.now()) { return this.known ? Math.round(now_ms * 1000 + this.seen[0].offset) : null; }
}

export function spanWords(span_us) {
  const tenths = Math.floor(Math.max(span_us, 0) / 100_000);
  const seconds = Math.floor(tenths / 10);
  if (seconds < 10) return `${seconds}.${tenths % 10} s`;
  return wholeSpanWords(span_us);
}

/// Without tenths: for what changes on the screen once a second.
export function wholeSpanWords(span_us) {
  const seconds = Math.floor(Math.max(span_us, 0) / 1_000_000);
  if (seconds < 60) return `${seconds} s`;
  if (seconds < 3600) return `${Math.floor(seconds / 60)} min ${seconds % 60} s`;
  return `${Math.floor(seconds / 3600)} h ${Math.floor(seconds / 60) % 60} min`;
}

/// "2026-03-04 14:05" in the time zone of this machine.
export function dateWords(utc_us, seconds = false) {
  if (!utc_us) return "";
  const date = new Date(utc_us / 1000);
  const two = (number) => String(number).padStart(2, "0");
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())} ` +
    `${two(date.getHours())}:${two(date.getMinutes())}${seconds ? `:${two(date.getSeconds())}` : ""}`;
}
