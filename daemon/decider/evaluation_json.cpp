#include "daemon/decider/evaluation_json.hpp"

#include "daemon/metrology/evaluation/transfer_line.hpp"

#include <cmath>

namespace stillmark::decider {

using nlohmann::json;

namespace {

json number(double value) {
    return std::isfinite(value) ? json(value) : json(nullptr);
}

class Writer {
  public:
    explicit Writer(double scale) : scale_(scale) {}

    json scaled(const std::optional<double>& value) const { return value ? number(*value * scale_) : json(nullptr); }
    static json plain(const std::optional<double>& value) { return value ? number(*value) : json(nullptr); }
    static json verdict(const std::optional<metrology::Verdict>& verdict) {
        return verdict ? json(metrology::word(*verdict)) : json(nullptr);
    }

    /// Infinite degrees of freedom are null: a number would be a lie, and JSON has no infinity.
    json basis(const std::optional<metrology::ConformityBasis>& one) const {
        if (!one) return nullptr;
        json contains = json::array();
        for (const auto& part : one->contains)
            contains.push_back({{"name", part.name}, {"value", scaled(part.value)}, {"u", scaled(part.u)}});
        return {{"readings", one->readings},
                {"deviation", scaled(one->deviation)},
                {"standard_uncertainty", scaled(one->u)},
                {"coverage_factor", one->u ? number(one->k) : json(nullptr)},
                {"degrees_of_freedom", one->u ? number(one->dof) : json(nullptr)},
                {"expanded_uncertainty", scaled(one->expanded)},
                {"at_capability", one->at_capability},
                {"contains", std::move(contains)},
                {"permissible_error", scaled(one->permissible)},
                {"acceptance_limit", scaled(one->acceptance)},
                {"probability_outside", plain(one->outside)},
                {"verdict", verdict(one->verdict)}};
    }

    /// With its numbers beside its words.
    json decision_rule(const std::optional<metrology::DecisionRule>& rule) const {
        if (!rule) return nullptr;
        json out{{"rule", metrology::word(rule->rule)}, {"words", metrology::words(*rule)}};
        switch (rule->rule) {
        case metrology::Rule::simple_acceptance:
            break;
        case metrology::Rule::uncertainty_ratio:
            out["at_least"] = rule->least_ratio;
            break;
        case metrology::Rule::guard_band:
            if (rule->by_ratio)
                out["by_ratio"] = metrology::word(*rule->by_ratio);
            else
                out["guard_factor"] = rule->guard_factor;
            out["statements"] = rule->non_binary ? "non-binary" : "binary";
            break;
        case metrology::Rule::global_risk:
            if (rule->process)
                out["process"] = {{"mean", scaled(rule->process->mean)}, {"sd", scaled(rule->process->sd)}};
            [[fallthrough]];
        case metrology::Rule::specific_risk:
            out["risk"] = rule->risk;
            break;
        }
        return out;
    }

    json point(const metrology::PointEvaluation& one) const {
        return {{"target", one.target.empty() ? json(nullptr) : json(one.target)},
                {"reference", scaled(one.reference)},
                {"zero", one.zero},
                {"up", basis(one.up)},
                {"down", basis(one.down)},
                {"mean", basis(one.mean)},
                {"hysteresis", scaled(one.hysteresis)},
                {"repeatability", scaled(one.repeatability)},
                {"reproducibility", scaled(one.reproducibility)},
                {"tapping_shift", scaled(one.tapping_shift)},
                {"error_span", scaled(one.error_span)},
                {"permissible_error", scaled(one.permissible)},
                {"capability_index", plain(one.capability_index)},
                {"probability_outside", plain(one.outside)},
                {"verdict", verdict(one.verdict)}};
    }

    json line(const metrology::Evaluation& of) const {
        if (!of.line) return nullptr;
        json linearity = nullptr;
        if (of.linearity)
            linearity = {{"terminal", scaled(of.linearity->terminal)},
                         {"zero_based", scaled(of.linearity->zero_based)},
                         {"independent", scaled(of.linearity->independent)}};
        const metrology::TransferLine straight = metrology::line_of(of.line->curve);
        json out = quality(*of.line);
        out["slope"] = number(straight.slope);
        out["intercept"] = scaled(straight.intercept);
        out["slope_u"] = number(straight.u_slope);
        out["intercept_u"] = scaled(straight.u_intercept);
        out["covariance"] = scaled(straight.covariance);
        out["weighting"] = of.weighting;
        out["linearity"] = std::move(linearity);
        return out;
    }

