#pragma once

#include "daemon/journal/journal.hpp"

#include <cmath>
#include <random>
#include <vector>

namespace stillmark::figures {

inline constexpr std::size_t channels = 64;

/// 64 channels at 10 Hz, their polls spread over the period, each a bar value of five places with noise.
inline std::vector<journal::ReadingRecord> invented_readings(std::size_t count) {
    std::mt19937_64 draw(1);
    std::normal_distribution<double> noise(0, 1);
    std::vector<journal::ReadingRecord> readings;
    readings.reserve(count);
    for (std::size_t i = 0; i < count; ++i) {
        const double bar = 40.0 + static_cast<double>(i % channels) + 0.0005 * noise(draw);
        readings.push_back({i + 1, static_cast<std::uint32_t>(i % channels),
                            static_cast<std::uint32_t>(std::lround(400 + std::abs(60 * noise(draw)))),
                            static_cast<std::int64_t>(i) * 1562 + std::lround(40 * noise(draw)),
                            std::round(bar * 1e5) / 1e5 * 1e5, 0});
    }
    return readings;
}

} // namespace stillmark::figures
