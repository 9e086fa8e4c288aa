#pragma once

#include <cstdint>
#include <vector>

namespace stillmark::metrology {

/// What is known when all readings drift at constant load. A floating piston holds the pressure, so it hardly floats.
struct DriftEvidence {
    double drift_pa_per_s = 0; ///< of the readings together; negative: falling
    double area_m2 = 0;
    double fall_rate_m_per_s = 0; ///< at this pressure, as long as the piston floats
    double half_band_m = 0;
    double since_sighted_s = 0; ///< since the piston was last seen in its band
    double expansion_per_k = 0; ///< of the liquid
    double compressibility_per_pa = 0;
};

enum class LossCause : std::uint8_t {
    at_bottom,   ///< it sank to its rest; what leaks through its gap now lowers the pressure
    leak,        ///< the line loses more than the gap lets through
    temperature, ///< enclosed liquid warms or cools
    at_stop      ///< it was raised against its upper stop and the pressure is wound up
};

struct LossReason {
    LossCause cause = LossCause::at_bottom;
    double weight = 0; ///< of all told, 0 to 1
    /// The figure behind it: at_bottom: the enclosed liquid, m3, in which the flow through the gap makes this drift;
    /// leak: the flow through the gap it would be, in times; temperature: K/s that would do; at_stop: Pa/s.
    double figure = 0;
};

/// The likely first. The flow through the gap is the fall rate times the area; in enclosed liquid of volume V and
/// compressibility k it lowers the pressure by flow/(k V), and a change of temperature by expansion/k per kelvin. A
/// line holds tens to hundreds of cm3, and its temperature changes by tenths of a kelvin in minutes (common practice).
/// Where the liquid's compressibility is unknown (0) the size says nothing and the order is by direction alone.
std::vector<LossReason> loss_reasons(const DriftEvidence& evidence);

} // namespace stillmark::metrology
