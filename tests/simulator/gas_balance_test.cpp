// A balance of gas, evacuated or not, by figures worked out here.
#include "simulator/force_balance.hpp"
#include "simulator/sample_truth.hpp"
#include "simulator/scenario.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace stillmark::simulator {
namespace {

/// Nitrogen at 20 degC. B and C follow from the equation of state of R. Span et al., J. Phys. Chem. Ref. Data 29 (2000)
/// 1361 (worked out, not published as such).
TrueGas nitrogen() {
    TrueGas gas;
    gas.molar_mass_kg_mol = 28.0134e-3;
    gas.second_virial_m3_mol = -5.9006e-6;
    gas.third_virial_m6_mol2 = 1426.3e-12;
    return gas;
}

/// One piston of round numbers under nitrogen; the air is that of 968 hPa.
Truth plain_gas() {
    Truth truth = plain_truth();
    truth.gas = nitrogen();
    truth.air = {20, 96'800, 0.5};
    truth.air_density_kg_m3 = moist_air_density_kg_m3(truth.air);
    truth.range_change = RangeChange::single;
    truth.ranges.resize(1);
    truth.ranges[0].floating_parts = {{"piston", 1, 8000}};
    return truth;
}

TEST(SimulatedGas, DensityMeetsTheEquationOfState) {
    // Computed from the equation of state of Span et al. (2000) at 20 degC, 100 kPa and 1 MPa.
    EXPECT_NEAR(gas_density_kg_m3(nitrogen(), 100e3) / 1.14959439, 1, 6e-6);
    EXPECT_NEAR(gas_density_kg_m3(nitrogen(), 1e6) / 11.5183550, 1, 8e-6);
}

TEST(SimulatedGas, AColumnIsExponential) {
    Truth truth = plain_gas();
    truth.gas->second_virial_m3_mol = truth.gas->third_virial_m6_mol2 = 0;
    truth.air_density_kg_m3 = 0;
    const double exponent = 28.0134e-3 * truth.gravity_m_s2 * 3 / (8.314462618 * 293.15);
    EXPECT_NEAR(pressure_below_pa(truth, 4e5, 3) - 4e5, (4e5 + 96'800) * std::expm1(exponent), 1e-4);
    EXPECT_LT(pressure_below_pa(truth, 4e5, -3), 4e5);
}

TEST(SimulatedGas, AnEvacuatedBellLeavesNoBuoyancyAndTheAirIsTakenOff) {
    Truth truth = plain_gas();
    truth.bell_pa = 4;
    const double by_hand = (1 + 10.0) * truth.gravity_m_s2 / 1e-4 + 4 - 96'800;
    EXPECT_NEAR(pressure_under_piston_pa(truth, truth.ranges[0], {"A"}), by_hand, 2e-2)
        << "what is left in the bell carries 5e-9 of the load";
    truth.bell_pa.reset();
    const double in_air =
        ((1 - truth.air_density_kg_m3 / 8000) + 10 * (1 - truth.air_density_kg_m3 / 7920)) * truth.gravity_m_s2 / 1e-4;
    EXPECT_NEAR(pressure_under_piston_pa(truth, truth.ranges[0], {"A"}), in_air, 1e-6);
}

TEST(SimulatedGas, InstrumentsCountFromWhatTheySay) {
    const Truth truth = plain_gas();
    const double air_gains_pa = air_column_pa(truth.air, truth.gravity_m_s2, 0.5);
    EXPECT_NEAR(air_gains_pa, truth.air_density_kg_m3 * truth.gravity_m_s2 * 0.5, 1e-3);
    EXPECT_EQ(counted_pressure_pa(truth, {true, 0}, 1000, 0.5), 1000);
    EXPECT_NEAR(counted_pressure_pa(truth, {false, 0}, 1000, 0.5), 1000 + 96'800 + air_gains_pa, 1e-9);
    EXPECT_NEAR(counted_pressure_pa(truth, {false, 101'300}, 0, 0), 96'800 - 101'300, 1e-9);
}

TEST(AbsoluteBench, IsReadAsAWhole) {
    const auto scenario =
        read_scenario(std::string(STILLMARK_SOURCE_DIR) + "/simulator/demo/absolute-scenario.json", {});
    ASSERT_TRUE(scenario.truth.gas && scenario.truth.bell_pa);
    EXPECT_NEAR(*scenario.truth.bell_pa, 4, 3);
    // The barometer hangs 1.4 m above the balance: there it reads some 16 Pa less than stands at the level mark.
    EXPECT_NEAR(scenario.truth.air.pressure_pa, 96'240 + 15.6, 5 * 4);
    ASSERT_EQ(scenario.instruments.size(), 3U);
    EXPECT_FALSE(scenario.instruments[0].counting.from_air);
    EXPECT_TRUE(scenario.instruments[1].counting.from_air);
    EXPECT_NEAR(scenario.instruments[2].counting.sealed_pa, 101'300, 100);
}

} // namespace
} // namespace stillmark::simulator
