#pragma once

#include "daemon/records/certificate.hpp"

#include <string>

namespace stillmark::records {

// A certificate for spreadsheets and scripts. DEVELOPERS.md "The digital certificate and exports" has columns and keys.

/// One record a reading (RFC 4180, UTF-8, units in the header); figures stand as the certificate prints them.
std::string csv_of(const Certificate& certificate);
/// One record a point: what the evaluation says there.
std::string csv_of_points(const Certificate& certificate);
/// The whole certificate; each figure as {"text": as printed, "value": unrounded}, null where there is none. Keys are
/// sorted, so that the same certificate is the same text.
std::string json_of(const Certificate& certificate);

} // namespace stillmark::records
