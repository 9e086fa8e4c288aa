#include "daemon/metrology/air_density.hpp"
#include "daemon/metrology/effective_dof.hpp"
#include "metrology/draws.hpp"
#include "metrology/invented_balance.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <limits>
#include <map>
#include <numeric>

namespace stillmark::metrology {
namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();

std::map<std::string, BudgetLine> by_name(const ReferencePressure& p) {
    std::map<std::string, BudgetLine> lines;
    for (const BudgetLine& line : p.budget)
        lines[line.input] = line;
    return lines;
}

/// The derivative along a change, times one step of it: central differences of two steps, so combined that the
/// third-order term goes (Richardson).
template <class Change>
double central_difference(const ReferenceInputs& inputs, const Change& change) {
    const auto halved_difference = [&](double step) {
        ReferenceInputs up = inputs;
        change(up, step);
        ReferenceInputs down = inputs;
        change(down, -step);
        return (reference_pressure_pa(up) - reference_pressure_pa(down)) / (2 * step);
    };
    return (4 * halved_difference(0.5) - halved_difference(1)) / 3;
}

void move(Uncertain& input, double by) {
    input.value += by * input.u;
}

using Move = void (*)(ReferenceInputs&, double);
const std::map<std::string, Move> moves{
    {"effective area", [](ReferenceInputs& in, double by) { move(in.range.area_m2, by); }},
    {"drift of the area", [](ReferenceInputs& in, double by) { move(in.range.area_drift, by); }},
    {"thermal expansion", [](ReferenceInputs& in, double by) { move(in.range.thermal_expansion_per_k, by); }},
    {"piston temperature", [](ReferenceInputs& in, double by) { move(in.piston_temperature_c, by); }},
    {"distortion coefficient", [](ReferenceInputs& in, double by) { move(in.range.distortion_per_pa, by); }},
    {"local gravity", [](ReferenceInputs& in, double by) { move(in.site.gravity_m_s2, by); }},
    {"mass of carrier", [](ReferenceInputs& in, double by) { move(in.range.floating_parts[0].mass_kg, by); }},
    {"density of carrier", [](ReferenceInputs& in, double by) { move(in.range.floating_parts[0].density_kg_m3, by); }},
    {"masses of set",
     [](ReferenceInputs& in, double by) {
         for (MassPiece& disc : in.discs)
             move(disc.mass_kg, by);
     }},
    {"densities of set",
     [](ReferenceInputs& in, double by) {
         for (MassPiece& disc : in.discs)
             move(disc.density_kg_m3, by);
     }},
    {"air temperature", [](ReferenceInputs& in, double by) { move(in.air.temperature_c, by); }},
    {"air pressure", [](ReferenceInputs& in, double by) { move(in.air.pressure_pa, by); }},
    {"humidity", [](ReferenceInputs& in, double by) { move(in.air.humidity, by); }},
    {"surface tension", [](ReferenceInputs& in, double by) { move(in.liquid.surface_tension_n_per_m, by); }},
    {"circumference", [](ReferenceInputs& in, double by) { move(in.range.circumference_m, by); }},
    {"immersed volume", [](ReferenceInputs& in, double by) { move(in.range.immersed_volume_m3, by); }},
    {"level of the range", [](ReferenceInputs& in, double by) { move(in.range.reference_level_m, by); }},
    {"float height", [](ReferenceInputs& in, double by) { move(in.range.float_height_m, by); }},
    {"density of the liquid",
     [](ReferenceInputs& in, double by) {
         move(in.liquid.density_kg_m3, by);
         move(in.head[0].liquid.density_kg_m3, by);
     }},
    {"density of water", [](ReferenceInputs& in, double by) { move(in.head[1].liquid.density_kg_m3, by); }},
    {"height of head segment 1", [](ReferenceInputs& in, double by) { move(in.head[0].height_m, by); }},
    {"height of head segment 2", [](ReferenceInputs& in, double by) { move(in.head[1].height_m, by); }},
};

TEST(Budget, DerivativesMeetCentralDifferencesOnRandomBalances) {
    std::mt19937_64 dice(5);
    for (int round = 0; round < 100; ++round) {
        const ReferenceInputs in = random_inputs(dice);
        const ReferencePressure p = reference_pressure(in);
        const auto lines = by_name(p);
        // All that can move, and the two that have no input of that kind: the tilt and the air's equation.
        ASSERT_EQ(lines.size(), moves.size() + 2);
        for (const auto& [name, change] : moves) {
            ASSERT_TRUE(lines.contains(name)) << name;
            const double expected = central_difference(in, change);
            // Rounding of the differences, and their fifth-order term.
            const double tolerance = 2e-15 * p.at_instrument_pa + 1e-6 * std::abs(expected);
            EXPECT_NEAR(lines.at(name).contribution_pa, expected, tolerance) << name << ", round " << round;
        }
    }
}

// With lambda2 and immersed volume the pressure is found by iteration, and a derivative that lags shows in the slope
// against the force: d ln p / d ln F = (1 + lambda p)/(1 + 2 lambda p) by hand where they are zero.
TEST(Budget, ComputedRegressionDerivativeDoesNotLag) {
    ReferenceInputs in;
    in.range.area_m2.value = 9.805123e-6;
    in.range.distortion_per_pa.value = 0.9417e-12;
    in.discs = {{"all", {.value = 50, .u = 1e-3}, {.value = 7920}, false, ""}};
    in.site.gravity_m_s2.value = 9.8123456;
    in.air = {{.value = 20}, {.value = 1e5}, {.value = 0.5}};
    in.piston_temperature_c.value = 20;
    const ReferencePressure p = reference_pressure(in);
    const double lp = 0.9417e-12 * p.at_balance_pa;
    const BudgetLine mass = by_name(p).at("mass of all");
    EXPECT_NEAR(mass.sensitivity * 50 / p.at_balance_pa, (1 + lp) / (1 + 2 * lp), 1e-14);
}

TEST(Budget, AnImmersedVolumeOfZeroStillHasItsSensitivity) {
    ReferenceInputs in = invented_inputs();
    in.range.immersed_volume_m3 = {.value = 0, .u = 1e-9};
    in.range.distortion2_per_pa2 = 0; // the closed form is taken for the value
    const double by_difference =
        central_difference(in, [](ReferenceInputs& moved, double by) { move(moved.range.immersed_volume_m3, by); });
    EXPECT_NEAR(by_name(reference_pressure(in)).at("immersed volume").contribution_pa, by_difference, 1e-6);
    EXPECT_LT(by_difference, 0);
}

TEST(Budget, EquationOfTheAirDensityScalesTheBuoyancy) {
    ReferenceInputs in = invented_inputs();
    in.range.immersed_volume_m3 = {};
    in.range.reference_level_m = {};
    in.head.clear();
    const ReferencePressure p = reference_pressure(in);
    const auto buoyancy = std::find_if(p.corrections.begin(), p.corrections.end(),
                                       [](const Correction& c) { return c.name == "air buoyancy"; });
    EXPECT_NEAR(by_name(p).at("equation of the air density").contribution_pa / (buoyancy->pa * 22e-6), 1, 1e-4);
}

TEST(Budget, LargestFirstAndItsSquaresSum) {
    const ReferencePressure p = reference_pressure(invented_inputs());
    double sum = 0;
    for (const BudgetLine& line : p.budget)
        sum += line.contribution_pa * line.contribution_pa;
    EXPECT_NEAR(p.u_pa / std::sqrt(sum), 1, 1e-14);
    EXPECT_TRUE(std::is_sorted(p.budget.begin(), p.budget.end(), [](const BudgetLine& a, const BudgetLine& b) {
        return std::abs(a.contribution_pa) > std::abs(b.contribution_pa);
    }));
    for (const BudgetLine& line : p.budget) {
        EXPECT_NEAR(line.sensitivity * line.u, line.contribution_pa, 1e-12 * std::abs(line.contribution_pa));
        EXPECT_GT(line.u, 0);
    }
}

TEST(Budget, DiscsOfOneCertificateAddLinearlyOthersInSquares) {
    ReferenceInputs in = invented_inputs();
    const double together = by_name(reference_pressure(in)).at("masses of set").contribution_pa;
    for (MassPiece& disc : in.discs)
        disc.group.clear();
    const auto lines = by_name(reference_pressure(in));
    const double linear = lines.at("mass of A1").contribution_pa + lines.at("mass of A2").contribution_pa +
                          lines.at("mass of C1").contribution_pa;
    EXPECT_NEAR(together / linear, 1, 1e-13);
    EXPECT_FALSE(lines.contains("masses of set"));
    EXPECT_FALSE(lines.contains("densities of set"));
}

TEST(Budget, AGroupHasTheLeastDegreesOfFreedomOfItsMembers) {
    const auto lines = by_name(reference_pressure(invented_inputs()));
    EXPECT_EQ(lines.at("masses of set").dof, 20);
    EXPECT_EQ(lines.at("mass of carrier").dof, 12);
    EXPECT_EQ(lines.at("local gravity").dof, infinite);
}

TEST(Budget, AGroupThatGathersFloatingPartsAndDiscsIsOneLine) {
    ReferenceInputs in = invented_inputs();
    in.range.floating_parts[0].group = "set";
    const auto lines = by_name(reference_pressure(in));
    EXPECT_FALSE(lines.contains("mass of carrier"));
    EXPECT_EQ(lines.at("masses of set").dof, 12);
}

TEST(Budget, AGroupOfOneKeepsItsOwnSensitivity) {
    ReferenceInputs in = invented_inputs();
    in.discs.resize(1);
    const BudgetLine line = by_name(reference_pressure(in)).at("masses of set");
    EXPECT_EQ(line.estimate, 10);
    EXPECT_EQ(line.u, 3e-5);
    EXPECT_NEAR(line.sensitivity, 9.80731 / 11.3e-6, 1e-3 * line.sensitivity);
}

TEST(Budget, OneLiquidInBalanceAndLineIsOneInput) {
    const ReferenceInputs in = invented_inputs();
    const auto lines = by_name(reference_pressure(in));
    EXPECT_FALSE(lines.contains("density of liquid 2"));
    ReferenceInputs apart = in;
    apart.head[0].liquid.name = "another oil with the same figures";
    const auto split = by_name(reference_pressure(apart));
    const double sum = split.at("density of the liquid").contribution_pa +
                       split.at("density of another oil with the same figures").contribution_pa;
    EXPECT_NEAR(lines.at("density of the liquid").contribution_pa, sum, 1e-9);
}

TEST(Budget, DegreesOfFreedomByWelchAndSatterthwaite) {
    const ReferencePressure p = reference_pressure(invented_inputs());
    std::vector<Share> shares;
    for (const BudgetLine& line : p.budget)
        shares.push_back({line.contribution_pa, line.dof});
    EXPECT_NEAR(p.dof / effective_dof(shares), 1, 1e-12);
    EXPECT_GT(p.dof, 12);
    ReferenceInputs in = invented_inputs();
    in.range.area_m2.dof = infinite;
    in.range.floating_parts[0].mass_kg.dof = infinite;
    for (MassPiece& disc : in.discs)
        disc.mass_kg.dof = infinite;
    EXPECT_EQ(reference_pressure(in).dof, infinite);
}

TEST(Budget, NothingUncertainLeavesTheEquationOfTheAir) {
    ReferenceInputs in;
    in.range.area_m2.value = 1e-5;
    in.discs = {{"a", {.value = 10}, {.value = 7920}, true, ""}};
    in.site.gravity_m_s2.value = 9.81;
    in.air = {{.value = 20}, {.value = 1e5}, {.value = 0.5}};
    in.piston_temperature_c.value = 20;
    const ReferencePressure p = reference_pressure(in);
    ASSERT_EQ(p.budget.size(), 1u);
    EXPECT_EQ(p.budget[0].input, "equation of the air density");
}

// Published formula: E. Debler, Bulletin de l'OIML XXXV 4 (1994), section 3.2: with conventional mass the density of
// the weights drops out, u2(F) = [u2(m_c) + (m/rho)^2 u2(rho_a)] g^2 + m^2 u2(g). The figure is computed from it.
TEST(Budget, ComputedRegressionForceOfAConventionalMass) {
    ReferenceInputs in;
    in.range.area_m2.value = 1; // pressure in pascals is then force in newtons
    in.discs = {{"m", {.value = 50, .u = 2.5e-4}, {.value = 7920, .u = 75}, true, ""}};
    in.site.gravity_m_s2 = {.value = 9.81, .u = 1e-5};
    in.air = {{.value = 20}, {.value = 101380}, {.value = 0.5}};
    const double per_pa = moist_air_density_kg_m3(20.0, 101380.5, 0.5) - moist_air_density_kg_m3(20.0, 101379.5, 0.5);
    in.air.pressure_pa.u = 0.02 / per_pa; // u(rho_a) = 0.02 kg/m3
    in.piston_temperature_c.value = 20;
    const ReferencePressure p = reference_pressure(in);
    // The formula leaves the buoyancy, 1.5e-4, out of its sensitivities.
    EXPECT_NEAR(p.u_pa / 0.002792664729, 1, 1.5e-4);
    EXPECT_LT(std::abs(by_name(p).at("density of m").contribution_pa), 1e-6);
}

/// Draws every input, those that move together by one draw, and evaluates the whole equation.
Sample monte_carlo(const ReferenceInputs& inputs, double near, int draws, std::uint64_t seed) {
    std::mt19937_64 dice(seed);
    ReferenceInputs drawn = inputs;
    drawn.range.tilt_rad.u = 0; // drawn, so known
    Sample sample(near);
    const auto draw = [&](const Uncertain& from, Uncertain& to) {
        to.value = from.value + from.u * standard_draw(from.distribution, dice);
    };
    for (int i = 0; i < draws; ++i) {
        draw(inputs.range.area_m2, drawn.range.area_m2);
        draw(inputs.range.area_drift, drawn.range.area_drift);
        draw(inputs.range.thermal_expansion_per_k, drawn.range.thermal_expansion_per_k);
        draw(inputs.range.distortion_per_pa, drawn.range.distortion_per_pa);
        draw(inputs.range.circumference_m, drawn.range.circumference_m);
        draw(inputs.range.tilt_rad, drawn.range.tilt_rad);
        draw(inputs.range.immersed_volume_m3, drawn.range.immersed_volume_m3);
        draw(inputs.range.float_height_m, drawn.range.float_height_m);
        draw(inputs.range.reference_level_m, drawn.range.reference_level_m);
        draw(inputs.site.gravity_m_s2, drawn.site.gravity_m_s2);
        draw(inputs.air.temperature_c, drawn.air.temperature_c);
        draw(inputs.air.pressure_pa, drawn.air.pressure_pa);
        draw(inputs.air.humidity, drawn.air.humidity);
        draw(inputs.piston_temperature_c, drawn.piston_temperature_c);
        draw(inputs.range.floating_parts[0].mass_kg, drawn.range.floating_parts[0].mass_kg);
        draw(inputs.range.floating_parts[0].density_kg_m3, drawn.range.floating_parts[0].density_kg_m3);
        const double masses = standard_draw(Distribution::normal, dice);
        const double densities = standard_draw(Distribution::normal, dice);
        for (std::size_t k = 0; k < inputs.discs.size(); ++k) {
            drawn.discs[k].mass_kg.value = inputs.discs[k].mass_kg.value + masses * inputs.discs[k].mass_kg.u;
            drawn.discs[k].density_kg_m3.value =
                inputs.discs[k].density_kg_m3.value + densities * inputs.discs[k].density_kg_m3.u;
        }
        draw(inputs.liquid.density_kg_m3, drawn.liquid.density_kg_m3);
        draw(inputs.liquid.surface_tension_n_per_m, drawn.liquid.surface_tension_n_per_m);
        drawn.head[0].liquid.density_kg_m3 = drawn.liquid.density_kg_m3;
        draw(inputs.head[1].liquid.density_kg_m3, drawn.head[1].liquid.density_kg_m3);
        for (std::size_t k = 0; k < inputs.head.size(); ++k)
            draw(inputs.head[k].height_m, drawn.head[k].height_m);
        sample.add(reference_pressure_pa(drawn));
    }
    return sample;
}

TEST(Budget, MeetsAMonteCarloOfTheWholeEquation) {
    ReferenceInputs light = invented_inputs(); // where levels and heads weigh most
    light.discs.resize(1);
    light.discs[0].mass_kg = {.value = 0.1, .u = 3e-7};
    light.range.area_m2 = {.value = 98.07e-6, .u = 1.2e-9};
    ReferenceInputs tilted = invented_inputs(); // where the second order of the tilt decides
    tilted.range.tilt_rad = {.value = 0, .u = 12e-3, .distribution = Distribution::rectangular};
    std::uint64_t seed = 1;
    for (const ReferenceInputs& in : {invented_inputs(), light, tilted}) {
        const ReferencePressure p = reference_pressure(in);
        constexpr int draws = 100'000;
        const Sample sample = monte_carlo(in, p.at_instrument_pa, draws, seed++);
        EXPECT_NEAR(sample.deviation() / p.u_pa, 1, 0.02);
        EXPECT_NEAR(sample.mean_from_near(), 0, 4 * p.u_pa / std::sqrt(draws));
    }
}

} // namespace
} // namespace stillmark::metrology
