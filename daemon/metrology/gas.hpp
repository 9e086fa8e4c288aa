#pragma once

#include "daemon/metrology/uncertain.hpp"

#include <string>

namespace stillmark::metrology {

/// The gas that carries the pressure. Two gases that are equal in every field are one gas: its molar mass is one input
/// of the uncertainty. Stated by its virial coefficients, or by one constant compressibility factor for a narrow use.
struct Gas {
    std::string name;
    Uncertain molar_mass_kg_mol;
    double compressibility_factor = 1; ///< Z where no virial coefficient stands; the first term of the series otherwise
    double second_virial_m3_mol = 0;   ///< B at the reference temperature
    double second_virial_slope_m3_mol_k = 0;
    double third_virial_m6_mol2 = 0; ///< C
    double reference_temperature_c = 20;
    Uncertain density_error; ///< relative, value 0: of the equation of state, and of the gas's purity

    bool operator==(const Gas&) const = default;
};

/// Relative standard uncertainty of a gas's density where nobody states it. Against the equation of Span et al. (2000)
/// three terms of the series give nitrogen's density to 5e-6 up to 1 MPa, to 0.2 % at 10 MPa, to 0.7 % at 20 MPa.
inline constexpr double gas_density_relative_u = 5e-3;

template <class Scalar>
struct GasInputs {
    Scalar molar_mass_kg_mol{};
    Scalar density_error{};
    double compressibility_factor = 1;
    double second_virial_m3_mol = 0;
    double second_virial_slope_m3_mol_k = 0;
    double third_virial_m6_mol2 = 0;
    double reference_temperature_c = 20;

    /// Density over ABSOLUTE pressure, M/(Z R T), with the virial series in powers of the pressure so that nothing has
    /// to be solved for: Z = 1 + B p/(RT) + (C - B^2) (p/(RT))^2 (the classical relation to the series in density).
    Scalar density_per_pressure_kg_m3_pa(const Scalar& temperature_c, const Scalar& absolute_pa) const {
        constexpr double gas_constant = 8.314462618; // J/(mol K)
        const Scalar rt = gas_constant * (temperature_c + 273.15);
        const Scalar b =
            second_virial_m3_mol + second_virial_slope_m3_mol_k * (temperature_c - reference_temperature_c);
        const Scalar ideal_mol_m3 = absolute_pa / rt;
        const Scalar z = compressibility_factor + ideal_mol_m3 * (b + (third_virial_m6_mol2 - b * b) * ideal_mol_m3);
        return molar_mass_kg_mol * (1.0 + density_error) / (z * rt);
    }
    Scalar density_kg_m3(const Scalar& temperature_c, const Scalar& absolute_pa) const {
        return absolute_pa * density_per_pressure_kg_m3_pa(temperature_c, absolute_pa);
    }
};

template <class Scalar>
GasInputs<Scalar> values_of(const Gas& gas) {
    return {Scalar(gas.molar_mass_kg_mol.value), Scalar(gas.density_error.value),
            gas.compressibility_factor,          gas.second_virial_m3_mol,
            gas.second_virial_slope_m3_mol_k,    gas.third_virial_m6_mol2,
            gas.reference_temperature_c};
}

} // namespace stillmark::metrology
