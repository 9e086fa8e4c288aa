#pragma once

#include "simulator/rig.hpp"

#include <string>

namespace stillmark::simulator {

/// The hands and eyes of a person at the bench: everything takes its time, divided by the time factor.
class Hand {
  public:
    explicit Hand(Rig& rig) : rig_(rig) {}

    void take(double operator_s) const; ///< lets this much of the operator's time pass

    void turn_valves_to(const std::string& range);
    void vent();
    /// Takes off and puts on one disc after the other until exactly these lie on the head. Falling, discs come off
    /// first; otherwise new ones go on first, so that the pressure does not turn back in between.
    void change_discs(const std::vector<std::string>& discs, bool falling, double first_s, double each_s);
    /// Winds until the piston stays at mid-band, from below where the series rises and from above where it falls.
    /// False where it cannot be brought to float in a minute of operator's time.
    bool float_piston(double target_pa, bool falling);
    /// Winds the piston against its stop and on to this pressure.
    void wind_to(double pressure_pa);
    /// Lets oil out until the piston is on its rest.
    void let_sink();
    void spin();

    struct Sight {
        bool in_band = false;
        bool turning = false;
        double height_m = 0;
        double spin_rpm = 0;
        double pressure_pa = 0;
        std::string range;
        PistonState piston = PistonState::down;
    };
    Sight look() const;
    /// Reads a dial to the part of a division that its profile says, before and after tapping, as texts with unit.
    struct DialReading {
        std::string untapped;
        std::string tapped;
    };
    DialReading read_dial(std::size_t instrument, double reading_s);

  private:
    void wind(double m3_per_s);
    Rig& rig_;
};

} // namespace stillmark::simulator
