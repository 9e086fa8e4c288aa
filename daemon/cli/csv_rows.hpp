#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::cli {

struct CsvRow {
    std::size_t line = 1; ///< of the file, where it begins
    std::vector<std::string> cells;
    bool open_quote = false; ///< a quotation mark of the last cell is not closed
};

/// The rows of a table of comma-separated values (RFC 4180): cells may stand in double quotes, where commas, line ends
/// and doubled quotes are text. A byte order mark, LF and CR alone are taken too.
std::vector<CsvRow> csv_rows(std::string_view text);

/// A column: "reading [bar]" or "reading (bar)" is "reading" in bar. The name in small letters.
struct CsvHeading {
    std::string name;
    std::string unit; ///< empty: the heading does not say
};
CsvHeading csv_heading(const std::string& cell);

/// A finite number, or in `why` what was found and what would do.
std::optional<double> csv_number(const std::string& cell, std::string& why);

/// Without spaces and tabs at both ends.
std::string csv_text(std::string_view text);

} // namespace stillmark::cli
