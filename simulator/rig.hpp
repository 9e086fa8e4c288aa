#pragma once

#include "simulator/register_map.hpp"
#include "simulator/scenario.hpp"

#include <functional>
#include <mutex>
#include <vector>

namespace stillmark::simulator {

/// What an instrument puts on its wire now.
struct WireView {
    double shown_pa = 0;
    SelfReport report;
    Misbehaviour how;
};

/// The whole simulated bench at work: oil, pistons and gauges, moved on to an instant whenever somebody looks. Many
/// threads look; each call below is whole under one lock.
class Rig {
  public:
    Rig(const Scenario& scenario, Micros start_us);

    /// Moves on to `at_us` and lets a person act on press, discs and valves.
    void act(Micros at_us, const std::function<void(Hydraulics&)>& action);
    /// Moves on and lets somebody look at the oil and the gauges.
    void look(Micros at_us, const std::function<void(const Hydraulics&, const std::vector<Gauge>&)>& eyes);
    /// What the wire of this instrument shows; counts as one answer for faults.
    WireView wire_view(std::size_t instrument, Micros at_us);
    bool disconnected(const BusEntry& bus, Micros at_us);
    /// Taps a dial.
    void tap(std::size_t instrument, Micros at_us);
    /// Takes every instrument out and puts it in again.
    void clamp_anew(Micros at_us);
    /// What a spirit level on the balance shows, and what is left of that after its feet were turned.
    double tilt_rad(Micros at_us);
    void level(Micros at_us);
    /// How long the instruments have been on, in operator's time.
    double powered_s(Micros at_us) const;
    /// The operator has come to this point and kind of step: faults may wait for it.
    void reached(int point, const std::string& direction, const std::string& step, Micros at_us);

    const Scenario& scenario() const { return scenario_; }

  private:
    void advance(Micros at_us);
    void step(double wall_s, Micros at_us);

    /// Gauge pressure at an instrument's level as a line in that at the level mark: exact for a liquid, since its
    /// hydrostatic solution is linear in it; and what the instrument counts beside it.
    struct Head {
        double offset_pa;
        double slope;
        double counted_pa;
    };
    const Scenario& scenario_;
    Truth truth_; ///< of its own: a person may level the balance
    std::mutex mutex_;
    const Micros start_us_;
    Micros now_us_;
    Hydraulics hydraulics_;
    std::vector<Gauge> gauges_;
    std::vector<Head> heads_;
    std::vector<std::optional<double>> stuck_pa_;
    FaultBoard board_;
};

} // namespace stillmark::simulator
