#include "daemon/metrology/evaluation/passes.hpp"

#include "daemon/metrology/evaluation/completeness.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

namespace stillmark::metrology {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

/// Rows of one pass that differ by no more than this part are one point read again: no balance is set closer by
/// intention.
constexpr double repeated_part = 1e-4;
constexpr double joined_part = PassTable::joined_part;
/// References stand apart for certain where they differ by this part of the step to the next row of their pass.
constexpr double part_of_step = 0.25;

Sentence name_of_row(const Observation& one) {
    if (!one.shown_as.empty()) return one.shown_as;
    return as_written(one.target.empty() ? number(one.reference) : one.target);
}

Sentence row_words(const Observation& one) {
    return sentence("{point}, {direction}, series {series}",
                    {words_value("point", name_of_row(one)), words_value("direction", direction_words(one.rising)),
                     number_value("series", one.series)});
}

std::vector<const Observation*> that_count(std::span<const Observation> observations, PassTable& table,
                                           UnsaidList& unsaid) {
    std::vector<const Observation*> standing;
    for (const Observation& one : observations) {
        const bool counts = one.left_out.empty() && std::isfinite(one.reference) && std::isfinite(one.reading);
        if (!counts) table.left_out.push_back(&one);
        if (!one.left_out.empty())
            unsaid.add(Topic::readings, sentence("the reading at {row}", {words_value("row", row_words(one))}),
                       as_it_is(one.left_out));
        else if (!counts)
            unsaid.add(Topic::readings,
                       sentence("the reading at {point}, series {series}",
                                {words_value("point", one.target.empty() ? sentence("one point") : name_of_row(one)),
                                 number_value("series", one.series)}),
                       sentence("it is not a number"));
        else
            standing.push_back(&one);
    }
    return standing;
}

/// Sorts rows into points by what their references can be told apart by.
class PointSorter {
  public:
    PointSorter(const std::vector<const Observation*>& standing, const EvaluationSettings& settings, UnsaidList& unsaid)
        : settings_(settings), unsaid_(unsaid), resolution_(settings.own_resolution().value_or(0)) {
        std::map<std::pair<int, bool>, std::vector<Row>> passes;
        for (const auto* one : standing)
            passes[{one->series, one->rising}].push_back({one, own_u(*one), infinity});
        for (auto& [key, rows] : passes) {
            find_steps(rows);
            rows_.insert(rows_.end(), rows.begin(), rows.end());
        }
        std::stable_sort(rows_.begin(), rows_.end(),
                         [](const Row& a, const Row& b) { return a.of->reference < b.of->reference; });
    }

    std::vector<PassTable::Point> points() {
        std::map<std::string, std::size_t> named;
        std::optional<std::size_t> zero;
        for (const Row& row : rows_) {
            const bool is_zero = reads_zero(row);
            std::size_t place = points_.size();
            if (!row.of->target.empty())
                place = named.try_emplace(row.of->target, place).first->second;
            else if (is_zero)
                place = zero ? *zero : *(zero = place);
            else if (const auto open = open_point(row))
                place = *open;
            if (place == points_.size()) begin_point(row);
            points_[place].rows.push_back(row);
            points_[place].zero = points_[place].zero || is_zero;
            if (row.of->target.empty() && !is_zero) last_ = place;
        }
        for (const Point& point : points_)
            tell_joined(point);
        tell_zero();
        return sorted();
    }

  private:
    struct Row {
        const Observation* of;
        double u;    ///< of the reference
        double step; ///< to the nearest different row of its pass
    };
    struct Point {
        std::vector<Row> rows;
        double within; ///< how far a further row may lie from the first
        bool zero = false;
    };

    double own_u(const Observation& one) const {
        double u = one.u_reference.value_or(0);
        if (!one.u_reference && settings_.u_reference) u = settings_.u_reference(one.reference);
        return std::isfinite(u) && u > 0 ? u : 0;
    }

    static bool same_again(const Row& a, const Row& b) {
        const double a_p = a.of->reference, b_p = b.of->reference;
        return std::abs(a_p - b_p) <=
               std::max({repeated_part * std::max(std::abs(a_p), std::abs(b_p)), std::min(a.u, b.u)});
    }

    /// The step of each row of one pass, and the least magnitude that stands above another one.
    void find_steps(std::vector<Row>& rows) {
        std::stable_sort(rows.begin(), rows.end(),
                         [](const Row& a, const Row& b) { return a.of->reference < b.of->reference; });
        const Row nearest_zero = *std::min_element(rows.begin(), rows.end(), [](const Row& a, const Row& b) {
            return std::abs(a.of->reference) < std::abs(b.of->reference);
        });
        for (std::size_t first = 0; first < rows.size();) {
            std::size_t end = first + 1; // rows first to end - 1 are one point read again
            while (end < rows.size() && same_again(rows[first], rows[end]))
                ++end;
            for (std::size_t i = first; i < end; ++i) {
                if (first > 0) rows[i].step = rows[first].of->reference - rows[first - 1].of->reference;
                if (end < rows.size())
                    rows[i].step = std::min(rows[i].step, rows[end].of->reference - rows[end - 1].of->reference);
                if (!same_again(rows[i], nearest_zero))
                    above_zero_ = std::min(above_zero_, std::abs(rows[i].of->reference));
            }
            first = end;
        }
    }

