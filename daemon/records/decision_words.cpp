#include "daemon/records/decision_words.hpp"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

namespace stillmark::records {

using metrology::ByRatio;
using metrology::Rule;
using metrology::Verdict;

namespace {

std::string digits(const Words& words, double value) {
    return words.number(fmt::format("{:.6g}", value));
}
std::string per_cent(const Words& words, double part) {
    constexpr double of_two_decimals = 1e4, hundred = 100;
    return digits(words, std::round(part * of_two_decimals) / hundred) + " %";
}

/// The part of a normal distribution beyond z standard deviations, on one side.
double beyond(double z) {
    return std::erfc(z / std::numbers::sqrt2) / 2;
}

std::string by_ratio_words(ByRatio by, const Words& words) {
    switch (by) {
    case ByRatio::root_sum_of_squares:
        return words("factor RSS");
    case ByRatio::whole_u:
        return words("factor whole U");
    case ByRatio::from_four:
        return words("factor from four");
    case ByRatio::managed_risk:
        return words("factor managed risk");
    }
    return {};
}

} // namespace

std::string decision_words(const metrology::DecisionRule& rule, const Words& words, const std::string& unit) {
    switch (rule.rule) {
    case Rule::simple_acceptance:
        return words("rule simple acceptance");
    case Rule::guard_band: {
        const std::string statements = rule.non_binary ? words("rule non-binary") : "";
        if (rule.by_ratio)
            return words("rule by ratio", {{"factor", by_ratio_words(*rule.by_ratio, words)}}) + statements;
        return words("rule guard band", {{"factor", digits(words, rule.guard_factor)},
                                         {"risk", per_cent(words, beyond(2 * rule.guard_factor))}}) +
               statements;
    }
    case Rule::specific_risk:
        return words("rule specific risk", {{"risk", per_cent(words, rule.risk)}});
    case Rule::global_risk:
        return words("rule global risk", {{"risk", per_cent(words, rule.risk)}}) +
               (rule.process ? words("rule process", {{"mean", digits(words, rule.process->mean)},
                                                      {"sd", digits(words, rule.process->sd)},
                                                      {"unit", unit}})
                             : std::string());
    case Rule::uncertainty_ratio:
        return words("rule uncertainty ratio", {{"ratio", digits(words, rule.least_ratio)}});
    }
    return {};
}

std::string verdict_words(const std::optional<Verdict>& verdict, const Words& words) {
    if (!verdict) return words("no verdict");
    switch (*verdict) {
    case Verdict::pass:
        return words("pass");
    case Verdict::conditional_pass:
        return words("conditional pass");
    case Verdict::conditional_fail:
        return words("conditional fail");
    case Verdict::fail:
        return words("fail");
    }
    return {};
}

} // namespace stillmark::records
