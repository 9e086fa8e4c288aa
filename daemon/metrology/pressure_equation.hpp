#pragma once

#include "daemon/metrology/conventional_mass.hpp"
#include "daemon/metrology/gas.hpp"

#include <cmath>
#include <optional>
#include <vector>

namespace stillmark::metrology {

template <class Scalar>
struct FloatingMass {
    Scalar mass_kg{};
    Scalar density_kg_m3{};
    bool conventional = false;
    Scalar own_error_kg{}; ///< of the stated mass, estimate 0: what its group does not share
};

/// What is left of a mass, kg, after the buoyancy of the air around it.
template <class Scalar>
Scalar mass_in_air_kg(const FloatingMass<Scalar>& piece, const Scalar& air_density_kg_m3) {
    const Scalar stated = piece.mass_kg + piece.own_error_kg;
    const Scalar mass = piece.conventional ? true_mass_kg(stated, piece.density_kg_m3) : stated;
    return mass * (1.0 - air_density_kg_m3 / piece.density_kg_m3);
}

template <class Scalar>
struct LiquidInputs {
    Scalar density_kg_m3{};
    double reference_temperature_c = 20;
    double expansion_per_k = 0;
    double compressibility_per_pa = 0;

    Scalar density_at_no_pressure_kg_m3(const Scalar& temperature_c) const {
        return density_kg_m3 * (1.0 - expansion_per_k * (temperature_c - reference_temperature_c));
    }
    Scalar density_at_kg_m3(const Scalar& temperature_c, const Scalar& pressure_pa) const {
        return density_at_no_pressure_kg_m3(temperature_c) * (1.0 + compressibility_per_pa * pressure_pa);
    }
};

/// What the pressure equation of one range needs, for any scalar: a double, a double with its derivative, a draw.
template <class Scalar>
struct RangeInputs {
    std::vector<FloatingMass<Scalar>> masses; ///< everything that floats
    Scalar gravity_m_s2{};
    Scalar air_density_kg_m3{};    ///< around the masses: in absolute mode that of the residual gas
    Scalar residual_pressure_pa{}; ///< above the masses, absolute mode only
    Scalar tilt_loss{};            ///< 1 - cos(theta)
    Scalar surface_tension_n_per_m{};
    Scalar circumference_m{};
    Scalar immersed_volume_m3{};
    LiquidInputs<Scalar> liquid; ///< around the immersed volume
    Scalar area_m2{};            ///< A_0
    Scalar area_drift{};
    Scalar thermal_expansion_per_k{};
    double reference_temperature_c = 20;
    Scalar piston_temperature_c{};
    Scalar distortion_per_pa{};     ///< lambda
    double distortion2_per_pa2 = 0; ///< lambda2
};

/// Upward force of the pressure on the piston against the load, once everything that does not depend on the pressure is
/// known: area p (1 + lambda p + lambda2 p^2) + lift (1 + compressibility p) - air_lift = force.
template <class Scalar>
struct ForceBalance {
    Scalar force_n{};
    Scalar area_m2{}; ///< at the piston's temperature and no pressure
    Scalar distortion_per_pa{};
    double distortion2_per_pa2 = 0;
    Scalar lift_n{};     ///< of the immersed volume in liquid under no pressure
    Scalar air_lift_n{}; ///< of the same volume of air
    double compressibility_per_pa = 0;

