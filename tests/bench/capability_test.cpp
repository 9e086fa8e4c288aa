#include "daemon/bench/bench_file.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace stillmark::bench {
namespace {

BenchFile with_capability() {
    BenchFile bench;
    bench.capability = {{.from_pa = 0, .to_pa = 1e6, .constant_pa = 40, .of_pressure = 0, .k = 2},
                        {.from_pa = 1e6, .to_pa = 1e7, .constant_pa = 20, .of_pressure = 30e-6, .k = 2}};
    return bench;
}

TEST(Capability, IsWhatTheTableStatesAtThePressure) {
    const BenchFile bench = with_capability();
    EXPECT_EQ(capability_floor_pa(bench, 5e5), 40);
    EXPECT_NEAR(capability_floor_pa(bench, 5e6), 20 + 150, 1e-12);
}

TEST(Capability, WhereTwoLinesMeetTheLargerCounts) {
    EXPECT_NEAR(capability_floor_pa(with_capability(), 1e6), 50, 1e-12);
}

// A mean of references comes out an ulp beside the end of a line.
TEST(Capability, AnEndReachesToTheRoundingOfThePressure) {
    BenchFile bench;
    bench.capability = {{.from_pa = 1e5, .to_pa = 6.25e5, .constant_pa = 40, .of_pressure = 0, .k = 2}};
    EXPECT_EQ(capability_floor_pa(bench, std::nextafter(6.25e5, 1e6)), 40);
    EXPECT_EQ(capability_floor_pa(bench, std::nextafter(1e5, 0)), 40);
    EXPECT_EQ(capability_floor_pa(bench, 6.25e5 * (1 + 1e-6)), 0);
    EXPECT_EQ(capability_floor_pa(bench, 1e5 * (1 - 1e-6)), 0);
}

TEST(Capability, NoneIsStatedOutsideTheTable) {
    EXPECT_EQ(capability_floor_pa(with_capability(), 2e7), 0);
    EXPECT_EQ(capability_floor_pa(BenchFile{}, 1e6), 0);
}

TEST(Capability, OfAnotherCoverageFactorIsTurnedIntoTwo) {
    BenchFile bench = with_capability();
    bench.capability[0].k = 3;
    EXPECT_NEAR(capability_floor_pa(bench, 5e5), 40.0 / 3 * 2, 1e-12);
}

} // namespace
} // namespace stillmark::bench
