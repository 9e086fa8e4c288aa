#include "daemon/cli/stability_table.hpp"

#include "daemon/cli/columns.hpp"
#include "daemon/cli/csv_rows.hpp"
#include "drivers/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace stillmark::cli {

namespace {

constexpr const char* stability_method =
    "Allan deviations of equally spaced values, each taken as the mean over its sampling interval (IEEE Std 1139-2008; "
    "NIST SP 1065, 5.2)";
constexpr const char* gap = "the row is empty, a gap; evaluate the values before and after it in tables of their own";
constexpr double part_of_a_step = 0.05;

class StabilityReader {
  public:
    StabilityReader(const std::string& name, const std::string& interval) : name_(name) {
        if (!interval.empty()) read_interval(interval);
    }

    StabilityTable read(const std::string& text) {
        const auto rows = csv_rows(text);
        if (rows.empty())
            refuse(fmt::format("{}: it is empty; the first line names the columns: value, or time,value", name_));
        else
            read_heading(rows.front());
        for (std::size_t i = 1; i < rows.size() && out_.mistake.empty(); ++i)
            read_row(rows[i], i + 1 == rows.size());
        if (out_.mistake.empty() && out_.values.size() < 2)
            refuse(fmt::format("{}: {} values; the smallest averaging time takes two", name_, out_.values.size()));
        if (out_.mistake.empty() && time_) check_spacing();
        return std::move(out_);
    }

  private:
    void refuse(std::string words) {
        if (out_.mistake.empty()) out_.mistake = std::move(words);
    }
    void refuse_at(std::size_t line, const std::string& words) {
        refuse(fmt::format("{}: line {}: {}", name_, line, words));
    }

    void read_interval(const std::string& interval) {
        const auto seconds = drivers::parse_quantity(interval, drivers::Dimension::time);
        if (!seconds)
            refuse("--interval: " + seconds.error().message);
        else if (!(*seconds > 0))
            refuse(fmt::format("--interval: \"{}\" is no time between two values; give one over zero", interval));
        else
            out_.interval_s = *seconds;
    }

    void read_heading(const CsvRow& row) {
        last_line_ = row.line;
        for (std::size_t i = 0; i < row.cells.size(); ++i) {
            const CsvHeading heading = csv_heading(row.cells[i]);
            auto* place = heading.name == "value" ? &value_ : heading.name == "time" ? &time_ : nullptr;
            if (place == nullptr)
                return refuse_at(row.line, fmt::format("column {}: \"{}\" is not a column; use value and time", i + 1,
                                                       printable(cut(row.cells[i], 40))));
            if (*place)
                return refuse_at(row.line, fmt::format("the column \"{}\" is there twice; keep one", heading.name));
            *place = i;
            if (place == &value_) out_.unit = printable(heading.unit);
            if (place == &time_) read_time_unit(row.line, heading.unit);
        }
        if (!value_) refuse_at(row.line, "the column \"value\" is missing; the heading is value, or time,value");
        if (time_ && out_.interval_s)
            refuse("--interval: the table has a column time, which says the interval; take one of the two away");
    }

    void read_time_unit(std::size_t line, const std::string& unit) {
        const auto seconds =
            drivers::parse_quantity("1 " + (unit.empty() ? std::string("s") : unit), drivers::Dimension::time);
        if (!seconds) return refuse_at(line, fmt::format("time: {}", seconds.error().message));
        seconds_ = *seconds;
    }

    void read_row(const CsvRow& row, bool last) {
        // The reader of tables passes over empty lines.
        if (row.line != last_line_ + 1) return refuse_at(last_line_ + 1, gap);
        last_line_ = row.line;
        const bool empty = std::all_of(row.cells.begin(), row.cells.end(),
                                       [](const std::string& cell) { return csv_text(cell).empty(); });
        if (empty && last) return;
        if (empty) return refuse_at(row.line, gap);
        const auto number = [&](std::size_t column, const char* named) {
            std::string why;
            const auto value = csv_number(column < row.cells.size() ? row.cells[column] : std::string(), why);
            if (!value) refuse_at(row.line, fmt::format("column {}: {}", named, why));
            return value.value_or(0);
        };
        if (row.open_quote) return refuse_at(row.line, "a quotation mark is not closed");
        out_.values.push_back(number(*value_, "value"));
        if (time_) times_.push_back(number(*time_, "time") * seconds_);
        lines_.push_back(row.line);
    }

