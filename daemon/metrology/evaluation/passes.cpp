#include "daemon/metrology/evaluation/passes.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

namespace stillmark::metrology {

namespace {

/// The least reference is the zero where it is smaller than this part of the largest: a head of liquid may be all that
/// stands there, half a metre of oil against 10 bar.
constexpr double zero_part = 5e-3;
/// References that differ by less than this part of them all are one point, whatever else stands in the table.
constexpr double one_point_part = 1e-3;

std::string row_words(const Observation& one) {
    return (one.target.empty() ? number(one.reference) : one.target) + (one.rising ? ", rising" : ", falling") +
           ", series " + std::to_string(one.series);
}

std::vector<const Observation*> that_count(std::span<const Observation> observations, std::vector<Unsaid>& unsaid) {
    std::vector<const Observation*> standing;
    for (const Observation& one : observations) {
        if (!one.left_out.empty())
            unsaid.push_back({"the reading at " + row_words(one), one.left_out});
        else if (!std::isfinite(one.reference) || !std::isfinite(one.reading))
            unsaid.push_back({"the reading at " + (one.target.empty() ? "one point" : one.target) + ", series " +
                                  std::to_string(one.series),
                              "it is not a number"});
        else
            standing.push_back(&one);
    }
    return standing;
}

/// A quarter of the least step between neighbouring points of one pass.
double closeness(const std::vector<const Observation*>& standing) {
    std::map<std::pair<int, bool>, std::vector<double>> by_pass;
    double lowest = std::numeric_limits<double>::infinity(), highest = -lowest;
    for (const auto* one : standing) {
        by_pass[{one->series, one->rising}].push_back(one->reference);
        lowest = std::min(lowest, one->reference);
        highest = std::max(highest, one->reference);
    }
    const double same = one_point_part * highest - one_point_part * lowest; // a point read twice in one pass is no step
    double least = std::numeric_limits<double>::infinity();
    for (auto& [pass, references] : by_pass) {
        std::sort(references.begin(), references.end());
        for (std::size_t i = 1; i < references.size(); ++i)
            if (references[i] - references[i - 1] > same) least = std::min(least, references[i] - references[i - 1]);
    }
    return least / 4;
}

/// Summed from the first one on, so that equal references give themselves, to the last digit.
double mean_reference(const std::vector<const Observation*>& readings) {
    const double first = readings.front()->reference;
    double beyond = 0;
    for (const auto* one : readings)
        beyond += one->reference - first;
    return first + beyond / static_cast<double>(readings.size());
}

void settle_points(PassTable& table, const std::vector<const Observation*>& standing, bool zeros_are_marked) {
    const double close = closeness(standing);
    for (const auto* one : standing) {
        auto found = std::find_if(table.points.begin(), table.points.end(), [&](const PassTable::Point& point) {
            return one->target.empty()
                       ? point.target.empty() && std::abs(point.readings.front()->reference - one->reference) <= close
                       : point.target == one->target;
        });
        if (found == table.points.end())
            found = table.points.insert(table.points.end(), {one->target, 0, one->vented, {}});
        found->readings.push_back(one);
    }
    double largest = 0, least = std::numeric_limits<double>::infinity();
    for (auto& point : table.points) {
        point.reference = mean_reference(point.readings);
        largest = std::max(largest, std::abs(point.reference));
        least = std::min(least, std::abs(point.reference));
    }
    for (auto& point : table.points)
        point.zero =
            point.zero || (!zeros_are_marked && std::abs(point.reference) <= least && least <= zero_part * largest);
    std::stable_sort(table.points.begin(), table.points.end(),
                     [](const auto& a, const auto& b) { return a.reference < b.reference; });
}

/// What is read on a stop says nothing of the instrument.
void leave_out_the_stop(PassTable& table, const EvaluationSettings& settings, std::vector<Unsaid>& unsaid) {
    if (!settings.dial || !settings.dial->pointer_stop) return;
    const auto zero =
        std::find_if(table.points.begin(), table.points.end(), [](const auto& point) { return point.zero; });
    if (zero == table.points.end()) return;
    unsaid.push_back({"the zero point", "the pointer rests on a stop there; its readings are left out"});
    table.points.erase(zero);
}

/// A pass over fewer points than the others: which ones it lacks. Series that repeat a few points are meant to.
void name_missing(const PassTable& table, std::vector<Unsaid>& unsaid) {
    std::vector<bool> of_cycles(table.points.size(), false);
    for (const Pass& pass : table.passes)
        for (std::size_t j = 0; j < table.points.size(); ++j)
            if (pass.role == SeriesRole::cycle && pass.deviation[j]) of_cycles[j] = true;
    for (const Pass& pass : table.passes) {
        if (pass.role == SeriesRole::repeatability) continue;
        constexpr std::size_t most_named = 20;
        std::size_t count = 0;
        std::string missing;
        for (std::size_t j = 0; j < table.points.size(); ++j) {
            if (pass.deviation[j] || !of_cycles[j] || ++count > most_named) continue;
            const auto& point = table.points[j];
            missing += (missing.empty() ? "" : ", ") + (point.target.empty() ? number(point.reference) : point.target);
        }
        if (count > most_named) missing += " and " + std::to_string(count - most_named) + " more";
        if (!missing.empty())
            unsaid.push_back({"series " + std::to_string(pass.series) + (pass.rising ? ", rising" : ", falling"),
                              "no reading counts at " + missing});
    }
}

/// Passes by series number; within one number, up before down.
void settle_passes(PassTable& table, const EvaluationSettings& settings, std::vector<Unsaid>& unsaid) {
    std::map<std::pair<int, bool>, std::size_t> index; // (series, falling)
    for (const auto& point : table.points)
        for (const auto* one : point.readings)
            index[{one->series, !one->rising}] = 0;
    for (auto& [key, place] : index) {
        place = table.passes.size();
        table.passes.push_back({key.first, !key.second, SeriesRole::cycle, {}, {}, {}});
    }
    const auto role_of = [&](std::size_t i) {
        if (i < settings.roles.size()) return settings.roles[i];
        if (settings.method != nullptr && i < settings.method->series.size()) return settings.method->series[i].role;
        return SeriesRole::cycle;
    };
    std::optional<std::size_t> last_up;
    for (std::size_t i = 0; i < table.passes.size(); ++i) {
        Pass& pass = table.passes[i];
        pass.role = role_of(i);
        pass.deviation.resize(table.points.size());
        if (pass.rising)
            last_up = i;
        else
            pass.partner = std::exchange(last_up, std::nullopt);
    }
    for (std::size_t j = 0; j < table.points.size(); ++j) {
        const auto& point = table.points[j];
        std::map<std::size_t, std::vector<const Observation*>> here;
        for (const auto* one : point.readings)
            here[index[{one->series, !one->rising}]].push_back(one);
        for (const auto& [i, readings] : here) {
            double sum = 0;
            for (const auto* one : readings)
                sum += one->reading - one->reference;
            table.passes[i].deviation[j] = sum / static_cast<double>(readings.size());
            if (point.zero) table.passes[i].zero = table.passes[i].deviation[j];
            if (readings.size() > 1)
                unsaid.push_back({"single readings at " + row_words(*readings.front()),
                                  "it stands " + std::to_string(readings.size()) + " times; the mean is used"});
        }
    }
}

} // namespace

std::string number(double value) {
    constexpr int digits = 7;
    std::array<char, 32> text{};
    const auto end = std::to_chars(text.begin(), text.end(), value, std::chars_format::general, digits).ptr;
    return {text.begin(), end};
}

PassTable sort_into_passes(std::span<const Observation> observations, const EvaluationSettings& settings,
                           std::vector<Unsaid>& unsaid) {
    PassTable table;
    const auto standing = that_count(observations, unsaid);
    settle_points(table, standing, settings.zeros_are_marked);
    leave_out_the_stop(table, settings, unsaid);
    settle_passes(table, settings, unsaid);
    name_missing(table, unsaid);
    return table;
}

} // namespace stillmark::metrology
