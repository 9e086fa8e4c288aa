#include "daemon/records/basis_figures.hpp"

#include "daemon/metrology/at_most.hpp"
#include "daemon/metrology/rounding.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>

namespace stillmark::records {

namespace {

using metrology::Rule;
using metrology::Verdict;

constexpr int most_further_digits = 9;

Figure at_place(double value, int place) {
    return {value, metrology::rounded(value, place)};
}

/// Three significant digits and `further` ones. From ten thousand on k is 2.00 as for infinitely many, which is written
/// then, unless a verdict hangs on the difference.
Figure degrees_of_freedom(double dof, int further) {
    constexpr double as_good_as_infinite = 1e4;
    if (std::isinf(dof) || (further == 0 && dof >= as_good_as_infinite)) return {dof, infinite_dof};
    return at_place(dof, metrology::place_of(dof) - 1 - further);
}

/// In per cent, two significant digits and `further` ones; of what is hardly possible no more than four decimals.
Figure per_cent(double probability, int further) {
    constexpr double hundred = 100;
    constexpr int finest = -4;
    const double value = std::clamp(probability, 0.0, 1.0) * hundred;
    return at_place(value, std::max(value > 0 ? metrology::place_of(value) : finest, finest) - further);
}

Basis rounded(const metrology::ConformityBasis& from, double scale, double otherwise, int further) {
    constexpr int decimals_of_k = 2;
    const double expanded = from.expanded ? *from.expanded * scale : otherwise;
    const int place = metrology::place_of(expanded) - further;
    Basis out;
    out.deviation = at_place(from.deviation * scale, place);
    if (from.expanded) {
        out.expanded = at_place(expanded, place);
        out.k = at_place(from.k, -decimals_of_k - further);
        out.dof = degrees_of_freedom(from.dof, further);
    }
    if (from.permissible) out.permissible = stated_figure(*from.permissible * scale);
    if (from.acceptance) out.acceptance = at_place(*from.acceptance * scale, place);
    if (from.outside) out.outside = per_cent(*from.outside, further);
    out.at_capability = from.at_capability;
    for (const auto& part : from.contains)
        out.contains.push_back(part.name);
    out.verdict = from.verdict;
    return out;
}

/// Whether the printed acceptance limit divides printed deviations as the verdict does.
bool limit_agrees(const Basis& basis) {
    const double size = std::abs(printed_value(basis.deviation)), accepted = printed_value(basis.acceptance);
    if (!(accepted > 0)) return true; // nothing is accepted: the rule itself decides
    return metrology::at_most(size, accepted) == (basis.verdict == Verdict::pass);
}

/// Whether the rule, applied to what is printed, gives the verdict that is printed.
bool figures_agree(const Basis& basis, const metrology::DecisionRule& rule) {
    const double k = printed_value(basis.k), expanded = printed_value(basis.expanded);
    const bool infinite = basis.dof.text == infinite_dof;
    const metrology::Judged judged{printed_value(basis.deviation), expanded / k, expanded,
                                   printed_value(basis.permissible),
                                   infinite ? std::numeric_limits<double>::infinity() : printed_value(basis.dof)};
    if (metrology::judge(judged, rule) != basis.verdict) return false;
    if (rule.rule == Rule::specific_risk && basis.verdict && printed_value(basis.acceptance) > 0) {
        constexpr double hundred = 100;
        if (metrology::at_most(printed_value(basis.outside), rule.risk * hundred) != (basis.verdict == Verdict::pass))
            return false;
    }
    return !basis.verdict || !basis.acceptance.there() || limit_agrees(basis);
}

} // namespace

std::string as_stated(double value) {
    std::string text = fmt::format("{:.12g}", value);
    if (text.find('e') != std::string::npos) text = fmt::format("{:.12f}", value);
    if (text.find('.') != std::string::npos) {
        text.erase(text.find_last_not_of('0') + 1);
        if (text.back() == '.') text.pop_back();
    }
    return text == "-0" ? "0" : text;
}

double printed_value(const Figure& figure) {
    double value = std::numeric_limits<double>::quiet_NaN();
    const char* const end = figure.text.data() + figure.text.size();
    const auto read = std::from_chars(figure.text.data(), end, value);
    return read.ptr == end && read.ec == std::errc() ? value : std::numeric_limits<double>::quiet_NaN();
}

Figure stated_figure(double value) {
    return {value, as_stated(value)};
}

Basis basis_figures(const metrology::ConformityBasis& basis, const std::optional<metrology::DecisionRule>& rule,
                    double scale, double otherwise) {
    Basis out = rounded(basis, scale, otherwise, 0);
    if (!rule || !basis.expanded || !basis.permissible) return out;
    for (int further = 1; further <= most_further_digits && !figures_agree(out, *rule); ++further)
        out = rounded(basis, scale, otherwise, further);
    return out;
}

std::optional<metrology::DecisionRule> rule_in_unit(std::optional<metrology::DecisionRule> rule, double scale) {
    if (rule && rule->process) {
        rule->process->mean *= scale;
        rule->process->sd *= scale;
    }
    return rule;
}

std::vector<RuleFigure> rule_figures(const metrology::DecisionRule& rule) {
    std::vector<RuleFigure> list;
    switch (rule.rule) {
    case Rule::simple_acceptance:
        break;
    case Rule::guard_band:
        if (!rule.by_ratio) list.push_back({"guard factor", stated_figure(rule.guard_factor)});
        break;
    case Rule::uncertainty_ratio:
        list.push_back({"least ratio", stated_figure(rule.least_ratio)});
        break;
    case Rule::global_risk:
        if (rule.process) {
            list.push_back({"process mean", stated_figure(rule.process->mean), true});
            list.push_back({"process sd", stated_figure(rule.process->sd), true});
        }
        [[fallthrough]];
    case Rule::specific_risk:
        list.push_back({"risk", stated_figure(rule.risk)});
        break;
    }
    return list;
}

} // namespace stillmark::records
