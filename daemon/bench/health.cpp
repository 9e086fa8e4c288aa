#include "daemon/bench/health.hpp"

#include "daemon/bench/reference.hpp"
#include "drivers/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

namespace stillmark::bench {

namespace {

using drivers::Dimension;
using metrology::HealthSign;

struct SignWords {
    HealthSign sign;
    const char* name;
    Dimension dimension;
    const char* example;
    double scale; ///< to the unit that people read
    const char* unit;
};
constexpr SignWords signs[] = {
    {HealthSign::fall_rate, "fall rate", Dimension::speed, "0.6 mm/min", 60e3, "mm/min"},
    {HealthSign::spin_time, "spin time", Dimension::time, "240 s", 1, "s"},
    {HealthSign::smallest_disc, "smallest disc", Dimension::mass, "5 g", 1e3, "g"},
};

const SignWords* sign_named(const std::string& name) {
    for (const SignWords& one : signs)
        if (name == one.name) return &one;
    return nullptr;
}

const BalanceRange* range_named(const BenchFile& bench, const std::string& name) {
    for (const auto& range : bench.balance.ranges)
        if (range.physics.name == name) return &range;
    return nullptr;
}

/// Fall rates are compared at the range's highest pressure, where the bench file states them.
double comparable(const HealthStated& fact, const BalanceRange& range) {
    return fact.sign == "fall rate" && fact.pressure_pa > 0
               ? metrology::fall_rate_at(fact.value, fact.pressure_pa, range.highest_pa)
               : fact.value;
}

} // namespace

Decision state_health(const State& state, const Press& press, const HealthTexts& texts) {
    const auto malformed = [](std::string why) { return Refusal{std::move(why), true}; };
    if (!state.bench) return Refusal{"there is no bench yet"};
    const BalanceRange* range = range_named(*state.bench, texts.range);
    if (range == nullptr)
        return malformed(
            fmt::format("the balance has no range \"{}\"; use the name of one of balance.ranges", texts.range));
    HealthStated fact;
    fact.range = texts.range;
    fact.by = press.by;
    fact.pressed_us = press.pressed_us;
    fact.utc_us = press.now_us + state.utc_offset_us;
    int given = 0;
    const std::string* values[] = {&texts.fall_rate, &texts.spin_time, &texts.smallest_disc};
    for (std::size_t i = 0; i < std::size(signs); ++i) {
        if (values[i]->empty()) continue;
        ++given;
        fact.sign = signs[i].name;
        const auto value = drivers::parse_quantity(*values[i], signs[i].dimension);
        if (!value) return malformed(fmt::format("{}: {}", signs[i].name, value.error().message));
        if (!(*value > 0))
            return malformed(fmt::format("{}: found {}; give one over zero, for example \"{}\"", signs[i].name,
                                         *values[i], signs[i].example));
        fact.value = *value;
    }
    if (given != 1)
        return malformed(
            fmt::format("found {} of fall_rate, spin_time and smallest_disc; give one of them, for example "
                        "\"fall_rate\": \"0.6 mm/min\"",
                        given));
    if (!texts.at.empty()) {
        const auto at = drivers::parse_quantity(texts.at, Dimension::pressure);
        if (!at) return malformed(fmt::format("at: {}", at.error().message));
        if (!(*at > 0 && *at <= range->highest_pa * 1.02))
            return malformed(fmt::format("at: {} is outside the range \"{}\" (up to {:g} bar)", texts.at, texts.range,
                                         range->highest_pa / 1e5));
        fact.pressure_pa = *at;
    } else if (const FloatInterval* interval = state.open_interval();
               interval != nullptr && interval->range_name == texts.range) {
        fact.pressure_pa = metrology::reference_pressure_pa(
            reference_inputs(*state.bench, interval->range, interval->discs, state.conditions.air,
                             state.conditions.piston_temperature_c, nullptr));
    } else {
        fact.pressure_pa = range->highest_pa;
    }
    return std::vector<Fact>{std::move(fact)};
}

std::vector<Tell> fold(State& state, Micros, const HealthStated& fact) {
    if (sign_named(fact.sign) == nullptr || !(fact.value > 0)) return {};
    state.health.push_back(fact);
    const auto judged = judge_health(state, state.health.size() - 1);
    if (judged.judgement.verdict == metrology::HealthVerdict::good) return {};
    return {{false, judged.words}};
}

JudgedHealth judge_health(const State& state, std::size_t entry) {
    return judge_health(state, entry, state.bench.get());
}

JudgedHealth judge_health(const State& state, std::size_t entry, const BenchFile* bench) {
    const HealthStated& fact = state.health[entry];
    const SignWords& sign = *sign_named(fact.sign);
    const BalanceRange* range = bench != nullptr ? range_named(*bench, fact.range) : nullptr;
    JudgedHealth judged;
    judged.shown = fact.value * sign.scale;
    judged.unit = sign.unit;
    judged.comparable = range != nullptr ? comparable(fact, *range) : fact.value;
    std::vector<double> history;
    for (std::size_t i = 0; i < entry; ++i)
        if (state.health[i].range == fact.range && state.health[i].sign == fact.sign)
            history.push_back(range != nullptr ? comparable(state.health[i], *range) : state.health[i].value);
    if (range != nullptr && sign.sign == HealthSign::fall_rate) judged.stated = range->fall_rate_m_per_s;
    if (range != nullptr && sign.sign == HealthSign::spin_time) judged.stated = range->spin_time_s;
    judged.judgement = metrology::judge_health(sign.sign, judged.comparable, judged.stated, history);
    judged.words = fmt::format("{} range, {}: {:.3g} {}", fact.range, fact.sign, fact.value * sign.scale, sign.unit);
    if (sign.sign == HealthSign::fall_rate && fact.pressure_pa > 0 && range != nullptr)
        judged.words += fmt::format(" at {:.4g} bar, {:.3g} {} at {:g} bar", fact.pressure_pa / 1e5,
                                    judged.comparable * sign.scale, sign.unit, range->highest_pa / 1e5);
    if (judged.judgement.against_stated)
        judged.words += fmt::format(", {:.2f} of what is stated", *judged.judgement.against_stated);
    if (judged.judgement.against_history)
        judged.words += fmt::format(", {:.2f} of its own median", *judged.judgement.against_history);
    switch (judged.judgement.verdict) {
    case metrology::HealthVerdict::good:
        judged.words += ": good";
        break;
    case metrology::HealthVerdict::changed:
        judged.words += ": changed; clean the piston and look again before the balance is trusted";
        break;
    case metrology::HealthVerdict::poor:
        judged.words += ": poor; do not use the range until it is cleaned and found good";
        break;
    }
    return judged;
}

std::vector<std::size_t> poor_health(const State& state, const std::set<std::string>& ranges) {
    std::map<std::pair<std::string, std::string>, std::size_t> latest;
    for (std::size_t i = 0; i < state.health.size(); ++i)
        if (ranges.contains(state.health[i].range)) latest[{state.health[i].range, state.health[i].sign}] = i;
    std::vector<std::size_t> poor;
    for (const auto& [sign, entry] : latest)
        if (judge_health(state, entry).judgement.verdict == metrology::HealthVerdict::poor) poor.push_back(entry);
    std::sort(poor.begin(), poor.end());
    return poor;
}

std::set<std::string> ranges_of(const BenchFile& bench, const Sequence& sequence) {
    std::set<std::string> ranges;
    for (const auto& point : sequence.points)
        if (!point.zero) ranges.insert(bench.balance.ranges[point.range].physics.name);
    return ranges;
}

std::optional<Refusal> objection_to_health(const State& state, const Press& press, const Sequence& sequence,
                                           const std::string& reason) {
    constexpr std::size_t longest_reason = 2000;
    const auto poor = poor_health(state, ranges_of(*state.bench, sequence));
    if (poor.empty()) {
        if (reason.empty()) return std::nullopt;
        return refused(
            fmt::format("no range of sequence \"{}\" is in poor health; start without the override", sequence.name));
    }
    if (reason.empty()) {
        std::string found;
        for (const auto entry : poor)
            found += (found.empty() ? "" : "; ") + judge_health(state, entry).words;
        return refused(fmt::format("sequence \"{}\" needs a range in poor health ({}). Clean it and state its health "
                                   "again, or start with an override and its reason, which is printed on the "
                                   "certificates",
                                   sequence.name, found));
    }
    if (reason.size() > longest_reason)
        return malformed(fmt::format("\"override_health\" is longer than {} bytes; shorten it", longest_reason));
    if (press.by.empty()) return malformed("an override has a name; say who starts the run");
    return std::nullopt;
}

const char* rotation_word(std::size_t visit) {
    return visit % 2 == 0 ? "clockwise" : "counter-clockwise";
}

} // namespace stillmark::bench
