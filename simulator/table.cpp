#include "simulator/answer_reading.hpp"
#include "simulator/judge.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <tuple>

namespace stillmark::simulator {

namespace {

/// One visit of a point: everything that was marked there.
struct Row {
    long series = 0;
    long point = 0;
    std::string range;
    std::string direction;
    std::string target;
    double at_balance_pa = 0;
    double u_reference_pa = 0;
    std::map<std::string, double> deviation_pa;
    std::map<std::string, std::string> remark;
    std::set<long> floats;
    Micros from_us = 0;
    Micros to_us = 0;
};

Micros first_instant(const nlohmann::json& results) {
    Micros first = 0;
    for (const auto& mark : results) {
        const Micros from = whole_in(object_in(mark, "float"), "from_us");
        if (from > 0 && (first == 0 || from < first)) first = from;
    }
    return first;
}

std::vector<Row> rows_of(const nlohmann::json& results, std::vector<std::string>& channels) {
    std::vector<Row> rows;
    for (const auto& mark : results) {
        const auto channel = text_in(mark, "channel");
        if (std::find(channels.begin(), channels.end(), channel) == channels.end()) channels.push_back(channel);
        if (text_in(mark, "status") == "void") continue;
        const auto key = [](const Row& row) { return std::tie(row.series, row.point, row.range); };
        Row fresh;
        fresh.series = whole_in(mark, "series");
        fresh.point = whole_in(mark, "point");
        fresh.range = text_in(mark, "range");
        auto at = std::find_if(rows.begin(), rows.end(), [&](const Row& row) { return key(row) == key(fresh); });
        if (at == rows.end()) at = rows.insert(rows.end(), fresh);
        at->direction = text_in(mark, "direction");
        at->target = text_in(mark, "target");
        at->at_balance_pa = number_in(mark, "at_balance_pa");
        at->u_reference_pa = std::max(at->u_reference_pa, number_in(mark, "u_reference_pa"));
        at->deviation_pa[channel] = number_in(mark, "deviation_pa");
        const auto status = text_in(mark, "status");
        at->remark[channel] = !list_in(mark, "flags").empty() ? "!"
                              : status == "unbracketed"       ? "?"
                              : status == "provisional"       ? "~"
                                                              : "";
        const auto& interval = object_in(mark, "float");
        at->floats.insert(whole_in(interval, "number"));
        const Micros from = whole_in(interval, "from_us");
        if (at->from_us == 0 || from < at->from_us) at->from_us = from;
        at->to_us = std::max(at->to_us, static_cast<Micros>(whole_in(interval, "to_us")));
    }
    return rows;
}

} // namespace

std::string results_table(const nlohmann::json& results) {
    std::vector<std::string> channels;
    auto rows = rows_of(results, channels);
    std::sort(channels.begin(), channels.end());
    const Micros zero_us = first_instant(results);
    std::string table = "Deviations in bar, each from the reference at its instrument's level.\n"
                        "Reference pressure at the balance and its standard uncertainty u (k = 1).\n"
                        "Float interval: number, and seconds since the first confirmation.\n\n";
    for (std::size_t i = 0; i < channels.size(); ++i)
        table += fmt::format("  ({}) {}\n", i + 1, channels[i]);
    table += fmt::format("\n{:<17}{:<5}{:>10}{:>8}", "point", "range", "reference", "u");
    for (std::size_t i = 0; i < channels.size(); ++i)
        table += fmt::format("{:>9} ", fmt::format("({})", i + 1));
    table += fmt::format(" {}\n", "float interval");
    for (const auto& row : rows) {
        table += fmt::format("{:<17}{:<5}{:>10.4f}{:>8.4f}", fmt::format("{}, {}", row.target, row.direction),
                             row.range, row.at_balance_pa / 1e5, row.u_reference_pa / 1e5);
        for (const auto& channel : channels) {
            const auto found = row.deviation_pa.find(channel);
            if (found == row.deviation_pa.end())
                table += fmt::format("{:>9} ", "-");
            else
                table += fmt::format("{:>+9.4f}{:1}", found->second / 1e5, row.remark.at(channel));
        }
        table += fmt::format(" {} ({:.1f}-{:.1f})\n", fmt::join(row.floats, ", "),
                             static_cast<double>(row.from_us - zero_us) * 1e-6,
                             static_cast<double>(row.to_us - zero_us) * 1e-6);
    }
    std::string notes;
    for (const auto& mark : results) {
        const auto about = fmt::format("mark {}, {}, {} {}", whole_in(mark, "mark"), text_in(mark, "channel"),
                                       text_in(mark, "target"), text_in(mark, "direction"));
        if (text_in(mark, "status") == "void") notes += fmt::format("  {} is void: {}\n", about, text_in(mark, "why"));
        for (const auto& flag : texts_in(mark, "flags"))
            notes += fmt::format("  {}: {}\n", about, flag);
    }
    if (!notes.empty()) table += "\nOn record (! flagged, ? unbracketed, ~ provisional):\n" + notes;
    return table;
}

} // namespace stillmark::simulator