    void check_spacing() {
        std::vector<double> steps;
        for (std::size_t i = 1; i < times_.size(); ++i)
            steps.push_back(times_[i] - times_[i - 1]);
        std::vector<double> sorted = steps;
        const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
        std::nth_element(sorted.begin(), middle, sorted.end());
        const double usual = *middle;
        for (std::size_t i = 0; i < steps.size(); ++i) {
            if (!(steps[i] > 0))
                return refuse_at(lines_[i + 1], "the time is not after the one before it; sort the rows by time");
            if (std::abs(steps[i] - usual) > part_of_a_step * usual)
                return refuse_at(lines_[i + 1],
                                 fmt::format("{:.6g} s after the value before it, where the steps are {:.6g} s; values "
                                             "have to be equally spaced, so evaluate the parts in tables of their own",
                                             steps[i], usual));
        }
        out_.interval_s = (times_.back() - times_.front()) / static_cast<double>(steps.size());
    }

    const std::string& name_;
    StabilityTable out_;
    std::optional<std::size_t> value_, time_;
    double seconds_ = 1; ///< one of the unit of time
    std::vector<double> times_;
    std::vector<std::size_t> lines_;
    std::size_t last_line_ = 1; ///< of the last row
};

nlohmann::json term_json(const std::optional<metrology::DeviationOfTerms>& one) {
    if (!one) return nullptr;
    return {{"deviation", one->deviation}, {"terms", one->terms}};
}

} // namespace

StabilityTable read_stability_table(const std::string& name, const std::string& text, const std::string& interval) {
    return StabilityReader(name, interval).read(text);
}

nlohmann::json stability_json(const StabilityTable& table, const std::vector<metrology::StabilityAt>& found) {
    nlohmann::json times = nlohmann::json::array();
    for (const auto& one : found) {
        nlohmann::json at{{"intervals", one.intervals},
                          {"tau_s", nullptr},
                          {"adev", term_json(one.adev)},
                          {"overlapping_adev", term_json(one.overlapping)},
                          {"modified_adev", term_json(one.modified)},
                          {"tdev", nullptr}};
        if (table.interval_s) at["tau_s"] = *table.interval_s * static_cast<double>(one.intervals);
        if (one.tdev) at["tdev"] = *one.tdev * table.interval_s.value_or(1);
        times.push_back(std::move(at));
    }
    return {{"method", stability_method},
            {"unit", table.unit.empty() ? nlohmann::json(nullptr) : nlohmann::json(table.unit)},
            {"tdev_time_unit", table.interval_s ? "s" : "sampling interval"},
            {"interval_s", table.interval_s ? nlohmann::json(*table.interval_s) : nlohmann::json(nullptr)},
            {"values", table.values.size()},
            {"times", std::move(times)}};
}

std::vector<std::string> stability_lines(const StabilityTable& table, const std::vector<metrology::StabilityAt>& found,
                                         std::size_t columns) {
    const double interval = table.interval_s.value_or(1);
    Table shown;
    shown.add_column(table.interval_s ? "tau/s" : "tau", Table::Align::right);
    for (const char* name : {"ADEV", "terms", "overlapping", "terms", "modified", "terms", "TDEV"})
        shown.add_column(name, Table::Align::right);
    for (const auto& one : found) {
        std::vector<std::string> cells{fmt::format("{:.6g}", interval * static_cast<double>(one.intervals))};
        for (const auto* part : {&one.adev, &one.overlapping, &one.modified}) {
            cells.push_back(*part ? fmt::format("{:.7g}", (*part)->deviation) : "-");
            cells.push_back(*part ? fmt::format("{}", (*part)->terms) : "-");
        }
        cells.push_back(one.tdev ? fmt::format("{:.7g}", *one.tdev * interval) : "-");
        shown.add_row(std::move(cells));
    }
    std::vector<std::string> lines =
        wrap(fmt::format("{} values{}{}. {}.", table.values.size(), table.unit.empty() ? "" : " in " + table.unit,
                         table.interval_s ? fmt::format(", {:.6g} s apart", interval)
                                          : "; tau and TDEV count in sampling intervals",
                         stability_method),
             columns);
    for (auto& line : shown.lines(columns))
        lines.push_back(std::move(line));
    return lines;
}

} // namespace stillmark::cli
