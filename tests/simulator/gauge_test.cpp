#include "simulator/gauge.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace stillmark::simulator {
namespace {

GaugeCharacter ideal() {
    GaugeCharacter character;
    character.span_high_pa = 1e8;
    return character;
}

void pass(Gauge& gauge, double pressure_pa, double seconds) {
    const auto steps = std::lround(seconds * 1000);
    for (long i = 0; i < steps; ++i)
        gauge.advance(pressure_pa, 0.001, 0.001);
}

TEST(Gauge, LagIsFirstOrder) {
    auto character = ideal();
    character.lag_s = 0.1;
    character.conversion_s = 0.001;
    Gauge gauge("g", character, 1);
    pass(gauge, 1e6, 0.1);
    EXPECT_NEAR(gauge.shown_pa(), 1e6 * (1 - std::exp(-1.0)), 0.02e6);
    EXPECT_DOUBLE_EQ(gauge.settled_pa(), 1e6);
}

TEST(Gauge, DelayShowsThePast) {
    auto character = ideal();
    character.delay_s = 0.05;
    character.conversion_s = 0.001;
    Gauge gauge("g", character, 1);
    pass(gauge, 1e6, 0.2);
    pass(gauge, 2e6, 0.045);
    EXPECT_DOUBLE_EQ(gauge.shown_pa(), 1e6);
    pass(gauge, 2e6, 0.01);
    EXPECT_DOUBLE_EQ(gauge.shown_pa(), 2e6);
}

TEST(Gauge, ErrorsAddUp) {
    auto character = ideal();
    character.zero_pa = 1000;
    character.span_error = 1e-4;
    character.nonlinearity_pa = 500;
    Gauge gauge("g", character, 1);
    pass(gauge, 5e7, 0.01);
    EXPECT_NEAR(gauge.settled_pa() - 5e7, 1000 + 5000 + 500, 1e-6);
    pass(gauge, 1e8, 0.01);
    EXPECT_NEAR(gauge.settled_pa() - 1e8, 1000 + 10000, 1e-6);
}

TEST(Gauge, HysteresisDependsOnTheWay) {
    auto character = ideal();
    character.hysteresis_pa = 2000;
    character.hysteresis_width_pa = 2e6;
    Gauge gauge("g", character, 1);
    pass(gauge, 5e7, 0.01);
    EXPECT_NEAR(gauge.settled_pa(), 5e7 - 2000, 1e-6);
    pass(gauge, 9e7, 0.01);
    pass(gauge, 5e7, 0.01);
    EXPECT_NEAR(gauge.settled_pa(), 5e7 + 2000, 1e-6);
    pass(gauge, 5e7 + 1e5, 0.01); // a small turn is followed only in part
    EXPECT_NEAR(gauge.settled_pa() - 5e7 - 1e5, 2000 - 100, 1e-6);
}

TEST(Gauge, NoiseHasItsSizeAndIsTheSameForASeed) {
    auto character = ideal();
    character.noise_pa = 300;
    Gauge a("g", character, 1);
    Gauge b("g", character, 1);
    double squares = 0;
    constexpr int count = 4000;
    for (int i = 0; i < count; ++i) {
        pass(a, 1e6, 0.01);
        pass(b, 1e6, 0.01);
        EXPECT_EQ(a.shown_pa(), b.shown_pa());
        squares += std::pow(a.shown_pa() - 1e6, 2);
    }
    EXPECT_NEAR(std::sqrt(squares / count), 300, 20);
    EXPECT_EQ(a.settled_pa(), 1e6) << "the truth has no noise";
}

TEST(Gauge, ShowsItsResolution) {
    auto character = ideal();
    character.resolution_pa = 5000;
    Gauge gauge("g", character, 1);
    pass(gauge, 1002600, 0.1);
    EXPECT_DOUBLE_EQ(gauge.shown_pa(), 1005000);
}

TEST(Gauge, APointerHangsBackUntilItIsTapped) {
    auto character = ideal();
    character.friction_pa = 2e5;
    Gauge gauge("g", character, 1);
    pass(gauge, 4e7, 0.01);
    EXPECT_NEAR(gauge.pointer_pa(), 4e7 - 2e5, 1e-6);
    gauge.tap();
    EXPECT_NEAR(gauge.pointer_pa(), 4e7, 1e-6);
    pass(gauge, 1e7, 0.01);
    EXPECT_NEAR(gauge.pointer_pa(), 1e7 + 2e5, 1e-6);
}

TEST(Gauge, WarmsUpWithItsOwnTimeConstant) {
    auto character = ideal();
    character.cold_pa = 8000;
    character.warm_up_s = 10;
    character.powered_s = 10;
    Gauge gauge("g", character, 1);
    pass(gauge, 1e6, 0.001);
    EXPECT_NEAR(gauge.settled_pa() - 1e6, 8000 * std::exp(-1.0), 1) << "on for one time constant already";
    pass(gauge, 1e6, 10);
    EXPECT_NEAR(gauge.settled_pa() - 1e6, 8000 * std::exp(-2.0), 1);
    EXPECT_NEAR(gauge.shown_pa(), gauge.settled_pa(), 2) << "what it shows drifts with what is true of it";
    pass(gauge, 1e6, 200);
    EXPECT_NEAR(gauge.settled_pa(), 1e6, 1e-3);
}

TEST(Gauge, EachClampingShiftsZeroAndFullScaleAnew) {
    auto character = ideal();
    character.reclamping = {0, 5000, Shape::rectangular};
    Gauge gauge("g", character, 1);
    Gauge same("g", character, 1);
    Gauge other("g", character, 2);
    const auto error = [](Gauge& of, double pressure_pa) {
        pass(of, pressure_pa, 0.01);
        return of.settled_pa() - pressure_pa;
    };
    EXPECT_EQ(error(gauge, 0), 0) << "as it was clamped first is what the other errors are about";
    double last_zero = 0;
    double last_top = 0;
    for (int times = 0; times < 20; ++times) {
        for (auto* one : {&gauge, &same, &other})
            one->clamp_anew();
        const double zero = error(gauge, 0);
        const double top = error(gauge, 1e8);
        EXPECT_NEAR(error(gauge, 5e7), (zero + top) / 2, 1e-6);
        EXPECT_LE(std::abs(zero), 5000);
        EXPECT_LE(std::abs(top), 5000);
        EXPECT_GT(std::abs(zero - last_zero), 1);
        EXPECT_GT(std::abs(top - last_top), 1);
        EXPECT_GT(std::abs(top - zero), 1) << "a shift of its own";
        EXPECT_EQ(error(same, 0), zero);
        EXPECT_NE(error(other, 0), zero);
        last_zero = zero;
        last_top = top;
    }
}

} // namespace
} // namespace stillmark::simulator
