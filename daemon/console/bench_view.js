// Is the bench well? Its wires, its instruments, the air around it, the balance.

import {faultWords, isFresh} from "./channels_panel.js";
import {dateWords, wholeSpanWords} from "./clock.js";
import {buttons, labelled, make, renderWhenChanged, setClass, setText, table} from "./dom.js";
import {isNumber, plain} from "./numbers.js";
import {get, tell} from "./wire.js";

const LEAST_PAUSE_MS = 1_000;
const AIR = [
  ["air_temperature", "Air temperature", "degC"], ["air_pressure", "Air pressure", "hPa"],
  ["humidity", "Humidity", "%"], ["piston_temperature", "Piston temperature", "degC"]
];
const HEALTH = [
  ["fall_rate", "Fall rate", "mm/min"], ["spin_time", "Spin time", "s"],
  ["smallest_disc", "Smallest disc that moves it", "g"]
];
const MOST_EVENTS = 40;
const QUIET = ["ClockAnchored", "StepDone", "WaitElapsed", "WindowFailed", "BenchTaken"];

/// What was typed, with the unit where none was.
function withUnit(typed, unit) {
  const text = typed.trim().replace(/^(-?\d+),(\d+)/, "$1.$2");
  return /^[-+\d.]+$/.test(text) ? `${text} ${unit}` : text;
}
function heading(text) { return make("h2", {text}); }

export class BenchView {
  constructor(place, page) {
    Object.assign(this, {place, page});
    this.health = [];
    for (const part of ["facts", "instruments", "buses", "air", "airForm", "balance", "balanceForm", "events"])
      this[part] = make("div");
    place.append(make("h1", {text: "Bench"}), this.facts, heading("Instruments"), this.instruments, heading("Buses"),
      this.buses, heading("Surroundings"), this.air, this.airForm, heading("Balance"), this.balance, this.balanceForm,
      heading("What happened lately"), this.events);
  }
  open() {
    this.drawn_ms = 0;
    this.learn();
  }
  async learn() {
    if (this.page.view !== "bench" || this.page.needsLogin) return;
    try {
      this.health = (await get("/api/balance-health")).health ?? [];
      this.happened = (await get("/api/events?limit=500")).events ?? [];
    } catch (trouble) {
      this.page.refuse(trouble.message);
    }
    this.showBalance();
    this.showEvents();
  }

  /// How each instrument answers, in words.
  answers(channel, frameAge_us) {
    if (channel.manual)
      return {
        word: "read by hand",
        well: true,
        age: "",
        reading: channel.shown ? `${channel.shown} ${channel.unit}` : ""
      };
    const since_us = isNumber(channel.age_us) ? channel.age_us + frameAge_us : null;
    const fresh = isFresh(channel, since_us, this.page.live);
    const faulty = fresh && (channel.stillness === "faulty" || channel.status !== "good");
    const word = !this.page.live ? "not known now"
      : since_us === null        ? `silent: ${channel.status}`
             : !fresh ? "silent"
             : faulty ? `faulty: ${channel.status}`
                      : "answers";
    return {
      word,
      well: fresh && !faulty,
      age: since_us === null ? "never"
        : since_us < 1e6     ? "now"
                             : `${wholeSpanWords(since_us)} ago`,
      reading: isNumber(channel.value) ? `${channel.shown} ${channel.unit}` : "none"
    };
  }

