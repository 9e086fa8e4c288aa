#include "daemon/metrology/air_density.hpp"
#include "daemon/metrology/gravity.hpp"
#include "metrology/invented_balance.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <map>

namespace stillmark::metrology {
namespace {

const Correction& correction(const ReferencePressure& p, const std::string& name) {
    const auto found =
        std::find_if(p.corrections.begin(), p.corrections.end(), [&](const Correction& c) { return c.name == name; });
    if (found == p.corrections.end()) throw std::out_of_range("no correction " + name);
    return *found;
}

/// The worked case of the equation, as inputs of a reference pressure; its air density cannot be set, only made by
/// surroundings, so these give 1.1852 kg/m3 nearly.
ReferenceInputs worked_inputs() {
    const RangeInputs<double> worked = worked_case();
    ReferenceInputs in;
    in.range.area_m2.value = worked.area_m2;
    in.range.thermal_expansion_per_k.value = worked.thermal_expansion_per_k;
    in.range.distortion_per_pa.value = worked.distortion_per_pa;
    in.range.circumference_m.value = worked.circumference_m;
    in.range.floating_parts = {{"piston", {.value = 0.2003125}, {.value = 14950}, false, ""},
                               {"carrier", {.value = 0.8001842}, {.value = 2800}, false, ""}};
    in.discs = {{"discs", {.value = 49.0007311}, {.value = 7920}, false, ""}};
    in.site.gravity_m_s2.value = worked.gravity_m_s2;
    in.air.temperature_c.value = 20;
    in.air.humidity.value = 0.5;
    // Newton on the pressure of the air, which its density is almost proportional to.
    double air_pa = 1e5;
    for (int i = 0; i < 20; ++i) {
        air_pa *= 1.1852 / moist_air_density_kg_m3(20.0, air_pa, 0.5);
    }
    in.air.pressure_pa.value = air_pa;
    in.piston_temperature_c.value = worked.piston_temperature_c;
    in.liquid.density_kg_m3.value = 912.7;
    in.liquid.surface_tension_n_per_m.value = worked.surface_tension_n_per_m;
    return in;
}

TEST(ReferencePressure, ComputedRegressionWorkedCaseWithItsEffects) {
    ReferenceInputs in = worked_inputs();
    HeadSegment head{in.liquid, {.value = -0.1234}};
    in.head = {head};
    const ReferencePressure p = reference_pressure(in);
    EXPECT_NEAR(p.air_density_kg_m3, 1.1852, 1e-15);
    EXPECT_NEAR(p.at_balance_pa, 50027428.03546093, 3e-8);
    EXPECT_NEAR(p.at_instrument_pa, 50026324.33373847, 3e-8);
    EXPECT_NEAR(correction(p, "air buoyancy").ppm, -153.74368, 5e-6);
    EXPECT_NEAR(correction(p, "surface tension").ppm, 0.70599, 5e-6);
    EXPECT_NEAR(correction(p, "piston temperature").ppm, -12.32985, 5e-6);
    EXPECT_NEAR(correction(p, "elastic distortion").ppm, -47.10861, 5e-6);
    EXPECT_NEAR(correction(p, "local gravity").ppm, 580.78957, 5e-6);
    EXPECT_NEAR(correction(p, "head").pa, -1103.70172246, 3e-8);
}

TEST(ReferencePressure, NominalIsStatedMassAtStandardGravityOnTheStatedArea) {
    const ReferenceInputs in = invented_inputs();
    EXPECT_NEAR(reference_pressure(in).nominal_pa / ((1.2 + 10 + 10 + 2) * standard_gravity_m_s2 / 11.3e-6), 1, 3e-16);
}

TEST(ReferencePressure, NominalAndCorrectionsSumToTheResult) {
    std::mt19937_64 dice(3);
    for (int round = 0; round < 100; ++round) {
        const ReferencePressure p = reference_pressure(random_inputs(dice));
        double sum = p.nominal_pa;
        double product = p.nominal_pa;
        for (const Correction& c : p.corrections) {
            sum += c.pa;
            product *= 1 + c.ppm * 1e-6;
        }
        EXPECT_NEAR(sum / p.at_instrument_pa, 1, 3e-15);
        EXPECT_NEAR(product / p.at_instrument_pa, 1, 3e-15);
    }
}

TEST(ReferencePressure, EveryCorrectionHasItsLine) {
    const ReferencePressure p = reference_pressure(invented_inputs());
    std::vector<std::string> names;
    for (const Correction& c : p.corrections)
        names.push_back(c.name);
    const std::vector<std::string> expected{
        "local gravity",      "conventional mass",  "air buoyancy",       "surface tension",
        "piston temperature", "drift of the area",  "elastic distortion", "tilt",
        "immersed volume",    "level of the range", "float height",       "head"};
    EXPECT_EQ(names, expected);
}

TEST(ReferencePressure, ValueAloneIsTheSameToTheLastBit) {
    std::mt19937_64 dice(4);
    for (int round = 0; round < 50; ++round) {
        const ReferenceInputs in = random_inputs(dice);
        EXPECT_EQ(reference_pressure_pa(in), reference_pressure(in).at_instrument_pa);
    }
}

TEST(ReferencePressure, LowerInstrumentSeesMore) {
    ReferenceInputs in = invented_inputs();
    in.head = {{in.liquid, {.value = 0.1}}};
    const double below = reference_pressure_pa(in);
    in.head = {{in.liquid, {.value = -0.1}}};
    EXPECT_GT(below, reference_pressure_pa(in));
    // A piston that floats higher, or a range whose level stands higher, leaves the instrument lower.
    const double here = reference_pressure_pa(in);
    in.range.float_height_m.value += 1e-3;
    // Common figure of the trade: about 9 Pa a millimetre of oil.
    EXPECT_NEAR(reference_pressure_pa(in) - here, 8.5, 0.5);
    in.range.float_height_m.value -= 1e-3;
    in.range.reference_level_m.value += 1e-3;
    EXPECT_NEAR(reference_pressure_pa(in) - here, 8.5, 0.5);
}

TEST(ReferencePressure, SegmentsOfOneLiquidAddUp) {
    ReferenceInputs in = invented_inputs();
    in.head = {{in.liquid, {.value = 0.3}}};
    const double whole = reference_pressure_pa(in);
    in.head = {{in.liquid, {.value = 0.1}}, {in.liquid, {.value = 0.2}}};
    EXPECT_NEAR(reference_pressure_pa(in) / whole, 1, 3e-16);
}

// Liquid under pressure is denser: 865 kg/m3 at t_ref becomes this at 19 MPa and 21.3 degC.
TEST(ReferencePressure, HeadTakesTheLiquidAtPressureAndTemperature) {
    ReferenceInputs in = invented_inputs();
    in.head = {{in.liquid, {.value = 1}}};
    const ReferencePressure p = reference_pressure(in);
    const double rho = 865 * (1 - 7e-4 * 1.3) * (1 + 6.5e-10 * p.at_balance_pa);
    EXPECT_NEAR(correction(p, "head").pa, (rho - p.air_density_kg_m3) * 9.80731, 1e-7);
}

TEST(ReferencePressure, ConventionalMassInConventionalAirHidesTheDensity) {
    ReferenceInputs in = worked_inputs();
    double air_pa = 1e5;
    for (int i = 0; i < 20; ++i) {
        air_pa *= 1.2 / moist_air_density_kg_m3(20.0, air_pa, 0.5);
    }
    in.air.pressure_pa.value = air_pa;
    in.range.floating_parts.clear();
    in.discs[0].conventional = true;
    const double steel = reference_pressure_pa(in);
    in.discs[0].density_kg_m3.value = 2700;
    EXPECT_NEAR(reference_pressure_pa(in) / steel, 1, 1e-15);
    in.discs[0].conventional = false;
    EXPECT_NEAR(reference_pressure_pa(in) / steel - 1, -294.5e-6, 1e-6);
}

TEST(ReferencePressure, SaysWhenTheAirIsOutsideItsEquation) {
    ReferenceInputs in = invented_inputs();
    EXPECT_TRUE(reference_pressure(in).air_within_range);
    in.air.temperature_c.value = 35;
    EXPECT_FALSE(reference_pressure(in).air_within_range);
}

TEST(ReferencePressure, NoMassAtAllIsNoPressureAndNoNonsense) {
    ReferenceInputs in = invented_inputs();
    in.discs.clear();
    in.range.floating_parts.clear();
    in.range.immersed_volume_m3 = {};
    in.liquid.surface_tension_n_per_m = {};
    in.range.reference_level_m = {};
    in.head.clear();
    const ReferencePressure p = reference_pressure(in);
    EXPECT_EQ(p.at_instrument_pa, 0);
    for (const Correction& c : p.corrections) {
        EXPECT_EQ(c.pa, 0);
        EXPECT_EQ(c.ppm, 0);
    }
    EXPECT_TRUE(std::isfinite(p.u_pa));
}

} // namespace
} // namespace stillmark::metrology