    bool reads_zero(const Row& row) const {
        if (settings_.zeros_are_marked) return row.of->vented;
        const double size = std::abs(row.of->reference);
        return row.of->vented || size == 0 ||
               size <= std::min(std::max(row.u, resolution_ / 2), part_of_step * above_zero_);
    }

    double tolerance(const Row& row) const {
        return std::min(std::max({joined_part * std::abs(row.of->reference), row.u, resolution_}),
                        part_of_step * row.step);
    }

    void begin_point(const Row& row) { points_.push_back({{}, tolerance(row), false}); }

    /// The last point without a name, if the row belongs to it: rows come in the order of their references. No two
    /// different rows of one pass can both lie within a quarter of the step between them.
    std::optional<std::size_t> open_point(const Row& row) const {
        if (!last_) return std::nullopt;
        const Point& point = points_[*last_];
        const double apart = row.of->reference - point.rows.front().of->reference;
        return apart <= std::min(point.within, tolerance(row)) ? last_ : std::nullopt;
    }

    void tell_joined(const Point& point) {
        double lowest = infinity, highest = -infinity, u = 0;
        for (const Row& row : point.rows) {
            lowest = std::min(lowest, row.of->reference);
            highest = std::max(highest, row.of->reference);
            u = std::max(u, row.u);
        }
        const double size = std::max(std::abs(lowest), std::abs(highest)), apart = highest - lowest;
        const Observation& first = *point.rows.front().of;
        if (!first.target.empty()) {
            if (apart > std::max({joined_part * size, u, resolution_}))
                unsaid_.add(Topic::results, sentence("the point {point}", {words_value("point", name_of_row(first))}),
                            sentence("its references lie between {lowest} and {highest}; see whether a row bears the "
                                     "wrong target",
                                     {number_value("lowest", settings_.written(lowest)),
                                      number_value("highest", settings_.written(highest))}));
        } else if (!point.zero && apart > std::max(repeated_part * size, u)) {
            unsaid_.add_at(Topic::results, as_written(number((lowest + highest) / 2)), sentence("one exact pressure"),
                           sentence("references that differ by up to 2 % from pass to pass are taken as one point"));
        }
    }

    void tell_zero() {
        if (settings_.zeros_are_marked) return;
        for (const Point& point : points_)
            for (const Row& row : point.rows)
                if (point.zero && !row.of->vented && row.of->reference != 0)
                    return unsaid_.add(Topic::results, sentence("the vented line"),
                                       sentence("nobody marked it; the reference of {reference} is zero within its "
                                                "uncertainty or half the resolution, and is taken as the zero",
                                                {number_value("reference", number(row.of->reference))}));
    }

    /// Points that may be one and were not taken so: no pass has both, and both lie well within a step.
    void tell_neighbours(const Point& a, const Point& b) {
        const Observation &low = *a.rows.back().of, &high = *b.rows.front().of;
        if (!low.target.empty() || !high.target.empty() || a.zero || b.zero) return;
        double step = infinity;
        for (const Point* point : {&a, &b})
            for (const Row& row : point->rows)
                step = std::min(step, row.step);
        if (!std::isfinite(step) || high.reference - low.reference > part_of_step * step) return;
        unsaid_.add_at(
            Topic::results,
            sentence("{low} and {high}",
                     {number_value("low", number(low.reference)), number_value("high", number(high.reference))}),
            sentence("whether it is one point"),
            sentence("no series has both, and they differ by more than 2 %; name the point in the targets of "
                     "its rows"));
    }

    /// Summed from the first one on, so that equal references give themselves, to the last digit.
    static double mean_reference(const std::vector<Row>& rows) {
        const double first = rows.front().of->reference;
        double beyond = 0;
        for (const Row& row : rows)
            beyond += row.of->reference - first;
        return first + beyond / static_cast<double>(rows.size());
    }