    json polynomial(const metrology::ReadingFit& one) const {
        json coefficients = json::array(), u = json::array();
        double power = scale_; // a coefficient of x^i is in unit^(1 - i)
        for (std::size_t i = 0; i < one.curve.coefficients.size(); ++i) {
            coefficients.push_back(number(one.curve.coefficients[i] * power));
            u.push_back(number(one.curve.u(i) * power));
            power /= scale_;
        }
        json out = quality(one);
        out["degree"] = one.curve.coefficients.size() - 1;
        out["coefficients"] = std::move(coefficients);
        out["u"] = std::move(u);
        out["covariance"] = covariance(one.curve);
        return out;
    }

    /// Rows of the matrix; that of the coefficients of x^i and x^j is in unit^(2 - i - j).
    json covariance(const metrology::LeastSquares& curve) const {
        json rows = json::array();
        double of_row = scale_;
        for (std::size_t i = 0; i < curve.coefficients.size(); ++i) {
            json row = json::array();
            double of_column = scale_;
            for (std::size_t j = 0; j < curve.coefficients.size(); ++j) {
                row.push_back(number(curve.covariance_of(i, j) * of_row * of_column));
                of_column /= scale_;
            }
            rows.push_back(std::move(row));
            of_row /= scale_;
        }
        return rows;
    }

    /// Sums of squares of a weighted fit are without unit.
    json lack_of_fit(const metrology::ReadingFit& of) const {
        if (!of.lack_of_fit) return nullptr;
        const auto& one = *of.lack_of_fit;
        const double squared = of.weighted ? 1 : scale_ * scale_;
        return {{"pure_error", number(one.pure_error * squared)},
                {"pure_error_degrees_of_freedom", number(one.pure_error_dof)},
                {"lack_of_fit", number(one.lack * squared)},
                {"lack_of_fit_degrees_of_freedom", number(one.lack_dof)},
                {"f", plain(one.f)},
                {"p", plain(one.p)}};
    }

    /// How well readings lie on a curve. Without weights there is no chi-squared: nothing to measure the residuals by.
    json quality(const metrology::ReadingFit& one) const {
        return {{"weighted", one.weighted},
                {"chi_squared", one.weighted ? number(one.curve.chi_squared) : json(nullptr)},
                {"chi_squared_limit", plain(one.chi_squared_limit)},
                {"enlarged", number(one.enlarged)},
                {"degrees_of_freedom", number(one.curve.dof)},
                {"residual_sd", scaled(one.curve.residual_sd)},
                {"r_squared", number(one.curve.r_squared)},
                {"f", number(one.curve.f)},
                {"lack_of_fit", lack_of_fit(one)}};
    }

  private:
    double scale_;
};

} // namespace

json evaluation_json(const metrology::Evaluation& evaluation, double scale) {
    const Writer write(scale);
    json points = json::array(), polynomials = json::array(), findings = json::array(), unsaid = json::array();
    for (const auto& one : evaluation.points)
        points.push_back(write.point(one));
    for (const auto& one : evaluation.polynomials)
        polynomials.push_back(write.polynomial(one));
    for (const auto& one : evaluation.findings)
        findings.push_back({{"rule", english(one.rule) + metrology::in_brackets(one.source)},
                            {"met", one.met},
                            {"found", english(one.found)}});
    for (const auto& one : evaluation.unsaid)
        unsaid.push_back({{"what", english(one.what)}, {"why", metrology::why_words(one)}});
    json above = nullptr;
    if (evaluation.uncertainty_line)
        above = {{"a", write.scaled(evaluation.uncertainty_line->a)}, {"b", number(evaluation.uncertainty_line->b)}};
    return {{"points", std::move(points)},
            {"zero_deviation", write.scaled(evaluation.zero_deviation)},
            {"span_error", write.scaled(evaluation.span_error)},
            {"measured_accuracy",
             {{"lowest", write.scaled(evaluation.most_negative)}, {"highest", write.scaled(evaluation.most_positive)}}},
            {"line", write.line(evaluation)},
            {"polynomials", std::move(polynomials)},
            {"largest",
             {{"deviation", write.scaled(evaluation.largest_deviation)},
              {"hysteresis", write.scaled(evaluation.largest_hysteresis)},
              {"repeatability", write.scaled(evaluation.largest_repeatability)},
              {"reproducibility", write.scaled(evaluation.largest_reproducibility)},
              {"tapping_shift", write.scaled(evaluation.largest_tapping_shift)},
              {"expanded_uncertainty", write.scaled(evaluation.largest_expanded)},
              {"error_span", write.scaled(evaluation.largest_error_span)}}},
            {"uncertainty_line", std::move(above)},
            {"findings", std::move(findings)},
            {"permissible_error",
             evaluation.specification.empty() ? json(nullptr) : json(english(evaluation.specification))},
            {"decision_rule", write.decision_rule(evaluation.decision)},
            {"verdict", Writer::verdict(evaluation.verdict)},
            {"verdict_covers",
             evaluation.verdict_covers.empty() ? json(nullptr) : json(english(evaluation.verdict_covers))},
            {"unsaid", std::move(unsaid)}};
}

} // namespace stillmark::decider
