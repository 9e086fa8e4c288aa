#pragma once

#include "daemon/bench/reference.hpp"

namespace stillmark::bench {

/// The pressure of a range over the effective mass of its discs (mass less buoyancy, kg), at the balance's level mark,
/// and back. All that a load does to the pressure it does by the sum of its effective masses, so that sum stands for
/// any load.
class PressureOfMass {
  public:
    PressureOfMass(const BenchFile& bench, std::size_t range, const metrology::Surroundings& air,
                   const metrology::Uncertain& piston_temperature_c);

    double pressure_pa(double effective_kg);
    /// The effective mass that makes a pressure; not a number where none does.
    double mass_kg(double wanted_pa);
    /// What a piece adds to the load when it is put on.
    double effective_kg(const metrology::MassPiece& piece);

  private:
    double of(std::vector<metrology::MassPiece> discs);

    metrology::ReferenceInputs inputs_;
};

} // namespace stillmark::bench