    std::vector<PassTable::Point> sorted() {
        std::vector<PassTable::Point> all;
        all.reserve(points_.size());
        std::vector<std::pair<double, std::size_t>> order;
        for (std::size_t i = 0; i < points_.size(); ++i) {
            order.emplace_back(mean_reference(points_[i].rows), i);
        }
        std::stable_sort(order.begin(), order.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
        for (std::size_t i = 0; i < order.size(); ++i) {
            const Point& point = points_[order[i].second];
            if (i > 0) tell_neighbours(points_[order[i - 1].second], point);
            PassTable::Point out;
            out.target = point.rows.front().of->target;
            out.shown_as = point.rows.front().of->shown_as;
            out.reference = order[i].first;
            out.zero = point.zero;
            for (const Row& row : point.rows)
                out.readings.push_back(row.of);
            all.push_back(std::move(out));
        }
        return all;
    }

    const EvaluationSettings& settings_;
    UnsaidList& unsaid_;
    double resolution_;
    double above_zero_ = infinity;
    std::vector<Row> rows_; ///< by reference
    std::vector<Point> points_;
    std::optional<std::size_t> last_; ///< point without a name that may go on
};

/// What is read on a stop says nothing of the instrument.
void leave_out_the_stop(PassTable& table, const EvaluationSettings& settings, UnsaidList& unsaid) {
    if (!settings.dial || !settings.dial->pointer_stop) return;
    const auto zero =
        std::find_if(table.points.begin(), table.points.end(), [](const auto& point) { return point.zero; });
    if (zero == table.points.end()) return;
    unsaid.add(Topic::results, sentence("the zero point"),
               sentence("the pointer rests on a stop there; its readings are left out"));
    table.points.erase(zero);
}

/// A pass over fewer points than the others: which ones it lacks. Series that repeat a few points are meant to.
void name_missing(const PassTable& table, UnsaidList& unsaid) {
    std::vector<std::size_t> of_cycles; // points
    std::vector<std::vector<std::size_t>> read(table.passes.size());
    for (std::size_t j = 0; j < table.points.size(); ++j) {
        bool in_cycle = false;
        for (const auto& one : table.points[j].by_pass)
            in_cycle = in_cycle || table.passes[one.pass].role == SeriesRole::cycle;
        if (!in_cycle) continue;
        of_cycles.push_back(j);
        for (const auto& one : table.points[j].by_pass)
            read[one.pass].push_back(j);
    }
    for (std::size_t i = 0; i < table.passes.size(); ++i) {
        const Pass& pass = table.passes[i];
        const std::size_t count = of_cycles.size() - read[i].size();
        if (pass.role == SeriesRole::repeatability || count == 0) continue;
        constexpr std::size_t most_named = 20;
        NameList missing;
        std::size_t named = 0;
        auto next_read = read[i].begin();
        for (const std::size_t j : of_cycles) {
            if (named == std::min(count, most_named)) break;
            if (next_read != read[i].end() && *next_read == j) {
                ++next_read;
                continue;
            }
            missing.add(name_of(table.points[j]));
            ++named;
        }
        missing.add_more(count - named);
        unsaid.add(Topic::readings,
                   sentence("series {series}, {direction}", {number_value("series", pass.series),
                                                             words_value("direction", direction_words(pass.rising))}),
                   sentence("no reading counts at {points}", {words_value("points", missing.list())}));
    }
}

/// Passes by series number; within one number, up before down.
void settle_passes(PassTable& table, const EvaluationSettings& settings, UnsaidList& unsaid) {
    std::map<std::pair<int, bool>, std::size_t> index; // (series, falling)
    for (const auto& point : table.points)
        for (const auto* one : point.readings)
            index[{one->series, !one->rising}] = 0;
    for (auto& [key, place] : index) {
        place = table.passes.size();
        table.passes.push_back({key.first, !key.second, SeriesRole::cycle, {}, {}});
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
        if (pass.rising)
            last_up = i;
        else
            pass.partner = std::exchange(last_up, std::nullopt);
    }
    for (auto& point : table.points) {
        std::map<std::size_t, std::vector<const Observation*>> here;
        for (const auto* one : point.readings)
            here[index[{one->series, !one->rising}]].push_back(one);
        for (const auto& [i, readings] : here) {
            double sum = 0;
            for (const auto* one : readings)
                sum += one->reading - one->reference;
            point.by_pass.push_back({i, sum / static_cast<double>(readings.size())});
            if (point.zero) table.passes[i].zero = point.by_pass.back().deviation;
            if (readings.size() > 1)
                unsaid.add_at(Topic::results, row_words(*readings.front()), sentence("single readings"),
                              sentence("it stands {count} times; the mean is used",
                                       {number_value("count", std::to_string(readings.size()))}));
        }
    }
}

} // namespace

std::optional<double> PassTable::Point::of(std::size_t pass) const {
    const auto found = std::lower_bound(by_pass.begin(), by_pass.end(), pass,
                                        [](const Read& read, std::size_t wanted) { return read.pass < wanted; });
    return found != by_pass.end() && found->pass == pass ? std::optional(found->deviation) : std::nullopt;
}

PassTable sort_into_passes(std::span<const Observation> observations, const EvaluationSettings& settings,
                           UnsaidList& unsaid) {
    PassTable table;
    const auto standing = that_count(observations, table, unsaid);
    table.points = PointSorter(standing, settings, unsaid).points();
    leave_out_the_stop(table, settings, unsaid);
    settle_passes(table, settings, unsaid);
    name_missing(table, unsaid);
    return table;
}

} // namespace stillmark::metrology
