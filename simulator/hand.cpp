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
/// How fast the pressure still rises at the end of winding a line in which no piston moves.
constexpr double least_pa_per_s = 1e5;
/// The pressure at which a press begins to feel hard.
constexpr double resistance_pa = 5e4;
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

void Hand::shut_off() {
    rig_.act(now_us(), [](Hydraulics& oil) { oil.shut_off(); });
}

void Hand::open_again() {
    std::string range;
    rig_.look(now_us(), [&](const Hydraulics& oil, const std::vector<Gauge>&) { range = oil.valves(); });
    turn_valves_to(range);
}

void Hand::tighten() {
    rig_.act(now_us(), [](Hydraulics& oil) { oil.tighten(); });
}

void Hand::purge() {
    rig_.act(now_us(), [](Hydraulics& oil) {
        oil.vent();
        oil.purge();
    });
}

Hand::Lifts Hand::change_discs(const std::vector<std::string>& discs, double first_s, double each_s) {
    std::vector<std::string> head;
    rig_.look(now_us(), [&](const Hydraulics& oil, const std::vector<Gauge>&) { head = oil.discs(); });
    const auto differs = std::mismatch(head.begin(), head.end(), discs.begin(), discs.end());
    const auto stays = static_cast<std::size_t>(differs.first - head.begin());
    Lifts lifts;
    // No disc comes off a raised piston.
    if (head.size() > stays && look().piston == PistonState::floating) let_sink();
    const auto lifted = [&] {
        take(lifts.count() == 1 ? first_s : each_s);
        rig_.act(now_us(), [&](Hydraulics& oil) {
            // Between two lifts he winds what the piston takes or gives, so that the pressure does not turn back.
            const double pressure_pa = oil.pressure_pa();
            oil.put_on(head);
            oil.hold(pressure_pa);
        });
    };
    while (head.size() > stays) {
        lifts.off.push_back(head.back());
        head.pop_back();
        lifted();
    }
    while (head.size() < discs.size()) {
        lifts.on.push_back(discs[head.size()]);
        head.push_back(discs[head.size()]);
        lifted();
    }
    return lifts;
}

bool Hand::float_piston(double target_pa, bool falling) {
    if (look().shut_off) return false; // no oil comes under it
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
        if (sight.piston != PistonState::floating || sight.other_piston) {
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

bool Hand::wind_to(double pressure_pa) {
    bool there = false;
    for (int beat = 0; beat < beats_of_a_minute; ++beat, take(beat_s)) {
        const auto sight = look();
        double oil_per_pa = 0;
        double area_m2 = 0;
        rig_.look(now_us(), [&](const Hydraulics& oil, const std::vector<Gauge>&) {
            oil_per_pa = oil.oil_per_pa();
            area_m2 = oil.area_m2();
        });
        const double missing = pressure_pa - sight.pressure_pa;
        there = missing <= 0;
        if (there) break;
        const bool free = sight.piston == PistonState::floating && !sight.shut_off;
        const double least = sight.shut_off ? oil_per_pa * least_pa_per_s : area_m2 * gentle_m_per_s;
        wind(free ? area_m2 * 5 * gentle_m_per_s : oil_per_pa * missing / pressure_tau_s + least);
    }
    wind(0);
    return there;
}

Hand::Wound Hand::turns_to(double pressure_pa) {
    struct Press {
        double turns = 0, pressure_pa = 0;
    };
    const auto press = [&] {
        Press now;
        rig_.look(now_us(), [&](const Hydraulics& oil, const std::vector<Gauge>&) {
            now = {oil.turns_of_press(), oil.pressure_pa()};
        });
        return now;
    };
    wind_to(resistance_pa);
    const Press from = press();
    wind_to(pressure_pa);
    const Press to = press();
    return {std::round((to.turns - from.turns) * 10) / 10, from.pressure_pa, to.pressure_pa};
}

void Hand::let_sink() {
    if (look().shut_off) return; // the press does not reach it
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
        const bool other = oil.range() != oil.valves();
        sight = {oil.in_band() && !other,
                 oil.spin_rpm() > turning_rpm,
                 oil.height_m(),
                 oil.spin_rpm(),
                 oil.pressure_pa(),
                 oil.range(),
                 oil.piston(),
                 oil.is_shut_off(),
                 other};
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
