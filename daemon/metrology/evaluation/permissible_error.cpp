#include "daemon/metrology/evaluation/permissible_error.hpp"

#include "daemon/metrology/at_most.hpp"
#include "daemon/metrology/evaluation/unsaid.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace stillmark::metrology {

namespace {

constexpr std::array classes{0.1, 0.25, 0.6, 1.0, 1.6, 2.5, 4.0};
constexpr std::array in_service_limits{0.15, 0.4, 0.9, 1.5, 2.4, 3.8, 6.0};

struct Grade {
    std::string_view name;
    double ends, middle; ///< per cent of span
};
constexpr std::array grades{Grade{"4A", 0.1, 0.1}, Grade{"3A", 0.25, 0.25}, Grade{"2A", 0.5, 0.5}, Grade{"1A", 1, 1},
                            Grade{"A", 2, 1},      Grade{"B", 3, 2},        Grade{"C", 4, 3},      Grade{"D", 5, 5}};

PermissibleError per_cent_of_span(double per_cent, double accuracy_class, Sentence words) {
    words.values = {number_value("class", number(accuracy_class)), number_value("part", number(per_cent))};
    return {{{PermissibleTerm::Kind::of_span, per_cent / 100, 0}}, false, accuracy_class, false, std::move(words)};
}

double term_at(const PermissibleTerm& term, double pressure, double low, double high) {
    const double span = high - low;
    switch (term.kind) {
    case PermissibleTerm::Kind::absolute:
        return term.value;
    case PermissibleTerm::Kind::of_reading:
        return term.value * std::abs(pressure);
    case PermissibleTerm::Kind::of_span:
        return term.value * span;
    case PermissibleTerm::Kind::by_quarter:
        return (at_most(low + span / 4, pressure) && at_most(pressure, high - span / 4) ? term.middle : term.value) *
               span;
    }
    return 0;
}

} // namespace

double permissible_at(const PermissibleError& error, double pressure, double low, double high) {
    double limit = 0;
    for (const PermissibleTerm& term : error.terms) {
        const double one = term_at(term, pressure, low, high);
        limit = error.larger ? std::max(limit, one) : limit + one;
    }
    return limit;
}

double least_permissible(const PermissibleError& error, double low, double high) {
    PermissibleError tightest = error;
    for (PermissibleTerm& term : tightest.terms)
        if (term.kind == PermissibleTerm::Kind::by_quarter)
            term.value = term.middle = std::min(term.value, term.middle);
    return permissible_at(tightest, (high - low) / 10, low, high);
}

bool needs_span(const PermissibleError& error) {
    return std::any_of(error.terms.begin(), error.terms.end(), [](const PermissibleTerm& term) {
        return term.kind == PermissibleTerm::Kind::of_span || term.kind == PermissibleTerm::Kind::by_quarter;
    });
}

std::span<const double> accuracy_classes() {
    return classes;
}

std::optional<PermissibleError> of_class(double accuracy_class) {
    if (std::find(classes.begin(), classes.end(), accuracy_class) == classes.end()) return std::nullopt;
    return per_cent_of_span(accuracy_class, accuracy_class,
                            sentence("class {class}: {part} % of span (EN 837-1:1996, table 11)"));
}

std::optional<PermissibleError> of_verification_class(double accuracy_class, bool in_service) {
    const auto found = std::find(classes.begin(), classes.end(), accuracy_class);
    if (found == classes.end()) return std::nullopt;
    const auto index = static_cast<std::size_t>(found - classes.begin());
    auto error = per_cent_of_span(
        in_service ? in_service_limits.at(index) : accuracy_class, accuracy_class,
        in_service
            ? sentence("in-service class {class}: {part} % of span (German Verification Ordinance, annex 16, 3.1)")
            : sentence("verification class {class}: {part} % of span (German Verification Ordinance, annex 16, 3.1)"));
    error.hysteresis_of_span = accuracy_class / 100;
    return error;
}

std::optional<PermissibleError> of_grade(std::string_view grade) {
    const auto found = std::find_if(grades.begin(), grades.end(), [&](const Grade& one) { return one.name == grade; });
    if (found == grades.end()) return std::nullopt;
    return PermissibleError{
        {{PermissibleTerm::Kind::by_quarter, found->ends / 100, found->middle / 100}},
        false,
        std::nullopt,
        true,
        sentence("grade {grade}: {ends} % of span, {middle} % in its middle half (ASME B40.100)",
                 {text_value("grade", std::string(grade)), number_value("ends", number(found->ends)),
                  number_value("middle", number(found->middle))})};
}

} // namespace stillmark::metrology
