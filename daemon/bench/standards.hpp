#pragma once

#include "protocols/instant.hpp"

#include <optional>
#include <string>
#include <vector>

namespace stillmark::bench {

/// A certificate that a standard, or another instrument that results rest on, carries.
struct StandardCertificate {
    std::string what; ///< "balance", "discs", "piston thermometer", "barometer" ...
    std::string name;
    std::string serial;
    std::string certificate;
    std::string issued_by;
    std::string traceable_to;
    std::string issued;            ///< a date, "2026-01-15"
    std::string valid_until;       ///< the last day of its validity, likewise
    Micros valid_until_utc_us = 0; ///< the end of that day, UTC
};

/// What a laboratory puts on its certificates.
struct RecordSettings {
    std::vector<std::string> address;
    std::string country; ///< two letters, ISO 3166-1
    std::string email;
    std::string accreditation;
    std::string procedure;
    std::string logo;                         ///< path of a PNG, as the bench file says it
    std::string numbering = "{year}-{count}"; ///< {count} is that of the year's certificates, four digits at least
    int warn_days = 30;                       ///< so long before its end a validity is warned of
};

/// Microseconds since 1970 at 0:00 UTC of a date such as "2026-01-15", or nothing where it is none.
std::optional<Micros> utc_us_of_date(const std::string& date);
/// The date of an instant, UTC: "2026-01-15".
std::string date_of(Micros utc_us);

/// Which standards have expired at an instant, or will within `within_us`.
std::vector<const StandardCertificate*> expired_at(const std::vector<StandardCertificate>& standards, Micros utc_us,
                                                   Micros within_us = 0);

/// What every certificate needs of its standards (ISO/IEC 17025:2017, 7.8.4.1 c): an entry for the balance, for the
/// discs and, where its results rest on the ambient pressure, for the barometer. Those that lack, by the word for
/// `what`.
std::vector<std::string> unstated_standards(const std::vector<StandardCertificate>& standards, bool rests_on_ambient);

} // namespace stillmark::bench
