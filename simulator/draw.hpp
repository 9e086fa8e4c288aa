#pragma once

#include <cstdint>
#include <random>
#include <string_view>

namespace stillmark::simulator {

/// A stream of random numbers that is the same on every machine: std::mt19937_64 is fixed by the standard, and the
/// distributions are made here because the standard library's are not.
class Stream {
  public:
    /// Streams of different names are independent, so that a new quantity does not shift the others.
    Stream(std::uint64_t seed, std::string_view name);

    double uniform(); ///< over 0 and below 1
    double normal();  ///< mean 0, standard deviation 1
    std::uint64_t bits() { return engine_(); }

  private:
    std::mt19937_64 engine_;
};

enum class Shape { exact, normal, rectangular, triangular };

/// A value as a file states it. `spread` is the standard uncertainty of a normal shape and the half width of the
/// others.
struct Stated {
    double value = 0;
    double spread = 0;
    Shape shape = Shape::exact;
};

/// What the value might truly be. Equal names give equal deviations in units of the spread: that is how pieces of one
/// certificate are correlated.
double drawn(const Stated& stated, std::uint64_t seed, std::string_view name);

} // namespace stillmark::simulator
