#pragma once

#include "daemon/metrology/balance.hpp"

#include <string>
#include <vector>

namespace stillmark::metrology {

/// Everything that decides one reference pressure.
struct ReferenceInputs {
    Range range;
    std::vector<MassPiece> discs; ///< the load
    Site site;
    Surroundings air;
    Uncertain piston_temperature_c;
    Liquid liquid;                 ///< in the balance
    std::optional<Gas> gas;        ///< in the balance, in place of the liquid
    std::vector<HeadSegment> head; ///< from the balance's level to the instrument's; empty: same level
    /// Of the balance: gauge, or absolute where the load hangs in an evacuated bell.
    PressureKind mode = PressureKind::gauge;
    Uncertain residual_pressure_pa;                  ///< in the bell
    PressureKind counted_from = PressureKind::gauge; ///< how the instrument counts
    Uncertain sealed_reference_pa;                   ///< absolute; of a sealed instrument
};

/// One correction by name, as what it adds to the pressure that stood before it, in Pa and in millionths of that.
struct Correction {
    std::string name; ///< "air buoyancy", "surface tension", "piston temperature", ...
    double pa = 0;
    double ppm = 0;
};

/// One line of the budget: first order, at the instrument's level.
struct BudgetLine {
    std::string input;
    double estimate = 0;
    double u = 0;
    double dof = 0;
    Distribution distribution = Distribution::normal;
    double sensitivity =
        0; ///< Pa per unit of the input; of a group that moves together: 1 or -1, its error in Pa the input
    double contribution_pa = 0; ///< signed sensitivity times u; a group is summed linearly first
    double share = 0;           ///< of the variance, 0 to 1; the shares of a budget sum to 1
};

inline constexpr const char* air_out_of_range_note =
    "The air is outside 600 to 1100 hPa, 15 to 27 degC, where the uncertainty of CIPM-2007 is stated.";

struct ReferencePressure {
    double nominal_pa = 0;    ///< stated masses at standard gravity on A_0: no air, t_ref, lambda = 0
    double at_balance_pa = 0; ///< at the reference level of the range, gauge or absolute as the balance is
    double at_instrument_pa = 0;
    double air_density_kg_m3 = 0; ///< of the laboratory's air, which in absolute mode is not that around the masses
    bool air_within_range = true; ///< the surroundings lie where CIPM-2007 states its uncertainty
    double gravity_m_s2 = 0;
    double area_m2 = 0;                  ///< A(p, t)
    double u_pa = 0;                     ///< standard uncertainty at the instrument's level
    double dof = 0;                      ///< Welch-Satterthwaite (JCGM 100:2008, G.4.1)
    double k = 0;                        ///< coverage factor for 95.45 % by Student's t (JCGM 100:2008, G.3)
    double expanded_pa = 0;              ///< k u_pa
    std::vector<Correction> corrections; ///< balance first, head last; nominal_pa + their sum = at_instrument_pa
    std::vector<BudgetLine> budget;      ///< largest contribution first
    std::vector<std::string> notes;      ///< what a reader of the result must know, in sentences
};

/// The reference pressure of a load as the instrument counts it: the equation in pressure_equation.hpp, its first-order
/// uncertainty (JCGM 100:2008, 5.1.2 and 5.2.2) by automatic differentiation. Not a number where no pressure balances
/// the load (a distortion that no real piston has).
ReferencePressure reference_pressure(const ReferenceInputs& inputs);

/// The value alone, at the instrument's level: for guards and targets, without derivatives. Bit for bit the
/// `at_instrument_pa` of reference_pressure().
double reference_pressure_pa(const ReferenceInputs& inputs);

} // namespace stillmark::metrology
