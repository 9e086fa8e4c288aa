#include "daemon/cli/evaluate_settings.hpp"

#include "daemon/bench/decision_rule_text.hpp"
#include "daemon/bench/permissible_error_text.hpp"
#include "daemon/metrology/at_most.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

namespace stillmark::cli {

using bench::Place;
using drivers::Dimension;

namespace {

class SettingsReader {
  public:
    SettingsReader(const Place& root, const std::string& table_unit) : root_(root) {
        root.only({"unit", "resolution", "span", "sequence", "method_confirmed", "permissible_error",
                   "reference_uncertainty", "meter_uncertainty", "decision_rule", "capability", "dial", "output",
                   "zeroed", "inverse", "risk"});
        read_unit(table_unit);
    }

    EvaluateSettings read() {
        auto& use = out_.use;
        read_span();
        if (root_.has("output")) read_output();
        if (root_.has("resolution")) use.resolution = indicated(root_.at("resolution"));
        read_sequence();
        if (root_.has("permissible_error")) use.permissible = limit_at(root_.at("permissible_error"));
        if (root_.has("decision_rule")) read_rule();
        if (root_.has("reference_uncertainty")) {
            const Place place = root_.at("reference_uncertainty");
            if (place.node().is_object()) place.only({"u", "U", "k", "a", "b"});
            use.u_reference = read_uncertainty(place, 1);
        }
        if (root_.has("capability")) read_capability();
        if (root_.has("dial")) read_dial();
        if (root_.has("meter_uncertainty")) read_meter();
        use.zeroed = root_.has("zeroed") && root_.at("zeroed").yes_or_no();
        if (root_.has("inverse")) read_inverse();
        if (root_.has("risk")) read_risk();
        return std::move(out_);
    }

  private:
    void read_unit(const std::string& table_unit) {
        if (root_.has("unit")) out_.unit = root_.at("unit").text();
        if (root_.wrong()) return;
        if (!out_.unit.empty() && !table_unit.empty() && out_.unit != table_unit)
            root_.at("unit").say(fmt::format("\"{}\" does not match the table's heading, {}; give both in one unit",
                                             out_.unit, table_unit));
        if (out_.unit.empty()) out_.unit = table_unit;
        if (out_.unit.empty()) return;
        const auto unit = drivers::pressure_unit(out_.unit);
        if (unit)
            pascals_ = unit->pascals;
        else if (root_.has("unit"))
            root_.at("unit").say(
                fmt::format("\"{}\" is no unit of pressure; use one such as bar, kPa, MPa or psi", out_.unit));
    }

    /// The value of a pressure in the table's unit.
    double in_unit(const Place& place, double pa) const {
        if (!place.wrong() && !(pascals_ > 0))
            place.say("it has a unit, but nobody says that of the table; give \"unit\", or write it in the heading as "
                      "\"reference [bar]\"");
        return pa / pascals_;
    }
    double pressure(const Place& place) const { return in_unit(place, place.quantity(Dimension::pressure)); }
    double over_zero(const Place& place) const { return in_unit(place, place.over_zero(Dimension::pressure)); }

    /// Pressure for one unit of the output.
    double per_signal() const { return std::abs(out_.pressure_per_signal()); }

    /// A size in the unit of the electrical output, or nothing where the words are of another unit.
    std::optional<double> signal_size(const std::string& words) const {
        if (!out_.output) return std::nullopt;
        const std::string unit = words.substr(words.find_last_of(' ') + 1);
        const auto dimension = drivers::signal_dimension(unit);
        if (!dimension || dimension != drivers::signal_dimension(out_.output->signal)) return std::nullopt;
        const auto value = drivers::parse_quantity(words, *dimension);
        return value && *value > 0 ? std::optional(*value / drivers::signal_in_si(out_.output->signal)) : std::nullopt;
    }

    /// What an instrument with an electrical output shows may be given in either unit.
    double indicated(const Place& place) const {
        if (place.node().is_string())
            if (const auto signal = signal_size(place.text())) return *signal * per_signal();
        return over_zero(place);
    }

