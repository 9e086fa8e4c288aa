// Marks taken over simulated episodes: how long after an oracle, and how often on a pressure that was not still.
// An episode is a step of pressure through a first-order instrument, with or without heat leaving the oil afterwards or
// a leak that goes on, and noise correlated by the response time. The oracle knows the true slope: it waits until that
// is under its limit for good, then the three windows that the rule asks for (first pass, hold, mark).
#include "daemon/acquisition/stillness.hpp"
#include "daemon/acquisition/window_collector.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <random>
#include <vector>

namespace {

using namespace stillmark;
using namespace stillmark::acquisition;

constexpr double response_s = 0.05;
constexpr double poll_s = 0.025;
constexpr Micros poll_us = 25'000;
constexpr double mpe_pa = 5e4;

/// The true pressure as the instrument feels it.
struct Episode {
    double step_pa, tail_pa, tail_s, leak_pa_per_s, noise_pa, correlation;
    double pressure(double t) const {
        return 4e6 + step_pa * std::exp(-t / response_s) + tail_pa * std::exp(-t / tail_s) - leak_pa_per_s * t;
    }
    double mean_slope(double from_s, double to_s) const {
        return (pressure(to_s) - pressure(from_s)) / (to_s - from_s);
    }
};

struct Mark {
    double from_s, to_s;
};

std::optional<Mark> first_mark(const Episode& episode, const StillnessLimits& limits, double longest_s,
                               std::mt19937_64& random) {
    std::normal_distribution<double> normal;
    const double r = episode.correlation;
    StillnessDetector detector(limits);
    std::optional<WindowCollector> collector;
    double noise = normal(random);
    std::uint64_t number = 0;
    for (double t = -0.5; t < longest_s; t += poll_s) { // half a second of the pressure before
        noise = r * noise + std::sqrt(1 - r * r) * normal(random);
        const double truth = t < 0 ? 4e6 + episode.step_pa + episode.tail_pa : episode.pressure(t);
        const TimedValue reading{std::llround(1e6 * t), truth + episode.noise_pa * noise, true};
        const bool still = detector.push(reading) == Stillness::still;
        ++number;
        if (!collector && still) {
            collector.emplace(reading.at_us + 1, limits); // the window begins after the reading that said so
        } else if (collector && collector->take(number, reading)) {
            if (measure_window(collector->readings(), limits).failing == Criterion::none)
                return Mark{1e-6 * static_cast<double>(collector->from_us()),
                            1e-6 * static_cast<double>(collector->to_us())};
            collector.reset();
        }
    }
    return std::nullopt;
}

struct Kind {
    const char* name;
    bool tail;
    bool leak;
    bool correlated;
};

double share(std::vector<double>& values, double of) {
    std::sort(values.begin(), values.end());
    return values.empty() ? std::nan("")
                          : values[static_cast<std::size_t>(of * static_cast<double>(values.size() - 1))];
}

} // namespace

int main() {
    constexpr int episodes = 6'000; // of each kind
    StillnessLimits limits = default_limits(response_s, poll_s, 0, mpe_pa);
    limits.window_s = limits.hold_s = 20 * response_s;
    const double slope_limit = limits.drift_limit_pa / limits.window_s;
    const double rule_s = limits.window_s + limits.hold_s + limits.window_s;
    fmt::print(
        "Marks over {} episodes of each kind, window {} s (goals: delay <= 1.15 of the oracle's, false marks < 1e-4)\n",
        episodes, limits.window_s);
    int false_marks = 0;
    int all = 0;
    for (const Kind& kind :
         {Kind{"a step, white noise", false, false, false}, Kind{"a step, correlated noise", false, false, true},
          Kind{"a step and a tail, white noise", true, false, false},
          Kind{"a step and a tail, correlated noise", true, false, true},
          Kind{"a step and a leak, white noise", false, true, false},
          Kind{"a step and a leak, correlated noise", false, true, true}}) {
        std::mt19937_64 random(17);
        std::uniform_real_distribution<double> uniform;
        std::vector<double> ratios;
        int marks = 0;
        int false_here = 0;
        for (int i = 0; i < episodes; ++i) {
            Episode episode{};
            episode.step_pa = 1e6 * std::pow(10, uniform(random));
            episode.noise_pa = limits.drift_limit_pa * std::pow(10, -2.5 + 1.3 * uniform(random));
            episode.correlation = kind.correlated ? std::exp(-poll_s / response_s) : 0;
            episode.tail_s = kind.tail ? 0.5 * std::pow(20, uniform(random)) : 1;
            episode.tail_pa = kind.tail ? 10 * slope_limit * episode.tail_s * uniform(random) : 0;
            episode.leak_pa_per_s = kind.leak ? slope_limit * (2 + 4 * uniform(random)) : 0;
            // A leak ends by itself after twenty windows of temptation; nothing else lasts this long.
            const double longest_s = kind.leak ? 20 * limits.window_s : 200 * limits.window_s;
            double settled_s = 0;
            while (settled_s < longest_s && std::abs(episode.mean_slope(settled_s, settled_s + 1e-3)) > slope_limit)
                settled_s += 1e-3;
            const auto mark = first_mark(episode, limits, longest_s, random);
            if (!mark) continue;
            ++marks;
            false_here += std::abs(episode.mean_slope(mark->from_s, mark->to_s)) > 2 * slope_limit ? 1 : 0;
            if (!kind.leak) ratios.push_back(mark->to_s / (settled_s + rule_s));
        }
        false_marks += false_here;
        all += episodes;
        fmt::print("  {:<36} {:>5} marks, {} of them false", kind.name, marks, false_here);
        if (!ratios.empty())
            fmt::print("; time to the mark over the oracle's: median {:.3f}, 95 % {:.3f}, 99 % {:.3f}",
                       share(ratios, 0.5), share(ratios, 0.95), share(ratios, 0.99));
        fmt::print("\n");
    }
    fmt::print("  false marks: {} in {} episodes\n", false_marks, all);
}
