#pragma once

#include "daemon/records/certificate.hpp"
#include "daemon/records/digital/scribe.hpp"

#include <string>
#include <vector>

namespace stillmark::records::digital {

/// A unit as D-SI writes it.
struct DigitalUnit {
    std::string name;
    /// What one such unit is in pascals, where it is none of the SI brochure's (9th edition), which is what D-SI 2.2.0
    /// refers to: its quantities then stand in pascals too (si:hybrid). Empty: it is.
    std::string pascals;
};
/// The certificate's unit. Prefixed pascals are of the SI; bar and mmHg have the names that the 8th edition's tables
/// gave them; other units keep their symbol.
DigitalUnit pressure_unit(const Unit& unit);
/// "degC", "hPa", "%" and what else surroundings are stated in.
std::string surroundings_unit(const std::string& symbol);

/// One column of a table: a quantity at each row.
struct Column {
    const char* ref_type;
    Words name;
    std::vector<Figure> figures;
    std::vector<Figure> expanded; ///< empty, or one for each figure
    std::vector<std::string> k;   ///< likewise, as printed
};
/// A dcc:quantity with an XML list; rows without a figure are NaN. Nothing is written where no row has one.
void add_column(const Scribe& scribe, pugi::xml_node list, const Column& column, const DigitalUnit& unit);

/// A dcc:quantity with one figure; nothing where there is none.
void add_quantity(const Scribe& scribe, pugi::xml_node parent, const char* ref_type, const Words& name,
                  const Figure& figure, const DigitalUnit& unit, const Figure& expanded = {}, double k = 2);

/// Of a normal distribution within k = 2 (JCGM 100:2008, table G.1; EA-4/02 M:2022, 5): where k differs because of
/// few degrees of freedom, it is Student's t for the same probability.
inline constexpr const char* coverage_probability = "0.9545";

} // namespace stillmark::records::digital
