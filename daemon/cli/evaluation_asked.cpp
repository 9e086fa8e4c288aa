#include "daemon/cli/evaluation_asked.hpp"

#include "daemon/cli/columns.hpp"
#include "daemon/cli/csv_rows.hpp"
#include "daemon/metrology/evaluation/acceptance_risks.hpp"
#include "daemon/metrology/evaluation/inverse_reading.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

namespace stillmark::cli {

namespace {

Json finite_or_null(double value) {
    return std::isfinite(value) ? Json(value) : Json(nullptr);
}

/// A reading by one curve.
Json by_curve(const metrology::ReadingFit& fit, const EvaluateSettings::AskedReading& asked, double low, double high) {
    const double u = asked.u.value_or(fit.curve.residual_sd);
    const auto found = metrology::reference_of(fit.curve, asked.reading, u, low, high);
    Json out{{"degree", fit.curve.coefficients.size() - 1},
             {"reading_u", finite_or_null(u)},
             {"reference", nullptr},
             {"standard_uncertainty", nullptr},
             {"degrees_of_freedom", finite_or_null(fit.curve.dof)},
             {"why", nullptr}};
    if (found.why) {
        out["why"] = metrology::word(*found.why);
    } else {
        out["reference"] = finite_or_null(found.reference);
        out["standard_uncertainty"] = finite_or_null(found.u);
    }
    return out;
}

/// What a person is told where a reading has no reference.
std::string why_words(const std::string& why) {
    if (why == metrology::word(metrology::NoInverse::outside))
        return "no reference: the curve has this reading nowhere between the calibrated points, and is not "
               "extrapolated";
    if (why == metrology::word(metrology::NoInverse::not_monotone))
        return "no reference: the curve rises and falls between the calibrated points, so that it may have several";
    return "no reference: the curve has no slope somewhere between the calibrated points";
}

class AskedReport {
  public:
    AskedReport(const Json& evaluation, const std::string& unit, std::size_t columns, std::string& objection)
        : of_(evaluation, "evaluation", objection), unit_(unit.empty() ? "" : " " + unit), columns_(columns),
          objection_(objection) {}

    std::vector<std::string> lines() {
        inverse();
        risks();
        return std::move(lines_);
    }

  private:
    template <class Use>
    void each(const Fields& in, std::string_view key, Use use) const {
        if (const Json* list = in.list(key))
            for (std::size_t i = 0; i < list->size(); ++i)
                use(Fields((*list)[i], fmt::format("{}[{}]", in.place_of(key), i), objection_));
    }

    void heading(const char* words) {
        lines_.emplace_back();
        lines_.emplace_back(words);
    }

    void say(const std::string& text) {
        for (auto& line : wrap(text, columns_, 2))
            lines_.push_back(std::move(line));
    }

    void inverse() {
        const Json* list = of_.list("inverse");
        if (list == nullptr || list->empty()) return;
        heading("References of readings (standard uncertainty):");
        each(of_, "inverse", [&](const Fields& one) {
            if (const Json* curves = one.list("by"); curves != nullptr && curves->empty())
                say(fmt::format("- {:.9g}{}: there is no curve", one.number("reading").value_or(0), unit_));
            each(one, "by", [&](const Fields& by) {
                const std::string from = fmt::format(
                    "- {:.9g}{} (u {:.3g}), {}: ", one.number("reading").value_or(0), unit_,
                    by.number("reading_u").value_or(0),
                    by.whole("degree") == 1 ? "line" : fmt::format("degree {}", by.whole("degree").value_or(0)));
                const auto reference = by.number("reference"), u = by.number("standard_uncertainty");
                say(from + (reference && u ? fmt::format("{:.9g} ({:.3g}){}", *reference, *u, unit_)
                                           : why_words(by.text("why"))));
            });
        });
    }

    void risks() {
        const Json* list = of_.list("risks");
        if (list == nullptr) return;
        heading("Risks of the acceptance limit (JCGM 106:2012, 8 and 9):");
        if (list->empty()) return say("- none: no point has an uncertainty and a permissible error");
        Table table;
        table.add_column("point");
        table.add_column("direction");
        for (const char* name : {"u", "permitted", "accepted to", "consumer's", "producer's", "of accepted",
                                 "of rejected", "at the limit"})
            table.add_column(name, Table::Align::right);
        const auto part = [](const std::optional<double>& one) {
            return one ? fmt::format("{:.3g} %", *one * 100) : "-";
        };
        const auto size = [](const std::optional<double>& one) { return one ? fmt::format("{:.3g}", *one) : "-"; };
        each(of_, "risks", [&](const Fields& one) {
            const std::string target = one.text("target");
            table.add_row(
                {target.empty() ? fmt::format("{:.6g}", one.number("reference").value_or(0)) : printable(target),
                 one.text("direction"), size(one.number("u")), size(one.number("permissible_error")),
                 size(one.number("acceptance_limit")), part(one.number("consumers_risk")),
                 part(one.number("producers_risk")), part(one.number("consumers_risk_of_accepted")),
                 part(one.number("producers_risk_of_rejected")), part(one.number("specific_risk_at_limit"))});
        });
        for (auto& line : table.lines(columns_))
            lines_.push_back(std::move(line));
    }

