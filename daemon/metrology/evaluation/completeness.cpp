#include "daemon/metrology/evaluation/completeness.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>
#include <utility>

namespace stillmark::metrology {

namespace {

constexpr std::array directions{true, false};

/// To a tenth.
std::string per_cent(double part) {
    constexpr double tenths = 1000;
    return number(std::round(part * tenths) / 10);
}
Sentence per_cent_words(double part) {
    return sentence("{part} %", {number_value("part", per_cent(part))});
}
Sentence::Value count_value(const char* name, std::size_t count) {
    return number_value(name, std::to_string(count));
}

class Comparison {
  public:
    Comparison(const PassTable& table, const EvaluationSettings& settings) : table_(table), settings_(settings) {
        read_.reserve(table.points.size());
        for (const auto& point : table.points) {
            Read read;
            for (const auto& one : point.by_pass)
                read.in(table.passes[one.pass].rising) = true;
            if (!point.target.empty()) by_name_[point.target] = read_.size();
            read_.push_back(read);
        }
    }

    Completeness compare() {
        if (!settings_.unfinished.empty()) lacks(settings_.unfinished);
        of_method();
        both_directions();
        left_out();
        out_.covers = covers();
        return std::move(out_);
    }

  private:
    struct Read {
        bool rising = false, falling = false;
        bool& in(bool up) { return up ? rising : falling; }
        bool in(bool up) const { return up ? rising : falling; }
    };

    void lacks(Sentence words, Source source = {}) { out_.lacking.push_back({std::move(words), std::move(source)}); }

    void of_method() {
        if (settings_.method == nullptr || table_.points.empty()) return;
        const Method& method = *settings_.method;
        if (method.guide == Guide::en_837_1) return of_en_837();
        if (!method.series.empty() && table_.passes.size() < method.series.size())
            lacks(sentence("{method} asks for {asked} series, here are {here}",
                           {text_value("method", method.name), count_value("asked", method.series.size()),
                            count_value("here", table_.passes.size())}));
        const double low = settings_.method_low.value_or(settings_.span_low.value_or(table_.points.front().reference));
        const double high =
            settings_.method_high.value_or(settings_.span_high.value_or(table_.points.back().reference));
        if (method.points.size() < 2 || !(high > low)) return;
        NameList unread;
        std::array<NameList, directions.size()> one_way;
        for (const double part : method.points) {
            if (on_the_stop(part)) continue;
            const Read found = read_within(low + part * (high - low), within(method, high - low));
            if (!found.rising && !found.falling) unread.add(per_cent_words(part));
            for (std::size_t i = 0; i < directions.size(); ++i)
                if (found.in(!directions[i]) && !found.in(directions[i]) && asks_for(method, directions[i]))
                    one_way[i].add(per_cent_words(part));
        }
        const auto name = text_value("method", method.name);
        const auto asked = count_value("points", method.points.size());
        if (!unread.empty())
            lacks(sentence("{method} asks for {points} points spread evenly over the range: nothing was read near "
                           "{unread}",
                           {name, asked, words_value("unread", unread.list())}));
        for (std::size_t i = 0; i < directions.size(); ++i)
            if (!one_way[i].empty())
                lacks(sentence("{method} asks for {points} points spread evenly over the range: nothing was read "
                               "{direction} near {unread}",
                               {name, asked, words_value("direction", direction_words(directions[i])),
                                words_value("unread", one_way[i].list())}));
    }

    static double within(const Method& method, double range) {
        constexpr double part_of_step = 0.25;
        return part_of_step * range / static_cast<double>(method.points.size() - 1);
    }

    static bool asks_for(const Method& method, bool rising) {
        return std::any_of(method.series.begin(), method.series.end(), [&](const MethodSeries& one) {
            return one.role == SeriesRole::cycle && one.rising == rising;
        });
    }

    bool on_the_stop(double part) const { return settings_.dial && settings_.dial->pointer_stop && part == 0; }