  render(frame, {frameAge_us}) {
    const now_ms = performance.now();
    if (now_ms - (this.drawn_ms ?? 0) < LEAST_PAUSE_MS) return;
    this.drawn_ms = now_ms;
    const {bench} = this.page;
    renderWhenChanged(this.facts, [bench.name, bench.laboratory, bench.revision, bench.weakest], () => [make("p", {
      text: [
        bench.name, bench.laboratory, bench.revision && `revision ${bench.revision.slice(0, 12)}`,
        bench.weakest && `weakest part: ${bench.weakest.part}, ${plain(bench.weakest.rating_pa / 1e5)} bar`
      ].filter(Boolean)
              .join("; ")
    })]);
    const states = frame.channels.map(
      (channel) => ({channel, instrument: bench.instruments.get(channel.name), ...this.answers(channel, frameAge_us)}));
    const columns = [
      "Instrument", "Serial", "Model", "Bus", "State", {name: "Last reading", numeric: true},
      {name: "Age", numeric: true}, "Stillness", "Latest fault"
    ];
    const now_us = this.page.clock.at();
    const faultLine = ({fault}) => (fault ? faultWords(fault, now_us) : "");
    renderWhenChanged(this.instruments,
      states.map(({channel, word, age, reading}) => [channel.name, word, age, reading, channel.stillness,
                   faultLine(channel), channel.fault?.detail, bench.revision]),
      () => table("Instruments of the bench", columns, states.map((one) => ({
        class: one.well ? null : "unwell",
        cells: [
          one.channel.name, one.instrument?.serial ?? "", one.instrument?.model ?? "", one.instrument?.bus ?? "none",
          one.word, one.reading, one.age,
          one.channel.manual                                       ? ""
            : one.channel.why && one.channel.stillness !== "still" ? `${one.channel.stillness}: ${one.channel.why}`
                                                                   : one.channel.stillness ?? "",
          one.channel.fault
            ? make("div", {}, faultLine(one.channel), make("p", {class: "detail", text: one.channel.fault.detail}))
            : ""
        ]
      }))));
    const buses = bench.buses.map((bus) => {
      const on = states.filter((one) => one.instrument?.bus === bus.name);
      const well = on.filter((one) => one.well).length;
      const trouble = on.filter((one) => !one.well).map((one) => `${one.channel.name} ${one.word}`).join("; ");
      const words = !this.page.live ? "not known now"
        : on.length === 0           ? "no instrument on it"
        : well === on.length        ? "every instrument answers"
        : well === 0                ? `nobody answers: look at the line; ${trouble}`
                                    : trouble;
      return {
        well: well === on.length,
        cells: [bus.name, bus.kind.replaceAll("_", " "), `${well} of ${on.length}`, words]
      };
    });
    renderWhenChanged(this.buses, buses,
      () => table("Buses", ["Bus", "Kind", {name: "Answer", numeric: true}, "State"],
        buses.map((one) => ({class: one.well ? null : "unwell", cells: one.cells}))));
    this.showAir(frame);
    this.showForms();
  }

  showAir(frame) {
    const air = frame.surroundings ?? {};
    const limits = this.page.bench.surroundings;
    const valid_us = isNumber(limits?.valid_s) ? limits.valid_s * 1e6 : null;
    const old = valid_us !== null && isNumber(air.age_us) && air.age_us > valid_us;
    const stated = !air.stated
      ? "Nobody stated them: the bench file's count."
      : `Stated ${wholeSpanWords(air.age_us)} ago${old ? ": too long ago, state them again" : ""}.`;
    const low = limits?.lowest_c, high = limits?.highest_c;
    const outside = (value) => isNumber(low) && isNumber(high) && isNumber(value) && (value < low || value > high);
    const limit = isNumber(low) && isNumber(high) ? `${plain(low)} to ${plain(high)} degC` : "none stated";
    const barometerAsked = (air.asked ?? []).includes("air_pressure");
    const barometer = isNumber(limits?.air_pressure_valid_s)
      ? `read within ${wholeSpanWords(limits.air_pressure_valid_s * 1e6)}`
      : "none stated";
    const barometerState = !barometerAsked ? "" : "read the barometer and enter it: an instrument counts from it";
    const rows = [
      ["Air temperature", air.air_temperature_c, "degC", limit, outside(air.air_temperature_c)],
      [
        "Air pressure", isNumber(air.air_pressure_pa) ? air.air_pressure_pa / 100 : null, "hPa", barometer,
        barometerAsked, barometerState
      ],
      ["Humidity", isNumber(air.humidity) ? air.humidity * 100 : null, "%", "none stated", false],
      ["Piston temperature", air.piston_temperature_c, "degC", limit, outside(air.piston_temperature_c)]
    ];
    renderWhenChanged(this.air, [rows, stated],
      () => [make("p", {class: old || !air.stated ? "unwell" : null, text: stated}),
        table("Surroundings and their limits", ["Quantity", {name: "Value", numeric: true}, "Limits", "State"],
          rows.map(([name, value, unit, limits, beyond, state]) => ({
            class: beyond ? "unwell" : null,
            cells: [
              name, `${plain(value, 5)} ${unit}`, limits,
              state !== undefined          ? state
                : beyond                   ? "outside its limits"
                : limits === "none stated" ? ""
                                           : "within"
            ]
          })))]);
  }