    /// Net upward force at pressure p; zero where the piston floats.
    Scalar imbalance_n(const Scalar& p) const {
        return area_m2 * p * (1.0 + p * (distortion_per_pa + distortion2_per_pa2 * p)) +
               lift_n * (1.0 + compressibility_per_pa * p) - air_lift_n - force_n;
    }
    Scalar slope_n_per_pa(const Scalar& p) const {
        return area_m2 * (1.0 + p * (2.0 * distortion_per_pa + 3.0 * distortion2_per_pa2 * p)) +
               lift_n * compressibility_per_pa;
    }
};

/// The pressure at which the forces balance: in closed form without lambda2 and immersed volume, by Newton's method to
/// a relative step of 1e-13 otherwise. Not a number where there is no such pressure.
double solve_pa(const ForceBalance<double>& forces);

template <class Scalar>
ForceBalance<double> plain(const ForceBalance<Scalar>& forces) {
    return {static_cast<double>(forces.force_n),
            static_cast<double>(forces.area_m2),
            static_cast<double>(forces.distortion_per_pa),
            forces.distortion2_per_pa2,
            static_cast<double>(forces.lift_n),
            static_cast<double>(forces.air_lift_n),
            forces.compressibility_per_pa};
}
inline const ForceBalance<double>& plain(const ForceBalance<double>& forces) {
    return forces;
}

inline double settled(double pressure_pa, const ForceBalance<double>&) {
    return pressure_pa;
}
/// One more Newton step from the converged value, on the scalar that carries derivatives: by the implicit function
/// theorem it makes them exact, where those of the iteration would lag behind the value.
template <class Scalar>
Scalar settled(double pressure_pa, const ForceBalance<Scalar>& forces) {
    const Scalar p(pressure_pa);
    return p - forces.imbalance_n(p) / plain(forces).slope_n_per_pa(pressure_pa);
}

template <class Scalar>
ForceBalance<Scalar> force_balance(const RangeInputs<Scalar>& in) {
    Scalar weight_kg{};
    for (const FloatingMass<Scalar>& piece : in.masses) {
        weight_kg += mass_in_air_kg(piece, in.air_density_kg_m3);
    }
    const Scalar volume_g = in.immersed_volume_m3 * in.gravity_m_s2;
    ForceBalance<Scalar> forces;
    forces.force_n =
        weight_kg * in.gravity_m_s2 * (1.0 - in.tilt_loss) + in.surface_tension_n_per_m * in.circumference_m;
    forces.area_m2 = in.area_m2 * (1.0 + in.area_drift) *
                     (1.0 + in.thermal_expansion_per_k * (in.piston_temperature_c - in.reference_temperature_c));
    forces.distortion_per_pa = in.distortion_per_pa;
    forces.distortion2_per_pa2 = in.distortion2_per_pa2;
    forces.lift_n = volume_g * in.liquid.density_at_no_pressure_kg_m3(in.piston_temperature_c);
    forces.air_lift_n = volume_g * in.air_density_kg_m3;
    forces.compressibility_per_pa = in.liquid.compressibility_per_pa;
    return forces;
}

/// Pressure of a pressure balance, Pa, at the reference level of the range; gauge, or absolute in an evacuated bell:
///
///   p = p_residual + ( sum m_i (1 - rho_a/rho_i) g cos(theta) + sigma c - V (rho_f - rho_a) g ) / A(p, t)
///   A(p, t) = A_0 (1 + drift) (1 + alpha (t - t_ref)) (1 + lambda p + lambda2 p^2)
///
/// The form without V, theta and lambda2: R. Lewisch, Bulletin de l'OIML 128 (1992), "The pressure balance". V
/// displaces liquid (Archimedes). Liquid and piston have one temperature. The pressure on the right is the one on the
/// left: p is solved for, never put in at its nominal value.
template <class Scalar>
Scalar pressure_at_balance_pa(const RangeInputs<Scalar>& in) {
    const ForceBalance<Scalar> forces = force_balance(in);
    return settled(solve_pa(plain(forces)), forces) + in.residual_pressure_pa;
}

/// A(p, t) of the equation above, m2, where `at_balance_pa` is what it gives.
template <class Scalar>
Scalar area_at_m2(const RangeInputs<Scalar>& in, const Scalar& at_balance_pa) {
    const Scalar p = at_balance_pa - in.residual_pressure_pa;
    return force_balance(in).area_m2 * (1.0 + p * (in.distortion_per_pa + in.distortion2_per_pa2 * p));
}

/// One stretch of liquid or gas on the way to the instrument; height in m, positive downwards.
template <class Scalar>
struct HeadInputs {
    LiquidInputs<Scalar> liquid;
    Scalar height_m{};
    std::optional<GasInputs<Scalar>> gas = std::nullopt; ///< in place of the liquid
};

/// What one stretch of liquid adds at its lower end, Pa: (rho_f(p, t) - rho_a) g h. Of a gauge pressure rho_a is the
/// air that the instrument's own surroundings gain over the same height; of an absolute one there is none.
template <class Scalar>
Scalar head_pa(const HeadInputs<Scalar>& stretch, const Scalar& temperature_c, const Scalar& air_density_kg_m3,
               const Scalar& gravity_m_s2, const Scalar& pressure_pa) {
    return (stretch.liquid.density_at_kg_m3(temperature_c, pressure_pa) - air_density_kg_m3) * gravity_m_s2 *
           stretch.height_m;
}

/// What a column of gas gains from its upper to its lower end, Pa: p (exp(M g h/(Z R T)) - 1) with p ABSOLUTE at the
/// upper end, isothermal, Z taken there. Gas is denser where the pressure is higher, so a long column is no product.
template <class Scalar>
Scalar gas_column_pa(const GasInputs<Scalar>& gas, const Scalar& absolute_pa, const Scalar& temperature_c,
                     const Scalar& gravity_m_s2, const Scalar& height_m) {
    using std::exp;
    return absolute_pa *
           (exp(gas.density_per_pressure_kg_m3_pa(temperature_c, absolute_pa) * gravity_m_s2 * height_m) - 1.0);
}

} // namespace stillmark::metrology
