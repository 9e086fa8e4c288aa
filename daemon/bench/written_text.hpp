#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace stillmark::bench {

// How texts that people wrote go into documents and tables that other programs read.

/// The text as XML 1.0 (5th edition, 2.2) and JSON can both carry it: UTF-8, and U+FFFD for each byte that is none and
/// for each character that XML forbids. Tabs and ends of lines stay.
std::string readable_text(std::string_view text);

/// A text as a field of a table. Where a spreadsheet would take it for a formula (it begins with = + - @, a tab or an
/// end of line), an apostrophe stands before it: numbers are written as numbers and never pass through here.
std::string csv_text(std::string_view text);

/// One record (RFC 4180) with its CRLF; fields with a comma, a quote or an end of line stand in quotes.
std::string csv_line(const std::vector<std::string>& fields);

} // namespace stillmark::bench