  form(title, fields, verb, send, extra = []) {
    const inputs =
      fields.map(([key, name, unit]) =>
                   ({key, unit, input: make("input", {type: "text", autocomplete: "off", maxlength: "40"}), name}));
    const words = make("p", {role: "status"});
    return make("form", {
      class: "entries",
      on: {
        submit: async (event) => {
          event.preventDefault();
          const body = {};
          for (const {key, unit, input} of inputs) {
            const text = withUnit(input.value, unit);
            if (text !== "") body[key] = text;
          }
          setClass(words, "refusal", true);
          if (Object.keys(body).length === 0) return setText(words, "Nothing was typed yet: nothing was sent.");
          if (!this.page.live) return setText(words, "The service is away: nothing was sent.");
          try {
            await send(body);
            setClass(words, "refusal", false);
            setText(words, "Recorded.");
            for (const {input} of inputs) input.value = "";
          } catch (trouble) {
            setText(words, trouble.message);
          }
        }
      }
    },
      make("h3", {text: title}), extra, inputs.map(({name, unit, input}) => labelled(`${name}, ${unit}`, input)),
      buttons(make("button", {type: "submit", text: verb})), words);
  }

  showForms() {
    const {bench, mayPress} = this.page;
    renderWhenChanged(this.airForm, mayPress,
      () => [mayPress &&
        this.form("What the instruments on the wall show now", AIR, "State the surroundings",
          (body) => tell("surroundings", {...body, pressed_us: this.page.clock.at()}))]);
    renderWhenChanged(this.balanceForm, [mayPress, bench.ranges], () => {
      if (!mayPress || bench.ranges.length === 0) return [];
      const range =
        make("select", {}, bench.ranges.map((one) => make("option", {value: one.name, text: `${one.name} range`})));
      const at = make("input", {type: "text", autocomplete: "off", maxlength: "40"});
      return [this.form("How the balance was found", HEALTH, "State its health", async (body) => {
        if (at.value.trim() !== "") body.at = withUnit(at.value, "bar");
        await tell("health", {...body, range: range.value, pressed_us: this.page.clock.at()});
        await this.learn();
      }, [labelled("Range", range), labelled("Fall rate at, bar", at)])];
    });
  }

  showBalance() {
    renderWhenChanged(this.balance, this.health,
      () => [this.health.length === 0
          ? make("p", {text: "Nothing was stated of its health yet: fall rate, spin time, smallest disc."})
          : table("Health of the balance, latest first", ["Range", "Sign", "When", "Verdict", "Words", "By"],
              [...this.health].reverse().map((one) => ({
                class: one.verdict === "good" ? null : "unwell",
                cells: [
                  one.range, String(one.sign).replaceAll("_", " "), dateWords(one.utc_us), one.verdict, one.words,
                  one.by || "not said"
                ]
              })))]);
  }

  /// The journal's latest, without what says nothing of the bench's health.
  showEvents() {
    const names = (this.page.frame?.channels ?? []).map((one) => one.name);
    const told = (this.happened ?? [])
                   .filter(({kind, fact}) => kind === "StillnessChanged" ? ["silent", "faulty"].includes(fact.to)
                                                                         : !QUIET.includes(kind))
                   .slice(-MOST_EVENTS)
                   .reverse();
    const words =
      ({fact}) => [names[fact.channel], fact.range && `${fact.range} range`, fact.to, fact.check, fact.words, fact.why,
        fact.reason].filter((one) => typeof one === "string" && one !== "")
                    .join("; ");
    renderWhenChanged(this.events, told.map((one) => one.number),
      () => table("The latest of the journal, newest first", ["When", "What", "Words", "By"], told.map((one) => ({
        cells: [
          dateWords(one.utc_us, true), one.kind.replace(/\B[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`), words(one),
          one.fact.by || ""
        ]
      }))));
  }
}
