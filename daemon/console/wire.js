// The connection to the service: live frames by WebSocket, everything else by requests.

const FIRST_PAUSE_MS = 250;
const LONGEST_PAUSE_MS = 2_000;
/// Frames come many times a second: such a silence means that the connection is dead, though nobody said so.
const SILENCE_MS = 3_000;
const ANSWER_WITHIN_MS = 10_000;

/// What the service said against a request, in its own sentence; `contradicted`: the instruments that deny a press.
export class Refusal extends Error {
  constructor(sentence, status, code, contradicted = []) {
    super(sentence);
    Object.assign(this, {status, code, contradicted});
  }
}

async function request(method, path, body) {
  const until = new AbortController();
  const timer = setTimeout(() => until.abort(), ANSWER_WITHIN_MS);
  let answer;
  try {
    answer = await fetch(path, {
      method,
      signal: until.signal,
      credentials: "same-origin",
      cache: "no-store",
      headers: body === undefined ? {} : {"Content-Type": "application/json"},
      body: body === undefined ? undefined : JSON.stringify(body)
    });
    const text = await answer.text();
    const json = text === "" ? {} : JSON.parse(text);
    if (answer.ok) return json;
    throw new Refusal(json.detail ?? json.title ?? `The service answered ${answer.status}.`, answer.status,
      json.code ?? "", json.contradicted);
  } catch (trouble) {
    if (trouble instanceof Refusal) throw trouble;
    if (answer && !until.signal.aborted)
      throw new Refusal("The service gave an answer that cannot be read.", answer.status, "unreadable");
    throw new Refusal("The service did not answer. Look whether it happened before you do it again.", 0, "away");
  } finally {
    clearTimeout(timer);
  }
}

export const get = (path) => request("GET", path);
export const post = (path, body) => request("POST", path, body);
export const remove = (path) => request("DELETE", path);
/// One of the commands that change something.
export const tell = (what, body) => request("POST", `/api/do/${what}`, body);

/// Keeps the live connection, by itself, for as long as the page is open.
export class Live {
  /// `onFrame(frame)`, `onConnected()`, `onAway()`.
  constructor({onFrame, onConnected, onAway, onTry}) {
    Object.assign(this, {onFrame, onConnected, onAway, onTry});
    this.pause_ms = FIRST_PAUSE_MS;
    this.held = false;
    this.heard_ms = 0;
    setInterval(() => this.watch(), 500);
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") this.watch();
    });
  }
  open() {
    clearTimeout(this.timer);
    if (this.held || this.socket) return;
    const scheme = location.protocol === "https:" ? "wss:" : "ws:";
    const socket = new WebSocket(`${scheme}//${location.host}/api/live?hz=20`);
    this.socket = socket;
    this.heard_ms = performance.now();
    let greeted = false;
    socket.onmessage = (message) => {
      if (this.socket !== socket) return;
      this.heard_ms = performance.now();
      let frame;
      try {
        frame = JSON.parse(message.data).frame;
      } catch {
        frame = undefined;
      }
      if (!frame) return;
      if (!greeted) {
        greeted = true;
        this.pause_ms = FIRST_PAUSE_MS;
        this.onConnected();
      }
      this.onFrame(frame);
    };
    socket.onclose = () => {
      if (this.socket === socket) this.lose();
    };
  }
  lose() {
    const socket = this.socket;
    this.socket = null;
    if (socket) socket.close();
    this.onAway();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      this.onTry();
      this.open();
    }, this.pause_ms);
    this.pause_ms = Math.min(2 * this.pause_ms, LONGEST_PAUSE_MS);
  }
  watch() {
    if (this.socket && performance.now() - this.heard_ms > SILENCE_MS) this.lose();
  }
  /// Nobody is logged in: no attempts until `release`.
  hold() {
    this.held = true;
    if (this.socket) this.lose();
  }
  release() {
    this.held = false;
    this.pause_ms = FIRST_PAUSE_MS;
    this.open();
  }
}
