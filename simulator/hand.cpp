#include "simulator/hand.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <thread>

namespace stillmark::simulator {

namespace {

/// How often the eyes see and the hand corrects, in operator's time.
constexpr double beat_s = 0.05;
constexpr int beats_of_a_minute = 1200;
/// Speed of the piston that a careful hand allows near its band.
constexpr double gentle_m_per_s = 0.8e-3;
/// How fast the hand closes the distance to a pressure, and to a height.
constexpr double pressure_tau_s = 0.5;
constexpr double height_tau_s = 0.4;
/// As fast as a screw press is wound.
constexpr double fastest_m3_per_s = 1.5e-6;
constexpr double mid_band_m = 0.2e-3;
constexpr double turning_rpm = 8;

std::string dial_text(double pressure_pa, const Profile& profile) {
    const double step = profile.division_pa / profile.parts;
    const double units = std::round(pressure_pa / step) * step / profile.unit_pa;
    return fmt::format("{:.6g} {}", std::abs(units) < 1e-12 ? 0.0 : units, profile.unit);
}

} // namespace

void Hand::take(double operator_s) const {
    std::this_thread::sleep_for(std::chrono::duration<double>(operator_s / rig_.scenario().time_factor));
}

void Hand::wind(double m3_per_s) {
    rig_.act(now_us(), [&](Hydraulics& oil) { oil.wind(std::clamp(m3_per_s, -fastest_m3_per_s, fastest_m3_per_s)); });
}

void Hand::turn_valves_to(const std::string& range) {
    rig_.act(now_us(), [&](Hydraulics& oil) {
        // Opened slowly, with the other hand on the press, so that the pressure does not turn back.
        const double pressure = oil.pressure_pa();
        oil.turn_valves_to(range);
        oil.hold(pressure);
    });
}

void Hand::vent() {
    rig_.act(now_us(), [](Hydraulics& oil) { oil.vent(); });
}

void Hand::change_discs(const std::vector<std::string>& discs, bool falling, double first_s, double each_s) {
    std::vector<std::string> head;
    rig_.look(now_us(), [&](const Hydraulics& oil, const std::vector<Gauge>&) { head = oil.discs(); });
    const auto on = [](const std::vector<std::string>& list, const std::string& id) {
        return std::find(list.begin(), list.end(), id) != list.end();
    };
    bool first = true;
    const auto moved = [&] {
        take(first ? first_s : each_s);
        first = false;
        rig_.act(now_us(), [&](Hydraulics& oil) { oil.put_on(head); });
    };
    const auto take_off = [&] {
        for (auto at = head.size(); at-- > 0;) {
            if (on(discs, head[at])) continue;
            head.erase(head.begin() + static_cast<std::ptrdiff_t>(at));
            moved();
        }
    };
    const bool lighter = std::any_of(head.begin(), head.end(), [&](const std::string& id) { return !on(discs, id); });
    // No disc comes off a raised piston.
    if (lighter && look().piston == PistonState::floating) let_sink();
    if (falling) take_off();
    for (const auto& id : discs) {
        if (on(head, id)) continue;
        head.push_back(id);
        moved();
    }
    take_off();
}

bool Hand::float_piston(double target_pa, bool falling) {
    // A rising series that stands above its target goes below it first, a falling one above it.
    const double turn_pa = falling ? 1.03 * target_pa + 1e5 : 0.9 * target_pa;
    bool turning_back = false;
    int beats_at_rest = 0;
    for (int beat = 0; beat < beats_of_a_minute; ++beat, take(beat_s)) {
        Sight sight = look();
        double oil_per_pa = 0;
        double area_m2 = 0;
        rig_.look(now_us(), [&](const Hydraulics& oil, const std::vector<Gauge>&) {
            oil_per_pa = oil.oil_per_pa();
            area_m2 = oil.area_m2();
        });
        if (sight.piston != PistonState::floating) {
            const bool wrong_side =
                falling ? sight.pressure_pa < 0.9999 * target_pa : sight.pressure_pa > 1.02 * target_pa;
            const bool far_enough = falling ? sight.pressure_pa >= turn_pa : sight.pressure_pa <= turn_pa;
            if (beat == 0) turning_back = wrong_side;
            if (far_enough) turning_back = false;
            const double aim_pa = turning_back ? turn_pa + (falling ? 1e5 : -1e5) : target_pa;
            const double gentle = area_m2 * gentle_m_per_s;
            const double closing = oil_per_pa * std::abs(aim_pa - sight.pressure_pa) / pressure_tau_s;
            const bool in = turning_back ? falling : sight.piston == PistonState::down;
            // Towards the band, and past the aim only gently: the load may be another than he thinks.
            const bool short_of_aim = in ? sight.pressure_pa < aim_pa : sight.pressure_pa > aim_pa;
            wind((in ? 1 : -1) * (gentle + (short_of_aim ? closing : 0)));
            beats_at_rest = 0;
            continue;
        }
        wind(area_m2 * std::clamp(-sight.height_m / height_tau_s, -gentle_m_per_s, gentle_m_per_s));
        beats_at_rest = std::abs(sight.height_m) < mid_band_m ? beats_at_rest + 1 : 0;
        if (beats_at_rest < 6) continue;
        wind(0);
        return true;
    }
    wind(0);
    return false;
}

void Hand::wind_to(double pressure_pa) {
    for (int beat = 0; beat < beats_of_a_minute; ++beat, take(beat_s)) {
        const auto sight = look();
        double oil_per_pa = 0;
        double area_m2 = 0;
        rig_.look(now_us(), [&](const Hydraulics& oil, const std::vector<Gauge>&) {
            oil_per_pa = oil.oil_per_pa();
            area_m2 = oil.area_m2();
        });
        const double missing = pressure_pa - sight.pressure_pa;
        if (missing <= 0) break;
        const bool free = sight.piston == PistonState::floating;
        wind(free ? area_m2 * 5 * gentle_m_per_s : oil_per_pa * missing / pressure_tau_s + area_m2 * gentle_m_per_s);
    }
    wind(0);
}

void Hand::let_sink() {
    for (int beat = 0; beat < beats_of_a_minute && look().piston != PistonState::down; ++beat, take(beat_s)) {
        rig_.act(now_us(), [](Hydraulics& oil) { oil.wind(-oil.area_m2() * 10 * gentle_m_per_s); });
    }
    wind(0);
}

void Hand::spin() {
    rig_.act(now_us(), [](Hydraulics& oil) {
        if (oil.piston() == PistonState::floating) oil.spin(30);
    });
}

Hand::Sight Hand::look() const {
    Sight sight;
    rig_.look(now_us(), [&](const Hydraulics& oil, const std::vector<Gauge>&) {
        sight = {
            oil.in_band(), oil.spin_rpm() > turning_rpm, oil.height_m(), oil.spin_rpm(), oil.pressure_pa(), oil.range(),
            oil.piston()};
    });
    return sight;
}

Hand::DialReading Hand::read_dial(std::size_t instrument, double reading_s) {
    const auto& profile = rig_.scenario().instruments[instrument].profile;
    double untapped_pa = 0;
    double tapped_pa = 0;
    take(reading_s / 2);
    rig_.look(now_us(), [&](const Hydraulics&, const std::vector<Gauge>& gauges) {
        untapped_pa = gauges[instrument].pointer_pa();
    });
    rig_.tap(instrument, now_us());
    take(reading_s / 2);
    rig_.look(now_us(), [&](const Hydraulics&, const std::vector<Gauge>& gauges) {
        tapped_pa = gauges[instrument].pointer_pa();
    });
    return {dial_text(untapped_pa, profile), dial_text(tapped_pa, profile)};
}

} // namespace stillmark::simulator
