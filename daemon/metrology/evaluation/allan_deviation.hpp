#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace stillmark::metrology {

/// One deviation and the number of differences that it is the mean of.
struct DeviationOfTerms {
    double deviation = 0;
    std::size_t terms = 0;
};

/// Deviations at one averaging time; nothing where there are too few values.
struct StabilityAt {
    std::size_t intervals = 1; ///< m: the averaging time tau in sampling intervals
    std::optional<DeviationOfTerms> adev;
    std::optional<DeviationOfTerms> overlapping;
    std::optional<DeviationOfTerms> modified;
    std::optional<double> tdev; ///< tau MDEV / sqrt 3, tau in sampling intervals
};

/// Allan deviations of equally spaced values, each the mean over its sampling interval, at the averaging times of 1, 2,
/// 4 ... sampling intervals for which there are two averages: the Allan, the overlapping Allan, the modified Allan and
/// the time deviation (IEEE Std 1139-2008; NIST SP 1065, 5.2, in the form for phase data, the running sum of the
/// values). In the unit of the values. Linear in the number of values for each averaging time. Nothing for fewer than
/// two values or one that is no number.
std::vector<StabilityAt> allan_deviations(std::span<const double> values);

} // namespace stillmark::metrology
