#pragma once

#include "daemon/metrology/gas.hpp"
#include "daemon/metrology/short_form.hpp"
#include "daemon/metrology/uncertain.hpp"

#include <optional>
#include <string>
#include <vector>

namespace stillmark::metrology {

/// A mass that floats: a disc, or a part that always rides on the piston.
struct MassPiece {
    std::string name;
    Uncertain mass_kg; ///< as its certificate states it
    Uncertain density_kg_m3;
    bool conventional = false; ///< the stated mass is conventional mass (OIML D 28) and is converted exactly
    /// Pieces of one certificate are correlated, in mass and in density; empty: independent of all others.
    std::string group;
    double mass_correlation = 1; ///< r of the masses of the group, 0 to 1; their densities always move together
};

/// The liquid that carries the pressure. density(t, p) = density * (1 - expansion (t - t_ref)) * (1 + compressibility
/// p). Two liquids that are equal in every field are one liquid: their density is one input of the uncertainty.
struct Liquid {
    Uncertain density_kg_m3; ///< at t_ref and no gauge pressure
    double reference_temperature_c = 20;
    double expansion_per_k = 0;
    double compressibility_per_pa = 0;
    Uncertain surface_tension_n_per_m;
    std::string name; ///< keeps apart two liquids that happen to have the same figures

    bool operator==(const Liquid&) const = default;
};

/// One piston-cylinder of the balance. For a dual-range balance the low range's floating parts are ALL that floats
/// there and its area the certificate's total area.
struct Range {
    std::string name;
    Uncertain area_m2;                 ///< A_0 at the reference temperature and no pressure
    Uncertain area_drift;              ///< relative, value 0: what may have changed since the certificate
    Uncertain thermal_expansion_per_k; ///< alpha_p + alpha_c
    double reference_temperature_c = 20;
    Uncertain distortion_per_pa;         ///< lambda
    bool distortion_is_estimate = false; ///< from material constants, not from a certificate
    double distortion2_per_pa2 = 0;      ///< lambda2
    Uncertain circumference_m;           ///< of what floats, where it leaves the liquid
    Uncertain tilt_rad;                  ///< of the piston axis from the vertical
    Uncertain immersed_volume_m3;        ///< V; 0 where the certificate refers its level to it
    Uncertain float_height_m;            ///< height above mid-band, value 0; u = half the band / sqrt(3)
    Uncertain reference_level_m;         ///< of this range above the balance's level mark
    std::vector<MassPiece> floating_parts;
    std::optional<ShortForm> short_form =
        std::nullopt; ///< how the certificate states the uncertainty of what it covers
};

/// Which of the two dual-range constructions; `single` for a balance with one range.
enum class DualRange { single, stopped, isolated };

/// What a pressure is counted from. A sealed gauge counts from what was shut in behind its membrane.
enum class PressureKind { gauge, absolute, sealed };

/// Local gravity.
struct Site {
    Uncertain gravity_m_s2;
};

struct Surroundings {
    Uncertain temperature_c;
    Uncertain pressure_pa;             ///< absolute, at the barometer's own level
    Uncertain humidity;                ///< relative, 0 to 1
    Uncertain barometer_height_m = {}; ///< of the barometer's level above the balance's level mark
};

/// One stretch of liquid or gas between the balance's level and the instrument's.
struct HeadSegment {
    Liquid liquid;
    Uncertain height_m;                    ///< z_balance - z_instrument: positive where the instrument is lower
    std::optional<Gas> gas = std::nullopt; ///< in place of the liquid
};

} // namespace stillmark::metrology
