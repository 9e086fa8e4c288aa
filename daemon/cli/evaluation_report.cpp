#include "daemon/cli/evaluation_report.hpp"

#include "daemon/cli/columns.hpp"
#include "daemon/cli/wording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace stillmark::cli {

namespace {

using metrology::Evaluation;

/// Smallest uncertainty of all points, or a hundredth of the largest deviation: what the decimals go by.
double measure(const Evaluation& evaluation) {
    double least = 0;
    for (const auto& point : evaluation.points)
        if (point.mean && point.mean->expanded && *point.mean->expanded > 0)
            least = least > 0 ? std::min(least, *point.mean->expanded) : *point.mean->expanded;
    return least > 0 ? least : evaluation.largest_deviation.value_or(0) / 10;
}

std::string percent(const std::optional<double>& probability) {
    if (!probability) return "-";
    // Rounding may not make certainty of what is none.
    if (*probability > 0.9999) return *probability == 1 ? "100 %" : ">99.99 %";
    return fmt::format("{:.2f} %", *probability * 100);
}

std::string verdict_word(const std::optional<metrology::Verdict>& verdict) {
    return verdict ? metrology::word(*verdict) : "-";
}

class Report {
  public:
    Report(const Evaluation& evaluation, const std::string& unit, double scale, std::size_t columns)
        : of_(evaluation), unit_(unit), scale_(scale), columns_(columns),
          shown_(show_with("Pa", measure(evaluation) * scale, 0)) {}

    std::vector<std::string> lines() {
        points();
        summary();
        findings();
        unsaid();
        return std::move(lines_);
    }

  private:
    std::string number(const std::optional<double>& value) const {
        return value ? shown_.number(*value * scale_) : "-";
    }
    std::string signed_number(const std::optional<double>& value) const {
        return value ? shown_.signed_number(*value * scale_) : "-";
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
        Table table;
        table.add_column("reference", Align::right);
        table.add_column("up", Align::right, 3);
        table.add_column("down", Align::right, 3);
        table.add_column("mean dev.", Align::right);
        table.add_column("hyst.", Align::right, 2);
        table.add_column("repeat.", Align::right, 2);
        table.add_column("U", Align::right);
        table.add_column("permitted", Align::right, 1);
        table.add_column("P conform", Align::right, 1);
        table.add_column("verdict");
        const auto deviation = [](const std::optional<metrology::Deviation>& one) -> std::optional<double> {
            return one ? std::optional(one->deviation) : std::nullopt;
        };
        for (const auto& point : of_.points)
            table.add_row({number(point.reference), signed_number(deviation(point.up)),
                           signed_number(deviation(point.down)), signed_number(deviation(point.mean)),
                           number(point.hysteresis), number(point.repeatability),
                           number(point.mean ? point.mean->expanded : std::nullopt), number(point.permissible),
                           percent(point.probability), verdict_word(point.verdict)});
        if (!unit_.empty()) lines_.push_back("All in " + unit_ + ".");
        for (auto& line : table.lines(columns_))
            lines_.push_back(std::move(line));
        lines_.emplace_back();
    }

    void summary() {
        const auto row = [&](const char* name, const std::optional<double>& value) {
            if (value) say_named(name, with_unit(number(value)));
        };
        row("Zero deviation", of_.zero_deviation);
        row("Error of the span", of_.span_error);
        if (of_.most_negative && of_.most_positive)
            say_named("Measured accuracy",
                      signed_number(of_.most_negative) + " to " + with_unit(signed_number(of_.most_positive)));
        row("Largest deviation", of_.largest_deviation);
        row("Largest hysteresis", of_.largest_hysteresis);
        row("Largest repeatability", of_.largest_repeatability);
        row("Largest reproducibility", of_.largest_reproducibility);
        row("Largest tapping shift", of_.largest_tapping_shift);
        row("Largest U", of_.largest_expanded);
        row("Largest U + |deviation|", of_.largest_error_span);
        if (of_.uncertainty_line)
            say_named("Line above all U",
                      fmt::format("U(p) = {:.3g} {} {:.3g} p", of_.uncertainty_line->a * scale_,
                                  of_.uncertainty_line->b < 0 ? "-" : "+", std::abs(of_.uncertainty_line->b)));
        if (of_.line)
            say_named("Transfer line (u)",
                      fmt::format("reading = {:.6g} ({:.2g}) + {:.9g} ({:.2g}) reference, residual s {:.3g}",
                                  of_.line->intercept * scale_, of_.line->u_intercept * scale_, of_.line->slope,
                                  of_.line->u_slope, of_.line->residual_sd * scale_));
        if (of_.linearity)
            say_named("Linearity",
                      fmt::format("terminal {}, zero-based {}, independent {}", number(of_.linearity->terminal),
                                  number(of_.linearity->zero_based), number(of_.linearity->independent)));
        for (const auto& one : of_.polynomials)
            say_named("Polynomial", fmt::format("degree {}, residual s {:.3g}", one.degree, one.residual_sd * scale_));
        say_named("Verdict", verdict_word(of_.verdict));
    }

    void findings() {
        for (const auto& one : of_.findings)
            say(fmt::format("{} {}: {}", one.met ? "Met:    " : "Not met:", one.rule, one.found), 9);
    }

    void unsaid() {
        if (of_.unsaid.empty()) return;
        lines_.emplace_back();
        lines_.emplace_back("What is not said, or only so:");
        for (const auto& one : of_.unsaid)
            say(fmt::format("- {}: {}", printable(one.what), printable(one.why)));
    }

    const Evaluation& of_;
    const std::string& unit_;
    double scale_;
    std::size_t columns_;
    Shown shown_;
    std::vector<std::string> lines_;
};

} // namespace

std::vector<std::string> evaluation_lines(const Evaluation& evaluation, const std::string& unit, double scale,
                                          std::size_t columns) {
    return Report(evaluation, unit, scale, columns).lines();
}

} // namespace stillmark::cli
