#pragma once

#include "daemon/records/certificate.hpp"
#include "daemon/records/decision_words.hpp"
#include "daemon/records/local_time.hpp"
#include "daemon/records/print/deviation_plot.hpp"
#include "daemon/records/print/strip.hpp"
#include "daemon/records/print/typeface.hpp"
#include "daemon/records/record_error.hpp"
#include "daemon/records/words.hpp"

#include <cstdint>
#include <string>

namespace stillmark::records::print {

/// Between two columns of a page.
inline constexpr double between_columns = 16;

/// What every part of the document needs.
struct Desk {
    const Certificate& certificate;
    const Words& words;
    Typeface& type;
    double width; ///< of what is printed on
};

/// Who calibrated what for whom, and the results in brief.
RecordResult<Flow> opening(const Desk& desk);
/// By which method, where, in which surroundings, with which standards.
Flow conditions(const Desk& desk);
/// The results of one run: readings, evaluation, overlap of the ranges, plot, conformity.
Flow results_of(const Desk& desk, const Results& results, const std::optional<Scale>& scale);
/// What the results mean and do not mean, who signed, what ties the document to its evidence, the end.
RecordResult<Flow> closing(const Desk& desk);

/// "2026-09-21 16:13 UTC+02:00", in the certificate's zone, and its date alone.
std::string instant(const Desk& desk, std::int64_t utc_us);
std::string date(const Desk& desk, std::int64_t utc_us);
/// Texts in one, with that between them; empty ones are left out.
std::string joined(const std::vector<std::string>& texts, const std::string& between);
/// The largest uncertainty of a deviation among the readings; empty where there is none.
Figure largest_uncertainty(const Results& results);

} // namespace stillmark::records::print
