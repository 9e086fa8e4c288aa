#pragma once

#include <cstdint>
#include <string>

namespace stillmark::records {

// What every document writes alike beside the figures.

/// A coverage factor with two digits behind the point, "2.00".
std::string k_text(double k);
/// "2026-09-21", of an instant in us of UTC. Instants that no calendar of four digits has are moved to its ends.
std::string date_text(std::int64_t utc_us);
/// "2026-09-21T14:13:20Z"; parts of a second are left out.
std::string instant_text(std::int64_t utc_us);

} // namespace stillmark::records
