#include "daemon/metrology/evaluation/evaluation.hpp"

#include "daemon/metrology/evaluation/completeness.hpp"
#include "daemon/metrology/evaluation/evaluation_fits.hpp"
#include "daemon/metrology/evaluation/passes.hpp"
#include "daemon/metrology/evaluation/verdicts.hpp"
#include "daemon/metrology/mark_uncertainty.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>
#include <utility>

namespace stillmark::metrology {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

/// The one of the larger size, with its sign.
void keep_farthest(std::optional<double>& farthest, double one) {
    if (std::isfinite(one) && (!farthest || std::abs(one) > std::abs(*farthest))) farthest = one;
}

/// Standard uncertainty of something that lies anywhere within a spread.
double of_spread(double spread) {
    return spread / (2 * std::numbers::sqrt3);
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
        : settings_(settings), table_(sort_into_passes(observations, settings, unsaid_)) {
        zero_taken_off_ = guide_of_cycles() && std::all_of(table_.passes.begin(), table_.passes.end(),
                                                           [](const Pass& pass) { return pass.zero.has_value(); });
        for (std::size_t i = 0; i < table_.passes.size(); ++i)
            pass_[{table_.passes[i].series, !table_.passes[i].rising}] = i;
    }

    Evaluation evaluate() {
        for (std::size_t j = 0; j < table_.points.size(); ++j)
            begin_point(j);
        if (table_.points.empty()) {
            cannot_say(sentence("anything"), sentence("no reading counts"));
            out_.unsaid = unsaid_.take();
            return std::move(out_);
        }
        find_zero_deviation();
        spread_repeatability();
        find_resolution();
        for (std::size_t j = 0; j < table_.points.size(); ++j)
            find_uncertainty(j);
        find_fits(table_, settings_, resolution_, out_, unsaid_);
        find_largest();
        find_inaccuracy();
        find_verdicts(out_, table_, settings_, unsaid_);
        out_.unsaid = unsaid_.take();
        return std::move(out_);
    }

  private:
    void cannot_say(Sentence what, Sentence why) { unsaid_.add(Topic::results, std::move(what), std::move(why)); }
    void cannot_say_at(const PointEvaluation& point, const Sentence& what, const Sentence& why) {
        unsaid_.add_at(Topic::results, point.shown_as, what, why);
    }

    bool guide_of_cycles() const { return settings_.method != nullptr && settings_.method->guide != Guide::en_837_1; }

    /// Deviations of the passes of a direction and role at a point, less the pass's own zero where `zeroed`.
    std::vector<double> deviations(std::size_t j, bool rising, const std::vector<SeriesRole>& roles,
                                   bool zeroed) const {
        std::vector<double> values;
        for (const auto& read : table_.points[j].by_pass) {
            const Pass& pass = table_.passes[read.pass];
            if (pass.rising != rising) continue;
            if (std::find(roles.begin(), roles.end(), pass.role) == roles.end()) continue;
            values.push_back(read.deviation - (zeroed ? pass.zero.value_or(0) : 0));
        }
        return values;
    }

    /// The series whose readings make the mean of a direction: the cycles, or what there is where these have none.
    std::vector<SeriesRole> roles_of_mean(std::size_t j, bool rising) const {
        const auto& read = table_.points[j].by_pass;
        const bool in_cycles = std::any_of(read.begin(), read.end(), [&](const PassTable::Read& one) {
            const Pass& pass = table_.passes[one.pass];
            return pass.rising == rising && pass.role == SeriesRole::cycle;
        });
        if (in_cycles) return {SeriesRole::cycle};
        return {SeriesRole::repeatability, SeriesRole::reproducibility};
    }

    void begin_point(std::size_t j) {
        const auto& from = table_.points[j];
        PointEvaluation point;
        point.target = from.target;
        point.shown_as = name_of(from);
        point.reference = from.reference;
        point.zero = from.zero;
        const auto direction = [&](bool rising) -> std::optional<ConformityBasis> {
            const auto values = deviations(j, rising, roles_of_mean(j, rising), false);
            if (values.empty()) return std::nullopt;
            ConformityBasis out;
            out.readings = static_cast<int>(values.size());
            out.deviation = mean_of(values);
            return out;
        };
        point.up = direction(true);
        point.down = direction(false);
        if (point.up || point.down) {
            ConformityBasis both;
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
        for (const auto& read : table_.points[j].by_pass) {
            const Pass& pass = table_.passes[read.pass];
            if (!pass.partner || pass.role != SeriesRole::cycle) continue;
            if (const auto up = table_.points[j].of(*pass.partner)) of_cycles.push_back(std::abs(read.deviation - *up));
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
            return cannot_say(sentence("the zero deviation"),
                              sentence("the pointer rests on a stop: no zero can be read"));
        bool any = false;
        for (const Pass& pass : table_.passes) {
            any = any || pass.zero;
            if (!pass.partner || !pass.zero || !table_.passes[*pass.partner].zero) continue;
            keep_largest(out_.zero_deviation, std::abs(*pass.zero - *table_.passes[*pass.partner].zero));
        }
        if (!out_.zero_deviation)
            cannot_say(sentence("the zero deviation"),
                       any ? sentence("no rising series has a falling one after it with a zero in both") : no_zero());
    }

    /// A head of liquid may stand at the vented line; so may a low pressure that was set.
    Sentence no_zero() const {
        constexpr double low_part = 5e-3;
        double lowest = infinity, highest = 0;
        for (const PointEvaluation& point : out_.points) {
            lowest = std::min(lowest, std::abs(point.reference));
            highest = std::max(highest, std::abs(point.reference));
        }
        if (settings_.zeros_are_marked || lowest > low_part * highest) return sentence("no zero was read");
        return sentence(
            "no zero was read: {lowest} is not zero within its uncertainty or half the resolution; mark the "
            "readings at the vented line",
            {number_value("lowest", number(lowest))});
    }

    /// cg-17 reads a few points more often and takes what they show for all.
    void spread_repeatability() {
        std::optional<double> found;
        for (const PointEvaluation& point : out_.points)
            keep_largest(found, point.repeatability);
        if (!found)
            return cannot_say(sentence("repeatability"), sentence("every point was read once in each direction"));
        if (guide_of_cycles() && !zero_taken_off_)
            cannot_say(sentence("repeatability with each series' zero taken off"),
                       sentence("not every series has a zero reading"));
        const bool for_all = settings_.method != nullptr && settings_.method->guide == Guide::cg17;
        for (PointEvaluation& point : out_.points) {
            if (for_all)
                point.repeatability = larger(point.repeatability, found);
            else if (!point.repeatability)
                cannot_say_at(point, sentence("repeatability"), sentence("read once in each direction"));
        }
    }

    void find_resolution() {
        resolution_ = settings_.own_resolution();
        if (!resolution_)
            cannot_say(sentence("the part of the resolution in the uncertainty"), sentence("no resolution is given"));
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
        if (!reference)
            return cannot_say_at(point, sentence("the uncertainty"),
                                 sentence("no uncertainty of the reference is given"));
        double dof = infinity;
        for (const auto* one : table_.points[j].readings)
            dof = std::min(dof, one->dof_reference);
        const auto up = scatter(j, true), down = scatter(j, false);
        const auto both = point.up && point.down ? halved(up, down) : point.up ? up : down;
        const auto expand = [&](ConformityBasis& to, std::vector<Share> shares, bool of_mean) {
            double of_scatter = 0;
            for (const Share& share : shares)
                of_scatter += share.u * share.u;
            const auto add = [&](const char* name, double value, double u, double its_dof) {
                if (!(u > 0)) return;
                to.contains.push_back({name, value, u});
                shares.push_back({u, its_dof});
            };
            add("reference", *reference, *reference, dof);
            if (of_scatter > 0)
                to.contains.push_back({"scatter within the readings", std::sqrt(of_scatter), std::sqrt(of_scatter)});
            add_common_parts(point, add);
            if (of_mean && point.hysteresis)
                add("hysteresis", *point.hysteresis, of_spread(*point.hysteresis), infinity);
            put_uncertainty(to, shares, least_expanded(point.reference));
        };
        if (point.up) expand(*point.up, up, false);
        if (point.down) expand(*point.down, down, false);
        expand(*point.mean, both, true);
        point.error_span = *point.mean->expanded + std::abs(point.mean->deviation);
        if (settings_.capability && !(settings_.capability_at(point.reference) > 0))
            cannot_say_at(point, sentence("whether the laboratory is capable of U"),
                          sentence("no capability is stated there"));
    }

    /// What enters each direction and the mean of both alike, beside reference and scatter.
    template <class Add>
    void add_common_parts(const PointEvaluation& point, const Add& add) const {
        if (resolution_)
            add("resolution", *resolution_,
                resolution_uncertainty_pa(*resolution_) * (settings_.zeroed ? std::numbers::sqrt2 : 1), infinity);
        if (settings_.u_meter) {
            const double meter = settings_.u_meter(point.reference);
            if (std::isfinite(meter)) add("meter", meter, meter, infinity);
        }
        const auto add_spread = [&add](const char* name, const std::optional<double>& spread) {
            if (spread) add(name, *spread, of_spread(*spread), infinity);
        };
        add_spread("zero deviation", out_.zero_deviation);
        add_spread("repeatability", point.repeatability);
        add_spread("reproducibility", point.reproducibility);
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
        double least = settings_.capability_at(pressure);
        if (settings_.method != nullptr && span()) least = std::max(least, settings_.method->least_u_of_span * *span());
        return std::isfinite(least) ? least : 0;
    }

    void find_largest() {
        std::vector<double> pressure, expanded;
        for (const PointEvaluation& point : out_.points) {
            for (const auto* one : {&point.up, &point.down, &point.mean})
                if (*one) keep_farthest(out_.largest_deviation, (*one)->deviation);
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
        if (!out_.largest_hysteresis)
            cannot_say(sentence("hysteresis"), sentence("no point was read both rising and falling"));
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

    const EvaluationSettings& settings_;
    Evaluation out_;
    UnsaidList unsaid_;
    PassTable table_;
    bool zero_taken_off_ = false; ///< of the repeated readings, as the guides do; IEC 61298-2 takes none off
    std::optional<double> resolution_;
    std::map<std::pair<int, bool>, std::size_t> pass_; ///< by series and falling
};

} // namespace

std::string EvaluationSettings::written(double pressure) const {
    return number(pressure / written_unit) + (written_symbol.empty() ? "" : " " + written_symbol);
}

double EvaluationSettings::capability_at(double pressure) const {
    return capability ? std::max({0.0, capability(pressure), capability(std::abs(pressure))}) : 0;
}

std::optional<double> EvaluationSettings::own_resolution() const {
    if (resolution || !dial || !(dial->division > 0) || dial->parts <= 0) return resolution;
    return dial->division / dial->parts;
}

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