    void read_span() {
        if (!root_.has("span")) return;
        const auto ends = root_.items_at("span", 2);
        if (root_.wrong()) return;
        if (ends.size() != 2) {
            root_.at("span").say("give the two ends, for example [\"0 bar\", \"10 bar\"]");
            return;
        }
        out_.use.span_low = pressure(ends[0]);
        out_.use.span_high = pressure(ends[1]);
        if (!root_.wrong() && !(*out_.use.span_high > *out_.use.span_low))
            root_.at("span").say("the second end is not above the first; give the lower one first");
    }

    void read_sequence() {
        if (root_.has("method_confirmed")) out_.method_confirmed = root_.at("method_confirmed").text();
        out_.use.method_confirmed = !out_.method_confirmed.empty();
        if (!root_.has("sequence")) return;
        out_.method = root_.at("sequence").text();
        if (root_.wrong() || out_.method == "free") return;
        out_.use.method = metrology::method_named(out_.method);
        if (out_.use.method == nullptr)
            root_.at("sequence")
                .say(fmt::format("\"{}\" is no method; use free, {}", out_.method, metrology::method_names()));
    }

    metrology::PermissibleError limit_at(const Place& place) const {
        // Absolute terms are read in pascals; one of the output becomes what it is in pressure.
        auto error = bench::read_permissible_error(place, [&](const std::string& words) -> std::optional<double> {
            const auto signal = signal_size(words);
            return signal ? std::optional(*signal * per_signal() * pascals_) : std::nullopt;
        });
        for (auto& term : error.terms)
            if (term.kind == metrology::PermissibleTerm::Kind::absolute) term.value = in_unit(place, term.value);
        return error;
    }

    /// A reading in the unit of the pressures or of the output.
    double shown(const Place& place) const {
        if (out_.output && place.node().is_string()) {
            const auto dimension = drivers::signal_dimension(out_.output->signal);
            const auto value = drivers::parse_quantity(place.text(), *dimension);
            if (value) return out_.shown_pressure(*value / drivers::signal_in_si(out_.output->signal));
        }
        return pressure(place);
    }

    void read_inverse() {
        for (const Place& item : root_.items_at("inverse")) {
            EvaluateSettings::AskedReading asked;
            if (item.node().is_object()) {
                item.only({"reading", "u"});
                asked.reading = shown(item.at("reading"));
                if (item.has("u")) asked.u = indicated(item.at("u"));
            } else {
                asked.reading = shown(item);
            }
            out_.inverse.push_back(asked);
        }
    }

    void read_risk() {
        const Place place = root_.at("risk");
        place.only({"process", "acceptance_limit"});
        if (!out_.use.permissible && !place.wrong())
            place.say("there is no permissible error that an accepted instrument could exceed; give "
                      "\"permissible_error\" too");
        const Place process = place.at("process");
        if (place.wrong()) return;
        process.only({"mean", "sd"});
        EvaluateSettings::AskedRisk asked;
        if (process.has("mean")) asked.process.mean = pressure(process.at("mean"));
        asked.process.sd = over_zero(process.at("sd"));
        asked.acceptance =
            place.has("acceptance_limit") ? limit_at(place.at("acceptance_limit")) : *out_.use.permissible;
        if (!place.wrong() && metrology::needs_span(asked.acceptance) && !out_.use.span_low)
            place.at("acceptance_limit").say("it is of the span, and no span is given; give \"span\" too");
        out_.risk = asked;
    }

    void read_rule() {
        auto rule = bench::read_decision_rule(root_.at("decision_rule"));
        if (rule.process) {
            rule.process->mean = in_unit(root_.at("decision_rule"), rule.process->mean);
            rule.process->sd = in_unit(root_.at("decision_rule"), rule.process->sd);
        }
        out_.use.decision = rule;
    }

