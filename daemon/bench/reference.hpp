#pragma once

#include "daemon/bench/bench_file.hpp"
#include "daemon/metrology/reference_pressure.hpp"
#include "daemon/metrology/vented_line.hpp"

#include <cstddef>
#include <vector>

namespace stillmark::bench {

/// The inputs of the reference pressure of a load in a range. Without an instrument: at the balance's level mark.
metrology::ReferenceInputs reference_inputs(const BenchFile& bench, std::size_t range,
                                            const std::vector<std::size_t>& discs, const metrology::Surroundings& air,
                                            const metrology::Uncertain& piston_temperature_c,
                                            const Instrument* instrument);

/// What an instrument is exposed to while the line is open to air at the balance's level mark. What fills the line has
/// the temperature of the piston's thermometer, as under a load.
metrology::VentedLine vented_line(const BenchFile& bench, const metrology::Surroundings& air,
                                  const metrology::Uncertain& line_temperature_c, const Instrument& instrument);

/// A reading of this instrument as pressure above the air around, which ratings are stated in; Pa.
double above_air_pa(const Instrument& instrument, double reading_pa, const metrology::Surroundings& air);

} // namespace stillmark::bench
