#pragma once

#include <array>
#include <bit>
#include <cstdint>

namespace stillmark::metrology {

/// xoshiro256++ (D. Blackman, S. Vigna, ACM Trans. Math. Softw. 47 (2021) 36): 64 random bits a step, period 2^256 - 1.
/// Streams that are a jump (2^128 steps) apart never meet.
class RandomStream {
  public:
    using State = std::array<std::uint64_t, 4>;

    /// The state is filled by splitmix64 from the seed, as the generator's authors advise.
    explicit RandomStream(std::uint64_t seed);
    /// A state that is not all zeros.
    explicit RandomStream(const State& state) : state_(state) {}

    std::uint64_t operator()() {
        const std::uint64_t result = std::rotl(state_[0] + state_[3], 23) + state_[0];
        const std::uint64_t shifted = state_[1] << 17U;
        state_[2] ^= state_[0];
        state_[3] ^= state_[1];
        state_[1] ^= state_[2];
        state_[0] ^= state_[3];
        state_[2] ^= shifted;
        state_[3] = std::rotl(state_[3], 45);
        return result;
    }

    void jump();      ///< 2^128 steps at once
    void long_jump(); ///< 2^192 steps at once

    const State& state() const { return state_; }

  private:
    void jump_by(const State& polynomial);
    State state_{};
};

/// Random bits as a number of (0, 1): the middle of one of 2^52 equal steps, so neither end is ever hit and the mean is
/// exactly 1/2.
inline double unit_interval(std::uint64_t bits) {
    const double in_one_two = std::bit_cast<double>((bits >> 12U) | 0x3FF0000000000000U);
    return (in_one_two - 1.0) + 0x1p-53;
}

/// Random bits as a number of (-1, 1), symmetric about 0.
inline double signed_interval(std::uint64_t bits) {
    const double in_two_four = std::bit_cast<double>((bits >> 12U) | 0x4000000000000000U);
    return (in_two_four - 3.0) + 0x1p-52;
}

} // namespace stillmark::metrology
