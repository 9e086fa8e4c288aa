#include "daemon/metrology/evaluation/conformity.hpp"

#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/gauss.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace stillmark::metrology {

namespace {

const boost::math::normal standard_normal;

/// Phi, for any argument: Boost refuses infinities only as an error of domain for the mean, not here.
double phi(double z) {
    if (std::isinf(z)) return z > 0 ? 1 : 0;
    return boost::math::cdf(standard_normal, z);
}

/// Phi(b) - Phi(a) for a <= b without losing the tail in which both lie.
double between(double a, double b) {
    return a > 0 ? phi(-a) - phi(-b) : phi(b) - phi(a);
}

/// Integral of f weighted with the process, over [from, to]; f changes over `width`, and steps are no longer than that.
template <class Function>
double over_process(const Process& process, double from, double to, double width, Function f) {
    constexpr double far = 9; // beyond, a normal distribution holds less than 2e-19
    const double a = std::max((from - process.mean) / process.sd, -far);
    const double b = std::min((to - process.mean) / process.sd, far);
    if (!(a < b)) return 0;
    const auto weighted = [&](double z) {
        return boost::math::pdf(standard_normal, z) * f(process.mean + process.sd * z);
    };
    constexpr double least_steps = 16, most_steps = 2000;
    const double steps = std::clamp(std::ceil((b - a) * process.sd / width), least_steps, most_steps);
    double sum = 0;
    for (double i = 0; i < steps; ++i)
        sum += boost::math::quadrature::gauss<double, 15>::integrate(weighted, a + (b - a) * i / steps,
                                                                     a + (b - a) * (i + 1) / steps);
    return sum;
}

/// The guard band that keeps the global risk: the risk falls as the acceptance narrows.
std::optional<double> global_guard_band(const Judged& what, const DecisionRule& rule) {
    if (!rule.process || !(rule.process->sd > 0) || !(what.u > 0)) return std::nullopt;
    const auto risk = [&](double w) {
        return global_risk(*rule.process, what.u, what.permissible, what.permissible - w).false_accept;
    };
    if (risk(0) <= rule.risk) return 0.0;
    double low = 0, high = what.permissible;
    if (!(risk(high) <= rule.risk)) return std::nullopt;
    constexpr int halvings = 60;
    for (int i = 0; i < halvings; ++i) {
        const double middle = (low + high) / 2;
        (risk(middle) <= rule.risk ? high : low) = middle;
    }
    return high;
}

Verdict yes_or_no(bool yes) {
    return yes ? Verdict::pass : Verdict::fail;
}

} // namespace

const char* word(Verdict verdict) {
    switch (verdict) {
    case Verdict::pass:
        return "pass";
    case Verdict::conditional_pass:
        return "conditional pass";
    case Verdict::conditional_fail:
        return "conditional fail";
    case Verdict::fail:
        return "fail";
    }
    return "";
}

Verdict worse(Verdict a, Verdict b) {
    return std::max(a, b);
}

double probability_within(double estimate, double u, double lowest, double highest) {
    if (!(u > 0)) return estimate >= lowest && estimate <= highest ? 1 : 0;
    return between((lowest - estimate) / u, (highest - estimate) / u);
}

GlobalRisk global_risk(const Process& process, double u, double permissible, double acceptance) {
    const double infinity = std::numeric_limits<double>::infinity();
    const auto accepted = [&](double truth) {
        return acceptance > 0 ? probability_within(truth, u, -acceptance, acceptance) : 0;
    };
    GlobalRisk risk;
    risk.false_accept = over_process(process, -infinity, -permissible, u, accepted) +
                        over_process(process, permissible, infinity, u, accepted);
    risk.false_reject =
        over_process(process, -permissible, permissible, u, [&](double truth) { return 1 - accepted(truth); });
    return risk;
}

std::optional<double> guard_band(const Judged& what, const DecisionRule& rule) {
    switch (rule.rule) {
    case Rule::simple_acceptance:
        return 0.0;
    case Rule::guard_band:
        return rule.guard_factor * what.expanded;
    case Rule::specific_risk:
        return what.u * boost::math::quantile(boost::math::complement(standard_normal, rule.risk));
    case Rule::global_risk:
        return global_guard_band(what, rule);
    }
    return std::nullopt;
}

std::optional<Verdict> judge(const Judged& what, const DecisionRule& rule) {
    if (!std::isfinite(what.deviation) || !std::isfinite(what.permissible)) return std::nullopt;
    const double size = std::abs(what.deviation);
    if (rule.rule == Rule::specific_risk) {
        const double conforming = probability_within(what.deviation, what.u, -what.permissible, what.permissible);
        return yes_or_no(1 - conforming <= rule.risk);
    }
    const auto w = guard_band(what, rule);
    if (!w || !std::isfinite(*w)) return std::nullopt;
    if (!rule.non_binary || rule.rule != Rule::guard_band) return yes_or_no(size <= what.permissible - *w);
    if (size <= what.permissible - *w) return Verdict::pass;
    if (size <= what.permissible) return Verdict::conditional_pass;
    return size <= what.permissible + *w ? Verdict::conditional_fail : Verdict::fail;
}

double capability_index(double lowest, double highest, double u) {
    return (highest - lowest) / (4 * u);
}

double process_capability(const Process& process, double lowest, double highest) {
    return std::min(highest - process.mean, process.mean - lowest) / (3 * process.sd);
}

double normalized_error(double a, double expanded_a, double b, double expanded_b) {
    return std::abs(a - b) / std::hypot(expanded_a, expanded_b);
}

} // namespace stillmark::metrology
