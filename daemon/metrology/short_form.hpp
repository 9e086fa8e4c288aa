#pragma once

#include <array>
#include <limits>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::metrology {

/// How a certificate states the uncertainty of a range in short: a + b p, here as standard uncertainty. One line of the
/// budget then stands for all that it covers; what it does not cover keeps its own line.
struct ShortForm {
    double constant_pa = 0; ///< a
    double of_pressure = 0; ///< b, relative
    double dof = std::numeric_limits<double>::infinity();
    std::vector<std::string> covers; ///< of short_form_may_cover
};

/// What the certificate of a range can answer for. Not among them, because no calibration laboratory can know them: the
/// user's local gravity, air, piston temperature, levels and float height, and the drift since the calibration.
inline constexpr std::array<std::string_view, 9> short_form_may_cover{
    "effective area",      "thermal expansion", "distortion coefficient", "masses",
    "densities of masses", "surface tension",   "circumference",          "tilt",
    "immersed volume"};

} // namespace stillmark::metrology
