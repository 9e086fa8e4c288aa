#pragma once

#include <cstddef>

namespace stillmark::acquisition {

/// What a least-squares line through a window leaves behind: all that the judgement of a window needs.
struct LineFit {
    std::size_t count = 0;
    double per_count = 0; ///< 1/n, 1/(n - 1) and 1/(n - 2), because dividing is what a reading costs most of its time
    double per_interval = 0;
    double per_freedom = 0;
    double span_s = 0;      ///< last stamp less first stamp
    double mean_time_s = 0; ///< of the stamps, from the origin that the maker of the fit states
    double mean_pa = 0;
    double sxx_s2 = 0; ///< sum of squares of the stamps about their mean
    double slope_pa_per_s = 0;
    double residual_pa2 = 0;  ///< sum of e_i e_i, e the residuals about the line
    double neighbour_pa2 = 0; ///< sum of e_i e_(i+1)
};

} // namespace stillmark::acquisition
