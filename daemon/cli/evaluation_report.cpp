#include "daemon/cli/evaluation_report.hpp"

#include "daemon/cli/columns.hpp"
#include "daemon/cli/wording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace stillmark::cli {

namespace {

std::string percent(const std::optional<double>& probability) {
    if (!probability) return "-";
    // Rounding may not make certainty of what is none.
    if (*probability < 1e-4) return *probability > 0 ? "<0.01 %" : "0 %";
    if (*probability > 0.9999) return *probability < 1 ? ">99.99 %" : "100 %";
    return fmt::format("{:.2f} %", *probability * 100);
}

std::string degrees_of_freedom(const std::optional<double>& dof) {
    return dof ? fmt::format("{:.3g}", *dof) : "inf";
}

std::string or_dash(const std::string& text) {
    return text.empty() ? "-" : text;
}

class Report {
  public:
    Report(const Json& evaluation, const std::string& unit, std::size_t columns, std::string& objection)
        : of_(evaluation, "evaluation", objection), unit_(unit), columns_(columns), objection_(objection),
          shown_(show_with("Pa", measure(), 0)) {}

    std::vector<std::string> lines() {
        points();
        summary();
        fits();
        verdict();
        overlaps();
        findings();
        unsaid();
        return std::move(lines_);
    }

  private:
    Fields part(const Json* value, std::string place) const {
        static const Json nothing = Json::object();
        return {value != nullptr ? *value : nothing, std::move(place), objection_};
    }
    Fields part(std::string_view key) const { return part(of_.object(key), of_.place_of(key)); }
    template <class Use>
    void each(std::string_view key, Use use) const {
        if (const Json* list = of_.list(key))
            for (std::size_t i = 0; i < list->size(); ++i)
                use(part(&(*list)[i], fmt::format("{}[{}]", of_.place_of(key), i)));
    }

    /// What the decimals go by: the smallest of all uncertainties, permissible errors and acceptance limits, so that
    /// what decides can be read; without any, a tenth of the largest deviation.
    double measure() const {
        double least = 0;
        const auto take = [&least](const std::optional<double>& one) {
            if (one && *one > 0) least = least > 0 ? std::min(least, *one) : *one;
        };
        each("points", [&](const Fields& point) {
            take(point.number("permissible_error"));
            for (const char* which : {"up", "down", "mean"}) {
                const Fields basis = part(point.object(which), point.place_of(which));
                take(basis.number("expanded_uncertainty"));
                take(basis.number("acceptance_limit"));
            }
        });
        return least > 0 ? least : std::abs(part("largest").number("deviation").value_or(0)) / 10;
    }

    std::string with_unit(const std::string& text) const { return unit_.empty() ? text : text + " " + unit_; }
    void say(const std::string& text, std::size_t hang = 2) {
        if (width(text) <= columns_) return lines_.push_back(text);
        for (auto& line : wrap(text, columns_, hang))
            lines_.push_back(std::move(line));
    }

    /// A named value; what does not fit on its line goes on under its beginning.
    void say_named(const std::string& name, const std::string& text) {
        constexpr std::size_t values_begin = 28;
        const auto parts = wrap(text, columns_ - values_begin);
        for (std::size_t i = 0; i < parts.size(); ++i)
            lines_.push_back(fill(i == 0 ? name : "", values_begin) + parts[i]);
    }

    /// What each verdict rests on: a row a point and direction.
    void bases() {
        using Align = Table::Align;
        Table table;
        table.add_column("reference", Align::right);
        table.add_column("direction");
        for (const char* name : {"deviation", "U", "k", "nu", "permitted", "accepted"})
            table.add_column(name, Align::right);
        table.add_column("P outside", Align::right, 2);
        table.add_column("verdict");
        std::string at_capability;
        bool any_u = false;
        for (const auto& [key, direction] : {std::pair{"up", "rising"}, std::pair{"down", "falling"}})
            each("points", [&, key = key, direction = direction](const Fields& point) {
                if (point.object(key) == nullptr) return;
                const Fields one = part(point.object(key), point.place_of(key));
                const auto reference = shown_.number(point.number("reference"));
                const auto accepted = one.number("acceptance_limit"), k = one.number("coverage_factor");
                any_u = any_u || k;
                if (one.flag("at_capability"))
                    at_capability += (at_capability.empty() ? "" : ", ") + reference + " " + direction;
                table.add_row({reference, direction, shown_.signed_number(one.number("deviation")),
                               shown_.number(one.number("expanded_uncertainty")), k ? fmt::format("{:.2f}", *k) : "-",
                               k ? degrees_of_freedom(one.number("degrees_of_freedom")) : "-",
                               shown_.number(one.number("permissible_error")),
                               accepted && !(*accepted > 0) ? std::string("none") : shown_.number(accepted),
                               percent(one.number("probability_outside")), or_dash(one.text("verdict"))});
            });
        for (auto& line : table.lines(columns_))
            lines_.push_back(std::move(line));
        if (any_u)
            say("U = k u of that direction; k is Student's t for nu effective degrees of freedom and 95.45 %. P "
                "outside: "
                "probability that the deviation is in truth beyond the permitted one.");
        if (!at_capability.empty())
            say("U is the laboratory's stated capability, larger than what was worked out (k = 2), at: " +
                at_capability);
    }

