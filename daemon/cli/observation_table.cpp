#include "daemon/cli/observation_table.hpp"

#include "daemon/cli/columns.hpp"
#include "daemon/cli/csv_rows.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

namespace stillmark::cli {

namespace {

constexpr std::array known_columns{"series",      "direction",     "reference",  "reading", "untapped",
                                   "u_reference", "u_reading",     "target",     "note",    "vented",
                                   "void",        "dof_reference", "dof_reading"};
constexpr std::size_t needed = 4;

class RowReader {
  public:
    RowReader(const std::vector<std::string>& cells,
              const std::array<std::optional<std::size_t>, known_columns.size()>& place)
        : cells_(cells), place_(place) {}

    bool has(std::size_t column) const {
        return place_.at(column) && *place_.at(column) < cells_.size() && !csv_text(cells_[*place_.at(column)]).empty();
    }
    std::string text(std::size_t column) const { return has(column) ? csv_text(cells_[*place_.at(column)]) : ""; }
    double number(std::size_t column) {
        std::string why;
        const auto value = csv_number(text(column), why);
        if (!value && objection.empty())
            objection = fmt::format("column {} ({}): {}", place_.at(column) ? *place_.at(column) + 1 : 0,
                                    known_columns.at(column), why);
        return value.value_or(std::numeric_limits<double>::quiet_NaN());
    }

    std::string objection;

  private:
    const std::vector<std::string>& cells_;
    const std::array<std::optional<std::size_t>, known_columns.size()>& place_;
};

/// Degrees of freedom of an uncertainty: a number over 0, or "infinite" as where the cell is empty.
double dof_in(RowReader& row, std::size_t column) {
    constexpr double infinite = std::numeric_limits<double>::infinity();
    if (!row.has(column) || row.text(column) == "infinite") return infinite;
    const double value = row.number(column);
    if (!(value > 0) && row.objection.empty())
        row.objection = fmt::format("column {}: \"{}\" are no degrees of freedom; give a number over 0, or infinite",
                                    known_columns.at(column), printable(cut(row.text(column), 40)));
    return value;
}

/// Why a reading is void, as its row says it. A plain "no" says nothing of the kind, nor is it a reason.
std::string void_because(RowReader& row) {
    const std::string reason = row.text(10);
    for (const char* none : {"no", "n", "false", "0", "-", "none"})
        if (reason == none) {
            row.objection =
                fmt::format("column void: \"{}\" is no reason; leave the cell empty where the reading stands", reason);
            return {};
        }
    return reason.empty() ? reason : "void: " + printable(cut(reason, 200));
}

metrology::Observation observation_in(RowReader& row) {
    metrology::Observation one;
    const double series = row.number(0);
    if (row.objection.empty() && !(series >= 1 && series <= 1000 && series == std::floor(series)))
        row.objection = fmt::format("column series: {} is no series; count them 1, 2, 3", row.text(0));
    one.series = row.objection.empty() ? static_cast<int>(series) : 1;
    const std::string direction = row.text(1);
    if (direction != "up" && direction != "down" && row.objection.empty())
        row.objection =
            fmt::format("column direction: \"{}\" is not a direction; use up or down", printable(cut(direction, 40)));
    one.rising = direction != "down";
    one.reference = row.number(2);
    one.reading = row.number(3);
    if (row.has(4)) one.untapped = row.number(4);
    if (row.has(5)) one.u_reference = row.number(5);
    if (row.has(6)) one.u_mean = row.number(6);
    for (const auto& u : {one.u_reference, one.u_mean})
        if (u && *u < 0 && row.objection.empty()) row.objection = "a standard uncertainty is not below zero";
    one.dof_reference = dof_in(row, 11);
    one.dof_mean = dof_in(row, 12);
    if (row.has(12) && !one.u_mean && row.objection.empty())
        row.objection = "column dof_reading: there is no u_reading that has them; give both";
    one.target = printable(row.text(7));
    const std::string vented = row.text(9);
    one.vented = vented == "yes";
    if (!vented.empty() && vented != "yes" && vented != "no" && row.objection.empty())
        row.objection = fmt::format("column vented: \"{}\" is neither; use yes or no", printable(cut(vented, 40)));
    // A void reading is left out for its own reason, whatever else its row lacks.
    const std::string why_void = void_because(row);
    if (!why_void.empty()) row.objection.clear();
    one.left_out = why_void.empty() ? row.objection : why_void;
    return one;
}

} // namespace

ObservationTable read_observations(const std::string& name, const std::string& text) {
    ObservationTable table;
    const auto rows = csv_rows(text);
    if (rows.empty()) {
        table.mistake =
            fmt::format("{}: it is empty; the first line names the columns: series,direction,reference,reading", name);
        return table;
    }
    std::array<std::optional<std::size_t>, known_columns.size()> place;
    for (std::size_t i = 0; i < rows.front().cells.size(); ++i) {
        const CsvHeading heading = csv_heading(rows.front().cells[i]);
        const auto known = std::find(known_columns.begin(), known_columns.end(), heading.name);
        if (known == known_columns.end() && rows.front().cells.size() == 1 &&
            rows.front().cells.front().find(';') != std::string::npos) {
            table.mistake =
                fmt::format("{}: line 1: semicolons divide the columns; use commas, and the decimal point in "
                            "numbers",
                            name);
            return table;
        }
        if (known == known_columns.end()) {
            table.mistake = fmt::format("{}: line 1, column {}: \"{}\" is not a column; use {}", name, i + 1,
                                        printable(cut(rows.front().cells[i], 40)), fmt::join(known_columns, ", "));
            return table;
        }
        const auto index = static_cast<std::size_t>(known - known_columns.begin());
        if (place.at(index)) {
            table.mistake = fmt::format("{}: line 1: the column \"{}\" stands twice; keep one", name, heading.name);
            return table;
        }
        place.at(index) = i;
        if (index == 2) table.reference_unit = heading.unit;
        if (index == 3) table.reading_unit = heading.unit;
        if (index == 9) table.zeros_are_marked = true;
    }
    for (std::size_t i = 0; i < needed; ++i)
        if (!place.at(i)) {
            table.mistake = fmt::format("{}: line 1: the column \"{}\" is missing; the heading is "
                                        "series,direction,reference,reading",
                                        name, known_columns.at(i));
            return table;
        }
    for (std::size_t i = 1; i < rows.size(); ++i) {
        if (rows[i].cells.size() == 1 && csv_text(rows[i].cells.front()).empty()) continue;
        RowReader row(rows[i].cells, place);
        if (rows[i].open_quote) row.objection = "a quotation mark is not closed";
        if (rows[i].cells.size() > rows.front().cells.size())
            row.objection = fmt::format("{} cells where the heading has {}; a number has no comma, and text with one "
                                        "stands in quotes",
                                        rows[i].cells.size(), rows.front().cells.size());
        table.rows.push_back(observation_in(row));
        if (!row.objection.empty())
            table.objections.push_back(
                fmt::format("{}: line {}: {}; the row is left out", name, rows[i].line, row.objection));
    }
    return table;
}

} // namespace stillmark::cli
