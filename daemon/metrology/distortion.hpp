#pragma once

namespace stillmark::metrology {

/// Of what a piston or a cylinder is made.
struct Elasticity {
    double youngs_modulus_pa = 0; ///< over zero
    double poisson = 0;           ///< 0 to 0.5
};

/// What an estimate from material constants may be off by where nobody says otherwise, relative and standard (common
/// practice).
inline constexpr double estimated_distortion_relative_u = 0.1;

/// Pressure distortion coefficient of the effective area, 1/Pa, of a simple piston in a simple cylinder that deform
/// freely, from Lame's equations with half the pressure in the gap:
///
///   lambda = (3 nu_p - 1)/(2 E_p) + ( (D^2 + d^2)/(D^2 - d^2) + nu_c )/(2 E_c)
///
/// `outer_to_inner` is D/d of the cylinder, over 1; infinite for a cylinder in a thick block. One material: R. Lewisch,
/// Bulletin de l'OIML 128 (1992), with bore and piston equally wide. Two materials: R. S. Dadson, S. L. Lewis, G. N.
/// Peggs, The Pressure Balance (1982), from memory and derived again. An estimate: the gap's profile, and what carries
/// the cylinder, are left out.
double distortion_from_materials(const Elasticity& piston, const Elasticity& cylinder, double outer_to_inner);

} // namespace stillmark::metrology