    /// Both directions together; no verdict rests on it.
    void together() {
        using Align = Table::Align;
        bool any = false, any_repeated = false;
        each("points", [&](const Fields& point) {
            any_repeated |= point.number("repeatability").has_value();
            any |= point.number("hysteresis").has_value();
        });
        if (!any && !any_repeated) return;
        Table table;
        for (const char* name : {"reference", "mean dev.", "hyst."})
            table.add_column(name, Align::right);
        if (any_repeated) table.add_column("repeat.", Align::right);
        table.add_column("U mean", Align::right);
        table.add_column("k", Align::right);
        each("points", [&](const Fields& point) {
            const Fields mean = part(point.object("mean"), point.place_of("mean"));
            std::vector<std::string> cells{shown_.number(point.number("reference")),
                                           shown_.signed_number(mean.number("deviation")),
                                           shown_.number(point.number("hysteresis"))};
            if (any_repeated) cells.push_back(shown_.number(point.number("repeatability")));
            cells.push_back(shown_.number(mean.number("expanded_uncertainty")));
            const auto k = mean.number("coverage_factor");
            cells.push_back(k ? fmt::format("{:.2f}", *k) : "-");
            table.add_row(std::move(cells));
        });
        lines_.emplace_back();
        lines_.emplace_back("Both directions together, with the hysteresis in U mean; no verdict rests on it:");
        for (auto& line : table.lines(columns_))
            lines_.push_back(std::move(line));
    }

    void points() {
        if (!unit_.empty()) lines_.push_back("All in " + unit_ + ".");
        bases();
        together();
        lines_.emplace_back();
    }

    /// With the specification, the rule and what it covers (ISO/IEC 17025:2017, 7.8.6.2).
    void verdict() {
        say_named("Verdict", or_dash(of_.text("verdict")));
        const auto said = [&](const char* name, const std::string& text) {
            if (!text.empty()) say_named(name, printable(text));
        };
        said("- covers", of_.text("verdict_covers"));
        said("- permissible error", of_.text("permissible_error"));
        said("- decision rule", part("decision_rule").text("words"));
    }

    void row(const char* name, const std::optional<double>& value) {
        if (value) say_named(name, with_unit(shown_.number(value)));
    }

    void summary() {
        const Fields largest = part("largest");
        row("Zero deviation", of_.number("zero_deviation"));
        row("Error of the span", of_.number("span_error"));
        const Fields accuracy = part("measured_accuracy");
        if (const auto low = accuracy.number("lowest"), high = accuracy.number("highest"); low && high)
            say_named("Measured accuracy", shown_.signed_number(low) + " to " + with_unit(shown_.signed_number(high)));
        if (const auto farthest = largest.number("deviation"))
            say_named("Largest deviation", with_unit(shown_.signed_number(farthest)));
        row("Largest hysteresis", largest.number("hysteresis"));
        row("Largest repeatability", largest.number("repeatability"));
        row("Largest reproducibility", largest.number("reproducibility"));
        row("Largest tapping shift", largest.number("tapping_shift"));
        row("Largest U", largest.number("expanded_uncertainty"));
        row("Largest U + |deviation|", largest.number("error_span"));
    }

    /// Of a fit that is weighted.
    static std::string chi_squared(const Fields& fit) {
        const auto found = fit.number("chi_squared"), limit = fit.number("chi_squared_limit");
        return found && limit ? fmt::format(", chi-squared {:.3g} (95 % quantile {:.3g})", *found, *limit) : "";
    }

    /// Of points that were read repeatedly.
    static std::string lack_of_fit(const Fields& test) {
        if (!test.number("lack_of_fit")) return {};
        const auto f = test.number("f"), p = test.number("p");
        if (!f || !p) return ", lack of fit not tested: repeated readings agree exactly";
        return fmt::format(", lack of fit F {:.4g} ({:.0f} and {:.0f} degrees of freedom), p {:.3g}", *f,
                           test.number("lack_of_fit_degrees_of_freedom").value_or(0),
                           test.number("pure_error_degrees_of_freedom").value_or(0), *p);
    }

