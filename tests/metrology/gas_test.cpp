#include "daemon/metrology/gas.hpp"
#include "daemon/metrology/reference_components.hpp"
#include "metrology/invented_balance.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>

namespace stillmark::metrology {
namespace {

/// B and C at 20 degC as they follow from the equation of state of R. Span et al., J. Phys. Chem. Ref. Data 29 (2000)
/// 1361 (worked out, not published as such); the slope fits the densities of the same equation from 0 to 27 degC.
Gas nitrogen() {
    Gas gas;
    gas.name = "nitrogen";
    gas.molar_mass_kg_mol = {.value = 28.0134e-3, .u = 1e-6};
    gas.second_virial_m3_mol = -5.9006e-6;
    gas.second_virial_slope_m3_mol_k = 0.2e-6;
    gas.third_virial_m6_mol2 = 1426.3e-12;
    gas.density_error.u = gas_density_relative_u;
    return gas;
}

double density_kg_m3(double temperature_c, double absolute_pa) {
    return values_of<double>(nitrogen()).density_kg_m3(temperature_c, absolute_pa);
}

// Nitrogen by the equation of state of R. Span et al. (2000): the printed figures are from memory.
TEST(GasDensity, NitrogenMeetsTheEquationOfStateFromMemory) {
    EXPECT_NEAR(density_kg_m3(25, 101325), 1.1452, 5e-5);
    EXPECT_NEAR(density_kg_m3(20, 101325), 1.1648, 5e-5);
    EXPECT_NEAR(density_kg_m3(0, 101325), 1.2504, 5e-5);
    EXPECT_NEAR(density_kg_m3(26.85, 1e6), 11.249, 5e-4);
}

// The same equation of state, computed. Three terms of the series do up to about 1 MPa; above, they part from it by
// what gas_density_relative_u says, which is under 0.1 ppm of the pressure for a column of 0.1 m.
TEST(GasDensity, ComputedRegressionNitrogenOverPressure) {
    EXPECT_NEAR(density_kg_m3(20, 100e3) / 1.14959439, 1, 4e-6);
    EXPECT_NEAR(density_kg_m3(20, 1e6) / 11.5183550, 1, 5e-6);
    EXPECT_NEAR(density_kg_m3(20, 1.101325e6) / 12.6879301, 1, 6e-6);
    EXPECT_NEAR(density_kg_m3(20, 5e6) / 57.8145801, 1, 5e-4);
    EXPECT_NEAR(density_kg_m3(20, 7e6) / 80.8471547, 1, 1e-3);
    EXPECT_NEAR(density_kg_m3(20, 10e6) / 114.841677, 1, 2e-3);
    EXPECT_NEAR(density_kg_m3(20, 20e6) / 218.544347, 1, 7.5e-3);
}

TEST(GasDensity, ComputedRegressionIdealGasAndCompressibilityFactor) {
    Gas ideal;
    ideal.molar_mass_kg_mol.value = 28.01348e-3; // that of the equation of state
    EXPECT_NEAR(values_of<double>(ideal).density_kg_m3(20, 101325), 1.16455389, 2e-8);
    ideal.compressibility_factor = 0.99975711;
    // The equation of state has the gas constant of 1986, 5.7e-6 larger than that of today.
    EXPECT_NEAR(values_of<double>(ideal).density_kg_m3(20, 101325) / (1 + 5.7e-6), 1.16483018, 2e-7);
}

/// A line of gas that hangs 0.1 m down from a pressure at the balance's level.
ReferenceValues<double> line_of_nitrogen(double height_m) {
    ReferenceValues<double> values;
    values.range.gravity_m_s2 = 9.80665;
    values.range.piston_temperature_c = 20;
    values.ambient_pressure_pa = 101325;
    values.ambient_density_kg_m3 = 1.2;
    values.gas = values_of<double>(nitrogen());
    values.head = {{{}, height_m, values.gas}};
    return values;
}

// Computed from (rho_f - rho_a) g h with the density at ABSOLUTE pressure, 12.68793 kg/m3: 11.26581 Pa, 11 ppm.
TEST(GasHead, ComputedRegressionTakesTheDensityAtAbsolutePressure) {
    const double gained_pa = pressure_at_instrument_pa(line_of_nitrogen(0.1), 1e6) - 1e6;
    EXPECT_NEAR(gained_pa, 11.26581095, 2e-4);
    EXPECT_GT(gained_pa - 10.1, 1) << "what a density at gauge pressure would give";
}

TEST(GasHead, FollowsTheHeight) {
    EXPECT_GT(pressure_at_instrument_pa(line_of_nitrogen(0.1), 1e6), 1e6);
    EXPECT_LT(pressure_at_instrument_pa(line_of_nitrogen(-0.1), 1e6), 1e6);
    EXPECT_EQ(pressure_at_instrument_pa(line_of_nitrogen(0), 1e6), 1e6);
}

// The exponential, by hand: (p_e + p_amb) exp(M g h/(Z R T)) - p_amb exp(M_air g h/(R T)), over a height at which a
// product would no longer do.
TEST(GasHead, IsExponentialAtAbsolutePressureLessTheColumnOfAir) {
    ReferenceValues<double> values = line_of_nitrogen(300);
    values.gas->second_virial_m3_mol = values.gas->second_virial_slope_m3_mol_k = values.gas->third_virial_m6_mol2 = 0;
    values.head[0].gas = values.gas;
    const double rt = 8.314462618 * 293.15;
    const double by_hand =
        (5e5 + 101325) * std::exp(28.0134e-3 * 9.80665 * 300 / rt) - 101325 * std::exp(1.2 / 101325 * 9.80665 * 300);
    EXPECT_NEAR(pressure_at_instrument_pa(values, 5e5) / by_hand, 1, 1e-13);
    EXPECT_GT(std::abs(by_hand - 5e5 - (601325 / rt * 28.0134e-3 - 1.2) * 9.80665 * 300), 100);
}

TEST(GasHead, ALineOfAirInAirGainsNothingWhenVented) {
    ReferenceValues<double> values = line_of_nitrogen(2);
    Gas air;
    air.molar_mass_kg_mol.value = 1.2 / 101325 * 8.314462618 * 293.15; // of the density of the air around
    values.gas = values_of<double>(air);
    values.head[0].gas = values.gas;
    EXPECT_NEAR(pressure_at_instrument_pa(values, 0.0), 0, 1e-9);
}

TEST(GasHead, MixesWithALiquid) {
    ReferenceValues<double> values = line_of_nitrogen(0.1);
    LiquidInputs<double> oil;
    oil.density_kg_m3 = 900;
    values.head.push_back({oil, 0.2, {}});
    values.range.air_density_kg_m3 = 1.2;
    const double gas_alone = pressure_at_instrument_pa(line_of_nitrogen(0.1), 1e6);
    EXPECT_NEAR(pressure_at_instrument_pa(values, 1e6) - gas_alone, (900 - 1.2) * 9.80665 * 0.2, 1e-6);
}

// Computed with 50 digits from the published form of the equation (R. Lewisch 1992), no surface tension.
TEST(PressureEquation, ComputedRegressionGasGauge) {
    RangeInputs<double> in;
    in.masses = {{0.5, 8000, false}, {9.5, 7950, false}};
    in.gravity_m_s2 = 9.7803;
    in.air_density_kg_m3 = 1.05;
    in.area_m2 = 9.80512e-4;
    in.thermal_expansion_per_k = 9e-6;
    in.piston_temperature_c = 19.62;
    in.distortion_per_pa = 4.5e-12;
    EXPECT_NEAR(pressure_at_balance_pa(in), 99733.99327489148, 1e-10);
}

/// An invented pneumatic balance at about 1 kPa to 1 MPa with an uncertainty on every input.
ReferenceInputs pneumatic(PressureKind mode, PressureKind counted_from, double mass_kg) {
    ReferenceInputs in = invented_inputs();
    in.range.area_m2 = {.value = 980.5e-6, .u = 9.8e-9, .dof = 40};
    in.range.distortion_per_pa = {.value = 4.5e-12, .u = 5e-13};
    in.range.distortion2_per_pa2 = 0;
    in.range.immersed_volume_m3 = {};
    in.range.circumference_m = {};
    in.range.floating_parts[0].mass_kg = {.value = 0.0999, .u = 1e-7};
    in.discs.resize(mass_kg > 0 ? 1 : 0);
    if (mass_kg > 0) in.discs[0].mass_kg = {.value = mass_kg, .u = 1e-6 * mass_kg};
    in.gas = nitrogen();
    in.head = {{{}, {.value = 0.3, .u = 2e-3}, nitrogen()}};
    in.mode = mode;
    in.counted_from = counted_from;
    in.residual_pressure_pa = {.value = 2, .u = 0.1};
    in.sealed_reference_pa = {.value = 101000, .u = 30};
    return in;
}

constexpr std::array modes{PressureKind::gauge, PressureKind::absolute};
constexpr std::array kinds{PressureKind::gauge, PressureKind::absolute, PressureKind::sealed};

/// Every component by the budget against the same component moved both ways by its u.
TEST(GasBudget, DerivativesMeetCentralDifferencesInEveryMode) {
    for (const PressureKind mode : modes)
        for (const PressureKind counted_from : kinds)
            for (const double mass_kg : {0.0, 5.0, 90.0}) {
                const ReferenceInputs in = pneumatic(mode, counted_from, mass_kg);
                const ReferencePressure p = reference_pressure(in);
                ReferenceValues<double> values = values_of<double>(in);
                const auto inventory = list_inputs(in, values);
                ASSERT_EQ(inventory.components().size(), p.budget.size());
                for (const auto& component : inventory.components()) {
                    const auto moved_pa = [&](double by) {
                        for (const auto& member : component.members)
                            *member.place = member.input.value + by * member.input.u;
                        settle_air(values);
                        return pressure_at_instrument_pa(values, pressure_at_balance_pa(values.range));
                    };
                    const double expected = (8 * (moved_pa(0.5) - moved_pa(-0.5)) - (moved_pa(1) - moved_pa(-1))) / 6;
                    (void)moved_pa(0);
                    const auto line = std::find_if(p.budget.begin(), p.budget.end(),
                                                   [&](const auto& one) { return one.input == component.name; });
                    ASSERT_NE(line, p.budget.end()) << component.name;
                    EXPECT_NEAR(line->contribution_pa, expected, 2e-9 + 1e-6 * std::abs(expected)) << component.name;
                }
            }
}

TEST(GasBudget, NominalAndCorrectionsSumInEveryMode) {
    for (const PressureKind mode : modes)
        for (const PressureKind counted_from : kinds) {
            const ReferencePressure p = reference_pressure(pneumatic(mode, counted_from, 5));
            double sum = p.nominal_pa;
            for (const Correction& one : p.corrections)
                sum += one.pa;
            EXPECT_NEAR(sum / p.at_instrument_pa, 1, 1e-12);
            EXPECT_EQ(p.at_instrument_pa, reference_pressure_pa(pneumatic(mode, counted_from, 5)));
        }
}

bool has_line(const ReferencePressure& p, const std::string& input) {
    return std::any_of(p.budget.begin(), p.budget.end(), [&](const auto& one) { return one.input == input; });
}

TEST(GasBudget, NamesWhatAGasHasAndNothingOfALiquid) {
    const ReferencePressure p = reference_pressure(pneumatic(PressureKind::gauge, PressureKind::gauge, 5));
    EXPECT_TRUE(has_line(p, "molar mass of nitrogen"));
    EXPECT_TRUE(has_line(p, "equation of state of nitrogen"));
    for (const char* liquid : {"surface tension", "circumference", "density of the liquid", "residual pressure"})
        EXPECT_FALSE(has_line(p, liquid)) << liquid;
}

TEST(CountedFrom, AnAbsoluteInstrumentOnAGaugeBalanceSeesTheBarometerToo) {
    const ReferencePressure gauge = reference_pressure(pneumatic(PressureKind::gauge, PressureKind::gauge, 5));
    const ReferencePressure absolute = reference_pressure(pneumatic(PressureKind::gauge, PressureKind::absolute, 5));
    // 96800 Pa at the balance's level, and the air's own column down to the instrument, 0.3 m lower.
    const double column_pa = gauge.air_density_kg_m3 * 9.80731 * 0.3;
    EXPECT_NEAR(absolute.at_instrument_pa - gauge.at_instrument_pa, 96800 + column_pa, 1e-3);
    EXPECT_GT(absolute.u_pa, 99) << "the barometer's 100 Pa enters";
    EXPECT_LT(gauge.u_pa, 2);
    EXPECT_EQ(absolute.budget.front().input, "air pressure");
}

// Published: S. A. Thulin, Bulletin de l'OIML 123 (1991): the pressure of the air falls by 12 Pa a metre, up to 1000 m.
TEST(CountedFrom, TheAirsOwnColumnIsTwelvePascalsAMetre) {
    const auto air_beside_pa = [](double height_m) {
        ReferenceInputs in = pneumatic(PressureKind::gauge, PressureKind::gauge, 5);
        in.air = {{.value = 15}, {.value = 101325}, {.value = 0.5}};
        in.head[0].height_m.value = height_m;
        const double gauge_pa = reference_pressure_pa(in);
        in.counted_from = PressureKind::absolute;
        return reference_pressure_pa(in) - gauge_pa;
    };
    EXPECT_NEAR(air_beside_pa(1) - air_beside_pa(0), 12, 0.5);
    EXPECT_NEAR(air_beside_pa(-1) - air_beside_pa(0), -12, 0.5);
}

TEST(CountedFrom, ASealedInstrumentCountsFromWhatItShutIn) {
    const double absolute_pa = reference_pressure_pa(pneumatic(PressureKind::gauge, PressureKind::absolute, 5));
    const ReferencePressure sealed = reference_pressure(pneumatic(PressureKind::gauge, PressureKind::sealed, 5));
    EXPECT_NEAR(sealed.at_instrument_pa, absolute_pa - 101000, 1e-9);
    EXPECT_TRUE(has_line(sealed, "sealed reference pressure"));
}

TEST(CountedFrom, AGaugeInstrumentOnAnAbsoluteBalanceSeesLess) {
    const ReferencePressure absolute = reference_pressure(pneumatic(PressureKind::absolute, PressureKind::absolute, 5));
    const ReferencePressure gauge = reference_pressure(pneumatic(PressureKind::absolute, PressureKind::gauge, 5));
    EXPECT_NEAR(absolute.at_instrument_pa - gauge.at_instrument_pa, 96800 + gauge.air_density_kg_m3 * 9.80731 * 0.3,
                1e-3);
    EXPECT_FALSE(has_line(absolute, "air pressure")) << "no air touches the masses";
}

// Gauge and ambient together are not the same load in absolute mode: in the bell no air carries the masses.
TEST(AbsoluteMode, LosesTheBuoyancyOfTheAirAndGainsTheResidualPressure) {
    ReferenceInputs in = pneumatic(PressureKind::gauge, PressureKind::absolute, 5);
    in.head.clear();
    in.range.reference_level_m = {};
    in.range.floating_parts.clear();
    in.discs[0].conventional = false;
    const double gauge_and_ambient_pa = reference_pressure_pa(in);
    const double ambient_pa = in.air.pressure_pa.value;
    in.mode = PressureKind::absolute;
    const ReferencePressure absolute = reference_pressure(in);
    const double buoyancy = absolute.air_density_kg_m3 / 7920;
    const double expected = (gauge_and_ambient_pa - ambient_pa) / (1 - buoyancy) + 2;
    EXPECT_NEAR(absolute.at_instrument_pa, expected, 1e-3);
    EXPECT_GT(absolute.at_instrument_pa - 2 - (gauge_and_ambient_pa - ambient_pa), 1);
}

TEST(AbsoluteMode, TheHeadIsTheWholeColumn) {
    ReferenceInputs in = pneumatic(PressureKind::absolute, PressureKind::absolute, 90);
    const double with_line = reference_pressure_pa(in);
    in.head.clear();
    const double p = reference_pressure_pa(in);
    const double density = values_of<double>(nitrogen()).density_kg_m3(in.piston_temperature_c.value, p);
    EXPECT_NEAR(with_line - p, density * 9.80731 * 0.3, 1e-3);
}

} // namespace
} // namespace stillmark::metrology
