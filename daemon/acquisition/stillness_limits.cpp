#include "daemon/acquisition/line_judgement.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace stillmark::acquisition {

namespace {

// A limit computed from decimal text may miss its own figure by a rounding; a person who typed 0.6 s meant 0.6 s.
constexpr double rounding = 1 + 1e-9;

/// Independent readings that a window offers at best: the response time alone correlates neighbours.
double independent_at_best(double window_s, double poll_interval_s, double response_time_s) {
    const double n = std::floor(window_s / poll_interval_s * rounding) + 1;
    const double r = std::max(1 / n, std::exp(-poll_interval_s / response_time_s));
    return n * (1 - r) / (1 + r);
}

double least_window_for_independence(const StillnessLimits& limits) {
    double window_s = limits.window_s;
    while (independent_at_best(window_s, limits.poll_interval_s, limits.response_time_s) < least_independent)
        window_s += limits.poll_interval_s;
    return window_s;
}

bool positive(double x) {
    return std::isfinite(x) && x > 0;
}

std::string objection_to_times(const StillnessLimits& limits) {
    if (!positive(limits.response_time_s))
        return fmt::format("response time {:g} s is not above zero; give the time of a first-order response",
                           limits.response_time_s);
    if (!positive(limits.poll_interval_s))
        return fmt::format("polling interval {:g} s is not above zero", limits.poll_interval_s);
    const double least_window_s = 12 * limits.response_time_s;
    if (!positive(limits.window_s) || limits.window_s * rounding < least_window_s)
        return fmt::format("window {:g} s is under 12 response times; use at least {:g} s", limits.window_s,
                           least_window_s);
    if (!(std::isfinite(limits.hold_s) && limits.hold_s >= 0))
        return fmt::format("hold {:g} s is below zero; leave it out to use the window, {:g} s", limits.hold_s,
                           limits.window_s);
    return {};
}

std::string objection_to_counts(const StillnessLimits& limits) {
    if (limits.least_readings < least_independent)
        return fmt::format("least count of readings {} is under {:g}; use at least {:g}", limits.least_readings,
                           least_independent, least_independent);
    const double intervals = limits.least_readings - 1;
    if (limits.window_s * rounding < intervals * limits.poll_interval_s)
        return fmt::format("window {:g} s holds fewer than {} readings {:g} s apart; use a window of at least {:g} s "
                           "or poll every {:g} s",
                           limits.window_s, limits.least_readings, limits.poll_interval_s,
                           intervals * limits.poll_interval_s, limits.window_s / intervals);
    if (independent_at_best(limits.window_s, limits.poll_interval_s, limits.response_time_s) < least_independent)
        return fmt::format("window {:g} s holds fewer than {:g} independent readings at a response time of {:g} s; use "
                           "at least {:g} s",
                           limits.window_s, least_independent, limits.response_time_s,
                           least_window_for_independence(limits));
    return {};
}

std::string objection_to_pressures(const StillnessLimits& limits) {
    if (!(std::isfinite(limits.resolution_pa) && limits.resolution_pa >= 0))
        return fmt::format("resolution {:g} Pa is below zero", limits.resolution_pa);
    if (!positive(limits.drift_limit_pa))
        return fmt::format("drift limit {:g} Pa is not above zero; state it or the permissible error",
                           limits.drift_limit_pa);
    if (!positive(limits.scatter_limit_pa))
        return fmt::format("scatter limit {:g} Pa is not above zero; state it or the permissible error",
                           limits.scatter_limit_pa);
    const double least_drift_pa = 1.5 * limits.resolution_pa;
    if (limits.drift_limit_pa * rounding < least_drift_pa)
        return fmt::format("drift limit {:g} Pa over the window cannot be shown with a resolution of {:g} Pa; use at "
                           "least {:g} Pa",
                           limits.drift_limit_pa, limits.resolution_pa, least_drift_pa);
    return {};
}

} // namespace

Allowed::Allowed(const StillnessLimits& limits)
    : least_readings(static_cast<std::size_t>(std::max(3, limits.least_readings))),
      least_bound_pa_per_s(limits.resolution_pa / limits.window_s),
      most_bound_pa_per_s(limits.drift_limit_pa / std::max(limits.window_s, 5 * limits.response_time_s)),
      most_scatter_pa(limits.scatter_limit_pa) {}

StillnessLimits default_limits(double response_time_s, double poll_interval_s, double resolution_pa, double mpe_pa) {
    StillnessLimits limits;
    limits.response_time_s = response_time_s;
    limits.poll_interval_s = poll_interval_s;
    limits.resolution_pa = resolution_pa;
    limits.window_s = std::max(20 * response_time_s, 3.0);
    limits.hold_s = limits.window_s;
    limits.drift_limit_pa = std::max(0.05 * mpe_pa, 2 * resolution_pa);
    limits.scatter_limit_pa = std::max(0.1 * mpe_pa, 2 * resolution_pa);
    return limits;
}

std::string objection_to(const StillnessLimits& limits) {
    for (const auto objection : {objection_to_times, objection_to_counts, objection_to_pressures})
        if (std::string words = objection(limits); !words.empty()) return words;
    return {};
}

const char* word(Stillness stillness) {
    switch (stillness) {
    case Stillness::moving:
        return "moving";
    case Stillness::settling:
        return "settling";
    case Stillness::still:
        return "still";
    case Stillness::silent:
        return "silent";
    case Stillness::faulty:
        return "faulty";
    }
    return "unknown";
}

const char* word(Criterion criterion) {
    switch (criterion) {
    case Criterion::none:
        return "nothing";
    case Criterion::readings:
        return "a failed reading";
    case Criterion::gap:
        return "a gap in the readings";
    case Criterion::count:
        return "too few readings yet";
    case Criterion::independence:
        return "too few independent readings";
    case Criterion::drift:
        return "the drift bound";
    case Criterion::scatter:
        return "the scatter";
    }
    return "unknown";
}

} // namespace stillmark::acquisition
