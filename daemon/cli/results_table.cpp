#include "daemon/cli/results_table.hpp"

#include "daemon/cli/columns.hpp"
#include "daemon/cli/wording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

namespace stillmark::cli {

namespace {

using Align = Table::Align;

std::string whole(std::optional<std::int64_t> number) {
    return number ? fmt::format("{}", *number) : "-";
}

std::vector<const Mark*> of_channel(const std::vector<Mark>& marks, const std::string& channel) {
    std::vector<const Mark*> found;
    for (const Mark& mark : marks)
        if (mark.channel == channel) found.push_back(&mark);
    return found;
}

/// Numbers of one column with their points below each other.
void align_points(std::vector<std::vector<std::string>>& rows, std::size_t column) {
    const auto after_point = [](const std::string& text) {
        const std::size_t point = text.find('.');
        return point == std::string::npos ? 0 : text.size() - point;
    };
    std::size_t longest = 0;
    for (const auto& row : rows)
        longest = std::max(longest, after_point(row[column]));
    for (auto& row : rows)
        row[column].append(longest - after_point(row[column]), ' ');
}

void add_channel(std::vector<std::string>& lines, const std::vector<const Mark*>& marks, std::size_t columns) {
    Table table;
    table.add_column("mark", Align::right);
    table.add_column("target", Align::right);
    table.add_column("direction", Align::left);
    table.add_column("range", Align::left);
    table.add_column("reference", Align::right);
    table.add_column("U(ref)", Align::right, 1);
    table.add_column("indicated", Align::right, 2);
    table.add_column("deviation", Align::right);
    table.add_column("U(dev)", Align::right);
    table.add_column("float", Align::right);
    table.add_column("status", Align::left);
    std::vector<std::vector<std::string>> rows;
    std::vector<std::string> remarks;
    for (const Mark* mark : marks) {
        const auto u_reference = mark->expanded_reference_pa, u = mark->expanded_pa;
        const Shown reference = show_with(mark->unit, u_reference, mark->reference_pa.value_or(0));
        const Shown deviation = show_with(mark->unit, u, mark->reference_pa.value_or(0));
        rows.push_back({whole(mark->mark), mark->target, mark->direction, mark->range,
                        reference.number(mark->reference_pa), reference.number(u_reference),
                        deviation.number(mark->mean_pa), deviation.signed_number(mark->deviation_pa),
                        deviation.number(u), whole(mark->float_number), mark->status});
        if (!mark->why.empty() || !mark->flags.empty())
            remarks.push_back(fmt::format("mark {}: {}", whole(mark->mark), remark_words(*mark)));
    }
    constexpr std::size_t first_number = 4, last_number = 8;
    for (std::size_t column = first_number; column <= last_number; ++column)
        align_points(rows, column);
    for (auto& row : rows)
        table.add_row(std::move(row));
    lines.push_back(fmt::format("{}: pressures in {}, U for 95.45 % (Student's t), of one reading each",
                                marks.front()->channel, show_with(marks.front()->unit, std::nullopt, 0).unit));
    for (const std::string& line : table.lines(columns))
        lines.push_back(line);
    for (const std::string& remark : remarks)
        for (const std::string& line : wrap(remark, columns, 2))
            lines.push_back(line);
    lines.emplace_back();
}

void add_missing(std::vector<std::string>& lines, const std::vector<Mark>& missing, std::size_t columns) {
    std::map<std::string, std::vector<std::string>> points;
    for (const Mark& one : missing)
        points[one.channel].push_back(one.target + " " + one.direction);
    for (const auto& [channel, list] : points)
        for (const std::string& line :
             wrap(fmt::format("No mark of {}: {}", channel, fmt::join(list, ", ")), columns, 2))
            lines.push_back(line);
    if (!points.empty()) lines.emplace_back();
}

void add_floats(std::vector<std::string>& lines, const std::vector<Mark>& marks, std::size_t columns) {
    struct Interval {
        const Mark* first;
        std::vector<std::string> marks;
    };
    std::map<std::int64_t, Interval> intervals;
    for (const Mark& mark : marks) {
        if (!mark.float_number) continue;
        Interval& interval = intervals.try_emplace(*mark.float_number, Interval{&mark, {}}).first->second;
        interval.marks.push_back(whole(mark.mark));
    }
    if (intervals.empty()) return;
    Table table;
    table.add_column("float", Align::right);
    table.add_column("range");
    table.add_column("target", Align::right);
    table.add_column("lasted", Align::right);
    table.add_column("marks in it");
    for (const auto& [number, interval] : intervals) {
        const Mark& mark = *interval.first;
        const bool ended = mark.float_from_us && mark.float_to_us;
        table.add_row({fmt::format("{}", number), mark.range, mark.target,
                       ended ? span_words(*mark.float_to_us - *mark.float_from_us) : "not ended",
                       fmt::format("{}", fmt::join(interval.marks, ", "))});
    }
    lines.emplace_back("Float intervals");
    for (const std::string& line : table.lines(columns))
        lines.push_back(line);
}

} // namespace

std::vector<std::string> results_table(const Results& results, std::size_t columns) {
    std::vector<std::string> lines;
    if (results.run)
        lines = {fmt::format("Run {}: {}, {}, {}", results.run->id, results.run->sequence, results.run->condition,
                             results.run->state),
                 ""};
    std::vector<std::string> channels;
    for (const Mark& mark : results.marks)
        if (std::find(channels.begin(), channels.end(), mark.channel) == channels.end())
            channels.push_back(mark.channel);
    for (const std::string& channel : channels)
        add_channel(lines, of_channel(results.marks, channel), columns);
    if (channels.empty()) lines.emplace_back("No marks yet.");
    add_missing(lines, results.missing, columns);
    add_floats(lines, results.marks, columns);
    for (std::string& line : lines)
        line = cut(printable(line), columns);
    return lines;
}

} // namespace stillmark::cli
