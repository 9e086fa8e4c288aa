#pragma once

#include <cstddef>

namespace stillmark::bench {

/// What one channel shows now.
struct SeenReading {
    std::size_t channel = 0;
    double value_pa = 0;
    double drift_pa_per_s = 0;
};

} // namespace stillmark::bench
