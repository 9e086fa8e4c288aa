#include "daemon/metrology/evaluation/evaluation.hpp"

#include "daemon/metrology/at_most.hpp"
#include "daemon/metrology/effective_dof.hpp"
#include "daemon/metrology/evaluation/evaluation_fits.hpp"
#include "daemon/metrology/evaluation/passes.hpp"
#include "daemon/metrology/mark_uncertainty.hpp"
#include "daemon/metrology/propagation/coverage_factor.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>
#include <utility>

namespace stillmark::metrology {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

std::string name_of(const PointEvaluation& point) {
    return point.target.empty() ? number(point.reference) : point.target;
}

/// Standard uncertainty of something that lies anywhere within a spread.
double of_spread(double spread) {
    return spread / (2 * std::numbers::sqrt3);
}

/// Factor for 95.45 %: 2 where the degrees of freedom are infinite.
double coverage(double dof) {
    constexpr double two_sigma = 0.954499736103641585599; // erf(sqrt 2)
    return std::isinf(dof) ? 2 : coverage_factor(two_sigma, std::max(dof, 1.0));
}

void keep_largest(std::optional<double>& largest, const std::optional<double>& one) {
    if (one && std::isfinite(*one)) largest = std::max(largest.value_or(*one), *one);
}

/// Width of the values that are there, or nothing for fewer than two.
std::optional<double> spread_of(const std::vector<double>& values) {
    if (values.size() < 2) return std::nullopt;
    const auto [least, most] = std::minmax_element(values.begin(), values.end());
    return *most - *least;
}

double mean_of(const std::vector<double>& values) {
    double sum = 0;
    for (const double one : values)
        sum += one;
    return sum / static_cast<double>(values.size());
}

std::optional<double> larger(const std::optional<double>& a, const std::optional<double>& b) {
    if (!a || !b) return a ? a : b;
    return std::max(*a, *b);
}

class Evaluator {
  public:
    Evaluator(std::span<const Observation> observations, const EvaluationSettings& settings)
        : settings_(settings), table_(sort_into_passes(observations, settings, out_.unsaid)) {
        zero_taken_off_ = guide_of_cycles() && std::all_of(table_.passes.begin(), table_.passes.end(),
                                                           [](const Pass& pass) { return pass.zero.has_value(); });
        for (std::size_t i = 0; i < table_.passes.size(); ++i)
            pass_[{table_.passes[i].series, !table_.passes[i].rising}] = i;
    }

    Evaluation evaluate() {
        for (std::size_t j = 0; j < table_.points.size(); ++j)
            begin_point(j);
        if (table_.points.empty()) {
            cannot_say("anything", "no reading counts");
            return std::move(out_);
        }
        find_zero_deviation();
        spread_repeatability();
        find_resolution();
        for (std::size_t j = 0; j < table_.points.size(); ++j)
            find_uncertainty(j);
        for (PointEvaluation& point : out_.points)
            find_verdict(point);
        find_fits(table_, settings_, resolution_, out_);
        find_largest();
        find_inaccuracy();
        check_method();
        check_dial();
        find_overall_verdict();
        return std::move(out_);
    }

  private:
    void cannot_say(std::string what, std::string why) { out_.unsaid.push_back({std::move(what), std::move(why)}); }

    /// The same for several points is said once.
    void cannot_say_at(const PointEvaluation& point, const std::string& what, const std::string& why) {
        for (Unsaid& one : out_.unsaid)
            if (one.why == why && one.what.starts_with(what + " at ")) {
                one.what += ", " + name_of(point);
                return;
            }
        cannot_say(what + " at " + name_of(point), why);
    }

    bool guide_of_cycles() const { return settings_.method != nullptr && settings_.method->guide != Guide::en_837_1; }

