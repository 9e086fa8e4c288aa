#include "daemon/records/digital/quantity.hpp"

#include "daemon/records/digital/decimal.hpp"
#include "daemon/records/figure_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <string_view>
#include <utility>

namespace stillmark::records::digital {

namespace {

/// As the schema's decimal types write it.
std::string decimal_of(const Figure& figure) {
    return is_decimal(figure.text) ? figure.text : "NaN";
}

std::string scaled(const std::string& decimal, const std::string& pascals) {
    return product(decimal, pascals).value_or("NaN");
}

/// As XML Schema writes lists.
std::string list_of(const std::vector<std::string>& items) {
    return fmt::format("{}", fmt::join(items, " "));
}

bool any(const std::vector<Figure>& figures) {
    return std::ranges::any_of(figures, [](const Figure& one) { return is_decimal(one.text); });
}

std::vector<std::string> decimals_of(const std::vector<Figure>& figures, const std::string* pascals) {
    std::vector<std::string> out;
    out.reserve(figures.size());
    for (const Figure& one : figures)
        out.push_back(pascals != nullptr ? scaled(decimal_of(one), *pascals) : decimal_of(one));
    return out;
}

/// The list in the printed unit or, with `pascals`, in the SI's.
void add_list(pugi::xml_node parent, const Column& column, const std::string& unit, const std::string* pascals) {
    pugi::xml_node list = Scribe::element(parent, "si:realListXMLList");
    Scribe::leaf(list, "si:valueXMLList", list_of(decimals_of(column.figures, pascals)));
    Scribe::leaf(list, "si:unitXMLList", unit);
    if (!any(column.expanded)) return;
    pugi::xml_node expanded =
        Scribe::element(Scribe::element(list, "si:measurementUncertaintyUnivariateXMLList"), "si:expandedMUXMLList");
    Scribe::leaf(expanded, "si:valueExpandedMUXMLList", list_of(decimals_of(column.expanded, pascals)));
    Scribe::leaf(expanded, "si:coverageFactorXMLList", list_of(column.k));
    Scribe::leaf(expanded, "si:coverageProbabilityXMLList", coverage_probability);
    Scribe::leaf(expanded, "si:distributionXMLList", "normal");
}

void add_real(pugi::xml_node parent, const Figure& figure, const Figure& expanded, double k, const std::string& unit,
              const std::string* pascals) {
    const auto in_unit = [&](const Figure& one) {
        return pascals != nullptr ? scaled(decimal_of(one), *pascals) : decimal_of(one);
    };
    pugi::xml_node real = Scribe::element(parent, "si:real");
    Scribe::leaf(real, "si:value", in_unit(figure));
    Scribe::leaf(real, "si:unit", unit);
    if (!is_decimal(expanded.text)) return;
    pugi::xml_node mu = Scribe::element(Scribe::element(real, "si:measurementUncertaintyUnivariate"), "si:expandedMU");
    Scribe::leaf(mu, "si:valueExpandedMU", in_unit(expanded));
    Scribe::leaf(mu, "si:coverageFactor", k_text(k));
    Scribe::leaf(mu, "si:coverageProbability", coverage_probability);
    Scribe::leaf(mu, "si:distribution", "normal");
}

} // namespace

DigitalUnit pressure_unit(const Unit& unit) {
    constexpr std::pair<std::string_view, const char*> of_the_si[] = {
        {"Pa", "\\pascal"},        {"hPa", "\\hecto\\pascal"}, {"kPa", "\\kilo\\pascal"},
        {"MPa", "\\mega\\pascal"}, {"GPa", "\\giga\\pascal"},  {"N/mm2", "\\newton\\milli\\metre\\tothe{-2}"},
    };
    for (const auto& [symbol, name] : of_the_si)
        if (symbol == unit.symbol) return {name, ""};
    constexpr std::pair<std::string_view, const char*> of_former_tables[] = {
        {"bar", "\\bar"}, {"mbar", "\\milli\\bar"}, {"mmHg", "\\mmHg"}};
    DigitalUnit out{unit.symbol, is_decimal(unit.pascals_text) ? unit.pascals_text : fmt::format("{:f}", unit.pascals)};
    for (const auto& [symbol, name] : of_former_tables)
        if (symbol == unit.symbol) out.name = name;
    // A list of units is parted by spaces.
    std::ranges::replace_if(
        out.name, [](char one) { return one == ' ' || one == '\t' || one == '\n' || one == '\r'; }, '_');
    return out;
}

std::string surroundings_unit(const std::string& symbol) {
    constexpr std::pair<std::string_view, const char*> names[] = {
        {"degC", "\\degreecelsius"}, {"K", "\\kelvin"},  {"Pa", "\\pascal"}, {"hPa", "\\hecto\\pascal"},
        {"kPa", "\\kilo\\pascal"},   {"%", "\\percent"}, {"1", "\\one"},
    };
    for (const auto& [known, name] : names)
        if (known == symbol) return name;
    return symbol;
}

void add_column(const Scribe& scribe, pugi::xml_node list, const Column& column, const DigitalUnit& unit) {
    if (!any(column.figures)) return;
    pugi::xml_node quantity = Scribe::element(list, "dcc:quantity", nullptr, column.ref_type);
    scribe.words(quantity, "dcc:name", column.name);
    if (unit.pascals.empty()) return add_list(quantity, column, unit.name, nullptr);
    pugi::xml_node hybrid = Scribe::element(quantity, "si:hybrid");
    add_list(hybrid, column, unit.name, nullptr);
    add_list(hybrid, column, "\\pascal", &unit.pascals);
}

void add_quantity(const Scribe& scribe, pugi::xml_node parent, const char* ref_type, const Words& name,
                  const Figure& figure, const DigitalUnit& unit, const Figure& expanded, double k) {
    if (!is_decimal(figure.text)) return;
    pugi::xml_node quantity = Scribe::element(parent, "dcc:quantity", nullptr, ref_type);
    scribe.words(quantity, "dcc:name", name);
    if (unit.pascals.empty()) return add_real(quantity, figure, expanded, k, unit.name, nullptr);
    pugi::xml_node hybrid = Scribe::element(quantity, "si:hybrid");
    add_real(hybrid, figure, expanded, k, unit.name, nullptr);
    add_real(hybrid, figure, expanded, k, "\\pascal", &unit.pascals);
}

} // namespace stillmark::records::digital
