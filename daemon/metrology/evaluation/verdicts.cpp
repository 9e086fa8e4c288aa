#include "daemon/metrology/evaluation/verdicts.hpp"

#include "daemon/metrology/at_most.hpp"
#include "daemon/metrology/evaluation/completeness.hpp"

#include <algorithm>
#include <cmath>

namespace stillmark::metrology {

namespace {

class Judge {
  public:
    Judge(Evaluation& evaluation, const PassTable& table, const EvaluationSettings& settings, UnsaidList& unsaid)
        : out_(evaluation), table_(table), settings_(settings), unsaid_(unsaid) {}

    void judge_all() {
        if (settings_.permissible) out_.specification = settings_.permissible->words;
        out_.decision = settings_.decision;
        for (std::size_t j = 0; j < out_.points.size(); ++j)
            find_verdict(out_.points[j], name_of(table_.points[j]));
        read_ = completeness(table_, settings_);
        check_method();
        check_dial();
        find_overall_verdict();
    }

  private:
    std::optional<double> span() const {
        if (!settings_.span_low || !settings_.span_high) return std::nullopt;
        return *settings_.span_high - *settings_.span_low;
    }

    /// Whether the scale, or the permissible error, is valid at this point at all.
    bool outside_validity(const PointEvaluation& point) const {
        return below_the_scale(point) || permits_nothing(point);
    }

    bool below_the_scale(const PointEvaluation& point) const {
        return settings_.dial && settings_.dial->pointer_stop &&
               (point.zero || (span() && !at_most(*settings_.span_low + 0.1 * *span(), point.reference)));
    }

    /// Of reading alone, no error at all would be permitted at zero.
    bool permits_nothing(const PointEvaluation& point) const {
        return point.zero && settings_.permissible &&
               std::all_of(settings_.permissible->terms.begin(), settings_.permissible->terms.end(),
                           [](const auto& term) { return term.kind == PermissibleTerm::Kind::of_reading; });
    }

    void find_verdict(PointEvaluation& point, const std::string& name) {
        if (!settings_.permissible || !point.mean) return;
        if (needs_span(*settings_.permissible) && !span()) return;
        point.permissible = permissible_at(*settings_.permissible, point.reference, settings_.span_low.value_or(0),
                                           settings_.span_high.value_or(0));
        if (below_the_scale(point))
            return unsaid_.add_at(name, "a verdict",
                                  "with a pointer stop the scale is valid from 10 % of the span on (EN 837-1, from "
                                  "memory)");
        if (permits_nothing(point))
            return unsaid_.add_at(name, "a verdict", "a permissible error of the reading permits nothing at zero");
        bool open = false, never = false, small = false;
        // The mean of both directions decides nothing: the limits hold for rising and falling pressure.
        for (auto* direction : {&point.up, &point.down}) {
            if (!*direction) continue;
            ConformityBasis& one = **direction;
            judge(one, *point.permissible, settings_.decision);
            if (one.outside) point.outside = std::max(point.outside.value_or(0), *one.outside);
            if (one.verdict) point.verdict = point.verdict ? worse(*point.verdict, *one.verdict) : *one.verdict;
            open = open || !one.verdict;
            never = never || (one.acceptance && !(*one.acceptance > 0));
            small = small || (one.expanded && *one.expanded > *point.permissible);
        }
        if (open && point.verdict != Verdict::fail) point.verdict.reset();
        if (const auto u = point.mean->u; u && *u > 0)
            point.capability_index = capability_index(-*point.permissible, *point.permissible, *u);
        if (open && settings_.decision && settings_.decision->rule == Rule::uncertainty_ratio && point.mean->expanded)
            unsaid_.add_at(name, "a verdict",
                           "the permissible error is less than " + number(settings_.decision->least_ratio) +
                               " U, which the decision rule asks for");
        if (never)
            unsaid_.add_at(
                name, "conformity",
                "the decision rule takes off as much as the permissible error, or more: no result could pass");
        else if (small)
            unsaid_.add_at(name, "conformity with confidence", "the permissible error is smaller than the uncertainty");
    }

    void check_method() {
        const Method* method = settings_.method;
        if (method == nullptr) return;
        if (method->from_memory() && !settings_.method_confirmed) unsaid_.add(method->name, method_not_confirmed);
        const std::string conformity = "conformity with " + std::string(method->name);
        for (const std::string& one : read_.lacking)
            unsaid_.add(conformity, one);
        if (!method->series.empty() && table_.passes.size() > method->series.size())
            unsaid_.add(conformity, "it asks for " + std::to_string(method->series.size()) + " series, here are " +
                                        std::to_string(table_.passes.size()));
        if (method->least_u_of_span > 0 && !span())
            unsaid_.add("the least uncertainty of " + std::string(method->name), "no span is given");
        if (method->guide == Guide::en_837_1 && !(settings_.permissible && settings_.permissible->accuracy_class))
            unsaid_.add("the number of points that EN 837-1 asks for", "no accuracy class is given");
    }