    /// Deviations of the passes of a direction and role at a point, less the pass's own zero where `zeroed`.
    std::vector<double> deviations(std::size_t j, bool rising, const std::vector<SeriesRole>& roles,
                                   bool zeroed) const {
        std::vector<double> values;
        for (const Pass& pass : table_.passes) {
            if (pass.rising != rising || !pass.deviation[j]) continue;
            if (std::find(roles.begin(), roles.end(), pass.role) == roles.end()) continue;
            values.push_back(*pass.deviation[j] - (zeroed ? pass.zero.value_or(0) : 0));
        }
        return values;
    }

    /// The series whose readings make the mean of a direction: the cycles, or what there is where these have none.
    std::vector<SeriesRole> roles_of_mean(std::size_t j, bool rising) const {
        const bool in_cycles = std::any_of(table_.passes.begin(), table_.passes.end(), [&](const Pass& pass) {
            return pass.rising == rising && pass.role == SeriesRole::cycle && pass.deviation[j];
        });
        if (in_cycles) return {SeriesRole::cycle};
        return {SeriesRole::repeatability, SeriesRole::reproducibility};
    }

    void begin_point(std::size_t j) {
        const auto& from = table_.points[j];
        PointEvaluation point;
        point.target = from.target;
        point.reference = from.reference;
        point.zero = from.zero;
        const auto direction = [&](bool rising) -> std::optional<Deviation> {
            const auto values = deviations(j, rising, roles_of_mean(j, rising), false);
            if (values.empty()) return std::nullopt;
            Deviation out;
            out.readings = static_cast<int>(values.size());
            out.deviation = mean_of(values);
            return out;
        };
        point.up = direction(true);
        point.down = direction(false);
        if (point.up || point.down) {
            Deviation both;
            both.readings = (point.up ? point.up->readings : 0) + (point.down ? point.down->readings : 0);
            both.deviation = point.up && point.down ? (point.up->deviation + point.down->deviation) / 2
                                                    : (point.up ? point.up : point.down)->deviation;
            point.mean = both;
        }
        point.hysteresis = hysteresis(j, point);
        const auto repeated = [&](bool rising) {
            return spread_of(deviations(j, rising, {SeriesRole::cycle, SeriesRole::repeatability}, zero_taken_off_));
        };
        point.repeatability = larger(repeated(true), repeated(false));
        point.reproducibility = reproducibility(j);
        for (const auto* one : from.readings)
            if (one->untapped) keep_largest(point.tapping_shift, std::abs(one->reading - *one->untapped));
        out_.points.push_back(std::move(point));
    }

    std::optional<double> hysteresis(std::size_t j, const PointEvaluation& point) const {
        if (!guide_of_cycles()) {
            if (!point.up || !point.down) return std::nullopt;
            return std::abs(point.up->deviation - point.down->deviation);
        }
        std::vector<double> of_cycles; // in each the zero of its rising pass cancels
        for (const Pass& pass : table_.passes) {
            if (!pass.partner || pass.role != SeriesRole::cycle || !pass.deviation[j]) continue;
            const Pass& up = table_.passes[*pass.partner];
            if (up.deviation[j]) of_cycles.push_back(std::abs(*pass.deviation[j] - *up.deviation[j]));
        }
        if (of_cycles.empty()) return std::nullopt;
        return mean_of(of_cycles);
    }

    /// The instrument clamped anew against the first cycle.
    std::optional<double> reproducibility(std::size_t j) const {
        std::optional<double> out;
        for (const bool rising : {true, false}) {
            const auto first = deviations(j, rising, {SeriesRole::cycle}, zero_taken_off_);
            for (const double again : deviations(j, rising, {SeriesRole::reproducibility}, zero_taken_off_))
                if (!first.empty()) keep_largest(out, std::abs(again - first.front()));
        }
        return out;
    }

    void find_zero_deviation() {
        if (settings_.dial && settings_.dial->pointer_stop)
            return cannot_say("the zero deviation", "the pointer rests on a stop: no zero can be read");
        bool any = false;
        for (const Pass& pass : table_.passes) {
            any = any || pass.zero;
            if (!pass.partner || !pass.zero || !table_.passes[*pass.partner].zero) continue;
            keep_largest(out_.zero_deviation, std::abs(*pass.zero - *table_.passes[*pass.partner].zero));
        }
        if (!out_.zero_deviation)
            cannot_say("the zero deviation",
                       any ? "no rising series has a falling one after it with a zero in both" : "no zero was read");
    }

