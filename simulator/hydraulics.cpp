#include "simulator/hydraulics.hpp"

#include "simulator/force_balance.hpp"
#include "simulator/mistake.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace stillmark::simulator {

namespace {

/// Closer than this to an end of its travel, a piston rests there.
constexpr double touch_m = 1e-6;
/// Slower than this it no longer turns freely; a hand spins it up to about 30 a minute.
constexpr double least_spin_rpm = 5;
constexpr double hand_spin_rpm = 30;

} // namespace

const char* word(PistonState state) {
    switch (state) {
    case PistonState::down:
        return "down";
    case PistonState::floating:
        return "floating";
    case PistonState::stop:
        return "stop";
    }
    return "?";
}

Hydraulics::Hydraulics(const Truth& truth, const OilCircuit& circuit)
    : truth_(truth), circuit_(circuit), elements_(truth.ranges.size()) {
    for (std::size_t i = 0; i < elements_.size(); ++i)
        elements_[i].travel_m = circuit_.travel_over_band * truth_.ranges[i].float_band_m;
    put_on({});
}

void Hydraulics::put_on(const std::vector<std::string>& discs) {
    for (const auto& id : discs)
        if (!truth_.discs.contains(id)) throw Mistake("there is no disc \"" + id + "\"");
    discs_ = discs;
    for (std::size_t i = 0; i < elements_.size(); ++i) {
        const auto& range = truth_.ranges[i];
        const double under = pressure_under_piston_pa(truth_, range, discs_);
        elements_[i].lift_pa = pressure_below_pa(truth_, under, range.level_m);
        elements_[i].per_metre_pa = pressure_below_pa(truth_, under, range.level_m + 1) - elements_[i].lift_pa;
    }
}

double Hydraulics::floating_pressure_pa(const std::string& range, double height_m) const {
    for (std::size_t i = 0; i < elements_.size(); ++i)
        if (truth_.ranges[i].name == range) return elements_[i].lift_pa + elements_[i].per_metre_pa * height_m;
    throw Mistake("the balance has no range \"" + range + "\"");
}

void Hydraulics::turn_valves_to(const std::string& range) {
    for (std::size_t i = 0; i < elements_.size(); ++i) {
        if (truth_.ranges[i].name != range) continue;
        valves_ = i;
        shut_off_ = false;
        return;
    }
    throw Mistake("the balance has no range \"" + range + "\"");
}

double Hydraulics::displaced_m3() const {
    double sum = 0;
    for (std::size_t i = 0; i < elements_.size(); ++i)
        sum += truth_.ranges[i].area_m2 * elements_[i].at_m;
    return sum;
}

void Hydraulics::vent() {
    // The reservoir takes back all but what a shut valve holds under a piston.
    if (valves_ == 0 && !shut_off_) elements_[0].at_m = 0;
    if (elements_.size() > 1 && !shut_off_) elements_[1].at_m = 0;
    oil_m3_ = displaced_m3();
    pressure_pa_ = 0;
    winding_m3_per_s_ = 0;
}

void Hydraulics::tighten() {
    circuit_.leak_m3_per_s = 0;
    circuit_.leak_m3_per_pa_s = 0;
}

/// What must be pressed into the line for this pressure. The oil is a spring; the air follows the gas law at the room's
/// temperature, because a press is wound slowly: V0 p0 = V (p0 + p), p0 being the pressure of the room. That air goes
/// into solution under pressure is left out.
double Hydraulics::oil_for(double pressure_pa) const {
    return oil_spring() * pressure_pa + circuit_.trapped_air_m3 * pressure_pa / (truth_.air.pressure_pa + pressure_pa);
}

/// The pressure p at which spring p + V0 p / (p0 + p) is this much oil: the greater root of
/// spring p2 + (spring p0 + V0 - oil) p - oil p0 = 0, in the form that does not cancel.
double Hydraulics::pressure_where(double spring, double oil) const {
    if (circuit_.trapped_air_m3 == 0) return oil / spring;
    const double room_pa = truth_.air.pressure_pa;
    const double linear = spring * room_pa + circuit_.trapped_air_m3 - oil;
    const double root = std::sqrt(linear * linear + 4 * spring * oil * room_pa);
    return linear > 0 ? 2 * oil * room_pa / (linear + root) : (root - linear) / (2 * spring);
}

double Hydraulics::oil_per_pa() const {
    const double room_pa = truth_.air.pressure_pa;
    return oil_spring() + circuit_.trapped_air_m3 * room_pa / std::pow(room_pa + pressure_pa_, 2);
}

bool Hydraulics::moves(std::size_t element) const {
    if (shut_off_) return false;
    if (elements_.size() == 1) return true;
    if (valves_ == 1) return element == 1;
    return element == 0 || truth_.range_change == RangeChange::stopped;
}

void Hydraulics::hold(double pressure_pa) {
    for (std::size_t i = 0; i < elements_.size(); ++i) {
        auto& element = elements_[i];
        if (!moves(i)) continue;
        const double half_pa = element.per_metre_pa * element.travel_m / 2;
        if (pressure_pa > element.lift_pa + half_pa)
            element.at_m = element.travel_m;
        else if (pressure_pa < element.lift_pa - half_pa)
            element.at_m = 0;
    }
    oil_m3_ = oil_for(pressure_pa) + displaced_m3();
}