    /// How far the worst of the points is from a rule: value over limit, in words.
    template <class ValueOf, class LimitOf>
    void check(const char* rule, bool decides, ValueOf value_of, LimitOf limit_of) {
        double worst = -1;
        std::string where;
        for (std::size_t j = 0; j < out_.points.size(); ++j) {
            const PointEvaluation& point = out_.points[j];
            const std::optional<double> value = value_of(point);
            if (!value || !point.permissible) continue;
            const double part = *value / limit_of(point);
            if (!(part > worst)) continue;
            worst = part;
            where = name_of(table_.points[j]);
        }
        if (worst < 0) return;
        const bool met = worst <= 1;
        constexpr double hundredths = 100;
        // Rounded away from the limit, so that 1.004 times does not read as 1.
        const double shown = (met ? std::floor(worst * hundredths) : std::ceil(worst * hundredths)) / hundredths;
        out_.findings.push_back(
            {rule, met, "at most " + number(shown) + " times what is allowed, at " + where, decides && !met});
    }

    /// What the standards of dial gauges ask beyond the permissible error.
    void check_dial() {
        if (!settings_.permissible) return;
        const auto& permissible = *settings_.permissible;
        const bool by_class = permissible.accuracy_class.has_value();
        const bool en_837 = settings_.method != nullptr && settings_.method->guide == Guide::en_837_1;
        if (en_837 && by_class) {
            const int least = least_points_en_837_1(*permissible.accuracy_class);
            const auto points = static_cast<int>(out_.points.size());
            out_.findings.push_back({"EN 837-1: at least " + std::to_string(least) + " points for this class",
                                     points >= least, std::to_string(points) + " points"});
        }
        if (!by_class && !en_837) return;
        const auto permitted = [](double part) {
            return [part](const PointEvaluation& point) { return part * *point.permissible; };
        };
        const auto hysteresis = [](const PointEvaluation& point) { return point.hysteresis; };
        if (permissible.hysteresis_of_span && span())
            check("hysteresis at most the verification limit (German Verification Ordinance, annex 16, 3.4)", true,
                  hysteresis,
                  [&](const PointEvaluation&) { return *settings_.permissible->hysteresis_of_span * *span(); });
        else
            check("hysteresis at most the permissible error (EN 837-1, from memory)", true, hysteresis, permitted(1));
        check(
            "tapping shift at most half the permissible error (JJG 52-1999, second hand)", false,
            [](const PointEvaluation& point) { return point.tapping_shift; }, permitted(0.5));
        check(
            "error of the reference at most a quarter of the permissible error (EN 837-1, from memory)", false,
            [](const PointEvaluation& point) -> std::optional<double> {
                if (!point.mean) return std::nullopt;
                for (const Part& part : point.mean->contains)
                    if (part.name == "reference") return 2 * part.u;
                return std::nullopt;
            },
            permitted(0.25));
    }

    void find_overall_verdict() {
        if (!settings_.permissible) return unsaid_.add("a verdict", "no permissible error is given");
        if (settings_.permissible->caution != nullptr && !settings_.method_confirmed)
            unsaid_.add("the permissible error", settings_.permissible->caution);
        if (needs_span(*settings_.permissible) && !span())
            return unsaid_.add("a verdict", "the permissible error is of the span, and no span is given");
        if (!settings_.decision)
            return unsaid_.add("a verdict", "no decision rule is given (ISO/IEC 17025:2017, 7.8.6)");
        std::optional<Verdict> overall;
        std::size_t open = 0, without_u = 0;
        for (const PointEvaluation& point : out_.points) {
            if (outside_validity(point)) continue;
            if (point.verdict)
                overall = overall ? worse(*overall, *point.verdict) : *point.verdict;
            else
                ++open;
            without_u += point.mean && !point.mean->expanded ? 1 : 0;
        }
        if (std::any_of(out_.findings.begin(), out_.findings.end(), [](const RuleFinding& one) { return one.decides; }))
            overall = Verdict::fail;
        if (overall != Verdict::fail) {
            if (without_u > 0)
                unsaid_.add("a verdict", "no uncertainty is known at " + count(without_u) +
                                             "; a decision rule needs it (ISO/IEC 17025:2017, 7.8.6)");
            else if (open > 0)
                unsaid_.add("a verdict", "there is none at " + count(open));
            for (const std::string& one : read_.lacking)
                unsaid_.add("a verdict", "it would not cover what is asked for: " + one);
            if (open > 0 || !read_.lacking.empty()) return;
        }
        out_.verdict = overall;
        if (overall) out_.verdict_covers = read_.covers;
    }

    std::string count(std::size_t points) const {
        if (points == out_.points.size()) return points == 1 ? "the only point" : "any point";
        return std::to_string(points) + " of " + std::to_string(out_.points.size()) + " points";
    }

    Evaluation& out_;
    const PassTable& table_;
    const EvaluationSettings& settings_;
    UnsaidList& unsaid_;
    Completeness read_;
};

} // namespace

void find_verdicts(Evaluation& evaluation, const PassTable& table, const EvaluationSettings& settings,
                   UnsaidList& unsaid) {
    Judge(evaluation, table, settings, unsaid).judge_all();
}

} // namespace stillmark::metrology
