#include "daemon/metrology/air_density.hpp"

namespace stillmark::metrology {

AirDensity air_density(const Surroundings& air) {
    const double t = air.temperature_c.value;
    const double p = air.pressure_pa.value;
    const double h = air.humidity.value;
    return {moist_air_density_kg_m3(t, p, h), t >= 15 && t <= 27 && p >= 60'000 && p <= 110'000 && h >= 0 && h <= 1};
}

} // namespace stillmark::metrology
