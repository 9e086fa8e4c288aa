#include "daemon/metrology/propagation/random_stream.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cstdint>
#include <vector>

namespace stillmark::metrology {
namespace {

using State = RandomStream::State;

// The first outputs from the state 1, 2, 3, 4: the first two follow by hand from the definition, 5 2^23 + 1 and
// (2 + 3 ...) likewise; all are those of the generator's other implementations (from memory).
TEST(RandomStream, KnownOutputs) {
    RandomStream stream(State{1, 2, 3, 4});
    const std::vector<std::uint64_t> expected{41943041, 58720359, 3588806011781223, 3591011842654386};
    for (const std::uint64_t one : expected)
        EXPECT_EQ(stream(), one);
}

/// The generator's step as a matrix over the field of two elements: column i is the state after state bit i alone.
using Matrix = std::vector<State>;

State times(const Matrix& matrix, const State& v) {
    State out{};
    for (std::size_t bit = 0; bit < 256; ++bit) {
        if ((v[bit / 64] >> (bit % 64) & 1U) == 0) continue;
        for (std::size_t i = 0; i < 4; ++i)
            out[i] ^= matrix[bit][i];
    }
    return out;
}

Matrix one_step() {
    Matrix matrix(256);
    for (std::size_t bit = 0; bit < 256; ++bit) {
        State alone{};
        alone[bit / 64] = std::uint64_t{1} << (bit % 64);
        RandomStream stream(alone);
        stream();
        matrix[bit] = stream.state();
    }
    return matrix;
}

// A jump is 2^128 steps and a long jump 2^192: the step's matrix squared so many times says where they must land.
TEST(RandomStream, JumpsLandWhereAllTheStepsWould) {
    Matrix power = one_step();
    const RandomStream start(20'260'701);
    for (int squarings = 1; squarings <= 192; ++squarings) {
        Matrix squared(256);
        for (std::size_t bit = 0; bit < 256; ++bit)
            squared[bit] = times(power, power[bit]);
        power = squared;
        if (squarings != 128 && squarings != 192) continue;
        RandomStream jumped = start;
        if (squarings == 128)
            jumped.jump();
        else
            jumped.long_jump();
        EXPECT_EQ(jumped.state(), times(power, start.state())) << "2^" << squarings;
    }
}

TEST(RandomStream, NumbersStayInsideTheirOpenIntervals) {
    EXPECT_EQ(unit_interval(0), 0x1p-53);
    EXPECT_EQ(unit_interval(~std::uint64_t{0}), 1 - 0x1p-53);
    EXPECT_EQ(signed_interval(0), -1 + 0x1p-52);
    EXPECT_EQ(signed_interval(~std::uint64_t{0}), 1 - 0x1p-52);
    EXPECT_EQ(unit_interval(std::uint64_t{1} << 63U), 0.5 + 0x1p-53);
}

TEST(RandomStream, NeighbouringSeedsShareNothing) {
    RandomStream a(1);
    RandomStream b(2);
    int same_bits = 0;
    for (int i = 0; i < 1000; ++i)
        same_bits += std::popcount(~(a() ^ b()));
    EXPECT_NEAR(same_bits, 32'000, 5 * 126.5); // binomial of 64 000 bits
}

} // namespace
} // namespace stillmark::metrology
