#include "simulator/draw.hpp"

#include <cmath>

namespace stillmark::simulator {

namespace {

/// FNV-1a, 64 bits: spreads names over the seeds.
std::uint64_t digest(std::uint64_t seed, std::string_view name) {
    std::uint64_t hash = 0xcbf29ce484222325ULL ^ (seed * 0x9e3779b97f4a7c15ULL);
    for (const char letter : name) {
        hash ^= static_cast<unsigned char>(letter);
        hash *= 0x100000001b3ULL;
    }
    return hash;
}

} // namespace

Stream::Stream(std::uint64_t seed, std::string_view name) : engine_(digest(seed, name)) {}

double Stream::uniform() {
    return (static_cast<double>(engine_() >> 11U) + 0.5) * 0x1p-53;
}

double Stream::normal() {
    // Box and Muller (Ann. Math. Stat. 29 (1958) 610); the second number is dropped, so that a call is one draw.
    const double radius = std::sqrt(-2.0 * std::log(uniform()));
    return radius * std::cos(2.0 * 3.14159265358979323846 * uniform());
}

double drawn(const Stated& stated, std::uint64_t seed, std::string_view name) {
    Stream stream(seed, name);
    switch (stated.shape) {
    case Shape::normal:
        return stated.value + stated.spread * stream.normal();
    case Shape::rectangular:
        return stated.value + stated.spread * (2 * stream.uniform() - 1);
    case Shape::triangular:
        return stated.value + stated.spread * (stream.uniform() + stream.uniform() - 1);
    case Shape::exact:
        break;
    }
    return stated.value;
}

} // namespace stillmark::simulator