    /// cg-17 reads a few points more often and takes what they show for all.
    void spread_repeatability() {
        std::optional<double> found;
        for (const PointEvaluation& point : out_.points)
            keep_largest(found, point.repeatability);
        if (!found) return cannot_say("repeatability", "every point was read once in each direction");
        if (guide_of_cycles() && !zero_taken_off_)
            cannot_say("repeatability with each series' zero taken off", "not every series has a zero reading");
        const bool for_all = settings_.method != nullptr && settings_.method->guide == Guide::cg17;
        for (PointEvaluation& point : out_.points) {
            if (for_all)
                point.repeatability = larger(point.repeatability, found);
            else if (!point.repeatability)
                cannot_say_at(point, "repeatability", "read once in each direction");
        }
    }

    void find_resolution() {
        resolution_ = settings_.resolution;
        if (!resolution_ && settings_.dial && settings_.dial->division > 0 && settings_.dial->parts > 0)
            resolution_ = settings_.dial->division / settings_.dial->parts;
        if (!resolution_) cannot_say("the part of the resolution in the uncertainty", "no resolution is given");
    }

    std::optional<double> u_reference(std::size_t j) const {
        // The same balance in every series: its error does not average out.
        std::optional<double> u;
        for (const auto* one : table_.points[j].readings)
            if (one->u_reference) keep_largest(u, one->u_reference);
        if (!u && settings_.u_reference) u = settings_.u_reference(table_.points[j].reference);
        return u && std::isfinite(*u) && *u >= 0 ? u : std::nullopt;
    }

    void find_uncertainty(std::size_t j) {
        PointEvaluation& point = out_.points[j];
        const auto reference = u_reference(j);
        if (!point.mean) return;
        if (!reference) return cannot_say_at(point, "the uncertainty", "no uncertainty of the reference is given");
        double dof = infinity;
        for (const auto* one : table_.points[j].readings)
            dof = std::min(dof, one->dof_reference);
        const auto up = scatter(j, true), down = scatter(j, false);
        const auto both = point.up && point.down ? halved(up, down) : point.up ? up : down;
        const auto root_sum = [](const std::vector<Share>& shares) {
            double square = 0;
            for (const Share& share : shares)
                square += share.u * share.u;
            return std::sqrt(square);
        };
        const auto add = [&](const char* name, double value, double u) {
            if (u > 0) point.parts.push_back({name, value, u});
        };
        add("reference", *reference, *reference);
        add("scatter within the readings", root_sum(both), root_sum(both));
        if (resolution_)
            add("resolution", *resolution_,
                resolution_uncertainty_pa(*resolution_) * (settings_.zeroed ? std::numbers::sqrt2 : 1));
        if (out_.zero_deviation) add("zero deviation", *out_.zero_deviation, of_spread(*out_.zero_deviation));
        if (point.repeatability) add("repeatability", *point.repeatability, of_spread(*point.repeatability));
        if (point.reproducibility) add("reproducibility", *point.reproducibility, of_spread(*point.reproducibility));
        if (point.hysteresis) add("hysteresis", *point.hysteresis, of_spread(*point.hysteresis));

        const auto expand = [&](Deviation& to, std::vector<Share> shares, bool of_mean) {
            for (const Part& part : point.parts) {
                if (part.name == "scatter within the readings" || (part.name == "hysteresis" && !of_mean)) continue;
                shares.push_back({part.u, part.name == "reference" ? dof : infinity});
            }
            const double u = root_sum(shares), k = coverage(effective_dof(shares));
            to.u = u;
            to.k = k;
            to.expanded = std::max(k * u, least_expanded(point.reference));
        };
        if (point.up) expand(*point.up, up, false);
        if (point.down) expand(*point.down, down, false);
        expand(*point.mean, both, true);
        point.at_capability = *point.mean->expanded > point.mean->k * *point.mean->u;
        point.error_span = *point.mean->expanded + std::abs(point.mean->deviation);
    }

