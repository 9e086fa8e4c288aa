#pragma once

#include "daemon/records/print/strip.hpp"
#include "daemon/records/print/typeface.hpp"

#include <string>
#include <vector>

namespace stillmark::records::print {

struct Column {
    std::string head;
    bool numbers = false; ///< aligned on the decimal sign, and to the right
};

struct TableRow {
    std::vector<std::string> cells; ///< one a column
    std::string group{};            ///< rows of one group stand under its name; empty: under none
    bool bold = false;
};

/// A table as wide as `width`: thin rules above and below, none between. Columns in which every cell is empty are left
/// out. The head stands again on each page that the table goes over, with the group and `continued`.
Flow table(Typeface& type, std::vector<Column> columns, std::vector<TableRow> rows, double width,
           const std::string& continued);

} // namespace stillmark::records::print
