#include "bench/world.hpp"

#include "daemon/bench/reference.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <stdexcept>

namespace stillmark::bench::testing {

namespace {

std::string file(const std::string& path) {
    std::ifstream in(std::string(STILLMARK_SOURCE_DIR) + "/" + path, std::ios::binary);
    if (!in) throw std::runtime_error("cannot read " + path);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

} // namespace

std::string small_bench_text(const Edits& edits) {
    std::string text = file("tests/bad_bench/base.json");
    for (const auto& [old_text, new_text] : edits) {
        const auto at = text.find(old_text);
        if (at == std::string::npos || text.find(old_text, at + 1) != std::string::npos)
            throw std::runtime_error("not exactly once in base.json: " + old_text);
        text.replace(at, old_text.size(), new_text);
    }
    return text;
}

std::string demo_bench_text() {
    return file("simulator/demo/bench.json");
}

std::map<std::string, std::string> profile_texts() {
    std::map<std::string, std::string> texts;
    for (const char* name : {"invented-transmitter-rtu.json", "invented-transmitter-tcp.json",
                             "invented-digital-gauge.json", "invented-dial-gauge.json", "invented-milliammeter.json"})
        texts[name] = file(std::string("drivers/profiles/") + name);
    return texts;
}

BenchFile bench_of(const std::string& text) {
    auto bench = bench_from_texts("invented.json", text, profile_texts());
    if (!bench) throw std::runtime_error(bench.error().message);
    return std::move(*bench);
}

World::World(const std::string& bench_text) {
    happen(ServiceStarted{"invented boot", 1'700'000'000'000'000, "test", "test", "test", "test"});
    happen(BenchTaken{"invented.json", "", bench_text, profile_texts(), {}});
    if (!state.bench) throw std::runtime_error(told.back().words);
}

void World::happen(const Fact& fact) {
    journal.push_back({++number, now_us, to_text(fact)});
    std::string why;
    auto read_back = fact_from_text(journal.back().text, why);
    if (!read_back) throw std::runtime_error(why);
    for (auto& tell : apply(state, {number, now_us, std::move(*read_back)}))
        told.push_back(std::move(tell));
}

void World::pass(double seconds) {
    const Micros until_us = now_us + static_cast<Micros>(std::llround(seconds * 1e6));
    for (int bound = 0; bound < 100; ++bound) {
        const auto due = next_due_us(state);
        if (!due || *due > until_us) break;
        now_us = std::max(now_us, *due);
        for (const auto& fact : due_facts(state, now_us, seen))
            happen(fact);
    }
    now_us = until_us;
}

std::string World::does(const Decision& decision) {
    if (!decision) return decision.error().why;
    for (const auto& fact : *decision)
        happen(fact);
    return {};
}

CertificateDrafted World::drafted(const DraftRequest& request) {
    const auto draft = next_draft(state, press(), request);
    EXPECT_TRUE(draft) << (draft ? "" : draft.error().why);
    if (!draft) return {};
    EXPECT_EQ(does(record_draft(state, *draft)), "");
    return *draft;
}

std::string World::sign(const CertificateDrafted& draft) {
    CertificateSigned signature;
    signature.certificate = draft.certificate;
    signature.edition = draft.edition;
    signature.by = "invented reviewer";
    signature.utc_us = now_us;
    return does(record_signature(state, signature));
}

std::string World::start(const std::vector<std::string>& instruments, const std::string& sequence) {
    return does(start_run(state, press(), sequence.empty() ? state.bench->sequences.front().name : sequence, "as found",
                          instruments));
}
std::string World::step_done() {
    return does(bench::step_done(state, press(), static_cast<std::int64_t>(run().step)));
}
std::string World::load_as_planned(double age_s) {
    return does(state_planned_load(state, press(age_s), static_cast<std::int64_t>(run().step)));
}
std::string World::load(const std::string& range, const std::vector<std::string>& discs, double age_s) {
    return does(state_load(state, press(age_s), range, discs));
}
std::string World::confirm(const std::string& range, double age_s) {
    return does(confirm_float(state, press(age_s), range));
}
std::string World::sighted(bool close, double age_s) {
    return does(sight_float(state, press(age_s), close));
}
std::string World::lost(double age_s) {
    return does(lose_float(state, press(age_s)));
}
std::string World::undo(double age_s) {
    return does(undo_press(state, press(age_s)));
}
std::string World::enter(const std::string& channel, const std::string& untapped, const std::string& tapped,
                         double took_s) {
    return does(enter_reading(state, press(), channel, untapped, tapped, now_us - static_cast<Micros>(took_s * 1e6)));
}
std::string World::void_mark(std::int64_t mark_number, const std::string& reason) {
    return does(bench::void_mark(state, press(), mark_number, reason));
}

std::string World::planned_range() const {
    return state.bench->balance.ranges[*step().range].physics.name;
}

void World::still(std::size_t channel) {
    happen(StillnessChanged{static_cast<std::int64_t>(channel), acquisition::Stillness::still,
                            static_cast<std::int64_t>(number)});
}

std::vector<acquisition::TimedValue> World::readings(std::size_t channel, Micros from_us, double off_pa) const {
    const auto& instrument = state.bench->instruments[channel];
    double pressure_pa = 0;
    if (state.vented)
        pressure_pa = reference_vented(state, instrument).at_instrument_pa;
    else if (!state.intervals.empty())
        pressure_pa = metrology::reference_pressure_pa(
            reference_inputs(*state.bench, interval().range, interval().discs, state.conditions.air,
                             state.conditions.piston_temperature_c, &instrument));
    std::vector<acquisition::TimedValue> values;
    const auto poll_us = static_cast<Micros>(instrument.poll_s * 1e6);
    const auto window_us = static_cast<Micros>(instrument.limits.window_s * 1e6);
    for (int i = 0; values.empty() || values.back().at_us < from_us + window_us; ++i)
        values.push_back({from_us + i * poll_us, pressure_pa + off_pa + 20 * ((i * 7) % 5 - 2), true});
    return values;
}

std::string World::window(std::size_t channel, Micros from_us, double off_pa, Micros timing_us) {
    const auto values = readings(channel, from_us, off_pa);
    auto watch = approach_watch(state, channel);
    if (!watch) watch.emplace(Direction::rising, 0, 0);
    Window judged;
    judged.first = number + 1;
    judged.last = number += values.size();
    judged.largest_timing_us = timing_us;
    judged.readings = values;
    for (const auto& value : values)
        watch->take(value.value_pa);
    now_us = std::max(now_us, values.back().at_us);
    const Fact fact = judge_window(state, channel, judged, *watch);
    happen(fact);
    const auto* failed = std::get_if<WindowFailed>(&fact);
    return failed != nullptr ? failed->why : "";
}

std::string World::take_mark(std::size_t channel, double off_pa) {
    std::string why;
    const auto permit = window_permit(state, channel, now_us, why);
    if (!permit) return why;
    return window(channel, std::max(now_us, permit->not_before_us + 2000), off_pa);
}

std::string World::state_check(const std::string& value, const std::string& channel) {
    return does(answer_check(state, press(), static_cast<std::int64_t>(run().step), {value, channel}));
}

std::string World::watch_check(double off_pa, double fall_pa_per_s, std::size_t missing, double noise_pa) {
    if (auto refusal = does(answer_check(state, press(), static_cast<std::int64_t>(run().step), {})); !refusal.empty())
        return refusal;
    const auto watch = check_watch(state);
    if (!watch) return "nothing is watched";
    std::vector<Fact> results;
    for (const auto channel : watch->channels) {
        const auto& instrument = state.bench->instruments[channel];
        const double expected_pa = step().check == CheckKind::leak
                                       ? state.bench->checks.leak->at_pa
                                       : reference_vented(state, instrument).at_instrument_pa;
        std::vector<NumberedReading> readings;
        const auto poll_us = static_cast<Micros>(instrument.poll_s * 1e6);
        for (Micros at_us = watch->from_us; at_us <= watch->to_us; at_us += poll_us) {
            const double since_s = static_cast<double>(at_us - watch->from_us) / 1e6;
            const auto i = static_cast<int>(readings.size());
            readings.push_back(
                {++number,
                 {at_us, expected_pa + off_pa - fall_pa_per_s * since_s + noise_pa * ((i * 7) % 5 - 2), true}});
        }
        readings.resize(readings.size() - std::min(missing, readings.size()));
        results.emplace_back(judge_check(state, channel, readings));
    }
    now_us = watch->to_us;
    for (const auto& result : results)
        happen(result);
    return {};
}

void World::work_one_step() {
    const auto granted = [this](const std::string& refusal) {
        if (!refusal.empty())
            throw std::runtime_error(fmt::format("step {} ({}): {}", run().step, step().title, refusal));
    };
    switch (at()) {
    case StepKind::act:
        return granted(step_done());
    case StepKind::load:
        return granted(load_as_planned());
    case StepKind::raise:
        pass(5);
        return granted(confirm(planned_range()));
    case StepKind::sight:
        pass(0.1); // a look at the very end of a window does not bracket it
        return granted(sighted());
    case StepKind::wait:
        return pass(step().wait_s);
    case StepKind::vent:
        return granted(does(vent_line(state, press())));
    case StepKind::check: {
        const auto need = open_needs(run(), step()).at(0);
        if (need.by_readings) return granted(watch_check());
        const std::string name = word(*step().check);
        return granted(state_check(name == "warm-up" ? "2 h"
                                   : name == "level" ? "0 mrad"
                                   : name == "purge" ? "1"
                                                     : "0 bar",
                                   need.channel ? state.bench->instruments[*need.channel].name : ""));
    }
    case StepKind::read:
        break;
    }
    // The mark that completes a zero moves the run on, and perhaps to its end.
    const auto visit = *step().visit;
    const double target_pa = state.bench->sequences[run().sequence].points[*step().point].target_pa;
    for (std::size_t channel = 0; channel < run().takes_part.size(); ++channel) {
        if (!run().owes_mark(channel, visit) || state.standing_mark(channel, visit) != nullptr) continue;
        if (state.bench->instruments[channel].manual()) {
            pass(5);
            const auto shown = fmt::format("{:.0f} bar", target_pa / 1e5);
            granted(enter(state.bench->instruments[channel].name, shown, shown));
        } else {
            still(channel);
            granted(take_mark(channel));
        }
    }
}

void World::work_to(StepKind kind) {
    for (int bound = 0; bound < 1000; ++bound) {
        if (run().now() == nullptr || (at() == kind && (step().visit || step().point))) return;
        work_one_step();
    }
    throw std::runtime_error("the run does not come to that step");
}

World World::at_first(StepKind kind, const std::string& bench_text) {
    World world(bench_text);
    if (const auto refusal = world.start({"transmitter A", "transmitter B"}); !refusal.empty())
        throw std::runtime_error(refusal);
    // Past the preload, whose load and raising look the same.
    for (int bound = 0; bound < 100 && (!world.step().point || world.step().direction == Direction::preload); ++bound)
        world.work_one_step();
    world.work_to(kind);
    return world;
}

std::string dump(const State& state) {
    std::string out;
    const auto line = [&out](const std::string& words) { out += words + "\n"; };
    const auto load = [](const std::optional<StatedLoad>& one) {
        return one ? fmt::format("{} {} {}", one->range, fmt::join(one->discs, ","), one->pressed_us)
                   : std::string("none");
    };
    const auto intervals = [](const std::vector<FloatInterval>& all) {
        std::string words;
        for (const auto& one : all)
            words += fmt::format("{} r{} {} {} {}..{} x{} c{} s{} {} {}\n", one.number, one.range, one.range_name,
                                 fmt::join(one.discs, ","), one.from_us, one.to_us, one.expires_us, one.confirmed_us,
                                 one.last_sighted_us, word(one.end), one.by);
        return words;
    };
    const auto marks = [](const std::vector<Mark>& all) {
        std::string words;
        for (const auto& one : all)
            words += fmt::format("{} {} {} {} {} {}\n", word(one.status), one.why, one.utc_us, one.accepted_by,
                                 one.accepted_because, to_text(one.taken));
        return words;
    };
    const auto run = [](const Run& one) {
        std::string parts;
        for (const bool part : one.takes_part)
            parts += part ? '1' : '0';
        for (const auto& check : one.checks)
            parts += fmt::format(" {} {} {} {}", to_text(check.recorded), check.at_us, check.waived_because,
                                 check.waived_by);
        for (const auto& air : one.air)
            parts += fmt::format(" {:a} {:a} {:a} {:a} {}", air.air_temperature_c, air.air_pressure_pa, air.humidity,
                                 air.piston_temperature_c, air.by_person);
        parts += fmt::format(" in spite of {} {}", fmt::join(one.poor_at_start, ","), one.override_health);
        parts += fmt::format(" ended {} by {}", one.ended_utc_us, fmt::join(one.hands, ","));
        if (one.check_from_us) parts += fmt::format(" watched from {}", *one.check_from_us);
        if (one.ambient_at_start_pa) parts += fmt::format(" ambient {:a}", *one.ambient_at_start_pa);
        return fmt::format("{} {} {} {} {} {} step {} since {} {}..{} utc {} {} {} from {} air {}", one.id,
                           one.bench->revision, one.sequence, one.condition, one.by, parts, one.step, one.step_since_us,
                           one.started_us, one.ended_us, one.started_utc_us, word(one.end), one.reason,
                           one.approach_from, one.air_at_start_c ? fmt::format("{:a}", *one.air_at_start_c) : "-");
    };
    line("load " + load(state.load));
    line(intervals(state.intervals));
    line(marks(state.marks));
    for (const auto& one : state.overruled)
        line(fmt::format("overruled {} {} {} {} {}", to_text(one.fact), one.at_us, one.utc_us,
                         one.visit ? static_cast<std::int64_t>(*one.visit) : -1, one.interval));
    for (const auto& one : state.runs)
        line(run(one));
    for (const auto& one : state.channels)
        line(fmt::format("{} {} {} {} {} {}", acquisition::word(one.stillness), one.since_us, one.window_not_before_us,
                         one.beyond_pa ? fmt::format("{:a}", *one.beyond_pa) : "-", one.above_rating,
                         one.entered ? to_text(*one.entered) : "-"));
    const auto& air = state.conditions;
    line(fmt::format("{:a} {:a} {:a} {:a} {} {} {}", air.air.temperature_c.value, air.air.pressure_pa.value,
                     air.air.humidity.value, air.piston_temperature_c.value, air.stated_us, air.stated,
                     air.pressure_read_us.value_or(-1)));
    if (state.undo)
        line(fmt::format("undo {} {} {}\n{}{}{}", state.undo->what, state.undo->at_us, load(state.undo->load),
                         intervals(state.undo->intervals), marks(state.undo->marks),
                         state.undo->run ? run(*state.undo->run) : "-"));
    for (const auto& one : state.suspicions)
        line(fmt::format("{} {} {} {} {:a} {:a} {} {}", one.of_load, one.run, one.interval, one.at_us, one.offset_pa,
                         one.drift_pa_per_s, one.words, fmt::join(one.ranked, ";")));
    for (const auto& one : state.health)
        line(to_text(one));
    for (const auto& one : state.particulars)
        line(to_text(one));
    for (const auto& one : state.allowed)
        line(to_text(one));
    for (const auto& one : state.overridden)
        line(to_text(one));
    for (const auto& one : state.certificates)
        line(to_text(one.draft) + (one.signature ? to_text(*one.signature) : ""));
    line(fmt::format("{} {} {} {} {}", state.loss_suspected, state.was_away, state.boot_id,
                     state.intervals_of_former_boots, state.utc_offset_us));
    return out;
}

} // namespace stillmark::bench::testing
