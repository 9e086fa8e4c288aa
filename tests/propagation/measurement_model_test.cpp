#include "daemon/metrology/propagation/coverage_factor.hpp"
#include "daemon/metrology/propagation/measurement_model.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace stillmark::metrology {
namespace {

struct Text {
    const char* name;
    Uncertain known;
};

MeasurementModel model_of(const std::vector<Text>& inputs, const std::vector<std::string>& formulas,
                          std::vector<InputCorrelation> correlations = {}) {
    MeasurementModel model;
    std::vector<std::string> names;
    for (const Text& one : inputs) {
        names.emplace_back(one.name);
        model.inputs.push_back({one.name, one.known});
    }
    for (const std::string& formula : formulas) {
        ExpressionFault fault;
        auto expression = Expression::parse(formula, names, fault);
        if (!expression) {
            ADD_FAILURE() << formula << ": " << fault.words;
            continue;
        }
        model.outputs.push_back(std::move(*expression));
    }
    model.correlations = std::move(correlations);
    return model;
}

constexpr double exact_dof = std::numeric_limits<double>::infinity();
const double rect = 1 / std::sqrt(3.0);

/// JCGM 100:2008, H.1: an end gauge against a known standard, in nm.
MeasurementModel end_gauge() {
    return model_of(
        {{"ls", {.value = 50'000'623, .u = 25, .dof = 18}},
         {"d", {.value = 215, .u = 5.8, .dof = 24}},
         {"d1", {.value = 0, .u = 3.9, .dof = 5}},
         {"d2", {.value = 0, .u = 6.7, .dof = 8}},
         {"alpha", {.value = 11.5e-6, .u = 2e-6 * rect, .distribution = Distribution::rectangular}},
         {"dalpha", {.value = 0, .u = 1e-6 * rect, .dof = 50, .distribution = Distribution::rectangular}},
         {"dtheta", {.value = 0, .u = 0.05 * rect, .dof = 2, .distribution = Distribution::rectangular}},
         {"theta", {.value = -0.1, .u = 0.2}},
         {"cycle", {.value = 0, .u = 0.5 / std::sqrt(2.0), .distribution = Distribution::arcsine}}},
        {"ls + d + d1 + d2 - ls * (dalpha * (theta + cycle) + alpha * dtheta)", "d + d1 + d2", "theta + cycle"});
}

// JCGM 100:2008, H.1.3 and H.1.4: l = 50 000 838 nm, u_c = 32 nm, with components 25, 9.7, 2.9 and 16.6.
TEST(EndGaugeH1, EstimateUncertaintyAndComponents) {
    const auto result = propagate(end_gauge());
    const FirstOrder& l = result.outputs[0];
    EXPECT_NEAR(l.y, 50'000'838, 1e-3);
    EXPECT_NEAR(l.u, 32, 0.5);
    EXPECT_NEAR(l.u, 31.663879, 2e-6);
    EXPECT_NEAR(l.inputs[0].contribution, 25, 1e-4);
    EXPECT_NEAR(std::abs(l.inputs[5].contribution), 2.8867873, 1e-6);
    EXPECT_NEAR(std::abs(l.inputs[6].contribution), 16.599027, 2e-6);
    EXPECT_NEAR(result.outputs[2].u, 0.41, 0.005);
    EXPECT_NEAR(result.outputs[2].u, 0.406202, 1e-6);
}

// H.1.3.2: u(d) = 9.7 nm with 25.6 degrees of freedom. The printed 25.6 comes of the rounded 9.7; exactly 25.447.
TEST(EndGaugeH1, UncertaintyOfTheDifference) {
    const FirstOrder d = propagate(end_gauge()).outputs[1];
    EXPECT_NEAR(d.u, 9.7, 0.05);
    EXPECT_NEAR(d.u, 9.681942, 1e-6);
    EXPECT_NEAR(d.dof, 25.447, 1e-3);
    EXPECT_NEAR(std::pow(9.7, 4) / (std::pow(5.8, 4) / 24 + std::pow(3.9, 4) / 5 + std::pow(6.7, 4) / 8), 25.6, 0.05);
}

// H.1.6: nu_eff = 16.7, cut down to 16; t_99(16) = 2.92; U_99 = 93 nm.
TEST(EndGaugeH1, EffectiveDegreesOfFreedomAndExpandedUncertainty) {
    const FirstOrder l = propagate(end_gauge()).outputs[0];
    EXPECT_NEAR(l.dof, 16.7, 0.1);
    EXPECT_NEAR(l.dof, 16.752, 1e-3);
    const double k = coverage_factor(0.99, std::floor(l.dof));
    EXPECT_NEAR(k, 2.92, 0.005);
    EXPECT_NEAR(k * l.u, 93, 0.6);
    EXPECT_NEAR(k * l.u, 92.48, 0.01);
}

// H.1.7: with the terms of second order u = 34 nm (11.7 and 1.7 nm are added).
TEST(EndGaugeH1, TermsOfSecondOrder) {
    const MeasurementModel model = end_gauge();
    const auto second = second_order(model, 0);
    ASSERT_TRUE(second.has_value());
    EXPECT_NEAR(second->u, 34, 0.5);
    EXPECT_NEAR(second->u, 33.8065, 1e-3);
    EXPECT_NEAR(std::sqrt(second->u * second->u - std::pow(propagate(model).outputs[0].u, 2)),
                std::hypot(11.726, 1.667), 1e-2);
    EXPECT_NEAR(second->y, 50'000'838, 1e-3);
}

// suncal's tests: y = 0.1820/0.1823 * 0.6978: 0.6967, u = 0.00494, nu = 27.7 (within 0.5), U_95 = 0.0101.
TEST(WelchSatterthwaite, QuotientOfReadings) {
    const auto y = propagate(model_of({{"a", {.value = 0.1820, .u = 0.00093, .dof = 9}},
                                       {"b", {.value = 0.1823, .u = 0.00058, .dof = 19}},
                                       {"c", {.value = 0.6978, .u = 0.0026, .dof = 19}}},
                                      {"a / b * c"}))
                       .outputs[0];
    EXPECT_NEAR(y.y, 0.6967, 5e-5);
    EXPECT_NEAR(y.u, 0.00494, 1e-5);
    EXPECT_NEAR(y.dof, 27.7, 0.5);
    EXPECT_NEAR(coverage_factor(0.95, y.dof) * y.u, 0.0101, 5e-5);
    EXPECT_NEAR(y.y, 0.69665167, 1e-8);
    EXPECT_NEAR(y.u, 0.00493180, 1e-8);
    EXPECT_NEAR(y.dof, 27.512732, 1e-6);
    EXPECT_NEAR(coverage_factor(0.95, y.dof) * y.u, 0.0101104, 1e-7);
}

// Computed: JCGM 101:2008, 9.3, with the law of propagation of second order: u = 0.074963474 (from memory: 0.0750).
TEST(SecondOrder, MassOfJcgm101) {
    const MeasurementModel model =
        model_of({{"m", {.value = 100'000, .u = 0.050}},
                  {"dm", {.value = 1.234, .u = 0.020}},
                  {"ra", {.value = 1.2, .u = 0.1 * rect, .distribution = Distribution::rectangular}},
                  {"rw", {.value = 8000, .u = 1000 * rect, .distribution = Distribution::rectangular}},
                  {"rr", {.value = 8000, .u = 50 * rect, .distribution = Distribution::rectangular}}},
                 {"(m + dm) * (1 + (ra - 1.2) * (1 / rw - 1 / rr)) - 100000"});
    const FirstOrder first = propagate(model).outputs[0];
    EXPECT_NEAR(first.y, 1.2340, 1e-9);
    EXPECT_NEAR(first.u, 0.053851648, 1e-9);
    const auto second = second_order(model, 0);
    ASSERT_TRUE(second.has_value());
    EXPECT_NEAR(second->u, 0.0750, 5e-5);
    EXPECT_NEAR(second->u, 0.074963474, 1e-7);
}

// x^2 about 0 has mean u^2 and variance 2 u^4; x y about 0 has u_x^2 u_y^2; exp(x) to second order by hand.
TEST(SecondOrder, CasesByHand) {
    const MeasurementModel model =
        model_of({{"x", {.value = 0, .u = 0.3}}, {"y", {.value = 0, .u = 2}}}, {"x^2", "x * y", "exp(x)", "x + y"});
    EXPECT_NEAR(second_order(model, 0)->y, 0.09, 1e-15);
    EXPECT_NEAR(second_order(model, 0)->u, std::sqrt(2.0) * 0.09, 1e-15);
    EXPECT_NEAR(second_order(model, 1)->u, 0.6, 1e-15);
    EXPECT_NEAR(second_order(model, 2)->y, 1.045, 1e-15);
    EXPECT_NEAR(second_order(model, 2)->u, std::sqrt(0.09 + 1.5 * 0.0081), 1e-14);
    EXPECT_NEAR(second_order(model, 3)->u, std::hypot(0.3, 2.0), 1e-14);
    // x y^2 at 2 and 3: 81 u_x^2 + 144 u_y^2 + 8 u_y^4 + (36/2 + 36/2 + 9 2) u_x^2 u_y^2.
    const MeasurementModel mixed =
        model_of({{"x", {.value = 2, .u = 0.1}}, {"y", {.value = 3, .u = 0.2}}}, {"x * y^2"});
    EXPECT_NEAR(second_order(mixed, 0)->u, std::sqrt(0.81 + 5.76 + 0.0128 + 0.0216), 1e-13);
    EXPECT_NEAR(second_order(mixed, 0)->y, 18.08, 1e-13);
    MeasurementModel correlated = model;
    correlated.correlations = {{0, 1, 0.5}};
    EXPECT_FALSE(second_order(correlated, 1).has_value());
}

TEST(FirstOrder, CorrelatedInputsAreOneGroup) {
    const MeasurementModel model = model_of({{"a", {.value = 1, .u = 3, .dof = 7}},
                                             {"b", {.value = 2, .u = 4, .dof = 10}},
                                             {"c", {.value = 3, .u = 12, .dof = 20}}},
                                            {"a + b + c", "a - b"}, {{0, 1, 1.0}});
    const Propagated result = propagate(model);
    EXPECT_NEAR(result.outputs[0].u, std::hypot(7, 12), 1e-14);
    const double part = 49.0 / 193;
    EXPECT_NEAR(result.outputs[0].dof, 1 / (part * part / 7 + (1 - part) * (1 - part) / 20), 1e-9);
    EXPECT_NEAR(result.outputs[1].u, 1, 1e-14);
    double shares = 0;
    for (const Sensitivity& one : result.outputs[0].inputs)
        shares += one.share;
    EXPECT_NEAR(shares, 1, 1e-14);
    // a + b + c and a - b share a and b: (3 + 4)(3 - 4) of covariance.
    EXPECT_NEAR(result.correlation[1], -7 / std::hypot(7, 12), 1e-14);
    EXPECT_EQ(result.correlation[1], result.correlation[2]);
}

TEST(FirstOrder, ASlopeThatIsNoNumberIsSaid) {
    const MeasurementModel model = model_of({{"x", {.value = 0, .u = 1}}, {"e", {.value = 0}}}, {"sqrt(x)", "sqrt(e)"});
    EXPECT_FALSE(propagate(model).outputs[0].defined);
    EXPECT_TRUE(std::isnan(propagate(model).outputs[0].u));
    EXPECT_TRUE(propagate(model).outputs[1].defined);
    EXPECT_EQ(propagate(model).outputs[1].u, 0);
}

TEST(FirstOrder, GroupsFollowChainsOfCorrelations) {
    const MeasurementModel model = model_of({{"a", {.value = 1, .u = 1}},
                                             {"b", {.value = 1, .u = 1}},
                                             {"c", {.value = 1, .u = 1}},
                                             {"d", {.value = 1, .u = 1, .dof = exact_dof}}},
                                            {"a"}, {{2, 0, 0.1}, {1, 2, 0.2}, {0, 3, 0}});
    const auto groups = groups_of(model);
    ASSERT_EQ(groups.size(), 2U);
    EXPECT_EQ(groups[0].inputs, (std::vector<std::size_t>{0, 1, 2}));
    EXPECT_EQ(groups[0].correlation, (std::vector<double>{1, 0, 0.1, 0, 1, 0.2, 0.1, 0.2, 1}));
    EXPECT_EQ(groups[1].inputs, (std::vector<std::size_t>{3}));
}

TEST(TrialsOfAModel, DrawWhatTheModelSays) {
    const MeasurementModel model = model_of({{"a", {.value = 10, .u = 2}},
                                             {"k", {.value = 3}},
                                             {"b", {.value = -1, .u = 1, .distribution = Distribution::rectangular}},
                                             {"c", {.value = 5, .u = 0.5}}},
                                            {"a * k", "b", "a - 4 * c"}, {{0, 3, 0.8}});
    MonteCarloSettings settings;
    settings.trials = 200'000;
    const auto found = monte_carlo(trials_of(model), settings, one_after_the_other);
    ASSERT_EQ(found.outputs.size(), 3U);
    EXPECT_NEAR(found.outputs[0].mean, 30, 0.07);
    EXPECT_NEAR(found.outputs[0].u, 6, 0.05);
    EXPECT_NEAR(found.outputs[1].symmetric.low, -1 - 0.95 * std::sqrt(3.0), 0.01);
    EXPECT_NEAR(found.outputs[1].symmetric.high, -1 + 0.95 * std::sqrt(3.0), 0.01);
    EXPECT_NEAR(found.outputs[2].mean, -10, 0.02);
    EXPECT_NEAR(found.outputs[2].u, std::sqrt(4 + 4 - 2 * 0.8 * 4), 0.02);
}

} // namespace
} // namespace stillmark::metrology
