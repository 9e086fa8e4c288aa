#pragma once

namespace stillmark::metrology {

/// Standard uncertainty of a mark's deviation, mean of the window minus reference pressure.
struct MarkUncertainty {
    double u_pa = 0;
    double dof = 0;
    double u_resolution_pa = 0;
};

/// Uncertainty of a display's last place, resolution / sqrt(12): the value lies anywhere in half a step either side
/// (JCGM 100:2008, F.2.2.1).
double resolution_uncertainty_pa(double resolution_pa);

/// Reference, mean and resolution as independent parts, degrees of freedom by Welch-Satterthwaite. The readings of a
/// window share their rounding, so the resolution enters once and is not averaged down; u_mean must not contain it.
MarkUncertainty combine(double u_reference_pa, double dof_reference, double u_mean_pa, double dof_mean,
                        double resolution_pa);

} // namespace stillmark::metrology
