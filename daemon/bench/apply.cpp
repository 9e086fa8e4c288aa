#include "daemon/bench/certificates.hpp"
#include "daemon/bench/checks.hpp"
#include "daemon/bench/contradiction.hpp"
#include "daemon/bench/gates.hpp"
#include "daemon/bench/health.hpp"
#include "daemon/bench/ledger.hpp"
#include "daemon/bench/runs.hpp"
#include "daemon/bench/state.hpp"
#include "daemon/bench/suspicion.hpp"

#include <fmt/format.h>

#include <type_traits>

namespace stillmark::bench {

namespace {

// What is no press and no run changes little; each is one small fold of its own.
std::vector<Tell> fold(State& state, Micros at_us, const ServiceStarted& fact) {
    // Instants of another boot cannot be compared with those of this one.
    if (state.boot_id != fact.boot_id) {
        state.conditions.stated = false;
        state.conditions.pressure_read_us.reset();
        state.intervals_of_former_boots = state.intervals.size();
        if (state.load) state.load->pressed_us = 0;
        if (Run* run = state.running()) run->step_since_us = at_us;
    }
    state.boot_id = fact.boot_id;
    state.undo.reset();
    // Whoever opened the line may have closed it meanwhile, and nobody watched whether a pressure stayed.
    state.vented.reset();
    if (Run* run = state.running()) {
        run->reached_us.reset();
        run->check_from_us.reset(); // readings in between are missing: it is begun again
    }
    state.utc_offset_us = fact.utc_us - at_us;
    for (auto& channel : state.channels)
        channel = {};
    return {};
}
std::vector<Tell> fold(State&, Micros, const ServiceStopped&) {
    return {};
}
std::vector<Tell> fold(State& state, Micros at_us, const ClockAnchored& fact) {
    state.utc_offset_us = fact.utc_us - at_us;
    return {};
}
std::vector<Tell> fold(State& state, Micros at_us, const BenchTaken& fact) {
    if (state.running() != nullptr) return {}; // a run keeps the bench that it began with
    auto bench = bench_from_texts(fact.path, fact.text, fact.profiles, fact.loads);
    if (!bench) return {{true, fmt::format("the journalled bench cannot be read: {}", bench.error().message)}};
    move_on(state, at_us);
    state.bench = std::make_shared<const BenchFile>(std::move(*bench));
    state.channels.assign(state.bench->instruments.size(), {});
    state.load.reset();
    state.conditions = {};
    state.conditions.air = state.bench->surroundings.air;
    state.conditions.piston_temperature_c = state.bench->surroundings.piston_temperature_c;
    return {};
}
std::vector<Tell> fold(State&, Micros, const ReadingsRefused& fact) {
    return {{true, fmt::format("the journal is too slow: readings were refused while {} waited", fact.waiting)}};
}
std::vector<Tell> fold(State& state, Micros at_us, const SurroundingsStated& fact) {
    auto& to = state.conditions;
    if (fact.air_temperature_c) to.air.temperature_c.value = *fact.air_temperature_c;
    if (fact.air_pressure_pa) to.air.pressure_pa.value = *fact.air_pressure_pa;
    if (fact.humidity) to.air.humidity.value = *fact.humidity;
    if (fact.piston_temperature_c) to.piston_temperature_c.value = *fact.piston_temperature_c;
    to.stated_us = at_us;
    to.stated = true;
    to.by_person = fact.by != usual_surroundings;
    if (fact.air_pressure_pa) to.pressure_read_us = to.by_person ? std::optional(at_us) : std::nullopt;
    if (Run* run = state.running()) run->air.push_back(air_of(to));
    if (Run* run = state.running(); run != nullptr && !run->ambient_at_start_pa && to.pressure_read_us == at_us)
        run->ambient_at_start_pa = to.air.pressure_pa.value;
    if (Run* run = state.running(); run != nullptr && !run->air_at_start_c)
        run->air_at_start_c = to.air.temperature_c.value;
    return {};
}
std::vector<Tell> fold(State&, Micros, const StepDone&) {
    return {};
}
std::vector<Tell> fold(State&, Micros, const WaitElapsed&) {
    return {};
}
std::vector<Tell> fold(State& state, Micros, const PressUndone&) {
    if (!state.undo) return {};
    UndoPoint before = std::move(*state.undo);
    state.undo.reset();
    state.load = std::move(before.load);
    state.vented = before.vented;
    state.intervals = std::move(before.intervals);
    state.marks = std::move(before.marks);
    state.overruled = std::move(before.overruled);
    if (before.run && !state.runs.empty() && state.runs.back().id == before.run->id)
        state.runs.back() = std::move(*before.run);
    return {{false, fmt::format("taken back: {}", before.what)}};
}

ChannelState* channel_of(State& state, std::int64_t channel) {
    if (channel < 0 || static_cast<std::size_t>(channel) >= state.channels.size()) return nullptr;
    return &state.channels[static_cast<std::size_t>(channel)];
}

std::vector<Tell> fold(State& state, Micros at_us, const StillnessChanged& fact) {
    ChannelState* channel = channel_of(state, fact.channel);
    if (channel == nullptr) return {};
    channel->stillness = fact.to;
    channel->since_us = at_us;
    return {};
}
std::vector<Tell> fold(State& state, Micros at_us, const WindowFailed& fact) {
    if (ChannelState* channel = channel_of(state, fact.channel)) channel->window_not_before_us = at_us;
    return {};
}
std::vector<Tell> fold(State& state, Micros, const ReadingEntered& fact) {
    if (ChannelState* channel = channel_of(state, fact.channel)) channel->entered = fact;
    return {};
}
std::vector<Tell> fold(State& state, Micros, const OvershootSeen& fact) {
    if (ChannelState* channel = channel_of(state, fact.channel)) channel->beyond_pa = fact.value_pa;
    return {};
}
std::vector<Tell> fold(State& state, Micros, const RatingExceeded& fact) {
    ChannelState* channel = channel_of(state, fact.channel);
    if (channel == nullptr) return {};
    channel->above_rating = true;
    const auto& weakest = state.bench->weakest();
    return {{true,
             fmt::format(
                 "{} reads {:.1f} bar, above the lowest rating on the bench ({}, {:g} bar): let the pressure down now",
                 state.bench->instruments[static_cast<std::size_t>(fact.channel)].name, fact.value_pa / 1e5,
                 weakest.part, weakest.rating_pa / 1e5)}};
}
std::vector<Tell> fold(State& state, Micros, const RatingRestored& fact) {
    if (ChannelState* channel = channel_of(state, fact.channel)) channel->above_rating = false;
    return {};
}
std::vector<Tell> fold(State& state, Micros at_us, const MarkTaken& fact) {
    const bool zero = fact.vented.value_or(false);
    Mark mark;
    mark.taken = fact;
    mark.status = zero ? MarkStatus::vented : MarkStatus::provisional;
    mark.utc_us = at_us + state.utc_offset_us;
    state.marks.push_back(std::move(mark));
    return {};
}
std::vector<Tell> fold(State& state, Micros, const MarkVoided& fact) {
    for (auto& mark : state.marks)
        if (mark.taken.mark == fact.mark && mark.status != MarkStatus::voided) {
            mark.status = MarkStatus::voided;
            mark.why = fact.reason;
        }
    return {};
}

/// Presses can be taken back; what comes in between ends that.
void keep_undo(State& state, const Event& event) {
    const auto point = [&](const char* what) {
        UndoPoint before{what,        event.at_us,     state.load, state.vented, state.intervals,
                         state.marks, state.overruled, {}};
        if (!state.runs.empty()) before.run = state.runs.back();
        state.undo = std::move(before);
    };
    const auto& fact = event.fact;
    if (std::holds_alternative<LoadStated>(fact))
        point("the stated load");
    else if (std::holds_alternative<FloatConfirmed>(fact))
        point("the confirmation");
    else if (std::holds_alternative<FloatSighted>(fact))
        point("the sighting");
    else if (std::holds_alternative<FloatLost>(fact))
        point("the loss");
    else if (std::holds_alternative<LineVented>(fact))
        point("the open line");
    else if (std::holds_alternative<CheckBegun>(fact))
        point("the beginning of the check");
    else if (const auto* check = std::get_if<CheckRecorded>(&fact); check != nullptr && !check->by.empty())
        point("the answer to the check");
    else if (std::holds_alternative<CheckWaived>(fact))
        point("going on after the check");
    else if (!std::holds_alternative<PressUndone>(fact) && !std::holds_alternative<StillnessChanged>(fact) &&
             !std::holds_alternative<OvershootSeen>(fact) && !std::holds_alternative<ClockAnchored>(fact) &&
             !std::holds_alternative<RatingExceeded>(fact) && !std::holds_alternative<RatingRestored>(fact) &&
             !std::holds_alternative<WindowFailed>(fact) && !std::holds_alternative<WrongLoadSuspected>(fact) &&
             !std::holds_alternative<HealthStated>(fact) && !std::holds_alternative<ReadingsRefused>(fact) &&
             !std::holds_alternative<ParticularsStated>(fact) && !std::holds_alternative<ExpiryAllowed>(fact) &&
             !std::holds_alternative<CertificateDrafted>(fact) && !std::holds_alternative<CertificateSigned>(fact) &&
             !std::holds_alternative<GateOverridden>(fact) && !std::holds_alternative<ReadingsOverruled>(fact))
        state.undo.reset();
}

/// Everybody who worked at a run, so that no one of them reviews it.
void remember_hands(State& state, const Fact& fact) {
    Run* run = state.running();
    // What a reviewer or the office does is no work at the balance.
    if (run == nullptr || std::holds_alternative<MarkVoided>(fact) || std::holds_alternative<MarkAccepted>(fact) ||
        std::holds_alternative<ParticularsStated>(fact) || std::holds_alternative<ExpiryAllowed>(fact) ||
        std::holds_alternative<CertificateDrafted>(fact) || std::holds_alternative<CertificateSigned>(fact) ||
        std::holds_alternative<GateOverridden>(fact))
        return;
    std::visit(
        [run](const auto& one) {
            if constexpr (requires { one.by; })
                if (!one.by.empty() && one.by != usual_surroundings) run->hands.insert(one.by);
        },
        fact);
}

} // namespace

std::vector<Tell> apply(State& state, const Event& event) {
    // Before a bench is known only the service's own beginnings mean anything.
    const bool early =
        std::holds_alternative<ServiceStarted>(event.fact) || std::holds_alternative<BenchTaken>(event.fact) ||
        std::holds_alternative<ServiceStopped>(event.fact) || std::holds_alternative<ClockAnchored>(event.fact);
    if (!state.bench && !early) return {};
    keep_undo(state, event);
    auto told = std::visit(
        [&](const auto& fact) {
            if constexpr (std::is_same_v<std::decay_t<decltype(fact)>, VisitReopened>)
                return fold(state, event.at_us, event.number, fact);
            else
                return fold(state, event.at_us, fact);
        },
        event.fact);
    remember_hands(state, event.fact);
    if (!std::holds_alternative<PressUndone>(event.fact)) answer(state, event.at_us, event.number, event.fact);
    settle(state, event.at_us, event.number);
    return told;
}

} // namespace stillmark::bench
