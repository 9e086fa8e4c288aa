#include "daemon/bench/bench_parts.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::bench {

namespace {

/// A date in a file; its first instant, UTC.
Micros read_date(const Place& place, std::string& to) {
    to = place.text();
    if (place.wrong()) return 0;
    const auto utc_us = utc_us_of_date(to);
    if (!utc_us) place.say(fmt::format("\"{}\" is no date; write year, month and day, for example \"2026-01-15\"", to));
    return utc_us.value_or(0);
}

constexpr Micros day_us = 86'400'000'000;

} // namespace

void read_standards(const Place& root, BenchFile& bench) {
    if (!root.has("standards")) return;
    for (const Place& place : root.items_at("standards", 0)) {
        place.only({"what", "name", "serial", "certificate", "issued_by", "issued", "valid_until", "traceable_to"});
        StandardCertificate one;
        one.what = place.at("what").text();
        one.name = place.text_or("name", "");
        one.serial = place.text_or("serial", "");
        one.certificate = place.at("certificate").text();
        one.issued_by = place.text_or("issued_by", "");
        one.traceable_to = place.text_or("traceable_to", "");
        if (place.wrong()) return;
        const Micros issued = read_date(place.at("issued"), one.issued);
        if (place.wrong()) return;
        const Micros valid = read_date(place.at("valid_until"), one.valid_until);
        if (place.wrong()) return;
        one.valid_until_utc_us = valid + day_us;
        if (valid < issued)
            place.at("valid_until").say("the validity ends before the certificate was issued; look at the two dates");
        for (const auto& other : bench.standards)
            if (other.certificate == one.certificate && other.what == one.what)
                place.at("certificate")
                    .say(fmt::format("\"{}\" stands twice for the {}; leave one", one.certificate, one.what));
        if (place.wrong()) return;
        bench.standards.push_back(std::move(one));
    }
}

void read_records(const Place& root, BenchFile& bench) {
    if (!root.has("records")) return;
    const Place place = root.at("records");
    if (place.wrong()) return;
    place.only({"address", "country", "email", "accreditation", "procedure", "logo", "numbering", "warn"});
    auto& to = bench.records;
    if (place.has("address"))
        for (const Place& line : place.items_at("address"))
            to.address.push_back(line.text());
    to.country = place.text_or("country", "");
    const bool two_letters = to.country.size() == 2 && std::all_of(to.country.begin(), to.country.end(),
                                                                   [](char one) { return one >= 'A' && one <= 'Z'; });
    if (!place.wrong() && place.has("country") && !two_letters)
        place.at("country").say(
            fmt::format("\"{}\" is no country code; write its two letters, for example \"DE\"", to.country));
    to.email = place.text_or("email", "");
    to.accreditation = place.text_or("accreditation", "");
    to.procedure = place.text_or("procedure", "");
    to.logo = place.text_or("logo", "");
    to.numbering = place.text_or("numbering", to.numbering);
    // The number becomes the name of a file, and must never come twice.
    const bool fit = std::all_of(to.numbering.begin(), to.numbering.end(), [](char one) {
        return (one >= 'a' && one <= 'z') || (one >= 'A' && one <= 'Z') || (one >= '0' && one <= '9') || one == '-' ||
               one == '_' || one == '.' || one == '{' || one == '}';
    });
    if (!place.wrong() && (!fit || to.numbering.find("{count}") == std::string::npos || to.numbering.front() == '.' ||
                           to.numbering.size() > 60))
        place.at("numbering")
            .say(fmt::format("\"{}\" makes no numbers; use letters, digits, - _ . with {{year}} and {{count}}, for "
                             "example \"LAB-{{year}}-{{count}}\"",
                             to.numbering));
    if (place.has("warn")) {
        const double warn_s = place.at("warn").quantity(drivers::Dimension::time);
        constexpr double day_s = 86400;
        if (!place.wrong() && !(warn_s >= 0 && warn_s <= 3650 * day_s))
            place.at("warn").say("give a time of up to ten years, for example \"30 d\"");
        if (!place.wrong()) to.warn_days = static_cast<int>(warn_s / day_s);
    }
}

} // namespace stillmark::bench
