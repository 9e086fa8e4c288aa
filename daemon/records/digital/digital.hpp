#pragma once

#include "daemon/records/certificate.hpp"
#include "daemon/records/record_error.hpp"

#include <string>

namespace stillmark::records {

/// The digital calibration certificate: DCC 3.1.2 with quantities by D-SI 2.2.0, UTF-8, laid out for reading. The same
/// certificate gives the same bytes. Figures stand as the certificate prints them; those in a unit that is not of the
/// SI stand in pascals beside it, the printed figure times `Unit::pascals_text`, exactly.
/// An error where the schema asks for what the laboratory did not state; it names the key of the bench file that would
/// do.
RecordResult<std::string> dcc_xml(const Certificate& certificate);

} // namespace stillmark::records
