#include "daemon/metrology/evaluation/conformity.hpp"

#include "daemon/metrology/at_most.hpp"
#include "daemon/metrology/evaluation/unsaid.hpp"
#include "daemon/metrology/propagation/coverage_factor.hpp"

#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/special_functions/owens_t.hpp>

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

/// Student's t with `dof` degrees of freedom lies below z, for any z.
double t_below(double z, double dof) {
    if (std::isinf(z)) return z > 0 ? 1 : 0;
    return boost::math::cdf(boost::math::students_t(dof), z);
}

/// Phi(b) - Phi(a) for a <= b without losing the tail in which both lie.
double between(double a, double b) {
    return a > 0 ? phi(-a) - phi(-b) : phi(b) - phi(a);
}

/// T(h, a), for any a.
double owens_t(double h, double a) {
    constexpr double as_good_as_infinite = 1e15;
    if (std::abs(a) > as_good_as_infinite) return std::copysign(phi(-std::abs(h)) / 2, a);
    return boost::math::owens_t(h, a);
}

/// Probability that both of two standard normal quantities lie below h and k; their correlation is r, and `rest` the
/// root of 1 - r^2, which the caller knows without cancellation (D. B. Owen, Ann. Math. Stat. 27 (1956) 1075, eq. 2.1).
double both_below(double h, double k, double r, double rest) {
    constexpr double tiny = 1e-200; // at zero itself the slopes below are 0/0
    if (h == 0) h = tiny;
    if (k == 0) k = tiny;
    rest = std::max(rest, tiny);
    const double apart = (h > 0) == (k > 0) ? 0 : 0.5;
    return (phi(h) + phi(k)) / 2 - owens_t(h, (k - r * h) / (h * rest)) - owens_t(k, (h - r * k) / (k * rest)) - apart;
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

double probability_within(double estimate, double u, double lowest, double highest, double dof) {
    if (!(u > 0)) return estimate >= lowest && estimate <= highest ? 1 : 0;
    const double a = (lowest - estimate) / u, b = (highest - estimate) / u;
    if (std::isinf(dof)) return between(a, b);
    return a > 0 ? t_below(-a, dof) - t_below(-b, dof) : t_below(b, dof) - t_below(a, dof);
}

GlobalRisk global_risk(const Process& process, double u, double permissible, double acceptance) {
    // Truth and measured value are two correlated normal quantities about the same mean.
    const double measured_sd = std::hypot(process.sd, u);
    const double r = process.sd / measured_sd, rest = u / measured_sd;
    const auto truth = [&](double x) { return (x - process.mean) / process.sd; };
    const auto measured = [&](double x) { return (x - process.mean) / measured_sd; };
    const double conforming = between(truth(-permissible), truth(permissible));
    if (!(acceptance > 0)) return {0, conforming};
    const double low = measured(-acceptance), high = measured(acceptance);
    const double below = truth(-permissible), above = -truth(permissible); // above: of the mirrored truth
    GlobalRisk risk;
    risk.false_accept = both_below(below, high, r, rest) - both_below(below, low, r, rest) +
                        both_below(above, high, -r, rest) - both_below(above, low, -r, rest);
    risk.false_reject = conforming - between(low, high) + risk.false_accept;
    return risk;
}

std::optional<double> guard_band(const Judged& what, const DecisionRule& rule) {
    switch (rule.rule) {
    case Rule::simple_acceptance:
        return 0.0;
    case Rule::guard_band:
        if (rule.by_ratio)
            return what.permissible * (1 - acceptance_factor(*rule.by_ratio, what.permissible / what.expanded));
        return rule.guard_factor * what.expanded;
    case Rule::specific_risk:
        return what.u * t_quantile(1 - rule.risk, what.dof);
    case Rule::global_risk:
        return global_guard_band(what, rule);
    case Rule::uncertainty_ratio:
        if (at_most(rule.least_ratio * what.expanded, what.permissible)) return 0.0;
        break;
    }
    return std::nullopt;
}

std::optional<double> acceptance_limit(const Judged& what, const DecisionRule& rule) {
    if (rule.rule != Rule::specific_risk) {
        const auto w = guard_band(what, rule);
        return w && std::isfinite(*w) ? std::optional(what.permissible - *w) : std::nullopt;
    }
    const auto conforms = [&](double deviation) {
        return 1 - probability_within(deviation, what.u, -what.permissible, what.permissible, what.dof) <= rule.risk;
    };
    if (!conforms(0)) return 0.0;
    double accepted = 0, beyond = what.permissible;
    if (conforms(beyond)) return beyond; // no uncertainty: a limit is not beyond itself
    constexpr int halvings = 60;
    for (int i = 0; i < halvings; ++i) {
        const double middle = (accepted + beyond) / 2;
        (conforms(middle) ? accepted : beyond) = middle;
    }
    return accepted;
}

std::optional<Verdict> judge(const Judged& what, const DecisionRule& rule) {
    if (!std::isfinite(what.deviation) || !std::isfinite(what.permissible)) return std::nullopt;
    const double size = std::abs(what.deviation);
    const auto accepted = acceptance_limit(what, rule);
    if (!accepted) return std::nullopt;
    const double w = what.permissible - *accepted;
    if (!(*accepted > 0) && w > 0) {
        const double taken_off = rule.rule == Rule::guard_band && !rule.by_ratio ? w : std::max(w, what.expanded);
        return size > what.permissible + taken_off ? std::optional(Verdict::fail) : std::nullopt;
    }
    if (rule.rule == Rule::specific_risk)
        return yes_or_no(
            1 - probability_within(what.deviation, what.u, -what.permissible, what.permissible, what.dof) <= rule.risk);
    if (!rule.non_binary || rule.rule != Rule::guard_band) return yes_or_no(size <= *accepted);
    if (size <= *accepted) return Verdict::pass;
    if (size <= what.permissible) return Verdict::conditional_pass;
    return size <= what.permissible + w ? Verdict::conditional_fail : Verdict::fail;
}

const char* word(ByRatio by) {
    switch (by) {
    case ByRatio::root_sum_of_squares:
        return "RSS";
    case ByRatio::whole_u:
        return "1 - 1/TUR";
    case ByRatio::from_four:
        return "1.25 - 1/TUR";
    case ByRatio::managed_risk:
        return "managed risk";
    }
    return "";
}

const char* word(Rule rule) {
    switch (rule) {
    case Rule::simple_acceptance:
        return "simple acceptance";
    case Rule::guard_band:
        return "guard band";
    case Rule::specific_risk:
        return "specific risk";
    case Rule::global_risk:
        return "global risk";
    case Rule::uncertainty_ratio:
        return "test uncertainty ratio";
    }
    return "";
}

std::string words(const DecisionRule& rule) {
    const auto per_cent = [](double part) {
        constexpr double of_three_digits = 1e4;
        return number(std::round(part * of_three_digits) / 100) + " %";
    };
    switch (rule.rule) {
    case Rule::simple_acceptance:
        return "simple acceptance (ILAC-G8:09/2019, 4.2.1): accepted up to the permissible error, with a risk of false "
               "acceptance of up to 50 % for a deviation at it";
    case Rule::guard_band: {
        const std::string statements = rule.non_binary ? "; conditional pass and fail within the guard band" : "";
        if (rule.by_ratio)
            return std::string("guard band by the test uncertainty ratio, ") + word(*rule.by_ratio) +
                   (*rule.by_ratio == ByRatio::managed_risk ? ": at most 2 % false accepts"
                                                            : ": its risk of false acceptance depends on the ratio") +
                   statements;
        return "guard band w = " + number(rule.guard_factor) +
               " U (ILAC-G8:09/2019, 4.2.2): accepted up to the permissible error less w, with a risk of false "
               "acceptance of at most " +
               per_cent(phi(-2 * rule.guard_factor)) + " where U = 2 u" + statements;
    }
    case Rule::specific_risk:
        return "specific risk (JCGM 106:2012, 8.3): accepted where the probability of not conforming is at most " +
               per_cent(rule.risk);
    case Rule::global_risk:
        return "global risk (JCGM 106:2012, 9): of items of the stated process at most " + per_cent(rule.risk) +
               " are accepted that do not conform";
    case Rule::uncertainty_ratio:
        return "accepted up to the permissible error where that is at least " + number(rule.least_ratio) +
               " U (ANSI/NCSL Z540.3, where the risk of false acceptance cannot be estimated): of the least favourable "
               "process 2.24 % are accepted that do not conform where it is 4 U";
    }
    return {};
}

double acceptance_factor(ByRatio by, double ratio) {
    double factor = 0;
    switch (by) {
    case ByRatio::root_sum_of_squares:
        factor = ratio > 1 ? std::sqrt(1 - 1 / (ratio * ratio)) : 0;
        break;
    case ByRatio::whole_u:
        factor = 1 - 1 / ratio;
        break;
    case ByRatio::from_four:
        factor = 1.25 - 1 / ratio;
        break;
    case ByRatio::managed_risk:
        factor = 1 - (1.04 - std::exp(0.38 * std::log(ratio) - 0.54)) / ratio;
        break;
    }
    return factor > 0 ? std::min(factor, 1.0) : 0; // a ratio that is no number accepts nothing
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