    /// What was read so near to a pressure. An overlap point stands there twice, once in each range.
    Read read_within(double pressure, double distance) const {
        auto point = std::lower_bound(table_.points.begin(), table_.points.end(), pressure - distance,
                                      [](const auto& one, double least) { return one.reference < least; });
        Read found;
        for (; point != table_.points.end() && point->reference <= pressure + distance; ++point) {
            const Read& here = read_[static_cast<std::size_t>(point - table_.points.begin())];
            found.rising = found.rising || here.rising;
            found.falling = found.falling || here.falling;
        }
        return found;
    }

    /// EN 837-1 (second hand) has a number of points for a class. That they reach both ends of the scale and leave no
    /// gap of more than two even steps is common practice.
    void of_en_837() {
        if (!settings_.permissible || !settings_.permissible->accuracy_class) return;
        const int least = least_points_en_837_1(*settings_.permissible->accuracy_class);
        const auto points = different_points();
        if (static_cast<int>(points.size()) < least)
            lacks(sentence("EN 837-1 asks for {least} points for this class, here are {here}",
                           {number_value("least", least), count_value("here", points.size())}));
        if (!settings_.span_low || !settings_.span_high || points.empty()) return;
        constexpr double valid_from = 0.1; // with a pointer stop
        const double low = *settings_.span_low, span = *settings_.span_high - low;
        const double begin = settings_.dial && settings_.dial->pointer_stop ? low + valid_from * span : low;
        const double step = (*settings_.span_high - begin) / (least - 1);
        const auto part = [&](const char* name, double pressure) {
            return number_value(name, per_cent((pressure - low) / span));
        };
        if (points.front() > begin + step / 2 || points.back() < *settings_.span_high - step / 4)
            lacks(
                sentence("the scale is valid from {begin} % to 100 % of the span and was read from {from} % to {to} %",
                         {part("begin", begin), part("from", points.front()), part("to", points.back())}));
        for (std::size_t i = 1; i < points.size(); ++i)
            if (points[i] - points[i - 1] > 2 * step)
                lacks(sentence("nothing was read between {from} % and {to} % of the span",
                               {part("from", points[i - 1]), part("to", points[i])}),
                      {"points spread over the scale are common practice", Provenance::read});
    }

    /// References of points that differ by more than what joins rows; an overlap point counts once.
    std::vector<double> different_points() const {
        std::vector<double> all;
        for (const auto& point : table_.points)
            if (all.empty() || point.reference - all.back() > PassTable::joined_part / 4 * std::abs(point.reference))
                all.push_back(point.reference);
        return all;
    }

    /// The limits of a class hold for rising and falling pressure (German Verification Ordinance, annex 16, 3.3). The
    /// highest point, where a series turns, may be read once.
    void both_directions() {
        if (!settings_.permissible || !settings_.permissible->accuracy_class) return;
        std::array<NameList, directions.size()> lacking;
        for (std::size_t j = 0; j + 1 < read_.size(); ++j)
            for (std::size_t i = 0; i < directions.size(); ++i)
                if (!read_[j].in(directions[i])) lacking[i].add(name_of(table_.points[j]));
        if (read_.size() == 1 && !(read_[0].rising && read_[0].falling))
            lacking[read_[0].rising ? 1 : 0].add(name_of(table_.points[0]));
        for (std::size_t i = 0; i < directions.size(); ++i)
            if (!lacking[i].empty())
                lacks(
                    sentence("the limits of a class hold rising and falling: nothing was read {direction} at {points}",
                             {words_value("direction", direction_words(directions[i])),
                              words_value("points", lacking[i].list())}));
    }

    /// Readings in the table that do not count, where no other of that direction does.
    void left_out() {
        std::array<NameList, directions.size()> lacking;
        std::set<std::pair<std::string, bool>> told;
        for (const Observation* one : table_.left_out) {
            if (stands_elsewhere(*one)) continue;
            const std::string name = one->target.empty() ? number(one->reference) : one->target;
            if (told.emplace(name, one->rising).second)
                lacking[one->rising ? 0 : 1].add(one->shown_as.empty() ? as_written(name) : one->shown_as);
        }
        for (std::size_t i = 0; i < directions.size(); ++i)
            if (!lacking[i].empty())
                lacks(sentence("no reading counts {direction} at {points}",
                               {words_value("direction", direction_words(directions[i])),
                                words_value("points", lacking[i].list())}));
    }

