#pragma once

#include "daemon/records/certificate.hpp"
#include "daemon/records/digital/quantity.hpp"
#include "daemon/records/digital/scribe.hpp"

#include <pugixml.hpp>

namespace stillmark::records::digital {

// The parts of the document, in the order of the schema. What they need is there: dcc_xml() has looked.

void add_administrative_data(const Scribe& scribe, pugi::xml_node root, const Certificate& certificate);
void add_statements(const Scribe& scribe, pugi::xml_node administrative_data, const Certificate& certificate);
void add_measurement_results(const Scribe& scribe, pugi::xml_node root, const Certificate& certificate);
/// One dcc:measurementResult's dcc:results.
void add_results(const Scribe& scribe, pugi::xml_node measurement, const Results& results, const DigitalUnit& unit);

/// The identifier of the document: of a draft it says so.
std::string identifier_of(const Certificate& certificate);

} // namespace stillmark::records::digital
