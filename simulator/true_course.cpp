#include "simulator/true_course.hpp"

#include "simulator/mistake.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <fstream>

namespace stillmark::simulator {

namespace {

std::vector<std::string> cells_of(const std::string& line) {
    std::vector<std::string> cells(1);
    bool quoted = false;
    for (std::size_t i = 0; i < line.size(); ++i) {
        const char letter = line[i];
        if (letter == '"' && quoted && i + 1 < line.size() && line[i + 1] == '"')
            cells.back() += line[++i];
        else if (letter == '"')
            quoted = !quoted;
        else if (letter == ',' && !quoted)
            cells.emplace_back();
        else
            cells.back() += letter;
    }
    return cells;
}

} // namespace

TrueCourse::TrueCourse(const std::string& path) {
    std::ifstream file(path);
    std::string line;
    if (!std::getline(file, line)) throw Mistake(path + ": is no truth log");
    const auto names = cells_of(line);
    const auto column = [&](const std::string& name) {
        const auto found = std::find(names.begin(), names.end(), name);
        if (found == names.end()) throw Mistake(path + ": has no column \"" + name + "\"");
        return static_cast<std::size_t>(found - names.begin());
    };
    const auto at = column("boottime_us");
    const auto band = column("in_band");
    const auto at_mark = column("pressure_pa");
    while (std::getline(file, line)) {
        const auto cells = cells_of(line);
        if (cells.size() != names.size()) continue; // the last row of a log that was cut off
        at_us_.push_back(std::strtoll(cells[at].c_str(), nullptr, 10));
        in_band_.push_back(cells[band] == "1");
        at_mark_pa_.push_back(std::strtod(cells[at_mark].c_str(), nullptr));
        for (std::size_t i = 0; i < names.size(); ++i) {
            const std::string prefix = "settled_pa ";
            if (!names[i].starts_with(prefix)) continue;
            const auto instrument = names[i].substr(prefix.size());
            const double pressure = std::strtod(cells[column("pressure_pa " + instrument)].c_str(), nullptr);
            deviation_pa_[instrument].push_back(std::strtod(cells[i].c_str(), nullptr) - pressure);
        }
    }
    if (at_us_.empty()) throw Mistake(path + ": has no rows");
}

TrueCourse::Rows TrueCourse::between(Micros from_us, Micros to_us) const {
    const auto first = std::lower_bound(at_us_.begin(), at_us_.end(), from_us);
    const auto last = std::upper_bound(first, at_us_.end(), to_us);
    if (first != last)
        return {static_cast<std::size_t>(first - at_us_.begin()), static_cast<std::size_t>(last - at_us_.begin())};
    const Micros middle = from_us + (to_us - from_us) / 2;
    auto near = static_cast<std::size_t>(std::lower_bound(at_us_.begin(), at_us_.end(), middle) - at_us_.begin());
    if (near == at_us_.size() || (near > 0 && middle - at_us_[near - 1] < at_us_[near] - middle)) --near;
    return {near, near + 1};
}

std::optional<double> TrueCourse::true_deviation_pa(const std::string& instrument, Micros from_us, Micros to_us) const {
    const auto found = deviation_pa_.find(instrument);
    if (found == deviation_pa_.end() || from_us < at_us_.front() || to_us > at_us_.back()) return std::nullopt;
    const auto rows = between(from_us, to_us);
    double sum = 0;
    for (auto i = rows.first; i < rows.last; ++i)
        sum += found->second[i];
    return sum / static_cast<double>(rows.last - rows.first);
}

bool TrueCourse::was_open(Micros from_us, Micros to_us) const {
    constexpr double nothing_pa = 0.01;
    const auto rows = between(from_us, to_us);
    return std::all_of(at_mark_pa_.begin() + static_cast<std::ptrdiff_t>(rows.first),
                       at_mark_pa_.begin() + static_cast<std::ptrdiff_t>(rows.last),
                       [](double pa) { return std::abs(pa) <= nothing_pa; });
}

bool TrueCourse::floated(Micros from_us, Micros to_us) const {
    const auto rows = between(from_us, to_us);
    return std::all_of(in_band_.begin() + static_cast<std::ptrdiff_t>(rows.first),
                       in_band_.begin() + static_cast<std::ptrdiff_t>(rows.last), [](bool in_band) { return in_band; });
}

} // namespace stillmark::simulator
