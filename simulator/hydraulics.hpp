#pragma once

#include "simulator/truth.hpp"

#include <string>
#include <vector>

namespace stillmark::simulator {

/// The oil between screw press, balance and instruments.
struct OilCircuit {
    double volume_m3 = 1.2e-4;
    double bulk_modulus_pa = 1.4e9;
    double press_stroke_m3 = 3.0e-5;    ///< what the screw press can give in all
    double piston_relaxation_s = 0.002; ///< how fast a piston finds its height, in hydraulic time
    double travel_over_band = 1.5;      ///< the pistons' travel, in float bands
    double press_turn_m3 = 1.0e-6;      ///< what one turn of the screw press gives
    double leak_m3_per_s = 0;           ///< out of the circuit, a seat that seeps; in wall time
    double leak_m3_per_pa_s = 0;        ///< a fitting that weeps: in proportion to the pressure; in wall time
    double trapped_air_m3 = 0;          ///< at the pressure of the room, with the line vented
};

/// Where the floating piston is.
enum class PistonState { down /* on its rest */, floating, stop /* against its upper stop */ };
const char* word(PistonState state);

/// Screw press, oil, air that was left in it, and one or two concentric pistons. Quasi-static: the oil is a spring that
/// press and pistons share, each piston goes towards the height where the pressure is its own, and stops take what is
/// left. So below lift-off the pressure follows the press, while a piston floats it is the balance's, and between the
/// two pressures of one load on a `stopped` balance the pressure follows the press again: the dead zone.
class Hydraulics {
  public:
    Hydraulics(const Truth& truth, const OilCircuit& circuit);

    void put_on(const std::vector<std::string>& discs); ///< what is on the head now, all of it
    void turn_valves_to(const std::string& range);      ///< also where the line was shut off before
    /// Shuts the line off from both pistons: the press alone makes its pressure, and what is under a piston stays
    /// there.
    void shut_off() { shut_off_ = true; }
    void spin(double rev_per_min) { spin_rpm_ = rev_per_min; }
    void wind(double m3_per_s) { winding_m3_per_s_ = m3_per_s; } ///< in hydraulic time; below zero: out
    void vent();
    void leak(double m3_per_s) { sudden_leak_m3_per_s_ = m3_per_s; } ///< beside the circuit's own
    void tighten();                                                  ///< the circuit's own leaks are gone
    void purge() { circuit_.trapped_air_m3 = 0; }
    /// The balance's tilt was changed: its pressures are worked out again.
    void levelled() { put_on(discs_); }
    /// Holds the pressure with the press while a valve lets the wide piston come to rest.
    void hold(double pressure_pa);

    /// `hydraulic_s` hurries press and pistons; sink, leak and spin run on the wall's clock, because the service is
    /// told their rates by the bench file.
    void advance(double hydraulic_s, double wall_s);

    double pressure_pa() const { return pressure_pa_; }                      ///< at the level mark
    const std::string& range() const { return truth_.ranges[active_].name; } ///< of the piston that moves now
    PistonState piston() const;
    double height_m() const; ///< of that piston, from the middle of its band
    bool in_band() const;    ///< of a piston that the line sees
    bool is_shut_off() const { return shut_off_; }
    double spin_rpm() const { return spin_rpm_; }
    const std::vector<std::string>& discs() const { return discs_; }
    const std::string& valves() const { return truth_.ranges[valves_].name; }
    /// The pressure at the level mark at which the load floats in this range at this height above mid-band.
    double floating_pressure_pa(const std::string& range, double height_m) const;
    double pressing_m3() const { return oil_m3_; }
    double turns_of_press() const { return wound_m3_ / circuit_.press_turn_m3; } ///< inwards, in all
    /// What the line takes for one more pascal at its present pressure: the oil's compression and the air's.
    double oil_per_pa() const;
    double area_m2() const { return truth_.ranges[active_].area_m2; }

  private:
    struct Element {
        double lift_pa = 0;      ///< pressure at the level mark with the piston at mid-band
        double per_metre_pa = 0; ///< how that rises with the piston's height
        double travel_m = 0;
        double at_m = 0; ///< above its rest
    };
    double oil_spring() const { return circuit_.volume_m3 / circuit_.bulk_modulus_pa; }
    double oil_for(double pressure_pa) const;
    double pressure_where(double spring, double oil) const;
    double rest_height(const Element& element, double area, double oil) const;
    void find_targets(double (&target)[2]) const;
    void sink(double wall_s);
    double displaced_m3() const;
    bool moves(std::size_t element) const; ///< whether the valves let this piston see the oil
    std::size_t moving() const;

    const Truth& truth_;
    OilCircuit circuit_;
    std::vector<std::string> discs_;
    std::vector<Element> elements_; ///< in the order of truth.ranges
    std::size_t valves_ = 0;
    std::size_t active_ = 0;
    double oil_m3_ = 0; ///< pressed into the circuit since it was vented
    double wound_m3_ = 0;
    double winding_m3_per_s_ = 0;
    double sudden_leak_m3_per_s_ = 0;
    bool shut_off_ = false;
    double pressure_pa_ = 0;
    double spin_rpm_ = 0;
};

} // namespace stillmark::simulator