    /// "c0 (u), c1 (u), ..." and the rows of their covariance.
    void coefficients(const Fields& polynomial) {
        const Json* values = polynomial.list("coefficients");
        const Json* u = polynomial.list("u");
        const Json* covariance = polynomial.list("covariance");
        const auto number = [](const Json& one, int digits) {
            return one.is_number() ? fmt::format("{:.{}g}", one.get<double>(), digits) : std::string("-");
        };
        std::string text;
        for (std::size_t i = 0; values != nullptr && u != nullptr && i < std::min(values->size(), u->size()); ++i)
            text += fmt::format("{}{} ({})", i == 0 ? "" : ", ", number((*values)[i], 9), number((*u)[i], 2));
        if (!text.empty()) say_named("- coefficients (u)", text);
        std::string rows;
        for (std::size_t i = 0; covariance != nullptr && i < covariance->size(); ++i) {
            const Json& row = (*covariance)[i];
            std::string cells;
            for (std::size_t j = 0; row.is_array() && j < row.size(); ++j)
                cells += (j == 0 ? "" : ", ") + number(row[j], 6);
            rows += fmt::format("{}[{}]", i == 0 ? "" : ", ", cells);
        }
        if (!rows.empty()) say_named("- covariance, by rows", rows);
    }

    void fits() {
        const Fields above = part("uncertainty_line");
        if (const auto a = above.number("a"), b = above.number("b"); a && b)
            say_named("Line above all U",
                      fmt::format("U(p) = {:.3g} {} {:.3g} p", *a, *b < 0 ? "-" : "+", std::abs(*b)));
        const Fields line = part("line");
        const auto intercept = line.number("intercept"), slope = line.number("slope");
        if (intercept && slope)
            say_named("Transfer line (u)",
                      fmt::format("reading = {:.6g} ({:.2g}) + {:.9g} ({:.2g}) reference, residual s {:.3g}",
                                  *intercept, line.number("intercept_u").value_or(0), *slope,
                                  line.number("slope_u").value_or(0), line.number("residual_sd").value_or(0)) +
                          chi_squared(line) +
                          lack_of_fit(part(line.object("lack_of_fit"), line.place_of("lack_of_fit"))));
        const Fields linearity = part(line.object("linearity"), line.place_of("linearity"));
        if (linearity.number("terminal"))
            say_named("Linearity", fmt::format("terminal {}, zero-based {}, independent {}",
                                               shown_.number(linearity.number("terminal")),
                                               shown_.number(linearity.number("zero_based")),
                                               shown_.number(linearity.number("independent"))));
        each("polynomials", [&](const Fields& one) {
            say_named("Polynomial", fmt::format("degree {}, residual s {:.3g}", one.whole("degree").value_or(0),
                                                one.number("residual_sd").value_or(0)) +
                                        chi_squared(one) +
                                        lack_of_fit(part(one.object("lack_of_fit"), one.place_of("lack_of_fit"))));
            coefficients(one);
        });
    }

    void overlaps() {
        each("overlaps", [&](const Fields& one) {
            say_named("Overlap",
                      fmt::format("{}, {}: {} in the low range, {} in the high, E_n {:.2f}: {}",
                                  printable(one.text("target")), one.text("direction"),
                                  shown_.signed_number(one.number("deviation_low")),
                                  shown_.signed_number(one.number("deviation_high")), one.number("en").value_or(0),
                                  one.text("finding") == "too_coarse" ? "too coarse an instrument to tell"
                                  : one.text("finding") == "agree"    ? "the ranges agree"
                                                                      : "the ranges do not agree"));
        });
    }

    void findings() {
        each("findings", [&](const Fields& one) {
            say(fmt::format("{} {}: {}", one.flag("met") ? "Met:    " : "Not met:", one.text("rule"),
                            printable(one.text("found"))),
                9);
        });
    }

    void unsaid() {
        const Json* list = of_.list("unsaid");
        if (list == nullptr || list->empty()) return;
        lines_.emplace_back();
        lines_.emplace_back("What is not said, or only so:");
        each("unsaid", [&](const Fields& one) {
            say(fmt::format("- {}: {}", printable(one.text("what")), printable(one.text("why"))));
        });
    }

    Fields of_;
    const std::string& unit_;
    std::size_t columns_;
    std::string& objection_;
    Shown shown_;
    std::vector<std::string> lines_;
};

} // namespace

std::vector<std::string> evaluation_lines(const Json& evaluation, const std::string& unit, std::size_t columns,
                                          std::string& objection) {
    return Report(evaluation, unit, columns, objection).lines();
}

} // namespace stillmark::cli
