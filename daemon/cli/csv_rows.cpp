#include "daemon/cli/csv_rows.hpp"

#include "daemon/cli/columns.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <utility>

namespace stillmark::cli {

std::vector<CsvRow> csv_rows(std::string_view text) {
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    std::vector<CsvRow> rows;
    CsvRow row;
    std::string cell;
    std::size_t line = 1;
    bool quoted = false, any = false;
    const auto end_cell = [&] { row.cells.push_back(std::exchange(cell, {})); };
    const auto end_row = [&] {
        if (any || !row.cells.empty()) {
            end_cell();
            rows.push_back(std::exchange(row, {}));
        }
        any = false;
    };
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char c = text[i];
        if (!any && row.cells.empty()) row.line = line;
        if (quoted) {
            if (c == '"' && i + 1 < text.size() && text[i + 1] == '"')
                cell += text[++i];
            else if (c == '"')
                quoted = false;
            else
                cell += c;
            line += c == '\n' ? 1 : 0;
            continue;
        }
        if (c == '"' && cell.empty()) {
            quoted = any = true;
        } else if (c == ',') {
            end_cell();
        } else if (c == '\n' || c == '\r') {
            if (c == '\r' && i + 1 < text.size() && text[i + 1] == '\n') ++i;
            end_row();
            ++line;
        } else {
            cell += c;
            any = true;
        }
    }
    row.open_quote = quoted;
    end_row();
    return rows;
}

std::string csv_text(std::string_view text) {
    const auto first = text.find_first_not_of(" \t");
    if (first == std::string_view::npos) return {};
    return std::string(text.substr(first, text.find_last_not_of(" \t") - first + 1));
}

CsvHeading csv_heading(const std::string& cell) {
    CsvHeading heading{csv_text(cell), {}};
    const auto open = heading.name.find_first_of("[(");
    if (open != std::string::npos && (heading.name.ends_with(']') || heading.name.ends_with(')'))) {
        heading.unit = csv_text(std::string_view(heading.name).substr(open + 1, heading.name.size() - open - 2));
        heading.name = csv_text(std::string_view(heading.name).substr(0, open));
    }
    std::transform(heading.name.begin(), heading.name.end(), heading.name.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return heading;
}

std::optional<double> csv_number(const std::string& cell, std::string& why) {
    const std::string text = csv_text(cell);
    std::string_view digits = text;
    if (digits.size() > 1 && digits.front() == '+') digits.remove_prefix(1);
    double value = 0;
    const auto [end, fault] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
    if (text.empty()) {
        why = "it is empty; give a number, or take the row away";
    } else if (fault != std::errc{} || end != digits.data() + digits.size()) {
        why = text.find(',') != std::string::npos
                  ? fmt::format("\"{}\": a comma does not divide a number; write the decimal point", printable(text))
                  : fmt::format("\"{}\" is no number; write digits with a decimal point, the unit in the heading",
                                printable(cut(text, 40)));
    } else if (!std::isfinite(value)) {
        why = fmt::format("\"{}\" is no number that was read", printable(text));
    } else {
        return value;
    }
    return std::nullopt;
}

} // namespace stillmark::cli
