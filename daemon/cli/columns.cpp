#include "daemon/cli/columns.hpp"

#include <algorithm>
#include <numeric>
#include <utility>

namespace stillmark::cli {

namespace {

bool continues(char byte) {
    return (static_cast<unsigned char>(byte) & 0xC0U) == 0x80U;
}

/// Bytes of the code point at the front of the text; 0 where there is no valid one.
std::size_t code_point_length(std::string_view text) {
    const auto first = static_cast<unsigned char>(text.front());
    const std::size_t length = first < 0x80U   ? 1U
                               : first < 0xC2U ? 0U
                               : first < 0xE0U ? 2U
                               : first < 0xF0U ? 3U
                               : first < 0xF5U ? 4U
                                               : 0U;
    if (length == 0 || length > text.size()) return 0;
    for (std::size_t i = 1; i < length; ++i)
        if (!continues(text[i])) return 0;
    return length;
}

/// C0 and C1 control characters and DEL; the C1 ones are two bytes in UTF-8.
bool steers(std::string_view code_point) {
    const auto first = static_cast<unsigned char>(code_point.front());
    if (code_point.size() == 1) return first < 0x20U || first == 0x7FU;
    return code_point.size() == 2 && first == 0xC2U && static_cast<unsigned char>(code_point[1]) < 0xA0U;
}

/// Bytes that the first `columns` columns of the text take.
std::size_t bytes_of(std::string_view text, std::size_t columns) {
    std::size_t at = 0;
    for (std::size_t column = 0; at < text.size(); ++at)
        if (!continues(text[at]) && column++ == columns) break;
    return at;
}

} // namespace

std::string printable(std::string_view text) {
    std::string result;
    result.reserve(text.size());
    while (!text.empty()) {
        const std::size_t length = code_point_length(text);
        const bool shown = length > 0 && !steers(text.substr(0, length));
        if (shown)
            result.append(text.substr(0, length));
        else
            result.push_back('?');
        text.remove_prefix(std::max<std::size_t>(length, 1));
    }
    return result;
}

std::size_t width(std::string_view text) {
    return static_cast<std::size_t>(
        std::count_if(text.begin(), text.end(), [](char byte) { return !continues(byte); }));
}

std::string cut(std::string_view text, std::size_t columns) {
    constexpr std::string_view more = "...";
    if (width(text) <= columns) return std::string(text);
    if (columns < 2 * more.size()) return std::string(text.substr(0, bytes_of(text, columns)));
    return std::string(text.substr(0, bytes_of(text, columns - more.size()))).append(more);
}

std::string cut_in_the_middle(std::string_view text, std::size_t columns) {
    constexpr std::string_view more = "..";
    const std::size_t all = width(text);
    if (all <= columns || columns < 3 * more.size()) return cut(text, columns);
    const std::size_t tail = (columns - more.size()) / 2;
    std::string result(text.substr(0, bytes_of(text, columns - more.size() - tail)));
    return result.append(more).append(text.substr(bytes_of(text, all - tail)));
}

std::string fill(std::string_view text, std::size_t columns) {
    std::string result = cut(text, columns);
    result.append(columns - width(result), ' ');
    return result;
}

std::vector<std::string> wrap(std::string_view text, std::size_t columns, std::size_t hang) {
    std::vector<std::string> lines;
    std::string line;
    bool empty = true;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find(' '), text.size());
        const std::string word = cut(text.substr(0, end), columns - hang);
        text.remove_prefix(std::min(end + 1, text.size()));
        if (word.empty()) continue;
        if (!empty && width(line) + 1 + width(word) > columns) {
            lines.push_back(std::exchange(line, std::string(hang, ' ')));
            empty = true;
        }
        if (!empty) line.push_back(' ');
        line.append(word);
        empty = false;
    }
    if (!empty || lines.empty()) lines.push_back(line);
    return lines;
}

void Table::add_column(std::string heading, Align align, int importance) {
    columns_.push_back({std::move(heading), align, importance});
}

void Table::add_row(std::vector<std::string> cells) {
    cells.resize(columns_.size());
    rows_.push_back(std::move(cells));
}

std::vector<std::string> Table::lines(std::size_t columns) const {
    std::vector<std::size_t> widths;
    for (std::size_t i = 0; i < columns_.size(); ++i) {
        std::size_t widest = width(columns_[i].heading);
        for (const auto& row : rows_)
            widest = std::max(widest, width(row[i]));
        widths.push_back(widest);
    }
    std::vector<bool> kept(columns_.size(), true);
    const auto total = [&] {
        std::size_t sum = 0;
        for (std::size_t i = 0; i < widths.size(); ++i)
            if (kept[i]) sum += widths[i] + 2;
        return sum < 2 ? 0 : sum - 2;
    };
    while (total() > columns) {
        std::size_t least = columns_.size();
        for (std::size_t i = 0; i < columns_.size(); ++i)
            if (kept[i] && columns_[i].importance > 0 &&
                (least == columns_.size() || columns_[i].importance > columns_[least].importance))
                least = i;
        if (least == columns_.size()) break;
        kept[least] = false;
    }
    const auto line_of = [&](const auto& cell_of) {
        std::string line;
        bool first = true;
        for (std::size_t i = 0; i < columns_.size(); ++i) {
            if (!kept[i]) continue;
            if (!std::exchange(first, false)) line.append("  ");
            const std::string& cell = cell_of(i);
            const std::string space(widths[i] - width(cell), ' ');
            line.append(columns_[i].align == Align::left ? cell + space : space + cell);
        }
        line.erase(line.find_last_not_of(' ') + 1);
        return cut(line, columns);
    };
    std::vector<std::string> lines{line_of([&](std::size_t i) -> const std::string& { return columns_[i].heading; })};
    for (const auto& row : rows_)
        lines.push_back(line_of([&](std::size_t i) -> const std::string& { return row[i]; }));
    return lines;
}

} // namespace stillmark::cli
