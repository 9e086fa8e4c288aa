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

/// One digit rule for a whole column, so that it aligns: that of the smallest of these uncertainties.
Shown common_digits(const std::vector<const Mark*>& marks, std::optional<double> Mark::*standard_uncertainty) {
    Shown finest = show_with(marks.front()->unit, std::nullopt, marks.front()->reference_pa.value_or(0));
    bool first = true;
    for (const Mark* mark : marks) {
        if (!(mark->*standard_uncertainty)) continue;
        const Shown shown = show_with(mark->unit, expanded(mark->*standard_uncertainty), 0);
        if (first || shown.decimals > finest.decimals) finest = shown;
        first = false;
    }
    return finest;
}

void add_channel(std::vector<std::string>& lines, const std::vector<const Mark*>& marks, std::size_t columns) {
    const Shown shown = common_digits(marks, &Mark::u_pa);
    const Shown of_reference = common_digits(marks, &Mark::u_reference_pa);
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
    std::vector<std::string> remarks;
    for (const Mark* mark : marks) {
        const auto own = [&](std::optional<double> standard) {
            return show_with(mark->unit, expanded(standard), 0).number(expanded(standard));
        };
        table.add_row({whole(mark->mark), mark->target, mark->direction, mark->range,
                       of_reference.number(mark->reference_pa), own(mark->u_reference_pa), shown.number(mark->mean_pa),
                       shown.signed_number(mark->deviation_pa), own(mark->u_pa), whole(mark->float_number),
                       mark->status});
        if (!mark->why.empty() || !mark->flags.empty())
            remarks.push_back(fmt::format("mark {}: {}", whole(mark->mark), remark_words(*mark)));
    }
    lines.push_back(
        fmt::format("{}: pressures in {}, U with k = {:g}", marks.front()->channel, shown.unit, coverage_factor));
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
