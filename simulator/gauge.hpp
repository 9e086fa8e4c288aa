#pragma once

#include "simulator/draw.hpp"

#include <cstdint>
#include <deque>
#include <string>

namespace stillmark::simulator {

/// What an instrument truly is.
struct GaugeCharacter {
    double span_low_pa = 0;
    double span_high_pa = 0;
    double zero_pa = 0;             ///< added everywhere
    double span_error = 0;          ///< relative, of the reading above the span's foot
    double nonlinearity_pa = 0;     ///< at mid-span; a parabola that is zero at both ends
    double hysteresis_pa = 0;       ///< rising reads this much low and falling this much high
    double hysteresis_width_pa = 0; ///< how far the pressure must turn back before the element follows
    double noise_pa = 0;            ///< standard deviation of one conversion
    double conversion_s = 0.01;     ///< one new number each, in wall time
    double lag_s = 0;               ///< first order, in hydraulic time
    double delay_s = 0;             ///< from the sensor to the number on the wire, in wall time
    double resolution_pa = 0;       ///< smallest step, 0 for none
    double friction_pa = 0;         ///< a pointer that hangs back until it is tapped
    double cold_pa = 0;             ///< added when it is switched on; decays as it warms up
    double warm_up_s = 0;           ///< the time constant of that, in hydraulic time
    double powered_s = 0;           ///< how long it has been on at the start, in hydraulic time
    Stated reclamping;              ///< how much zero and full scale may shift, each time that it is clamped anew
};

/// One instrument between the oil and its number.
class Gauge {
  public:
    Gauge(std::string name, const GaugeCharacter& character, std::uint64_t seed);

    /// The pressure at its own level is `pressure_pa` for the next while.
    void advance(double pressure_pa, double hydraulic_s, double wall_s);
    /// What it would show of the present pressure for ever: no lag, noise, delay or rounding.
    double settled_pa() const;
    /// What it shows now.
    double shown_pa() const;
    /// What its pointer shows, unrounded: friction holds it back until somebody taps.
    double pointer_pa() const { return pointer_.at_pa; }
    /// Taken out and put in again: its zero and its full scale have shifted a little, as drawn.
    void clamp_anew();
    void tap() { pointer_.at_pa = settled_pa(); }
    double pressure_pa() const { return pressure_pa_; }
    const std::string& name() const { return name_; }
    const GaugeCharacter& character() const { return character_; }
    void add_noise(double standard_deviation_pa) { extra_noise_pa_ = standard_deviation_pa; }

  private:
    /// An element with backlash: follows the pressure only once that has turned by the width (a play operator).
    struct Backlash {
        double at_pa = 0;
        void follow(double pressure_pa, double width_pa);
    };
    double indication(double pressure_pa, const Backlash& backlash) const;
    double clamping_error(double part_of_span) const;
    double next_conversion_s() const { return static_cast<double>(conversions_made_) * character_.conversion_s; }
    struct Conversion {
        double at_s;
        double value_pa;
    };

    std::string name_;
    GaugeCharacter character_;
    std::uint64_t seed_;
    Stream noise_;
    double cold_pa_; ///< what is left of the error of a cold instrument
    int times_clamped_ = 0;
    double clamped_zero_pa_ = 0;
    double clamped_top_pa_ = 0;
    double pressure_pa_ = 0;
    double lagged_pa_ = 0;
    Backlash true_backlash_;
    Backlash lagged_backlash_;
    Backlash pointer_;
    double clock_s_ = 0;
    long conversions_made_ = 0;
    double extra_noise_pa_ = 0;
    std::deque<Conversion> conversions_;
};

} // namespace stillmark::simulator