    /// The scatter of each reading as it enters the mean of one direction: by the readings of that mean alone.
    std::vector<Share> scatter(std::size_t j, bool rising) const {
        const auto roles = roles_of_mean(j, rising);
        std::map<std::size_t, std::vector<const Observation*>> by_pass;
        for (const auto* one : table_.points[j].readings) {
            if (one->rising != rising) continue;
            const std::size_t i = pass_.at({one->series, !one->rising});
            if (std::find(roles.begin(), roles.end(), table_.passes[i].role) != roles.end()) by_pass[i].push_back(one);
        }
        std::vector<Share> shares;
        for (const auto& [i, readings] : by_pass)
            for (const auto* one : readings)
                if (one->u_mean && *one->u_mean > 0)
                    shares.push_back(
                        {*one->u_mean / static_cast<double>(readings.size() * by_pass.size()), one->dof_mean});
        return shares;
    }

    /// Of the mean of both directions.
    static std::vector<Share> halved(std::vector<Share> up, const std::vector<Share>& down) {
        up.insert(up.end(), down.begin(), down.end());
        for (Share& share : up)
            share.u /= 2;
        return up;
    }

    std::optional<double> span() const {
        if (!settings_.span_low || !settings_.span_high) return std::nullopt;
        return *settings_.span_high - *settings_.span_low;
    }

    double least_expanded(double pressure) const {
        double least = settings_.capability ? settings_.capability(pressure) : 0;
        if (settings_.method != nullptr && span()) least = std::max(least, settings_.method->least_u_of_span * *span());
        return std::isfinite(least) ? least : 0;
    }

    /// Whether the scale is valid at this point at all.
    bool outside_validity(const PointEvaluation& point) const {
        return settings_.dial && settings_.dial->pointer_stop &&
               (point.zero || (span() && !at_most(*settings_.span_low + 0.1 * *span(), point.reference)));
    }

    void find_verdict(PointEvaluation& point) {
        if (!settings_.permissible || !point.mean) return;
        if (needs_span(*settings_.permissible) && !span()) return;
        point.permissible = permissible_at(*settings_.permissible, point.reference, settings_.span_low.value_or(0),
                                           settings_.span_high.value_or(0));
        if (outside_validity(point))
            return cannot_say_at(
                point, "a verdict",
                "with a pointer stop the scale is valid from 10 % of the span on (EN 837-1, from memory)");
        for (auto* direction : {&point.up, &point.down})
            if (*direction) judge_one(**direction, point);
        // With both directions the mean of both decides nothing: the limits hold for rising and falling pressure.
        judge_one(*point.mean, point);
        for (const auto* direction : {&point.up, &point.down}) {
            if (!*direction) continue;
            const auto& p = (*direction)->probability;
            if (p) point.probability = std::min(point.probability.value_or(*p), *p);
            const auto& verdict = (*direction)->verdict;
            if (verdict) point.verdict = point.verdict ? worse(*point.verdict, *verdict) : *verdict;
        }
        if (const auto u = reported_u(*point.mean); u && *u > 0)
            point.capability_index = capability_index(-*point.permissible, *point.permissible, *u);
        if (point.mean->expanded && *point.mean->expanded > *point.permissible)
            cannot_say("conformity at " + name_of(point) + " with confidence",
                       "the permissible error, " + number(*point.permissible) + ", is smaller than the uncertainty, " +
                           number(*point.mean->expanded));
    }

    /// What a verdict may count on: no less than the capability either.
    static std::optional<double> reported_u(const Deviation& one) {
        return one.expanded ? std::optional(*one.expanded / one.k) : std::nullopt;
    }

