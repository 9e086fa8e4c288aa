#include "daemon/metrology/evaluation/completeness.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>
#include <utility>

namespace stillmark::metrology {

namespace {

/// Names for a sentence, the first twenty of them.
class Names {
  public:
    void add(const std::string& name) {
        constexpr std::size_t most = 20;
        if (++count_ <= most)
            words_ += (words_.empty() ? "" : ", ") + name;
        else
            more_ = " and " + std::to_string(count_ - most) + " more";
    }
    bool empty() const { return count_ == 0; }
    std::string words() const { return words_ + more_; }

  private:
    std::size_t count_ = 0;
    std::string words_, more_;
};

constexpr std::array directions{true, false};

const char* direction_word(bool rising) {
    return rising ? "rising" : "falling";
}

std::string per_cent(double part) {
    constexpr double tenths = 1000;
    return number(std::round(part * tenths) / 10) + " %";
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
        if (!settings_.unfinished.empty()) out_.lacking.push_back(settings_.unfinished);
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

    void of_method() {
        if (settings_.method == nullptr || table_.points.empty()) return;
        const Method& method = *settings_.method;
        if (method.guide == Guide::en_837_1) return of_en_837();
        if (!method.series.empty() && table_.passes.size() < method.series.size())
            out_.lacking.push_back(std::string(method.name) + " asks for " + std::to_string(method.series.size()) +
                                   " series, here are " + std::to_string(table_.passes.size()));
        const double low = settings_.method_low.value_or(settings_.span_low.value_or(table_.points.front().reference));
        const double high =
            settings_.method_high.value_or(settings_.span_high.value_or(table_.points.back().reference));
        if (method.points.size() < 2 || !(high > low)) return;
        Names unread;
        std::array<Names, directions.size()> one_way;
        for (const double part : method.points) {
            if (on_the_stop(part)) continue;
            const Read found = read_within(low + part * (high - low), within(method, high - low));
            if (!found.rising && !found.falling) unread.add(per_cent(part));
            for (std::size_t i = 0; i < directions.size(); ++i)
                if (found.in(!directions[i]) && !found.in(directions[i]) && asks_for(method, directions[i]))
                    one_way[i].add(per_cent(part));
        }
        const std::string asks = std::string(method.name) + " asks for " + std::to_string(method.points.size()) +
                                 " points spread evenly over the range: nothing was read";
        if (!unread.empty()) out_.lacking.push_back(asks + " near " + unread.words());
        for (std::size_t i = 0; i < directions.size(); ++i)
            if (!one_way[i].empty())
                out_.lacking.push_back(asks + " " + direction_word(directions[i]) + " near " + one_way[i].words());
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
            out_.lacking.push_back("EN 837-1 asks for " + std::to_string(least) + " points for this class, here are " +
                                   std::to_string(points.size()));
        if (!settings_.span_low || !settings_.span_high || points.empty()) return;
        constexpr double valid_from = 0.1; // with a pointer stop
        const double low = *settings_.span_low, span = *settings_.span_high - low;
        const double begin = settings_.dial && settings_.dial->pointer_stop ? low + valid_from * span : low;
        const double step = (*settings_.span_high - begin) / (least - 1);
        const auto part = [&](double pressure) { return per_cent((pressure - low) / span); };
        if (points.front() > begin + step / 2 || points.back() < *settings_.span_high - step / 4)
            out_.lacking.push_back("the scale is valid from " + part(begin) +
                                   " to 100 % of the span and was read from " + part(points.front()) + " to " +
                                   part(points.back()));
        for (std::size_t i = 1; i < points.size(); ++i)
            if (points[i] - points[i - 1] > 2 * step)
                out_.lacking.push_back("nothing was read between " + part(points[i - 1]) + " and " + part(points[i]) +
                                       " of the span (points spread over the scale are common practice)");
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
        std::array<Names, directions.size()> lacking;
        for (std::size_t j = 0; j + 1 < read_.size(); ++j)
            for (std::size_t i = 0; i < directions.size(); ++i)
                if (!read_[j].in(directions[i])) lacking[i].add(name_of(table_.points[j]));
        if (read_.size() == 1 && !(read_[0].rising && read_[0].falling))
            lacking[read_[0].rising ? 1 : 0].add(name_of(table_.points[0]));
        for (std::size_t i = 0; i < directions.size(); ++i)
            if (!lacking[i].empty())
                out_.lacking.push_back(std::string("the limits of a class hold rising and falling: nothing was read ") +
                                       direction_word(directions[i]) + " at " + lacking[i].words());
    }

    /// Readings in the table that do not count, where no other of that direction does.
    void left_out() {
        std::array<Names, directions.size()> lacking;
        std::set<std::pair<std::string, bool>> told;
        for (const Observation* one : table_.left_out) {
            if (stands_elsewhere(*one)) continue;
            const std::string name = one->target.empty() ? number(one->reference) : one->target;
            if (told.emplace(name, one->rising).second) lacking[one->rising ? 0 : 1].add(name);
        }
        for (std::size_t i = 0; i < directions.size(); ++i)
            if (!lacking[i].empty())
                out_.lacking.push_back(std::string("no reading counts ") + direction_word(directions[i]) + " at " +
                                       lacking[i].words());
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

    std::string covers() const {
        if (table_.points.empty()) return {};
        std::array<std::size_t, directions.size()> count{};
        std::array<Names, directions.size()> only;
        for (std::size_t j = 0; j < read_.size(); ++j)
            for (std::size_t i = 0; i < directions.size(); ++i) {
                count[i] += read_[j].in(directions[i]) ? 1 : 0;
                if (!read_[j].in(!directions[i])) only[i].add(name_of(table_.points[j]));
            }
        const auto &first = table_.points.front(), &last = table_.points.back();
        std::string words = read_.size() == 1 ? "1 point, " + name_of(first)
                                              : std::to_string(read_.size()) + " points from " + name_of(first) +
                                                    " to " + name_of(last);
        if (count[0] > 0 && count[1] > 0) {
            words += ", rising and falling";
            for (std::size_t i = 0; i < directions.size(); ++i)
                if (!only[i].empty())
                    words += ", but only " + std::string(direction_word(directions[i])) + " at " + only[i].words();
        } else {
            words += std::string(", only ") + direction_word(count[0] > 0);
        }
        return words + beyond();
    }

    /// What of the span nobody read.
    std::string beyond() const {
        if (!settings_.span_low || !settings_.span_high) return {};
        const double span = *settings_.span_high - *settings_.span_low;
        const double low = (table_.points.front().reference - *settings_.span_low) / span;
        const double high = (table_.points.back().reference - *settings_.span_low) / span;
        const bool below = low > PassTable::joined_part, above = high < 1 - PassTable::joined_part;
        if (!below && !above) return {};
        return "; of the span nothing was read" + (below ? " below " + per_cent(low) : "") +
               (below && above ? " or" : "") + (above ? " above " + per_cent(high) : "");
    }

    const PassTable& table_;
    const EvaluationSettings& settings_;
    std::vector<Read> read_; ///< by point
    std::map<std::string, std::size_t> by_name_;
    Completeness out_;
};

} // namespace

std::string name_of(const PassTable::Point& point) {
    return point.target.empty() ? number(point.reference) : point.target;
}

Completeness completeness(const PassTable& table, const EvaluationSettings& settings) {
    return Comparison(table, settings).compare();
}

} // namespace stillmark::metrology
