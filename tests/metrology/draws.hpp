#pragma once

#include "daemon/metrology/uncertain.hpp"

#include <cmath>
#include <cstddef>
#include <numbers>
#include <random>

namespace stillmark::metrology {

/// One draw of (value - estimate)/u from the distribution (JCGM 101:2008, 6.4).
inline double standard_draw(Distribution distribution, std::mt19937_64& dice) {
    std::uniform_real_distribution<double> unit(0, 1);
    switch (distribution) {
    case Distribution::rectangular:
        return std::sqrt(3.0) * (2 * unit(dice) - 1);
    case Distribution::triangular:
        return std::sqrt(6.0) * (unit(dice) + unit(dice) - 1);
    case Distribution::arcsine:
        return std::sqrt(2.0) * std::sin(2 * std::numbers::pi * unit(dice));
    case Distribution::normal:
        break;
    }
    return std::normal_distribution<double>()(dice);
}

/// Mean and standard deviation of what is added, about a near value so that no digits are lost.
class Sample {
  public:
    explicit Sample(double near) : near_(near) {}
    void add(double x) {
        const double d = x - near_;
        ++n_;
        sum_ += d;
        squares_ += d * d;
    }
    double mean_from_near() const { return sum_ / static_cast<double>(n_); }
    double deviation() const {
        const double n = static_cast<double>(n_);
        return std::sqrt((squares_ - sum_ * sum_ / n) / (n - 1));
    }

  private:
    double near_;
    std::size_t n_ = 0;
    double sum_ = 0;
    double squares_ = 0;
};

} // namespace stillmark::metrology