/// Height above its rest where the oil's pressure is the piston's own.
double Hydraulics::rest_height(const Element& element, double area, double oil) const {
    const double c = oil_spring();
    const double k = element.per_metre_pa;
    double height = (oil / c - element.lift_pa + k * element.travel_m / 2) / (area / c + k);
    if (circuit_.trapped_air_m3 > 0) {
        // The pressure rises with the height, so the piston is a second spring beside the oil's.
        const double from_rest_pa = element.lift_pa - k * element.travel_m / 2;
        height = (pressure_where(c + area / k, oil + area * from_rest_pa / k) - from_rest_pa) / k;
    }
    return std::clamp(height, 0.0, element.travel_m);
}

void Hydraulics::find_targets(double (&target)[2]) const {
    if (shut_off_) {
        for (std::size_t i = 0; i < elements_.size(); ++i)
            target[i] = elements_[i].at_m;
        return;
    }
    const auto& wide = elements_[0];
    const double wide_area = truth_.ranges[0].area_m2;
    if (elements_.size() == 1) {
        target[0] = rest_height(wide, wide_area, oil_m3_);
        return;
    }
    const auto& narrow = elements_[1];
    const double narrow_area = truth_.ranges[1].area_m2;
    if (valves_ == 1) { // a shut valve holds the wide piston where it is
        target[0] = wide.at_m;
        target[1] = rest_height(narrow, narrow_area, oil_m3_ - wide_area * wide.at_m);
        return;
    }
    if (truth_.range_change == RangeChange::isolated) {
        target[1] = 0;
        target[0] = rest_height(wide, wide_area, oil_m3_);
        return;
    }
    // Both see the oil. What lifts at the lower pressure goes first, the other only once that is at its stop.
    const bool wide_first = wide.lift_pa <= narrow.lift_pa;
    if (wide_first) {
        target[0] = rest_height(wide, wide_area, oil_m3_);
        target[1] =
            target[0] < wide.travel_m ? 0 : rest_height(narrow, narrow_area, oil_m3_ - wide_area * wide.travel_m);
    } else {
        target[1] = rest_height(narrow, narrow_area, oil_m3_);
        target[0] =
            target[1] < narrow.travel_m ? 0 : rest_height(wide, wide_area, oil_m3_ - narrow_area * narrow.travel_m);
    }
}

/// Oil that leaves past a floating piston lets it sink at once; no spring of the oil delays that.
void Hydraulics::sink(double wall_s) {
    const auto& range = truth_.ranges[active_];
    const double past_piston =
        shut_off_ ? 0 : range.area_m2 * range.fall_rate_m_per_s * std::max(0.0, pressure_pa_ / range.highest_pa);
    const double seeping = pressure_pa_ > 0 ? circuit_.leak_m3_per_s + sudden_leak_m3_per_s_ : 0;
    const double lost = std::min(oil_m3_, (past_piston + seeping + circuit_.leak_m3_per_pa_s * pressure_pa_) * wall_s);
    oil_m3_ -= lost;
    if (!shut_off_ && piston() == PistonState::floating)
        elements_[active_].at_m = std::max(0.0, elements_[active_].at_m - lost / range.area_m2);
}

std::size_t Hydraulics::moving() const {
    if (shut_off_) return active_;
    if (elements_.size() == 1) return 0;
    if (valves_ == 1) return 1;
    return moves(1) && elements_[1].at_m > 0 ? 1 : 0;
}

void Hydraulics::advance(double hydraulic_s, double wall_s) {
    sink(wall_s);
    const double before_m3 = oil_m3_;
    oil_m3_ = std::clamp(oil_m3_ + winding_m3_per_s_ * hydraulic_s, 0.0, circuit_.press_stroke_m3);
    wound_m3_ += oil_m3_ - before_m3;
    double target[2] = {0, 0};
    find_targets(target);
    const double share = -std::expm1(-hydraulic_s / circuit_.piston_relaxation_s);
    for (std::size_t i = 0; i < elements_.size(); ++i) {
        auto& at = elements_[i].at_m;
        at += share * (target[i] - at);
        if (std::abs(at - target[i]) < 1e-12) at = target[i];
    }
    pressure_pa_ = std::max(0.0, pressure_where(oil_spring(), oil_m3_ - displaced_m3()));
    active_ = moving();
    const double spin_tau_s = truth_.ranges[active_].spin_time_s / std::log(hand_spin_rpm / least_spin_rpm);
    spin_rpm_ *= piston() == PistonState::floating ? std::exp(-wall_s / spin_tau_s) : 0.0;
}

PistonState Hydraulics::piston() const {
    const auto& element = elements_[active_];
    if (element.at_m <= touch_m) return PistonState::down;
    if (element.at_m >= element.travel_m - touch_m) return PistonState::stop;
    return PistonState::floating;
}

double Hydraulics::height_m() const {
    return elements_[active_].at_m - elements_[active_].travel_m / 2;
}

bool Hydraulics::in_band() const {
    return !shut_off_ && piston() == PistonState::floating &&
           std::abs(height_m()) <= truth_.ranges[active_].float_band_m / 2;
}

} // namespace stillmark::simulator
