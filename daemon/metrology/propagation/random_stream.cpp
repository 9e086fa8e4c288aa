#include "daemon/metrology/propagation/random_stream.hpp"

namespace stillmark::metrology {

RandomStream::RandomStream(std::uint64_t seed) {
    for (std::uint64_t& word : state_) {
        seed += 0x9E3779B97F4A7C15U;
        std::uint64_t mixed = seed;
        mixed = (mixed ^ (mixed >> 30U)) * 0xBF58476D1CE4E5B9U;
        mixed = (mixed ^ (mixed >> 27U)) * 0x94D049BB133111EBU;
        word = mixed ^ (mixed >> 31U);
    }
}

void RandomStream::jump_by(const State& polynomial) {
    State landed{};
    for (const std::uint64_t word : polynomial) {
        for (unsigned bit = 0; bit < 64; ++bit) {
            if ((word >> bit & 1U) != 0) {
                for (std::size_t i = 0; i < landed.size(); ++i)
                    landed[i] ^= state_[i];
            }
            (*this)();
        }
    }
    state_ = landed;
}

void RandomStream::jump() {
    jump_by({0x180EC6D33CFD0ABAU, 0xD5A61266F0C9392CU, 0xA9582618E03FC9AAU, 0x39ABDC4529B1661CU});
}

void RandomStream::long_jump() {
    jump_by({0x76E15D3EFEFDCBBFU, 0xC5004E441C522FB3U, 0x77710069854EE241U, 0x39109BB02ACBE635U});
}

} // namespace stillmark::metrology