    void judge_one(Deviation& one, const PointEvaluation& point) const {
        const double limit = *point.permissible;
        const double u = reported_u(one).value_or(0);
        if (one.u) one.probability = probability_within(one.deviation, u, -limit, limit);
        if (!settings_.decision) return;
        const bool needs_u = settings_.decision->rule != Rule::simple_acceptance;
        if (needs_u && !one.expanded) return;
        one.verdict = judge({one.deviation, u, one.expanded.value_or(0), limit}, *settings_.decision);
    }

    void find_largest() {
        std::vector<double> pressure, expanded;
        for (const PointEvaluation& point : out_.points) {
            if (point.mean)
                keep_largest(out_.largest_deviation,
                             std::max({std::abs(point.mean->deviation), point.up ? std::abs(point.up->deviation) : 0,
                                       point.down ? std::abs(point.down->deviation) : 0}));
            keep_largest(out_.largest_hysteresis, point.hysteresis);
            keep_largest(out_.largest_repeatability, point.repeatability);
            keep_largest(out_.largest_reproducibility, point.reproducibility);
            keep_largest(out_.largest_tapping_shift, point.tapping_shift);
            keep_largest(out_.largest_error_span, point.error_span);
            if (!point.mean || !point.mean->expanded) continue;
            keep_largest(out_.largest_expanded, point.mean->expanded);
            pressure.push_back(point.reference);
            expanded.push_back(*point.mean->expanded);
        }
        out_.uncertainty_line = line_above(pressure, expanded);
        if (!out_.largest_hysteresis) cannot_say("hysteresis", "no point was read both rising and falling");
    }

    /// ISA-51.1: of any single reading; and how far the two ends are off against each other.
    void find_inaccuracy() {
        for (const auto& point : table_.points)
            for (const auto* one : point.readings) {
                const double error = one->reading - one->reference;
                out_.most_negative = std::min(out_.most_negative.value_or(error), error);
                out_.most_positive = std::max(out_.most_positive.value_or(error), error);
            }
        const PointEvaluation &low = out_.points.front(), &high = out_.points.back();
        if (out_.points.size() > 1 && low.mean && high.mean)
            out_.span_error = high.mean->deviation - low.mean->deviation;
    }

    void check_method() {
        const Method* method = settings_.method;
        if (method == nullptr) return;
        if (method->from_memory() && !settings_.method_confirmed) cannot_say(method->name, method_not_confirmed);
        if (!method->series.empty() && table_.passes.size() != method->series.size())
            cannot_say("conformity with " + std::string(method->name),
                       "it asks for " + std::to_string(method->series.size()) + " series, here are " +
                           std::to_string(table_.passes.size()));
        if (!method->points.empty() && table_.points.size() != method->points.size())
            cannot_say("conformity with " + std::string(method->name),
                       "it asks for " + std::to_string(method->points.size()) + " points, here are " +
                           std::to_string(table_.points.size()));
        if (method->least_u_of_span > 0 && !span())
            cannot_say("the least uncertainty of " + std::string(method->name), "no span is given");
    }

    /// What the standards of dial gauges ask beyond the permissible error.
    void check_dial() {
        const bool by_class = settings_.permissible && settings_.permissible->accuracy_class;
        const bool en_837 = settings_.method != nullptr && settings_.method->guide == Guide::en_837_1;
        if (en_837 && by_class) {
            const int least = least_points_en_837_1(*settings_.permissible->accuracy_class);
            const auto points = static_cast<int>(out_.points.size());
            out_.findings.push_back({"EN 837-1: at least " + std::to_string(least) + " points for this class",
                                     points >= least, std::to_string(points) + " points"});
        }
        if (!settings_.permissible) return;
        const auto check = [&](const char* rule, auto value_of, double part) {
            bool any = false, met = true;
            std::string worst;
            for (const PointEvaluation& point : out_.points) {
                const std::optional<double> value = value_of(point);
                if (!value || !point.permissible) continue;
                any = true;
                if (*value <= part * *point.permissible) continue;
                if (met)
                    worst = number(*value) + " at " + name_of(point) + ", where " + number(part * *point.permissible) +
                            " is allowed";
                met = false;
            }
            if (any) out_.findings.push_back({rule, met, met ? "at every point" : worst});
        };
        if (by_class || en_837) {
            check(
                "hysteresis at most the permissible error (German Verification Ordinance, annex 16, 3.4; EN 837-1)",
                [](const PointEvaluation& point) { return point.hysteresis; }, 1);
            check(
                "tapping shift at most half the permissible error (JJG 52-1999, second hand)",
                [](const PointEvaluation& point) { return point.tapping_shift; }, 0.5);
            check(
                "error of the reference at most a quarter of the permissible error (EN 837-1, from memory)",
                [&](const PointEvaluation& point) -> std::optional<double> {
                    for (const Part& part : point.parts)
                        if (part.name == "reference") return 2 * part.u;
                    return std::nullopt;
                },
                0.25);
        }
    }

