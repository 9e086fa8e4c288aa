#include "daemon/metrology/tilt.hpp"

#include <cmath>

namespace stillmark::metrology {

namespace {

double kurtosis(Distribution distribution) {
    switch (distribution) {
    case Distribution::rectangular:
        return 9.0 / 5;
    case Distribution::triangular:
        return 12.0 / 5;
    case Distribution::arcsine:
        return 3.0 / 2;
    case Distribution::normal:
        break;
    }
    return 3;
}

} // namespace

Uncertain tilt_loss(const Uncertain& tilt_rad) {
    const double sine = std::sin(tilt_rad.value);
    const double cosine = std::cos(tilt_rad.value);
    const double half_sine = std::sin(tilt_rad.value / 2);
    const double u2 = tilt_rad.u * tilt_rad.u;
    Uncertain loss = tilt_rad;
    loss.value = 2 * half_sine * half_sine + cosine * u2 / 2; // 1 - cos without its cancellation
    loss.u = std::hypot(sine * tilt_rad.u, cosine * u2 * std::sqrt((kurtosis(tilt_rad.distribution) - 1) / 4));
    return loss;
}

} // namespace stillmark::metrology
