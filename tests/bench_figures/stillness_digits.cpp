// Digits of the sliding window after 1e8 readings at 1000 bar with 1 mPa of noise and steps of pressure, against two
// passes over the same readings.
#include "daemon/acquisition/sliding_window.hpp"
#include "daemon/acquisition/stillness.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

int main() {
    using namespace stillmark;
    using namespace stillmark::acquisition;
    constexpr std::size_t window = 500;
    constexpr std::size_t total = 100'000'000;
    constexpr std::size_t between_steps = 1'000'003;
    constexpr Micros poll_us = 10'000;
    std::mt19937_64 random(3);
    std::normal_distribution<double> normal;
    std::vector<double> noise(1 << 16);
    for (double& value : noise)
        value = 1e-3 * normal(random);

    StillnessLimits limits = default_limits(0.1, 0.01, 0, 1);
    limits.window_s = 0.01 * (window - 1);
    SlidingWindow sliding(window, 8 * window);
    std::vector<TimedValue> kept(window);
    double level = 1e8;
    double worst_scatter = 0;
    double worst_slope = 0;
    std::size_t compared = 0;
    for (std::size_t i = 0; i < total; ++i) {
        if (i % between_steps == between_steps - 1) level = 1e8 * (0.1 + std::abs(normal(random)));
        const TimedValue reading{static_cast<Micros>(i) * poll_us, level + noise[(i * 40'503) % noise.size()], true};
        kept[i % window] = reading;
        sliding.push(reading.at_us, reading.value_pa);
        sliding.reach_back_to(reading.at_us - static_cast<Micros>(window - 1) * poll_us);
        const LineFit& fit = sliding.fit();
        // Each reading just after a step has left the window, and one in 9973 besides.
        const std::size_t since_step = (i + 1) % between_steps;
        if (i < window || since_step < window || (since_step > window + 20 && i % 9973 != 0)) continue;
        std::vector<TimedValue> readings;
        for (std::size_t k = 0; k < window; ++k)
            readings.push_back(kept[(i + 1 + k) % window]);
        const WindowStatistics measured = measure_window(readings, limits);
        const double scatter = std::sqrt(fit.residual_pa2 / (window - 2));
        worst_scatter = std::max(worst_scatter, std::abs(scatter / measured.scatter_pa - 1));
        worst_slope = std::max(worst_slope, std::abs(fit.slope_pa_per_s - measured.slope_pa_per_s) /
                                                (measured.scatter_pa / std::sqrt(fit.sxx_s2)));
        ++compared;
    }
    fmt::print("Sliding window after {:.0e} readings and {} steps, {} windows compared with two passes (goal 1e-10)\n"
               "  worst relative error of the scatter {:.1e}; of the slope in its standard errors {:.1e}\n",
               static_cast<double>(total), total / between_steps, compared, worst_scatter, worst_slope);
}
