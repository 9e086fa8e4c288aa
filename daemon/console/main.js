// Puts the page together: one state, one drawing of it for each frame that the screen shows.

import {Alarms} from "./alarms.js";
import {Bar} from "./bar.js";
import {BenchModel} from "./bench_model.js";
import {BenchView} from "./bench_view.js";
import {ChannelsPanel} from "./channels_panel.js";
import {ServiceClock} from "./clock.js";
import {setAttribute, setClass, setText, show} from "./dom.js";
import {EntryPanel} from "./entry_panel.js";
import {History} from "./history.js";
import {RunView} from "./run_view.js";
import {RunsView} from "./runs_view.js";
import {Session} from "./session.js";
import {SettingsView} from "./settings_view.js";
import {StartForm} from "./start_form.js";
import {StepPanel} from "./step_panel.js";
import {Strip} from "./strip.js";
import {get, Live} from "./wire.js";

const byId = (id) => document.getElementById(id);
const VIEWS = ["now", "run", "runs", "bench", "settings"];
const TICK_MS = 250;
const RECALLED_S = 600;

const page = {
  frame: null,
  connected: false,
  everConnected: false,
  awaySince_ms: performance.now(),
  wasAway_ms: 0,
  backSince_ms: 0,
  needsLogin: false,
  mayPress: true,
  mayReview: true,
  /// The field for the name of who decides, where nobody logs in.
  names: [],
  view: "now",
  clock: new ServiceClock(),
  bench: new BenchModel(),
  history: new History(),
  get live() { return this.connected && this.frame !== null && this.clock.at() - this.frame.at_us < 1e6; },
  goTo(view) { location.hash = view; },
  sessionEnded: () => session.ask(),
  say: (text) => bar.say(text),
  refuse: (text) => bar.refuse(text),
};

page.entry = new EntryPanel(
  byId("step-entry"), {now_us: () => page.clock.at(), changed: () => draw(), told: (text) => page.refuse(text)});
page.entry.pascals = (unit) => page.bench.units.of(unit).pascals;
page.startForm = new StartForm(page);
const bar = new Bar(page);
const step = new StepPanel(page.bench);
const alarms = new Alarms({place: byId("alarms"), top: byId("over-pressure"), spoken: byId("alarm-words")}, page.bench);
const channels = new ChannelsPanel(byId("channels"), {
  bench: page.bench,
  enter: (name) => {
    page.goTo("now");
    page.entry.choose(name);
  },
  askAgain: (name) =>
    bar.send({}, [{what: "retry", body: {channel: name}, said: `${name} is asked again`}], performance.now())
});
const strip = new Strip(byId("strip"), {bench: page.bench, history: page.history});
const views = {
  run: new RunView(byId("view-run"), page),
  runs: new RunsView(byId("view-runs"), page),
  bench: new BenchView(byId("view-bench"), page),
  settings: new SettingsView(byId("view-settings"), page)
};

const live = new Live({
  onFrame: (frame) => {
    page.frame = frame;
    page.clock.take(frame.at_us);
    page.history.begin(frame.channels.filter((one) => !one.manual).map((one) => one.name));
    page.history.take(frame, (unit) => page.bench.units.of(unit).pascals);
    drawSoon();
  },
  onConnected: () => {
    page.connected = true;
    page.wasAway_ms = page.everConnected ? performance.now() - page.awaySince_ms : 0;
    page.backSince_ms = performance.now();
    page.everConnected = true;
    learn();
  },
  onAway: () => {
    if (page.connected) page.awaySince_ms = performance.now();
    page.connected = false;
    page.clock.forget();
    draw();
  },
  onTry: () => session.ask(),
});
const session = new Session(byId("session-words"), page, {allowed: (yes) => (yes ? live.release() : live.hold())});
page.session = session;

/// After each connection: the bench may be another one, and this page may have missed minutes.
async function learn() {
  try {
    page.bench.take((await get("/api/bench")).bench);
    draw();
    const wired = [...page.bench.instruments.values()].filter((one) => !one.manual);
    if (page.history.begin(wired.map((one) => one.name)) || !page.recalled || page.wasAway_ms > 0) await recall(wired);
  } catch (trouble) {
    page.refuse(`What the bench says could not be read: ${trouble.message}`);
  }
  for (const view of Object.values(views)) view.learn?.();
  draw();
}

async function recall(wired) {
  const to_us = page.clock.at();
  if (to_us === null) return;
  // One after the other: the plot can wait, the service has better to do.
  const kept = [];
  for (const one of wired.slice(0, 64)) {
    try {
      const found = await get(`/api/readings?channel=${encodeURIComponent(one.name)}&last_s=${RECALLED_S}`);
      const {pascals} = page.bench.units.of(found.unit);
      kept.push(
        found.readings.filter((reading) => reading[2] === "good").map(([at_us, value]) => [at_us, value * pascals]));
    } catch {
      kept.push([]); // The plot begins now, for this channel.
    }
  }
  page.history.rows = page.history.rows.filter((row) => row[0] >= to_us);
  page.history.recall(kept, to_us - RECALLED_S * 1e6, to_us);
  page.recalled = true;
}

let drawing = false;
function drawSoon() {
  if (drawing) return;
  drawing = true;
  requestAnimationFrame(() => {
    drawing = false;
    draw();
  });
}

function runWords({run}) {
  if (!run) return "no run";
  return `run ${run.id}, ${run.sequence}, ${run.condition}, ${run.state}`;
}

function draw() {
  const {frame} = page;
  const now_us = page.clock.at();
  setClass(document.body, "away", !page.live);
  alarms.render(page);
  if (frame) {
    const frameAge_us = Math.max((now_us ?? frame.at_us) - frame.at_us, 0) +
      (page.connected ? 0 : (performance.now() - page.awaySince_ms) * 1000);
    setText(byId("bench-name"), frame.bench);
    setText(byId("run-words"), runWords(frame));
    if (page.view === "now") {
      page.startForm.render(frame);
      if (page.entry.render(frame)) step.fit();
      step.render(frame);
      channels.render(frame, {
        live: page.live,
        frameAge_us,
        now_us,
        mayPress: page.mayPress,
        entered: page.entry.subject?.kind === "dial" ? page.entry.subject.channel.name : null
      });
      if (now_us !== null)
        strip.render(frame, now_us, page.live);
      else
        strip.stand();
    } else {
      views[page.view].render(frame, {frameAge_us});
    }
  }
  bar.render();
}

function chooseView() {
  const [wished, ...rest] = location.hash.slice(1).split("/");
  const view = VIEWS.includes(wished) ? wished : "now";
  const other = view !== page.view;
  page.view = view;
  for (const name of VIEWS) show(byId(`view-${name}`), name === view);
  for (const link of document.querySelectorAll("nav a"))
    setAttribute(link, "aria-current", link.dataset.view === view ? "page" : null);
  setClass(document.body, "view-is-now", view === "now");
  if (view !== "now") views[view].open(rest.map(decodeURIComponent));
  if (other) document.querySelector("main").scrollTop = 0;
  draw();
}

addEventListener("hashchange", chooseView);
setInterval(draw, TICK_MS);
chooseView();
session.ask();
