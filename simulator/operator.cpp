#include "simulator/operator.hpp"

#include "simulator/answer_reading.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <limits>
#include <thread>

namespace stillmark::simulator {

namespace {

/// How long a service may take to come up.
constexpr double reachable_within_s = 60;
/// So many refusals without a step forward, and the two do not understand each other.
constexpr int too_many_refusals = 8;

} // namespace

Operator::Operator(Rig& rig, const std::string& socket, Notes& notes, Progress& progress)
    : rig_(rig), plan_(rig.scenario().plan), hand_(rig), notes_(notes), progress_(progress),
      commands_(socket, plan_.patience_s), frames_(socket),
      checks_(rig, hand_, notes, progress,
              [this](const std::string& what, nlohmann::json details) { return tell(what, std::move(details)); }),
      mistakes_(plan_.mistakes) {}

Operator::Step Operator::read_step(const nlohmann::json& json) {
    Step step;
    step.number = whole_in(json, "number");
    step.kind = text_in(json, "kind");
    step.wants = text_in(json, "wants");
    step.title = text_in(json, "title");
    step.range = text_in(json, "range");
    step.direction = text_in(json, "direction");
    step.target_pa = number_in(json, "target_pa");
    step.say = instructions_in(json, "say");
    step.discs = texts_in(json, "discs");
    step.put_on = texts_in(json, "put_on");
    // A preload is no visit to its point.
    if (step.direction != "preload") step.point = static_cast<int>(whole_in(json, "point"));
    return step;
}

bool Operator::tell(const std::string& what, nlohmann::json details) {
    details["do"] = what;
    details["by"] = "scripted operator";
    details["pressed_us"] = now_us();
    auto reply = commands_.ask(details);
    if (text_in(reply, "code") == "contradicted") {
        const auto reason = reason_to_go_on(what);
        notes_.write("contradicted", {{"press", what}, {"error", text_in(reply, "error")}, {"reason", reason}});
        progress_.say("    (the instruments contradict: " + text_in(reply, "error") + ")");
        if (!reason.empty()) {
            details["despite"] = true;
            details["reason"] = reason;
            details["pressed_us"] = now_us();
            reply = commands_.ask(details);
        }
    }
    const bool ok = yes_in(reply, "ok");
    told_us_ = now_us();
    details["ok"] = ok;
    if (!ok) {
        last_refusal_ = fmt::format("{}: {}", what, text_in(reply, "error"));
        details["error"] = text_in(reply, "error");
        ++refusals_;
        progress_.say("    refused: " + last_refusal_);
    }
    notes_.write("told", details);
    return ok;
}

/// He looks again. What he then sees, or nothing where it is not so and he does not insist.
std::string Operator::reason_to_go_on(const std::string& what) {
    hand_.take(plan_.look_s);
    const auto sight = hand_.look();
    if (what == "confirm" || what == "sighted")
        return sight.in_band && sight.turning ? "looked again: the piston floats in its band and turns" : "";
    if (what == "enter") return "read again: the pointer stands there";
    return "";
}

OperatorMistake* Operator::mistake(const std::string& what, const Step& step) {
    for (auto& candidate : mistakes_)
        if (candidate.what == what && candidate.point == step.point && candidate.direction == step.direction)
            return &candidate;
    return nullptr;
}

void Operator::made(OperatorMistake& done) {
    const auto same = [&](const OperatorMistake& other) { return &other == &done; };
    mistakes_.erase(std::find_if(mistakes_.begin(), mistakes_.end(), same));
}

bool Operator::start(OperatorOutcome& outcome, const std::atomic<bool>& stopped) {
    const Micros until = now_us() + micros(reachable_within_s);
    long seen = 0;
    while (!frames_.newer(seen, 100)) {
        if (!stopped && now_us() < until) continue;
        outcome.words = "the service did not send a frame";
        return false;
    }
    tell("surroundings", rig_.scenario().surroundings);
    // A service that came back goes on with its run; a fresh one is asked to begin.
    const auto status = commands_.ask({{"do", "status"}});
    const auto& run = object_in(object_in(status, "frame"), "run");
    if (text_in(run, "state") == "running") {
        outcome.run = text_in(run, "id");
        return true;
    }
    const nlohmann::json request{{"do", "run_start"},
                                 {"sequence", plan_.sequence},
                                 {"condition", plan_.condition},
                                 {"by", "scripted operator"},
                                 {"pressed_us", now_us()}};
    const auto reply = commands_.ask(request);
    notes_.write("told", request);
    if (!yes_in(reply, "ok")) {
        outcome.words = "the service refused to start the run: " + text_in(reply, "error");
        return false;
    }
    outcome.run = text_in(reply, "run");
    return true;
}

OperatorOutcome Operator::work(const std::atomic<bool>& stopped) {
    OperatorOutcome outcome;
    if (!start(outcome, stopped)) return outcome;
    long seen = 0;
    std::string last_progress;
    Micros progressed_us = now_us();
    std::string last_step_word;
    nlohmann::json frame;
    while (!stopped) {
        if (auto fresh = frames_.newer(seen, 100))
            frame = std::move(*fresh);
        else if (frame.is_null() || now_us() - progressed_us < micros(plan_.patience_s))
            continue;
        // What was shown before the last answer is no longer so.
        if (whole_in(frame, "at_us") <= told_us_) continue;
        progress_.frame(frame);
        const auto state = text_in(object_in(frame, "run"), "state");
        if (state == "finished") {
            outcome.finished = true;
            break;
        }
        if (state == "stopped") {
            outcome.words = "the run was stopped";
            break;
        }
        const Step step = read_step(object_in(frame, "step"));
        const auto step_word = fmt::format("{} {}", step.number, step.kind);
        if (step_word != last_step_word) {
            rig_.reached(step.point, step.direction, step.kind, now_us());
            notes_.write("step", {{"step", step.number}, {"kind", step.kind}, {"title", step.title}});
            last_step_word = step_word;
        }
        const auto& marks = list_in(frame, "marks");
        const auto progress =
            fmt::format("{} {} {}", step_word, marks.empty() ? 0L : whole_in(marks.back(), "mark"), checks_.told());
        if (progress != last_progress) {
            last_progress = progress;
            progressed_us = now_us();
            refusals_ = 0;
        }
        if (refusals_ >= too_many_refusals) {
            outcome.words = "the service keeps refusing: " + last_refusal_;
            break;
        }
        const double patience_s = plan_.patience_s + (step.kind == "check" ? checks_.watching_s() : 0);
        if (now_us() - progressed_us > micros(patience_s)) {
            outcome.words = why_stuck(frame);
            break;
        }
        follow(frame, step);
    }
    if (stopped) outcome.words = "stopped from outside";
    const auto reply = commands_.ask({{"do", "results"}, {"run", outcome.run}});
    outcome.lifts = lifts_;
    outcome.results = list_in(object_in(reply, "results"), "marks");
    return outcome;
}

std::string Operator::why_stuck(const nlohmann::json& frame) {
    const auto& step = object_in(frame, "step");
    std::string words = fmt::format("nothing went forward at step {} ({}): {}", whole_in(step, "number"),
                                    text_in(step, "title"), text_in(step, "waits_for"));
    for (const auto& channel : list_in(frame, "channels")) {
        if (text_in(channel, "mark") == "taken" || yes_in(channel, "manual")) continue;
        words += fmt::format("\n  {}: shows {} {} at a point of {}, {}, {}, {}", text_in(channel, "name"),
                             text_in(channel, "shown"), text_in(channel, "unit"), text_in(step, "target"),
                             text_in(channel, "status"), text_in(channel, "stillness"), text_in(channel, "why"));
    }
    for (const auto& advice : list_in(frame, "advice"))
        words += fmt::format("\n  advice ({}): {}", text_in(advice, "code"), text_in(advice, "text"));
    return words;
}

/// What a balance in absolute mode makes, as pressure above the laboratory's air, which the press is wound by.
double Operator::above_air_pa(const Step& step) const {
    const auto& truth = rig_.scenario().truth;
    return truth.bell_pa ? step.target_pa - truth.air.pressure_pa : step.target_pa;
}

/// Reads again the instruments on the wall that the service asks for.
bool Operator::reads_surroundings(const nlohmann::json& frame) {
    const auto asked = texts_in(object_in(frame, "surroundings"), "asked");
    if (asked.empty()) return false;
    auto read = nlohmann::json::object();
    for (const auto& key : asked)
        if (rig_.scenario().surroundings.contains(key)) read[key] = rig_.scenario().surroundings[key];
    hand_.take(plan_.look_s);
    return tell("surroundings", std::move(read));
}

void Operator::follow(const nlohmann::json& frame, const Step& step) {
    if (reads_surroundings(frame)) return;
    if ((forgotten_ || !unturned_.empty()) && notices_forgotten_disc(frame, step)) {
        put_right_forgotten_disc(frame, step);
        return;
    }
    if (step.wants == "step_done")
        do_instruction(step);
    else if (step.wants == "load")
        do_load(step);
    else if (step.wants == "confirm")
        do_float(step);
    else if (step.wants == "enter")
        do_entry(frame, step);
    else if (step.wants == "sighted")
        do_sight(step);
    else if (step.wants == "vented")
        do_vent();
    else if (step.wants == "check")
        checks_.work(read_check(object_in(frame, "step")));
    else
        watch(frame, step);
}

void Operator::do_instruction(const Step& step) {
    hand_.take(plan_.instruction_s);
    if (has_code(step.say, "open_vent") || has_code(step.say, "purge")) {
        hand_.vent();
        notes_.write("vented");
    }
    const auto slip = std::find_if(mistakes_.begin(), mistakes_.end(),
                                   [](const OperatorMistake& one) { return one.what == "leaves the valves"; });
    if (slip != mistakes_.end() && has_code(step.say, "turn_over")) {
        for (const auto& range : rig_.scenario().truth.ranges)
            for (const auto& line : range.valves)
                if (has_text(step.say, line)) unturned_ = range.name;
        forgotten_notices_after_s_ = slip->notices_after_s;
        forgotten_seen_us_ = 0;
        notes_.write("mistake", {{"which", "leaves the valves"}});
        progress_.say("    (the operator leaves the valves as they are)");
        made(*slip);
    } else {
        checks_.turn_valves(step.say);
    }
    if (has_code(step.say, "clamp_anew")) {
        rig_.clamp_anew(now_us());
        notes_.write("clamped anew");
    }
    tell("step_done", {{"step", step.number}});
}

/// The disc on the table that looks most like it and weighs something else.
std::string Operator::disc_taken_for(const Step& step, const std::string& disc) const {
    const auto& all = rig_.scenario().truth.discs;
    const double right_kg = all.at(disc).mass_kg;
    std::string taken = disc;
    double least = std::numeric_limits<double>::infinity();
    for (const auto& [name, mass] : all) {
        const double off = std::abs(std::log(mass.mass_kg / right_kg));
        const bool on_head = std::find(step.discs.begin(), step.discs.end(), name) != step.discs.end();
        if (on_head || off < 0.01 || off >= least) continue;
        least = off;
        taken = name;
    }
    return taken;
}

void Operator::do_vent() {
    hand_.take(plan_.instruction_s);
    hand_.vent();
    notes_.write("vented");
    hand_.take(plan_.look_s);
    if (tell("vented")) confirmed_us_ = now_us();
}

void Operator::do_load(const Step& step) {
    auto discs = step.discs;
    if (auto* slip = mistake("forgets a disc", step); slip != nullptr && !step.put_on.empty()) {
        forgotten_ = step.put_on.back();
        forgotten_notices_after_s_ = slip->notices_after_s;
        forgotten_seen_us_ = 0;
        discs.erase(std::remove(discs.begin(), discs.end(), *forgotten_), discs.end());
        notes_.write("mistake", {{"which", "forgets a disc"}, {"disc", *forgotten_}});
        progress_.say(fmt::format("    (the operator forgets disc {})", *forgotten_));
        made(*slip);
    }
    if (auto* slip = mistake("takes a wrong disc", step); slip != nullptr && !step.put_on.empty()) {
        forgotten_ = step.put_on[step.put_on.size() / 2];
        forgotten_notices_after_s_ = slip->notices_after_s;
        forgotten_seen_us_ = 0;
        const auto taken = disc_taken_for(step, *forgotten_);
        std::replace(discs.begin(), discs.end(), *forgotten_, taken);
        notes_.write("mistake", {{"which", "takes a wrong disc"}, {"disc", *forgotten_}, {"instead", taken}});
        progress_.say(fmt::format("    (the operator takes disc {} for {})", taken, *forgotten_));
        made(*slip);
    }
    const auto lifts = hand_.change_discs(discs, plan_.first_disc_s, plan_.each_disc_s);
    lifts_ += lifts.count();
    notes_.write("lifts", {{"off", lifts.off}, {"on", lifts.on}, {"count", lifts.count()}, {"so far", lifts_}});
    notes_.write("discs", {{"on", discs}});
    hand_.take(plan_.look_s);
    tell("load", {{"step", step.number}});
}

void Operator::do_float(const Step& step) {
    if (auto* slip = mistake("confirms too early", step)) {
        notes_.write("mistake", {{"which", "confirms too early"}});
        progress_.say("    (the operator confirms before the piston floats)");
        const double notices_after_s = slip->notices_after_s;
        made(*slip);
        hand_.let_sink();
        // Where the readings contradict it he has looked again, and seen that it does not float.
        if (!tell("confirm", {{"range", step.range}})) return;
        hand_.take(notices_after_s);
        tell("lost");
        return;
    }
    const bool falling = step.direction == "falling";
    if (auto* slip = mistake("overshoots", step)) {
        notes_.write("mistake", {{"which", "overshoots"}, {"size", slip->size}});
        progress_.say("    (the operator winds too far: the piston hits its stop)");
        const double above = slip->size;
        made(*slip);
        hand_.wind_to(above_air_pa(step) * (1 + above));
        hand_.take(plan_.look_s);
        // He notices and only winds back, from above: what the series did not ask for.
        hand_.float_piston(above_air_pa(step), true);
    }
    if (!hand_.float_piston(above_air_pa(step), falling)) {
        notes_.write("cannot float");
        const bool shut_off = hand_.look().shut_off;
        progress_.say(fmt::format("    (the piston cannot be brought to float{})",
                                  shut_off ? ": valves shut it off from the line" : ""));
        if (shut_off) hand_.take(plan_.look_s);
        return;
    }
    hand_.spin();
    hand_.take(plan_.look_s);
    const auto sight = hand_.look();
    if (!sight.in_band || !sight.turning) return;
    progress_.say(
        fmt::format("    floats at {:+.1f} mm, turns at {:.0f} a minute", sight.height_m * 1e3, sight.spin_rpm));
    if (tell("confirm", {{"range", step.range}})) confirmed_us_ = now_us();
}

void Operator::do_entry(const nlohmann::json& frame, const Step& step) {
    for (const auto& channel : list_in(frame, "channels")) {
        if (!yes_in(channel, "manual") || text_in(channel, "mark") == "taken") continue;
        const auto& all = rig_.scenario().instruments;
        const auto found = std::find_if(all.begin(), all.end(), [&](const InstrumentEntry& entry) {
            return entry.name == text_in(channel, "name");
        });
        if (found == all.end()) continue;
        // Nothing counts before the settle guard is over.
        const Micros guard_us = confirmed_us_ + micros(rig_.scenario().settle_guard_s) - now_us();
        if (guard_us > 0) std::this_thread::sleep_for(std::chrono::microseconds(guard_us + 20000));
        const Micros started_us = now_us();
        const auto reading = hand_.read_dial(static_cast<std::size_t>(found - all.begin()), plan_.dial_s);
        const bool zero = step.range.empty(); // nothing floats there
        if (!zero && !hand_.look().in_band) {
            watch(frame, step);
            return;
        }
        tell("enter", {{"channel", found->name},
                       {"untapped", reading.untapped},
                       {"tapped", reading.tapped},
                       {"started_us", started_us}});
    }
}

void Operator::do_sight(const Step& step) {
    hand_.take(plan_.look_s / 2);
    const auto sight = hand_.look();
    if (sight.in_band && sight.turning)
        tell("sighted", {{"close", true}});
    else {
        notes_.write("lost at sighting", {{"step", step.number}, {"height_m", sight.height_m}});
        tell("lost");
    }
}

/// While readings settle there is nothing to do but keep an eye on the piston.
void Operator::watch(const nlohmann::json& frame, const Step& step) {
    if (text_in(object_in(frame, "float"), "state") != "confirmed") return;
    if (auto* slip = mistake("lets it sink", step); slip != nullptr && !standing_marks(frame, step).empty()) {
        notes_.write("mistake", {{"which", "lets it sink"}});
        progress_.say("    (the operator lets the piston sink to its rest)");
        const double notices_after_s = slip->notices_after_s;
        made(*slip);
        hand_.let_sink();
        hand_.take(notices_after_s);
        tell("lost");
        return;
    }
    const auto sight = hand_.look();
    if (!sight.in_band) {
        notes_.write("sank", {{"height_m", sight.height_m}});
        tell("lost");
        return;
    }
    const double half_band_m = rig_.scenario().truth.range(sight.range).float_band_m / 2;
    if (std::abs(sight.height_m) > 0.7 * half_band_m) {
        hand_.float_piston(above_air_pa(step), step.direction == "falling");
        notes_.write("topped up");
    }
}

std::vector<long> Operator::standing_marks(const nlohmann::json& frame, const Step& step) const {
    std::vector<long> all;
    for (const auto& mark : list_in(frame, "marks"))
        if (whole_in(mark, "point") == step.point && text_in(mark, "direction") == step.direction &&
            text_in(mark, "range") == step.range && text_in(mark, "status") != "void")
            all.push_back(whole_in(mark, "mark"));
    return all;
}

/// When he goes to look at the piston again he sees the disc on the table, or else some time after the first mark.
bool Operator::notices_forgotten_disc(const nlohmann::json& frame, const Step& step) {
    if (standing_marks(frame, step).empty()) return false;
    if (forgotten_seen_us_ == 0) forgotten_seen_us_ = now_us();
    return step.kind == "sight" ||
           now_us() - forgotten_seen_us_ > micros(forgotten_notices_after_s_ / rig_.scenario().time_factor);
}

void Operator::put_right_forgotten_disc(const nlohmann::json& frame, const Step& step) {
    const auto marks = standing_marks(frame, step);
    const auto what = forgotten_ ? fmt::format("disc {} was not on the head", *forgotten_)
                                 : fmt::format("the valves were not turned to the {} range", unturned_);
    progress_.say(fmt::format("    (the operator finds that {})", what));
    notes_.write("notices", {{"what", what}});
    for (const auto mark : marks)
        tell("void", {{"mark", mark}, {"reason", what}});
    tell("lost");
    if (!unturned_.empty()) hand_.turn_valves_to(unturned_);
    unturned_.clear();
    for (const auto mark : marks)
        tell("redo", {{"mark", mark}});
    forgotten_.reset();
}

} // namespace stillmark::simulator
