#pragma once

namespace stillmark::metrology {

/// True mass, kg, of a weight whose certificate states conventional mass: the mass of a weight of 8000 kg/m3 that
/// balances it in air of 1.2 kg/m3 (OIML D 28). Exact; density of the weight in kg/m3, above 1.2.
template <class Scalar>
Scalar true_mass_kg(const Scalar& conventional_mass_kg, const Scalar& density_kg_m3) {
    return conventional_mass_kg * (1.0 - 1.2 / 8000.0) / (1.0 - 1.2 / density_kg_m3);
}

} // namespace stillmark::metrology
