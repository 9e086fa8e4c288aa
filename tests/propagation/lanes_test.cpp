#include "daemon/metrology/propagation/lanes_pressure.hpp"
#include "daemon/metrology/propagation/reference_trials.hpp"
#include "daemon/metrology/reference_values.hpp"
#include "metrology/draws.hpp"
#include "metrology/invented_balance.hpp"

#include <gtest/gtest.h>

#include <random>

namespace stillmark::metrology {
namespace {

/// Eight balances side by side; what is no scalar is that of the first.
ReferenceValues<Lanes> side_by_side(const std::vector<ReferenceInputs>& eight) {
    ReferenceValues<Lanes> all = values_of<Lanes>(eight[0]);
    for (std::size_t lane = 0; lane < Lanes::width; ++lane) {
        const ReferenceValues<double> one = values_of<double>(eight[lane]);
        for (std::size_t i = 0; i < one.range.masses.size(); ++i) {
            all.range.masses[i].mass_kg[lane] = one.range.masses[i].mass_kg;
            all.range.masses[i].density_kg_m3[lane] = one.range.masses[i].density_kg_m3;
        }
        all.range.gravity_m_s2[lane] = one.range.gravity_m_s2;
        all.range.tilt_loss[lane] = one.range.tilt_loss;
        all.range.immersed_volume_m3[lane] = one.range.immersed_volume_m3;
        all.range.area_m2[lane] = one.range.area_m2;
        all.range.area_drift[lane] = one.range.area_drift;
        all.range.distortion_per_pa[lane] = one.range.distortion_per_pa;
        all.range.piston_temperature_c[lane] = one.range.piston_temperature_c;
        all.range.liquid.density_kg_m3[lane] = one.range.liquid.density_kg_m3;
        all.air_temperature_c[lane] = one.air_temperature_c;
        all.air_pressure_pa[lane] = one.air_pressure_pa;
        all.humidity[lane] = one.humidity;
        all.head[0].height_m[lane] = one.head[0].height_m;
    }
    return all;
}

std::vector<ReferenceInputs> eight_balances(std::uint64_t seed, bool closed_form) {
    std::mt19937_64 dice(seed);
    std::vector<ReferenceInputs> all;
    const ReferenceInputs first = random_inputs(dice);
    for (std::size_t lane = 0; lane < Lanes::width; ++lane) {
        const ReferenceInputs other = random_inputs(dice);
        ReferenceInputs one = first;
        one.range.area_m2 = other.range.area_m2;
        one.range.area_drift = other.range.area_drift;
        one.range.distortion_per_pa = other.range.distortion_per_pa;
        one.range.tilt_rad = other.range.tilt_rad;
        one.range.immersed_volume_m3 = other.range.immersed_volume_m3;
        for (std::size_t i = 0; i < one.discs.size(); ++i) {
            one.discs[i].mass_kg = other.discs[i].mass_kg;
            one.discs[i].density_kg_m3 = other.discs[i].density_kg_m3;
        }
        one.site = other.site;
        one.air = other.air;
        one.piston_temperature_c = other.piston_temperature_c;
        one.liquid.density_kg_m3 = other.liquid.density_kg_m3;
        one.head[0].liquid = one.liquid = first.liquid;
        one.head[0].height_m = other.head[0].height_m;
        if (closed_form) {
            one.range.distortion2_per_pa2 = 0;
            one.range.immersed_volume_m3 = {};
        }
        all.push_back(one);
    }
    return all;
}

TEST(Lanes, EachHoldsWhatThePlainNumberWouldHold) {
    for (std::uint64_t seed = 1; seed <= 100; ++seed) {
        const auto eight = eight_balances(seed, seed % 2 == 0);
        ReferenceValues<Lanes> values = side_by_side(eight);
        settle_air(values);
        const Lanes p = pressure_at_instrument_pa(values, pressure_at_balance_pa(values.range));
        for (std::size_t lane = 0; lane < Lanes::width; ++lane) {
            EXPECT_EQ(p[lane], reference_pressure_pa(eight[lane])) << "seed " << seed << ", lane " << lane;
            EXPECT_GT(p[lane], 0);
        }
    }
}

// The trials of the reference pressure against a plain loop over the same inventory with another generator.
TEST(ReferenceTrials, AgreeWithAPlainLoop) {
    const ReferenceInputs inputs = invented_inputs();
    MonteCarloSettings settings;
    settings.trials = 300'000;
    const auto found = monte_carlo(reference_model(inputs), settings, one_after_the_other);
    ASSERT_EQ(found.outputs.size(), 1U);
    std::mt19937_64 dice(3);
    Sample sample(found.outputs[0].mean);
    constexpr int trials = 20'000;
    const auto drawn = [&dice](const Uncertain& input) {
        double deviation = standard_draw(input.distribution, dice);
        if (std::isfinite(input.dof))
            deviation *= std::sqrt(input.dof / std::chi_squared_distribution<>(input.dof)(dice));
        return input.value + input.u * deviation;
    };
    for (int i = 0; i < trials; ++i) {
        ReferenceInputs one = inputs;
        for (Uncertain* place :
             {&one.range.area_m2, &one.range.area_drift, &one.range.thermal_expansion_per_k,
              &one.range.distortion_per_pa, &one.range.circumference_m, &one.range.immersed_volume_m3,
              &one.range.float_height_m, &one.range.reference_level_m, &one.site.gravity_m_s2, &one.air.temperature_c,
              &one.air.pressure_pa, &one.air.humidity, &one.piston_temperature_c, &one.liquid.surface_tension_n_per_m,
              &one.head[0].height_m, &one.head[1].height_m, &one.head[1].liquid.density_kg_m3,
              &one.range.floating_parts[0].mass_kg, &one.range.floating_parts[0].density_kg_m3})
            place->value = drawn(*place);
        one.range.tilt_rad.value = drawn(one.range.tilt_rad);
        one.range.tilt_rad.u = 0; // the angle is known now: no expectation of the cosine is added
        one.liquid.density_kg_m3.value = drawn(one.liquid.density_kg_m3);
        one.head[0].liquid = one.liquid;
        const double masses = drawn({.value = 0, .u = 1, .dof = 20});
        const double densities = drawn({.value = 0, .u = 1});
        for (MassPiece& disc : one.discs) {
            disc.mass_kg.value += masses * disc.mass_kg.u;
            disc.density_kg_m3.value += densities * disc.density_kg_m3.u;
        }
        sample.add(reference_pressure_pa(one));
    }
    const double u = found.outputs[0].u;
    EXPECT_NEAR(sample.mean_from_near(), 0, 5 * u / std::sqrt(trials));
    EXPECT_NEAR(sample.deviation(), u, 5 * u / std::sqrt(2.0 * trials));
}

TEST(ReferenceTrials, JudgeTheBudget) {
    ReferenceInputs inputs = invented_inputs();
    inputs.range.area_drift = {}; // the rectangular part that dominates
    inputs.range.area_m2.dof = std::numeric_limits<double>::infinity();
    inputs.range.area_m2.u = 5e-10;
    MonteCarloSettings settings;
    settings.digits = 1;
    const auto good = reference_trials(inputs, settings, one_after_the_other);
    EXPECT_TRUE(good.trials.stable);
    EXPECT_TRUE(good.validation.validated) << good.validation.off_low << " " << good.validation.off_high;
    const auto budget = reference_pressure(inputs);
    EXPECT_NEAR(good.trials.outputs[0].mean, budget.at_instrument_pa, 0.01 * budget.u_pa);
    EXPECT_NEAR(good.trials.outputs[0].u, budget.u_pa, 0.01 * budget.u_pa);

    inputs.range.area_drift = {.value = 0, .u = 1e-3, .distribution = Distribution::rectangular};
    EXPECT_FALSE(reference_trials(inputs, settings, one_after_the_other).validation.validated);
}

TEST(ReferenceTrials, AVentedLineIsDrawnByItsOwnComponents) {
    const ReferenceInputs balance = invented_inputs();
    const VentedLine line{balance.site,
                          balance.air,
                          balance.piston_temperature_c,
                          {{balance.liquid, {.value = 0.3, .u = 1e-3}}},
                          PressureKind::absolute,
                          {}};
    MonteCarloSettings settings;
    settings.trials = 100'000;
    const auto found = monte_carlo(vented_model(line), settings, one_after_the_other);
    const auto budget = vented_pressure(line);
    EXPECT_NEAR(found.outputs.at(0).mean, budget.at_instrument_pa, 0.02 * budget.u_pa);
    EXPECT_NEAR(found.outputs.at(0).u, budget.u_pa, 0.01 * budget.u_pa);
}

// About a levelled axis the cosine has no slope; the trials find its variance by themselves. With everything else
// exact, a tilt of limits a takes p a^2/6 on average, spread p a^2 sqrt(4/45)/2 (theta^2/2, theta rectangular).
TEST(ReferenceTrials, ATiltIsDrawnAsAnAngle) {
    ReferenceInputs inputs = invented_inputs();
    const auto exact = [](Uncertain& one) { one.u = 0; };
    for (Uncertain* one :
         {&inputs.range.area_m2, &inputs.range.area_drift, &inputs.range.thermal_expansion_per_k,
          &inputs.range.distortion_per_pa, &inputs.range.circumference_m, &inputs.range.immersed_volume_m3,
          &inputs.range.float_height_m, &inputs.range.reference_level_m, &inputs.site.gravity_m_s2,
          &inputs.air.temperature_c, &inputs.air.pressure_pa, &inputs.air.humidity, &inputs.piston_temperature_c,
          &inputs.liquid.density_kg_m3, &inputs.liquid.surface_tension_n_per_m})
        exact(*one);
    for (MassPiece& piece : inputs.discs) {
        exact(piece.mass_kg);
        exact(piece.density_kg_m3);
    }
    exact(inputs.range.floating_parts[0].mass_kg);
    exact(inputs.range.floating_parts[0].density_kg_m3);
    inputs.head.clear();
    const double limits = 0.05;
    inputs.range.tilt_rad = {.value = 0, .u = limits / std::sqrt(3.0), .distribution = Distribution::rectangular};
    ReferenceInputs upright = inputs;
    upright.range.tilt_rad = {};
    const double p = reference_pressure_pa(upright);
    const auto budget = reference_pressure(inputs);
    MonteCarloSettings settings;
    settings.trials = 300'000;
    const auto found = reference_trials(inputs, settings, one_after_the_other);
    const auto& y = found.trials.outputs.at(0);
    const double spread = p * limits * limits / 2 * std::sqrt(4.0 / 45);
    EXPECT_NEAR(y.mean, p * (1 - limits * limits / 6), 0.02 * spread);
    // The equation of the air's density stays uncertain; it is nothing beside this tilt.
    EXPECT_NEAR(y.u, spread, 0.01 * spread);
    EXPECT_NEAR(budget.at_instrument_pa, y.mean, 0.02 * spread);
    EXPECT_NEAR(budget.u_pa, y.u, 0.01 * spread);
    EXPECT_LE(y.symmetric.high, p * (1 + 1e-6));
}

} // namespace
} // namespace stillmark::metrology