    Fields of_;
    std::string unit_;
    std::size_t columns_;
    std::string& objection_;
    std::vector<std::string> lines_;
};

} // namespace

Json acceptance_risks_json(const metrology::AcceptanceRisks& risks) {
    return {{"conforming", finite_or_null(risks.conforming)},
            {"accepted", finite_or_null(risks.accepted)},
            {"consumers_risk", finite_or_null(risks.consumers)},
            {"producers_risk", finite_or_null(risks.producers)},
            {"consumers_risk_of_accepted", finite_or_null(risks.of_accepted)},
            {"producers_risk_of_rejected", finite_or_null(risks.of_rejected)},
            {"specific_risk_at_limit", finite_or_null(risks.specific_at_limit)}};
}

std::string ask_inverse(const std::string& option, EvaluateSettings& settings) {
    if (option.empty()) return {};
    for (std::size_t begin = 0; begin <= option.size();) {
        const std::size_t end = std::min(option.find(',', begin), option.size());
        const std::string one = option.substr(begin, end - begin);
        const std::size_t colon = one.find(':');
        std::string why;
        const auto reading = csv_number(one.substr(0, colon), why);
        std::optional<double> u;
        if (colon != std::string::npos) u = csv_number(one.substr(colon + 1), why);
        if (why.empty() && u && !(*u >= 0)) why = "a standard uncertainty is not below zero";
        if (!why.empty())
            return fmt::format("--inverse: \"{}\": {}; give readings such as 12.34,15.02:0.01", printable(one), why);
        const double each = settings.output ? std::abs(settings.pressure_per_signal()) : 1;
        settings.inverse.push_back({settings.shown_pressure(*reading), u ? std::optional(*u * each) : std::nullopt});
        begin = end + 1;
    }
    return {};
}

Json inverse_json(const metrology::Evaluation& evaluation, const EvaluateSettings& settings) {
    Json out = Json::array();
    for (const auto& asked : settings.inverse) {
        Json by = Json::array();
        if (!evaluation.points.empty()) {
            const double low = evaluation.points.front().reference, high = evaluation.points.back().reference;
            if (evaluation.line) by.push_back(by_curve(*evaluation.line, asked, low, high));
            for (const auto& polynomial : evaluation.polynomials)
                by.push_back(by_curve(polynomial, asked, low, high));
        }
        out.push_back({{"reading", asked.reading}, {"by", std::move(by)}});
    }
    return out;
}

Json risks_json(const metrology::Evaluation& evaluation, const EvaluateSettings& settings) {
    if (!settings.risk) return nullptr;
    Json out = Json::array();
    for (const auto& point : evaluation.points) {
        if (!point.permissible || !(*point.permissible > 0)) continue;
        const double accepted =
            metrology::permissible_at(settings.risk->acceptance, point.reference, settings.use.span_low.value_or(0),
                                      settings.use.span_high.value_or(0));
        const auto add = [&](const char* direction, const std::optional<metrology::ConformityBasis>& one) {
            if (!one || !one->u || !(*one->u > 0)) return;
            const double u = *one->u; // of the stated capability where that is larger
            Json risk = acceptance_risks_json(
                metrology::acceptance_risks(settings.risk->process, u, *point.permissible, accepted));
            risk["target"] = point.target.empty() ? Json(nullptr) : Json(point.target);
            risk["reference"] = point.reference;
            risk["direction"] = direction;
            risk["u"] = u;
            risk["permissible_error"] = *point.permissible;
            risk["acceptance_limit"] = accepted;
            out.push_back(std::move(risk));
        };
        add("up", point.up);
        add("down", point.down);
    }
    return out;
}

std::vector<std::string> asked_lines(const Json& evaluation, const std::string& unit, std::size_t columns,
                                     std::string& objection) {
    return AskedReport(evaluation, unit, columns, objection).lines();
}

} // namespace stillmark::cli
