#include "simulator/rig.hpp"

#include "simulator/force_balance.hpp"

#include <algorithm>
#include <cmath>

namespace stillmark::simulator {

namespace {

/// The longest step that the rig is moved on by. Shorter than any lag of a gauge.
constexpr Micros longest_step_us = 1000;
/// What a careful hand on the feet leaves of a tilt.
constexpr double left_of_tilt = 0.2;

} // namespace

Rig::Rig(const Scenario& scenario, Micros start_us)
    : scenario_(scenario), truth_(scenario.truth), start_us_(start_us), now_us_(start_us),
      hydraulics_(truth_, scenario.oil), stuck_pa_(scenario.instruments.size()), board_(scenario.faults, start_us) {
    for (const auto& instrument : scenario.instruments) {
        gauges_.emplace_back(instrument.name, instrument.character, scenario.seed);
        const double offset = pressure_below_pa(scenario.truth, 0, -instrument.level_m);
        heads_.push_back({offset, (pressure_below_pa(scenario.truth, 1e8, -instrument.level_m) - offset) / 1e8,
                          counted_pressure_pa(scenario.truth, instrument.counting, 0, -instrument.level_m)});
    }
    step(1e-3, start_us);
}

void Rig::step(double wall_s, Micros at_us) {
    const auto* leak = board_.holding(FaultKind::leak, "", "", at_us);
    hydraulics_.leak(leak != nullptr ? leak->rate_m3_per_s : 0);
    hydraulics_.advance(wall_s * scenario_.time_factor, wall_s);
    for (std::size_t i = 0; i < gauges_.size(); ++i) {
        const auto& entry = scenario_.instruments[i];
        const auto* noise = board_.holding(FaultKind::noise, entry.name, entry.bus, at_us);
        gauges_[i].add_noise(noise != nullptr ? noise->size_pa : 0);
        const double mark_pa = hydraulics_.pressure_pa();
        const double gauge_pa = truth_.gas ? pressure_below_pa(truth_, mark_pa, -entry.level_m)
                                           : heads_[i].offset_pa + heads_[i].slope * mark_pa;
        gauges_[i].advance(gauge_pa + heads_[i].counted_pa, wall_s * scenario_.time_factor, wall_s);
    }
}

void Rig::advance(Micros at_us) {
    while (now_us_ < at_us) {
        const Micros by = std::min(longest_step_us, at_us - now_us_);
        now_us_ += by;
        step(static_cast<double>(by) * 1e-6, now_us_);
    }
}

void Rig::act(Micros at_us, const std::function<void(Hydraulics&)>& action) {
    const std::scoped_lock lock(mutex_);
    advance(at_us);
    action(hydraulics_);
}

void Rig::look(Micros at_us, const std::function<void(const Hydraulics&, const std::vector<Gauge>&)>& eyes) {
    const std::scoped_lock lock(mutex_);
    advance(at_us);
    eyes(hydraulics_, gauges_);
}

WireView Rig::wire_view(std::size_t instrument, Micros at_us) {
    const std::scoped_lock lock(mutex_);
    advance(at_us);
    const auto& entry = scenario_.instruments[instrument];
    WireView view;
    view.shown_pa = gauges_[instrument].shown_pa();
    auto& stuck = stuck_pa_[instrument];
    if (board_.holding(FaultKind::stuck_value, entry.name, entry.bus, at_us) == nullptr)
        stuck.reset();
    else if (!stuck)
        stuck = view.shown_pa;
    if (stuck) view.shown_pa = *stuck;
    view.report.swapped_words = board_.holding(FaultKind::wrong_word_order, entry.name, entry.bus, at_us) != nullptr;
    if (const auto* report = board_.holding(FaultKind::own_report, entry.name, entry.bus, at_us))
        view.report.means = report->means;
    view.how = board_.next_answer(entry.name, entry.bus, at_us);
    return view;
}

bool Rig::disconnected(const BusEntry& bus, Micros at_us) {
    const std::scoped_lock lock(mutex_);
    if (board_.holding(FaultKind::disconnect, "", bus.name, at_us) != nullptr) return true;
    return std::any_of(scenario_.instruments.begin(), scenario_.instruments.end(), [&](const InstrumentEntry& entry) {
        return entry.bus == bus.name && board_.holding(FaultKind::disconnect, entry.name, bus.name, at_us) != nullptr;
    });
}

void Rig::tap(std::size_t instrument, Micros at_us) {
    const std::scoped_lock lock(mutex_);
    advance(at_us);
    gauges_[instrument].tap();
}

void Rig::clamp_anew(Micros at_us) {
    const std::scoped_lock lock(mutex_);
    advance(at_us);
    for (auto& gauge : gauges_)
        gauge.clamp_anew();
}

double Rig::tilt_rad(Micros at_us) {
    const std::scoped_lock lock(mutex_);
    advance(at_us);
    double largest = 0;
    for (const auto& range : truth_.ranges)
        largest = std::max(largest, std::abs(range.tilt_rad));
    return largest;
}

void Rig::level(Micros at_us) {
    const std::scoped_lock lock(mutex_);
    advance(at_us);
    for (auto& range : truth_.ranges)
        range.tilt_rad *= left_of_tilt;
    hydraulics_.levelled();
}

double Rig::powered_s(Micros at_us) const {
    return scenario_.powered_s + static_cast<double>(at_us - start_us_) * 1e-6 * scenario_.time_factor;
}

void Rig::reached(int point, const std::string& direction, const std::string& step, Micros at_us) {
    const std::scoped_lock lock(mutex_);
    board_.reached(point, direction, step, at_us);
}

} // namespace stillmark::simulator
