#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::cli {

// Text in columns of a terminal. Each code point counts one column; what comes from outside is made printable first.

/// The text without anything that could steer a terminal: control characters and broken UTF-8 become '?'.
std::string printable(std::string_view text);

/// Columns that the (printable) text takes.
std::size_t width(std::string_view text);

/// The text cut to `columns`, with a closing "..." where something was cut off (and there is room for it).
std::string cut(std::string_view text, std::size_t columns);

/// The same, but cut in the middle: names that differ at their ends stay apart.
std::string cut_in_the_middle(std::string_view text, std::size_t columns);

/// The text cut or filled with spaces to exactly `columns`.
std::string fill(std::string_view text, std::size_t columns);

/// The text broken at spaces into lines of at most `columns` (over `hang`); lines after the first are indented by
/// `hang`. A word that is longer than a line is cut.
std::vector<std::string> wrap(std::string_view text, std::size_t columns, std::size_t hang = 0);

/// A table with its heading: cells are padded to their column, two spaces between columns.
class Table {
  public:
    enum class Align { left, right };
    /// A column with `importance` 0 always stays; others give way, the highest first, where the table is too wide.
    void add_column(std::string heading, Align align = Align::left, int importance = 0);
    /// One cell for each column.
    void add_row(std::vector<std::string> cells);
    /// The lines of the table, none longer than `columns`.
    std::vector<std::string> lines(std::size_t columns) const;

  private:
    struct Column {
        std::string heading;
        Align align;
        int importance;
    };
    std::vector<Column> columns_;
    std::vector<std::vector<std::string>> rows_;
};

} // namespace stillmark::cli
