#include "simulator/draw.hpp"
#include "simulator/mistake.hpp"
#include "simulator/scenario.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace stillmark::simulator {
namespace {

const std::string source = STILLMARK_SOURCE_DIR;

Scenario demo(std::uint64_t seed) {
    ScenarioChanges changes;
    changes.seed = seed;
    return read_scenario(source + "/simulator/demo/scenario.json", changes);
}

TEST(Quantity, KnowsTheUnitsOfABench) {
    EXPECT_DOUBLE_EQ(quantity_si("140 bar", pressure_kind), 1.4e7);
    EXPECT_NEAR(quantity_si("98.07 mm2", area_kind), 98.07e-6, 1e-18);
    EXPECT_NEAR(quantity_si("2.6e-6 1/MPa", per_pascal_kind), 2.6e-12, 1e-24);
    EXPECT_NEAR(quantity_si("0.6 mm/min", speed_kind), 1e-5, 1e-18);
    EXPECT_DOUBLE_EQ(quantity_si("21.5 degC", celsius_kind), 21.5);
    EXPECT_NEAR(quantity_si("30.5 mN/m", surface_tension_kind), 0.0305, 1e-15);
    EXPECT_NEAR(quantity_si("24 ppm", number_kind), 24e-6, 1e-18);
    EXPECT_NEAR(quantity_si("0.8 mrad", number_kind), 0.8e-3, 1e-15);
    // Published: NIST SP 811 (2008), B.8.
    EXPECT_NEAR(quantity_si("1 psi", pressure_kind), 6894.757, 5e-4);
    EXPECT_DOUBLE_EQ(pascals_in("kgf/cm2"), 98066.5);
}

TEST(Quantity, RefusesWhatIsNone) {
    for (const auto* text : {"140", "bar", "140 quux", "140 mm", "nan bar"})
        EXPECT_THROW(quantity_si(text, pressure_kind), Mistake) << text;
    EXPECT_THROW(quantity_si("1 K", celsius_kind), Mistake);
    EXPECT_THROW(quantity_si("1 degC", kelvin_kind), Mistake);
}

// The engine's 10000th number is fixed by the standard (ISO C++ [rand.predef]); the draws above it are the simulator's
// own.
TEST(Draw, TheEngineIsTheStandards) {
    std::mt19937_64 engine;
    engine.discard(9999);
    EXPECT_EQ(engine(), 9981545732273789042ULL);
}

TEST(Draw, DependsOnSeedAndNameOnly) {
    const Stated stated{10, 2, Shape::normal};
    EXPECT_EQ(drawn(stated, 7, "area"), drawn(stated, 7, "area"));
    EXPECT_NE(drawn(stated, 7, "area"), drawn(stated, 8, "area"));
    EXPECT_NE(drawn(stated, 7, "area"), drawn(stated, 7, "areb"));
}

TEST(Draw, ShapesHaveTheirSpread) {
    for (const auto& [shape, expected] :
         {std::pair{Shape::normal, 1.0}, std::pair{Shape::rectangular, 1 / std::sqrt(3.0)},
          std::pair{Shape::triangular, 1 / std::sqrt(6.0)}}) {
        double sum = 0;
        double squares = 0;
        constexpr int count = 20000;
        for (int seed = 0; seed < count; ++seed) {
            const double value = drawn({0, 1, shape}, static_cast<std::uint64_t>(seed), "x");
            sum += value;
            squares += value * value;
        }
        EXPECT_NEAR(sum / count, 0, 4 * expected / std::sqrt(count));
        EXPECT_NEAR(std::sqrt(squares / count), expected, 0.03 * expected);
    }
}

TEST(HiddenTruth, IsTheSameForTheSameSeed) {
    const auto a = demo(5);
    const auto b = demo(5);
    EXPECT_EQ(a.truth.range("low").area_m2, b.truth.range("low").area_m2);
    EXPECT_EQ(a.truth.discs.at("A1").mass_kg, b.truth.discs.at("A1").mass_kg);
    EXPECT_EQ(a.instruments[0].character.zero_pa, b.instruments[0].character.zero_pa);
    EXPECT_NE(a.truth.range("low").area_m2, demo(6).truth.range("low").area_m2);
}

// COMPUTED: pins the draws of one seed, so that a change of generator or of order cannot pass unseen.
TEST(HiddenTruth, ComputedRegressionOfSeedOne) {
    const auto scenario = demo(1);
    EXPECT_NEAR(scenario.truth.gravity_m_s2, 9.807291908628123, 1e-12);
    EXPECT_NEAR(scenario.truth.discs.at("G1").density_kg_m3, 7972.636210598584, 1e-8);
}

TEST(HiddenTruth, DiscsOfOneCertificateAreWrongTogether) {
    const auto scenario = demo(3);
    const auto& discs = scenario.truth.discs;
    // Stated U is 6 ppm of each: the same relative deviation, the same density.
    EXPECT_NEAR(discs.at("A1").mass_kg / 10, discs.at("C1").mass_kg / 2, 1e-12);
    EXPECT_EQ(discs.at("A1").density_kg_m3, discs.at("G1").density_kg_m3);
    EXPECT_EQ(discs.at("A1").mass_kg, discs.at("A7").mass_kg);
}

TEST(HiddenTruth, TheNarrowPistonIsOneBodyInBothRanges) {
    const auto scenario = demo(3);
    EXPECT_EQ(scenario.truth.range("low").floating_parts[1].mass_kg,
              scenario.truth.range("high").floating_parts[0].mass_kg);
}

TEST(HiddenTruth, StaysWithinItsLimits) {
    for (std::uint64_t seed = 1; seed <= 200; ++seed) {
        const auto scenario = demo(seed);
        EXPECT_NEAR(scenario.truth.liquid.surface_tension_n_per_m, 30.5e-3, 3e-3);
        EXPECT_NEAR(scenario.truth.air.humidity, 0.45, 0.1);
        EXPECT_NEAR(scenario.truth.range("high").distortion_per_pa, 0.9e-12, 0.1e-12);
        // 30 ppm k = 2 and 30 ppm limits: five standard deviations and the limit.
        EXPECT_NEAR(scenario.truth.range("high").area_m2 / 11.3e-6, 1, 5 * 15e-6 + 30e-6);
    }
}

} // namespace
} // namespace stillmark::simulator