    void find_overall_verdict() {
        if (!settings_.permissible) return cannot_say("a verdict", "no permissible error is given");
        if (settings_.permissible->caution != nullptr && !settings_.method_confirmed)
            cannot_say("the permissible error", settings_.permissible->caution);
        if (needs_span(*settings_.permissible) && !span())
            return cannot_say("a verdict", "the permissible error is of the span, and no span is given");
        if (!settings_.decision)
            return cannot_say("a verdict", "no decision rule is given (ISO/IEC 17025:2017, 7.8.6)");
        std::optional<Verdict> overall;
        std::string open;
        for (const PointEvaluation& point : out_.points) {
            if (point.verdict)
                overall = overall ? worse(*overall, *point.verdict) : *point.verdict;
            else if (!outside_validity(point) && open.empty())
                open = name_of(point);
        }
        if (!open.empty() && overall != Verdict::fail)
            return cannot_say("a verdict", "there is none at " + open + ": the decision rule needs the uncertainty");
        out_.verdict = overall;
        for (const RuleFinding& finding : out_.findings)
            if (!finding.met && finding.rule.starts_with("hysteresis") && out_.verdict)
                out_.verdict = worse(*out_.verdict, Verdict::fail);
    }

    const EvaluationSettings& settings_;
    Evaluation out_;
    PassTable table_;
    bool zero_taken_off_ = false; ///< of the repeated readings, as the guides do; IEC 61298-2 takes none off
    std::optional<double> resolution_;
    std::map<std::pair<int, bool>, std::size_t> pass_; ///< by series and falling
};

} // namespace

Evaluation evaluate(std::span<const Observation> observations, const EvaluationSettings& settings) {
    return Evaluator(observations, settings).evaluate();
}

std::optional<UncertaintyLine> line_above(std::span<const double> pressure, std::span<const double> expanded) {
    if (pressure.empty()) return std::nullopt;
    // The sum of a + b p over the points is n times the line's height over their mean: it is least where the line lies
    // on the edge of the upper hull above that mean.
    double mean = 0;
    for (const double one : pressure)
        mean += one / static_cast<double>(pressure.size());
    std::vector<std::size_t> chain;
    const auto turn = [&](std::size_t a, std::size_t b, std::size_t c) {
        return (pressure[b] - pressure[a]) * (expanded[c] - expanded[a]) -
               (expanded[b] - expanded[a]) * (pressure[c] - pressure[a]);
    };
    for (std::size_t i = 0; i < pressure.size(); ++i) {
        while (chain.size() > 1 && turn(chain[chain.size() - 2], chain.back(), i) >= 0)
            chain.pop_back();
        chain.push_back(i);
    }
    for (std::size_t i = 1; i < chain.size(); ++i) {
        const std::size_t a = chain[i - 1], b = chain[i];
        if (pressure[b] < mean && i + 1 < chain.size()) continue;
        if (!(pressure[b] > pressure[a])) continue;
        const double slope = (expanded[b] - expanded[a]) / (pressure[b] - pressure[a]);
        return UncertaintyLine{expanded[a] - slope * pressure[a], slope};
    }
    return UncertaintyLine{*std::max_element(expanded.begin(), expanded.end()), 0};
}

} // namespace stillmark::metrology
