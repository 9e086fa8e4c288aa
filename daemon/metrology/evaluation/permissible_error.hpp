#pragma once

#include "daemon/metrology/sentence.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::metrology {

/// One term of a permissible error.
struct PermissibleTerm {
    enum class Kind : std::uint8_t {
        absolute,   ///< in the unit of the pressures
        of_reading, ///< part of the pressure
        of_span,    ///< part of the span
        by_quarter, ///< part of the span, `middle` in its middle half
    };
    Kind kind = Kind::absolute;
    double value = 0;
    double middle = 0;
};

/// What an instrument may be off by, either way. Several terms: their sum, or the larger.
struct PermissibleError {
    std::vector<PermissibleTerm> terms;
    bool larger = false;
    /// Accuracy class where the words named one.
    std::optional<double> accuracy_class = std::nullopt;
    bool not_compared = false; ///< its figures are from memory, not compared with the edition: a result says so
    Sentence words = {};       ///< as a result states it
    /// Of a verification class: the hysteresis is at most this part of the span, also in service (German Verification
    /// Ordinance, annex 16, 3.4). Otherwise it is at most the permissible error.
    std::optional<double> hysteresis_of_span = std::nullopt;
};

/// The limit at a pressure, in the unit of the pressures; `low` and `high` are the ends of the span.
double permissible_at(const PermissibleError& error, double pressure, double low, double high);
/// A single figure for it: the least limit from a tenth of the span up. Of reading alone it would be nothing at zero.
double least_permissible(const PermissibleError& error, double low, double high);
/// Whether the limit needs the span.
bool needs_span(const PermissibleError& error);

/// Accuracy classes of EN 837-1:1996, table 11: 0.1, 0.25, 0.6, 1, 1.6, 2.5 and 4 per cent of span.
std::span<const double> accuracy_classes();
/// Permissible error of a class (EN 837-1:1996, table 11), or nothing where the standard has no such class.
std::optional<PermissibleError> of_class(double accuracy_class);
/// Verification limit, or limit in service (German Verification Ordinance, annex 16, 3.1), of a class.
std::optional<PermissibleError> of_verification_class(double accuracy_class, bool in_service);
/// ASME B40.100 grades 4A, 3A, 2A, 1A, A, B, C, D (from memory; the quarters of A and the ends 4A and D second hand).
std::optional<PermissibleError> of_grade(std::string_view grade);

} // namespace stillmark::metrology
