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
            find_verdict(out_.points[j]);
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

    void find_verdict(PointEvaluation& point) {
        if (!settings_.permissible || !point.mean) return;
        if (needs_span(*settings_.permissible) && !span()) return;
        point.permissible = permissible_at(*settings_.permissible, point.reference, settings_.span_low.value_or(0),
                                           settings_.span_high.value_or(0));
        if (below_the_scale(point))
            return cannot_say_at(point, a_verdict(),
                                 sentence("with a pointer stop the scale is valid from 10 % of the span on"),
                                 {"EN 837-1", Provenance::from_memory});
        if (permits_nothing(point))
            return cannot_say_at(point, a_verdict(),
                                 sentence("a permissible error of the reading permits nothing at zero"));
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
            cannot_say_at(point, a_verdict(),
                          sentence("the permissible error is less than {ratio} U, which the decision rule asks for",
                                   {number_value("ratio", number(settings_.decision->least_ratio))}));
        if (never)
            cannot_say_at(point, sentence("conformity"),
                          sentence("the decision rule takes off as much as the permissible error, or more: no result "
                                   "could pass"));
        else if (small)
            cannot_say_at(point, sentence("conformity with confidence"),
                          sentence("the permissible error is smaller than the uncertainty"));
    }

    static Sentence a_verdict() { return sentence("a verdict"); }
    void cannot_say(Sentence what, Sentence why, Source source = {}) {
        unsaid_.add(Topic::results, std::move(what), std::move(why), std::move(source));
    }
    void cannot_say_at(const PointEvaluation& point, const Sentence& what, const Sentence& why, Source source = {}) {
        unsaid_.add_at(Topic::results, point.shown_as, what, why, std::move(source));
    }

    void check_method() {
        const Method* method = settings_.method;
        if (method == nullptr) return;
        if (method->from_memory() && !settings_.method_confirmed)
            unsaid_.add(Topic::provenance, as_it_is(method->name), method_not_confirmed());
        const auto name = text_value("method", method->name);
        const Sentence conformity = sentence("conformity with {method}", {name});
        for (const auto& one : read_.lacking)
            cannot_say(conformity, one.words, one.source);
        if (!method->series.empty() && table_.passes.size() > method->series.size())
            cannot_say(conformity, sentence("it asks for {asked} series, here are {here}",
                                            {number_value("asked", std::to_string(method->series.size())),
                                             number_value("here", std::to_string(table_.passes.size()))}));
        if (method->least_u_of_span > 0 && !span())
            cannot_say(sentence("the least uncertainty of {method}", {name}), sentence("no span is given"));
        if (method->guide == Guide::en_837_1 && !(settings_.permissible && settings_.permissible->accuracy_class))
            cannot_say(sentence("the number of points that EN 837-1 asks for"), sentence("no accuracy class is given"));
    }

    /// How far the worst of the points is from a rule: value over limit, in words.
    template <class ValueOf, class LimitOf>
    void check(Sentence rule, Source source, bool decides, ValueOf value_of, LimitOf limit_of) {
        double worst = -1;
        Sentence where;
        for (std::size_t j = 0; j < out_.points.size(); ++j) {
            const PointEvaluation& point = out_.points[j];
            const std::optional<double> value = value_of(point);
            if (!value || !point.permissible) continue;
            const double part = *value / limit_of(point);
            if (!(part > worst)) continue;
            worst = part;
            where = point.shown_as;
        }
        if (worst < 0) return;
        const bool met = worst <= 1;
        constexpr double hundredths = 100;
        // Rounded away from the limit, so that 1.004 times does not read as 1.
        const double shown = (met ? std::floor(worst * hundredths) : std::ceil(worst * hundredths)) / hundredths;
        out_.findings.push_back({std::move(rule), met,
                                 sentence("at most {times} times what is allowed, at {point}",
                                          {number_value("times", number(shown)), words_value("point", where)}),
                                 decides && !met, std::move(source)});
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
            out_.findings.push_back(
                {sentence("EN 837-1: at least {least} points for this class", {number_value("least", least)}),
                 points >= least, sentence("{points} points", {number_value("points", points)})});
        }
        if (!by_class && !en_837) return;
        const auto permitted = [](double part) {
            return [part](const PointEvaluation& point) { return part * *point.permissible; };
        };
        const auto hysteresis = [](const PointEvaluation& point) { return point.hysteresis; };
        if (permissible.hysteresis_of_span && span())
            check(sentence("hysteresis at most the verification limit"),
                  {"German Verification Ordinance, annex 16, 3.4", Provenance::read}, true, hysteresis,
                  [&](const PointEvaluation&) { return *settings_.permissible->hysteresis_of_span * *span(); });
        else
            check(sentence("hysteresis at most the permissible error"), {"EN 837-1", Provenance::from_memory}, true,
                  hysteresis, permitted(1));
        check(
            sentence("tapping shift at most half the permissible error"), {"JJG 52-1999", Provenance::second_hand},
            false, [](const PointEvaluation& point) { return point.tapping_shift; }, permitted(0.5));
        check(
            sentence("error of the reference at most a quarter of the permissible error"),
            {"EN 837-1", Provenance::from_memory}, false,
            [](const PointEvaluation& point) -> std::optional<double> {
                if (!point.mean) return std::nullopt;
                for (const Part& part : point.mean->contains)
                    if (part.name == "reference") return 2 * part.u;
                return std::nullopt;
            },
            permitted(0.25));
    }

    void find_overall_verdict() {
        if (!settings_.permissible) return cannot_say(a_verdict(), sentence("no permissible error is given"));
        if (settings_.permissible->not_compared && !settings_.method_confirmed)
            unsaid_.add(Topic::provenance, sentence("the permissible error"),
                        sentence("its limits are from memory, not compared with the edition"));
        if (needs_span(*settings_.permissible) && !span())
            return cannot_say(a_verdict(), sentence("the permissible error is of the span, and no span is given"));
        if (!settings_.decision)
            return cannot_say(a_verdict(), sentence("no decision rule is given"),
                              {"ISO/IEC 17025:2017, 7.8.6", Provenance::read});
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
                cannot_say(a_verdict(),
                           sentence("no uncertainty is known at {points}; a decision rule needs it",
                                    {words_value("points", count(without_u))}),
                           {"ISO/IEC 17025:2017, 7.8.6", Provenance::read});
            else if (open > 0)
                cannot_say(a_verdict(), sentence("there is none at {points}", {words_value("points", count(open))}));
            for (const auto& one : read_.lacking)
                cannot_say(
                    a_verdict(),
                    sentence("it would not cover what is asked for: {lacking}", {words_value("lacking", one.words)}),
                    one.source);
            if (open > 0 || !read_.lacking.empty()) return;
        }
        out_.verdict = overall;
        if (overall) out_.verdict_covers = read_.covers;
    }

    Sentence count(std::size_t points) const {
        const std::size_t all = out_.points.size();
        if (points == all) return points == 1 ? sentence("the only point") : sentence("any point");
        return sentence("{some} of {all} points",
                        {number_value("some", std::to_string(points)), number_value("all", std::to_string(all))});
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
