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
    if (*probability > 0.9999) return *probability == 1 ? "100 %" : ">99.99 %";
    return fmt::format("{:.2f} %", *probability * 100);
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
            take(point.number("expanded_uncertainty"));
            take(point.number("permissible_error"));
            take(that_decides(point, "expanded_uncertainty", true));
            take(that_decides(point, "acceptance_limit", false));
        });
        return least > 0 ? least : part("largest").number("deviation").value_or(0) / 10;
    }

    /// The larger or smaller value of the two directions, which verdicts count on.
    std::optional<double> that_decides(const Fields& point, std::string_view key, bool larger) const {
        std::optional<double> found;
        for (const char* direction : {"up", "down"}) {
            const auto one = part(point.object(direction), point.place_of(direction)).number(key);
            if (one) found = larger ? std::max(found.value_or(*one), *one) : std::min(found.value_or(*one), *one);
        }
        return found;
    }

    /// "k = 2" where it is the same at every point; otherwise it has a column.
    std::optional<double> common_k() const {
        std::optional<double> k;
        bool same = true;
        each("points", [&](const Fields& point) {
            for (const auto& one : {that_decides(point, "coverage_factor", true), point.number("coverage_factor")})
                if (one) {
                    same = same && std::abs(k.value_or(*one) - *one) < 0.005;
                    k = one;
                }
        });
        return same ? k : std::nullopt;
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

    void points() {
        using Align = Table::Align;
        const auto k = common_k();
        bool any_repeated = false;
        each("points", [&](const Fields& point) { any_repeated |= point.number("repeatability").has_value(); });
        Table table;
        table.add_column("reference", Align::right);
        table.add_column("up", Align::right, 3);
        table.add_column("down", Align::right, 3);
        table.add_column("mean dev.", Align::right);
        table.add_column("hyst.", Align::right, 4);
        if (any_repeated) table.add_column("repeat.", Align::right, 5);
        table.add_column("U", Align::right);
        if (!k) table.add_column("k", Align::right);
        table.add_column("U mean", Align::right, 1);
        table.add_column("permitted", Align::right, 1);
        table.add_column("accepted", Align::right, 1);
        table.add_column("P conform", Align::right, 4);
        table.add_column("verdict");
        std::string at_capability;
        bool any_u = false;
        each("points", [&](const Fields& point) {
            const auto one_way = [&](std::string_view key) {
                return shown_.signed_number(part(point.object(key), point.place_of(key)).number("deviation"));
            };
            if (point.flag("at_capability"))
                at_capability += (at_capability.empty() ? "" : ", ") + shown_.number(point.number("reference"));
            const auto accepted = that_decides(point, "acceptance_limit", false);
            any_u = any_u || point.number("expanded_uncertainty");
            std::vector<std::string> cells{shown_.number(point.number("reference")), one_way("up"), one_way("down"),
                                           shown_.signed_number(point.number("mean_deviation")),
                                           shown_.number(point.number("hysteresis"))};
            if (any_repeated) cells.push_back(shown_.number(point.number("repeatability")));
            cells.push_back(shown_.number(that_decides(point, "expanded_uncertainty", true)));
            if (!k) {
                const auto own = that_decides(point, "coverage_factor", true);
                cells.push_back(own ? fmt::format("{:.2f}", *own) : "-");
            }
            for (auto cell :
                 {shown_.number(point.number("expanded_uncertainty")), shown_.number(point.number("permissible_error")),
                  accepted && !(*accepted > 0) ? std::string("none") : shown_.number(accepted),
                  percent(point.number("probability_of_conformity")), or_dash(point.text("verdict"))})
                cells.push_back(std::move(cell));
            table.add_row(std::move(cells));
        });
        if (!unit_.empty()) lines_.push_back("All in " + unit_ + ".");
        for (auto& line : table.lines(columns_))
            lines_.push_back(std::move(line));
        if (any_u)
            say(fmt::format(
                "U is expanded ({}, for about 95 %) and of one direction, which verdicts count on; U mean is of the "
                "mean of both, with the hysteresis in it.",
                k ? fmt::format("k = {:.2f}", *k) : "k as shown"));
        if (!at_capability.empty())
            say("U is the laboratory's stated capability, larger than what was worked out, at: " + at_capability);
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
        row("Largest deviation", largest.number("deviation"));
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
                          chi_squared(line));
        const Fields linearity = part(line.object("linearity"), line.place_of("linearity"));
        if (linearity.number("terminal"))
            say_named("Linearity", fmt::format("terminal {}, zero-based {}, independent {}",
                                               shown_.number(linearity.number("terminal")),
                                               shown_.number(linearity.number("zero_based")),
                                               shown_.number(linearity.number("independent"))));
        each("polynomials", [&](const Fields& one) {
            say_named("Polynomial", fmt::format("degree {}, residual s {:.3g}", one.whole("degree").value_or(0),
                                                one.number("residual_sd").value_or(0)) +
                                        chi_squared(one));
        });
    }

    void overlaps() {
        each("overlaps", [&](const Fields& one) {
            say_named("Overlap",
                      fmt::format("{}, {}: {} in the low range, {} in the high, E_n {:.2f}: {}",
                                  printable(one.text("target")), one.text("direction"),
                                  shown_.signed_number(one.number("deviation_low")),
                                  shown_.signed_number(one.number("deviation_high")), one.number("en").value_or(0),
                                  !one.flag("fine_enough") ? "too coarse an instrument to tell"
                                  : one.flag("agrees")     ? "the ranges agree"
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
