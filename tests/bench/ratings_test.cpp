// Ratings are pressures above the air; readings need not be.
#include "bench/world.hpp"
#include "daemon/bench/reference.hpp"

#include <gtest/gtest.h>

namespace stillmark::bench::testing {
namespace {

TEST(Ratings, AReadingIsHeldAgainstThemAsPressureAboveTheAir) {
    const BenchFile bench = bench_of(small_bench_text());
    Instrument instrument = bench.instruments.front();
    metrology::Surroundings air = bench.surroundings.air;
    air.pressure_pa.value = 96'800;
    EXPECT_DOUBLE_EQ(above_air_pa(instrument, 1e7, air), 1e7);
    instrument.counted_from = metrology::PressureKind::absolute;
    EXPECT_DOUBLE_EQ(above_air_pa(instrument, 1e7, air), 1e7 - 96'800);
    instrument.counted_from = metrology::PressureKind::sealed;
    instrument.sealed_reference_pa.value = 101'300;
    EXPECT_DOUBLE_EQ(above_air_pa(instrument, 1e7, air), 1e7 + 101'300 - 96'800);
}

} // namespace
} // namespace stillmark::bench::testing