    /// One figure, absolute or of reading: a + b |p|.
    struct Figure {
        double a = 0, b = 0;
    };
    Figure figure(const Place& place) const {
        const std::string words = place.text();
        static const std::string of_reading = " of reading";
        if (!words.ends_with(of_reading)) {
            if (of_the_signal_ && !place.wrong()) return {signal_figure(place), 0};
            if (words.find('%') == std::string::npos) return {over_zero(place), 0};
            place.say(fmt::format("\"{}\" does not say of what; write \"0.01 % of reading\", or a pressure", words));
            return {};
        }
        const auto part = drivers::parse_quantity(std::string_view(words).substr(0, words.size() - of_reading.size()),
                                                  Dimension::fraction);
        if (!part)
            place.say(part.error().message);
        else if (!(*part > 0 && *part < 1))
            place.say(fmt::format("\"{}\" is no uncertainty; it must be over zero and under 100 %", words));
        return {0, part ? *part : 0};
    }

    double signal_figure(const Place& place) const {
        const auto signal = signal_size(place.text());
        if (!signal)
            place.say(fmt::format("found {}; give a size over zero in {}, or \"0.01 % of reading\"",
                                  place.node().dump(), out_.output->signal));
        return signal.value_or(0);
    }

    /// The two figures of a sum, each where it belongs: swapped, neither would count for anything.
    Figure sum_of_two(const Place& place) const {
        Figure sum;
        if (place.has("a")) {
            const Figure constant = figure(place.at("a"));
            if (constant.b > 0)
                place.at("a").say(fmt::format("{} is a part of the reading; \"a\" is none, give it as \"b\"",
                                              place.at("a").node().dump()));
            sum.a = constant.a;
        }
        if (place.has("b")) {
            const Figure part = figure(place.at("b"));
            if (part.a > 0)
                place.at("b").say(fmt::format("{} is no part of the reading such as \"0.01 % of reading\"; give it as "
                                              "\"a\"",
                                              place.at("b").node().dump()));
            sum.b = part.b;
        }
        return sum;
    }

    /// {"u": ..}, {"U": .., "k": 2}, or the sum {"a": .., "b": .. of reading, "k": 2}; times `wanted_k` as a result.
    metrology::UncertaintyAt read_uncertainty(const Place& place, double wanted_k) const {
        if (!place.node().is_object()) {
            place.say(fmt::format("found {}; say which uncertainty it is: {{\"u\": \"0.01 bar\"}}, or {{\"U\": \"0.02 "
                                  "bar\", \"k\": 2}}",
                                  place.node().dump()));
            return {};
        }
        const bool standard = place.has("u"), expanded = place.has("U"), sum = place.has("a") || place.has("b");
        if (standard + expanded + sum != 1) {
            place.say("give one of \"u\", \"U\" with \"k\", or \"a\" and \"b\" with \"k\" (U = a + b of reading)");
            return {};
        }
        double k = 1;
        if (!standard) {
            k = place.at("k").number();
            if (!place.wrong() && !(k >= 1 && k <= 10))
                place.at("k").say(fmt::format("{:g} is no coverage factor; use 1 to 10", k));
        } else if (place.has("k")) {
            place.at("k").say("a standard uncertainty has none; take it away");
        }
        const Figure figures = sum ? sum_of_two(place) : figure(place.at(standard ? "u" : "U"));
        const double factor = wanted_k / k;
        return [figures, factor](double p) { return (figures.a + figures.b * std::abs(p)) * factor; };
    }

    /// Of the meter that reads the electrical output: {"u": "0.002 mA"}, {"U": .., "k": 2}, the sum of "a" and "b"; of
    /// reading means of the signal.
    void read_meter() {
        const Place place = root_.at("meter_uncertainty");
        if (!out_.output) {
            place.say(
                "there is no \"output\" that a meter would read; give the output at both ends of the span, or take "
                "it away");
            return;
        }
        if (place.node().is_object()) place.only({"u", "U", "k", "a", "b"});
        of_the_signal_ = true;
        const auto u = read_uncertainty(place, 1);
        of_the_signal_ = false;
        if (place.wrong()) return;
        const double each = per_signal(), low = *out_.use.span_low, zero = out_.output->low_signal;
        const double slope = (out_.output->high_signal - zero) / (*out_.use.span_high - low);
        out_.use.u_meter = [=](double p) { return u(zero + (p - low) * slope) * each; };
    }

