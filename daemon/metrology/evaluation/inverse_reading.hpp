#pragma once

#include "daemon/metrology/evaluation/least_squares.hpp"

#include <cstdint>
#include <optional>

namespace stillmark::metrology {

/// Why a reading gives no reference.
enum class NoInverse : std::uint8_t {
    no_slope,     ///< the curve is level at some reference of the range
    not_monotone, ///< the curve rises and falls in the range: one reading can have several references
    outside,      ///< the curve has this reading at no reference of the range
};
/// "no slope", "not monotone", "outside the range".
const char* word(NoInverse why);

/// The reference that belongs to a reading.
struct InverseReading {
    std::optional<NoInverse> why; ///< nothing: there is a result
    double reference = 0;
    double u = 0; ///< standard
};

/// The reference at which a solved polynomial fit of the reading over the reference has this reading, between the
/// references `low` and `high` of the calibration. With J = (1, x, x^2 ...) and C the covariance of the coefficients,
/// u^2 = (J C J' + u_reading^2) / f'(x)^2: the derivative of the implicit function (for a line ISO/TS 28037:2010, 11).
/// For degrees up to 3. Never extrapolates.
InverseReading reference_of(const LeastSquares& curve, double reading, double u_reading, double low, double high);

} // namespace stillmark::metrology
