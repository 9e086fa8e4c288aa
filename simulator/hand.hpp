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
    void shut_off();   ///< the line from both pistons
    void open_again(); ///< to what it was before
    void vent();
    struct Lifts {
        std::vector<std::string> off; ///< in the order in which they were lifted
        std::vector<std::string> on;
        std::size_t count() const { return off.size() + on.size(); }
    };
    /// Lifts one disc after the other until the head carries these, listed from below. Discs lie on each other: all
    /// above the first that does not belong there comes off, the uppermost first, and then goes on from below.
    Lifts change_discs(const std::vector<std::string>& discs, double first_s, double each_s);
    /// Winds until the piston stays at mid-band, from below where the series rises and from above where it falls.
    /// False where it cannot be brought to float in a minute of operator's time.
    bool float_piston(double target_pa, bool falling);
    /// Winds to this pressure, a piston that sees the line against its stop first. False where the press does not get
    /// there in a minute of operator's time.
    bool wind_to(double pressure_pa);
    /// Turns of the press, to a tenth, and between which pressures they were counted.
    struct Wound {
        double turns = 0;
        double from_pa = 0;
        double to_pa = 0;
    };
    /// Winds on to this pressure and counts turns of the press from where it first feels resistance.
    Wound turns_to(double pressure_pa);
    void tighten(); ///< every fitting
    void purge();
    /// Lets oil out until the piston is on its rest.
    void let_sink();
    void spin();

    struct Sight {
        bool in_band = false; ///< of the piston that the valves are set for
        bool turning = false;
        double height_m = 0;
        double spin_rpm = 0;
        double pressure_pa = 0;
        std::string range;
        PistonState piston = PistonState::down;
        bool shut_off = false;
        bool other_piston = false; ///< another than that moves: above the wide one's stop, the narrow one does
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