    bool stands_elsewhere(const Observation& one) const {
        if (one.target.empty()) {
            if (!std::isfinite(one.reference)) return true; // nobody knows where
            const double distance =
                std::max({PassTable::joined_part * std::abs(one.reference), settings_.own_resolution().value_or(0)});
            return read_within(one.reference, distance).in(one.rising);
        }
        const auto named = by_name_.find(one.target);
        if (named != by_name_.end()) return read_[named->second].in(one.rising);
        // A pointer rests on its stop at zero: nothing is read there at all.
        return settings_.dial && settings_.dial->pointer_stop && one.vented;
    }

    Sentence covers() const {
        if (table_.points.empty()) return {};
        std::array<std::size_t, directions.size()> count{};
        std::array<NameList, directions.size()> only;
        for (std::size_t j = 0; j < read_.size(); ++j)
            for (std::size_t i = 0; i < directions.size(); ++i) {
                count[i] += read_[j].in(directions[i]) ? 1 : 0;
                if (!read_[j].in(!directions[i])) only[i].add(name_of(table_.points[j]));
            }
        std::vector<Sentence> parts;
        if (count[0] > 0 && count[1] > 0) {
            parts.push_back(sentence("rising and falling"));
            for (std::size_t i = 0; i < directions.size(); ++i)
                if (!only[i].empty())
                    parts.push_back(sentence("but only {direction} at {points}",
                                             {words_value("direction", direction_words(directions[i])),
                                              words_value("points", only[i].list())}));
        } else {
            parts.push_back(sentence("only {direction}", {words_value("direction", direction_words(count[0] > 0))}));
        }
        const auto points = words_value("points", points_read()), ways = words_value("directions", std::move(parts));
        const Sentence unread = beyond();
        return unread.empty() ? sentence("{points}, {directions}", {points, ways})
                              : sentence("{points}, {directions}; of the span nothing was read {beyond}",
                                         {points, ways, words_value("beyond", unread)});
    }

    Sentence points_read() const {
        const auto first = words_value("first", name_of(table_.points.front()));
        return read_.size() == 1 ? sentence("1 point, {first}", {first})
                                 : sentence("{count} points from {first} to {last}",
                                            {count_value("count", read_.size()), first,
                                             words_value("last", name_of(table_.points.back()))});
    }

    /// What of the span nobody read.
    Sentence beyond() const {
        if (!settings_.span_low || !settings_.span_high) return {};
        const double span = *settings_.span_high - *settings_.span_low;
        const double low = (table_.points.front().reference - *settings_.span_low) / span;
        const double high = (table_.points.back().reference - *settings_.span_low) / span;
        const bool below = low > PassTable::joined_part, above = high < 1 - PassTable::joined_part;
        const auto low_value = number_value("low", per_cent(low)), high_value = number_value("high", per_cent(high));
        if (below && above) return sentence("below {low} % or above {high} %", {low_value, high_value});
        if (below) return sentence("below {low} %", {low_value});
        if (above) return sentence("above {high} %", {high_value});
        return {};
    }

    const PassTable& table_;
    const EvaluationSettings& settings_;
    std::vector<Read> read_; ///< by point
    std::map<std::string, std::size_t> by_name_;
    Completeness out_;
};

} // namespace

Sentence name_of(const PassTable::Point& point) {
    if (!point.shown_as.empty()) return point.shown_as;
    return as_written(point.target.empty() ? number(point.reference) : point.target);
}

Completeness completeness(const PassTable& table, const EvaluationSettings& settings) {
    return Comparison(table, settings).compare();
}

} // namespace stillmark::metrology