    void read_capability() {
        struct Row {
            double from, to;
            metrology::UncertaintyAt expanded;
        };
        std::vector<Row> rows;
        constexpr double reported_k = 2;
        for (const Place& item : root_.items_at("capability")) {
            if (item.node().is_object()) item.only({"u", "U", "k", "a", "b", "from", "to"});
            Row row{-std::numeric_limits<double>::infinity(), std::numeric_limits<double>::infinity(),
                    read_uncertainty(item, reported_k)};
            if (item.has("from")) row.from = pressure(item.at("from"));
            if (item.has("to")) row.to = pressure(item.at("to"));
            if (!root_.wrong() && !(row.to > row.from)) item.at("to").say("it is not above \"from\"; swap the two");
            if (root_.wrong()) return;
            rows.push_back(std::move(row));
        }
        out_.use.capability = [rows](double p) {
            double least = 0;
            for (const Row& row : rows)
                if (metrology::at_most(row.from, p) && metrology::at_most(p, row.to))
                    least = std::max(least, row.expanded(p));
            return least;
        };
    }

    void read_dial() {
        const Place place = root_.at("dial");
        place.only({"division", "parts", "pointer_stop"});
        metrology::Dial dial;
        dial.division = over_zero(place.at("division"));
        if (place.has("parts")) dial.parts = place.at("parts").whole(1, 10);
        if (place.has("pointer_stop")) dial.pointer_stop = place.at("pointer_stop").yes_or_no();
        out_.use.dial = dial;
    }

    void read_output() {
        const auto ends = root_.items_at("output", 2);
        if (root_.wrong()) return;
        if (ends.size() != 2 || !out_.use.span_low) {
            root_.at("output").say("give the output at the two ends of \"span\", for example [\"4 mA\", \"20 mA\"]");
            return;
        }
        const std::string first = ends[0].text();
        EvaluateSettings::Output output;
        output.signal = first.substr(first.find_last_of(' ') + 1);
        const auto dimension = drivers::signal_dimension(output.signal);
        if (!dimension) {
            ends[0].say(fmt::format("\"{}\" is no electrical output; use mA, V or mV/V", first));
            return;
        }
        const double one = drivers::signal_in_si(output.signal);
        output.low_signal = ends[0].quantity(*dimension) / one;
        output.high_signal = ends[1].quantity(*dimension) / one;
        if (!root_.wrong() && output.low_signal == output.high_signal)
            root_.at("output").say("the two ends are equal; give the output at both ends of the span");
        out_.output = output;
    }

    const Place& root_;
    EvaluateSettings out_;
    double pascals_ = std::numeric_limits<double>::quiet_NaN();
    bool of_the_signal_ = false; ///< absolute figures are in the unit of the output
};

} // namespace

double EvaluateSettings::pressure_per_signal() const {
    return (*use.span_high - *use.span_low) / (output->high_signal - output->low_signal);
}

double EvaluateSettings::shown_pressure(double reading) const {
    return output ? *use.span_low + (reading - output->low_signal) * pressure_per_signal() : reading;
}

EvaluateSettings read_evaluate_settings(const std::string& name, const std::string& text, const std::string& table_unit,
                                        std::string& mistake) {
    bench::Finding finding{name, {}};
    const auto file = bench::parse_json(text, finding);
    EvaluateSettings settings;
    if (file) settings = SettingsReader(Place(*file, "", finding), table_unit).read();
    if (finding.any()) mistake = *finding.first;
    return settings;
}

} // namespace stillmark::cli
