#include "daemon/bench/bench_parts.hpp"
#include "daemon/bench/planned_loads.hpp"
#include "daemon/bench/reference.hpp"
#include "daemon/metrology/dual_range.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

namespace stillmark::bench {

using drivers::Dimension;

std::size_t read_range_name(const Place& place, const BenchFile& bench) {
    const auto name = place.text();
    for (std::size_t i = 0; i < bench.balance.ranges.size(); ++i)
        if (bench.balance.ranges[i].physics.name == name) return i;
    if (!place.wrong())
        place.say(fmt::format("the balance has no range \"{}\"; use the name of one of balance.ranges", name));
    return 0;
}

namespace {

/// How far the load of a point may make another pressure than the point says (common practice: points are nominal;
/// the deviation is taken against the pressure that was really there).
constexpr double point_tolerance = 0.02;

std::vector<std::size_t> read_discs(const Place& place, const BenchFile& bench) {
    std::vector<std::size_t> discs;
    std::set<std::size_t> seen;
    for (const Place& item : place.items()) {
        const auto id = item.text();
        const auto found = std::find_if(bench.discs.begin(), bench.discs.end(),
                                        [&id](const Disc& disc) { return disc.piece.name == id; });
        if (item.wrong()) return discs;
        if (found == bench.discs.end()) {
            item.say(fmt::format("no disc has the id \"{}\"; use ids of masses.discs", id));
            return discs;
        }
        const auto index = static_cast<std::size_t>(found - bench.discs.begin());
        if (!seen.insert(index).second) {
            item.say(fmt::format("the disc \"{}\" stands twice in this load; there is one of it", id));
            return discs;
        }
        discs.push_back(index);
    }
    // Big below small, as they are stacked; equal ones in the order of the mass set.
    std::stable_sort(discs.begin(), discs.end(), [&bench](std::size_t a, std::size_t b) {
        const double ma = bench.discs[a].piece.mass_kg.value, mb = bench.discs[b].piece.mass_kg.value;
        return ma > mb || (ma == mb && a < b);
    });
    return discs;
}

/// The key of a point, or the whole place where the method made the point and nobody wrote the key.
Place spot(const Place& place, const char* key) {
    return place.has(key) ? place.at(key) : place;
}

/// Whether the point may be reached at all.
void check_pressure(const Place& place, const BenchFile& bench, const SequencePoint& point) {
    const auto& range = bench.balance.ranges[point.range];
    const auto& weakest = bench.weakest();
    if (point.target_pa > weakest.rating_pa)
        return spot(place, "pressure")
            .say(fmt::format(
                "{} is above the lowest rating on the bench ({}, {:g} bar); lower the point or change the part",
                point.target, weakest.part, weakest.rating_pa / 1e5));
    if (point.target_pa < range.lowest_pa * (1 - point_tolerance) ||
        point.target_pa > range.highest_pa * (1 + point_tolerance))
        spot(place, "pressure")
            .say(fmt::format("{} is outside the range \"{}\" ({:g} bar to {:g} bar); use another range or point",
                             point.target, range.physics.name, range.lowest_pa / 1e5, range.highest_pa / 1e5));
}

void check_load(const Place& place, const BenchFile& bench, const SequencePoint& point) {
    const auto& range = bench.balance.ranges[point.range];
    const auto& weakest = bench.weakest();
    for (const std::size_t disc : point.discs) {
        const auto& allowed = bench.discs[disc].ranges;
        if (!allowed.empty() && std::find(allowed.begin(), allowed.end(), point.range) == allowed.end())
            return spot(place, "discs")
                .say(fmt::format("the disc \"{}\" is not for the range \"{}\"; use another",
                                 bench.discs[disc].piece.name, range.physics.name));
    }
    const auto inputs = reference_inputs(bench, point.range, point.discs, bench.surroundings.air,
                                         bench.surroundings.piston_temperature_c, nullptr);
    const double made_pa = metrology::reference_pressure_pa(inputs);
    if (!(std::abs(made_pa - point.target_pa) <= point_tolerance * point.target_pa))
        return spot(place, "discs")
            .say(fmt::format("these discs make {:.4g} bar, {:.3g} % {} {}; change the discs or the point",
                             made_pa / 1e5, std::abs(100 * (made_pa / point.target_pa - 1)),
                             made_pa > point.target_pa ? "above" : "below", point.target));
    if (made_pa > weakest.rating_pa)
        return spot(place, "discs")
            .say(fmt::format(
                "these discs make {:.4g} bar, above the lowest rating on the bench ({}, {:g} bar); take discs away",
                made_pa / 1e5, weakest.part, weakest.rating_pa / 1e5));
    if (bench.balance.kind == metrology::DualRange::stopped && point.range == 0) {
        double carried_kg = -bench.balance.stop_piston_mass_kg;
        for (const auto& part : range.physics.floating_parts)
            carried_kg += part.mass_kg.value;
        for (const std::size_t disc : point.discs)
            carried_kg += bench.discs[disc].piece.mass_kg.value;
        const double g = bench.site.gravity_m_s2.value;
        const metrology::ConcentricPistons pistons{bench.balance.stop_piston_mass_kg * g, range.physics.area_m2.value,
                                                   bench.balance.ranges[1].physics.area_m2.value};
        if (!metrology::floats_as_one(pistons, carried_kg * g))
            spot(place, "discs")
                .say("this load is too light to hold both pistons together in the low range; put on more");
    }
}

/// "900 bar" scaled, in its own unit: parts of a span keep the unit that the laboratory writes.
std::string part_of_pressure(const std::string& whole, double whole_pa, double part) {
    const auto unit = drivers::pressure_unit(std::string_view(whole).substr(whole.find_last_of(' ') + 1));
    const auto shown = unit.value_or(drivers::PressureUnit{"Pa"});
    return fmt::format("{:.10g} {}", whole_pa * part / shown.pascals, shown.symbol);
}

/// The lowest range that reaches the pressure, as far as points may lie beyond its end.
std::size_t range_for(const BenchFile& bench, double pressure_pa) {
    const auto& ranges = bench.balance.ranges;
    for (std::size_t i = 0; i + 1 < ranges.size(); ++i)
        if (pressure_pa <= ranges[i].highest_pa * (1 + 1e-9)) return i;
    return ranges.size() - 1;
}

class SequenceReader {
  public:
    SequenceReader(const Place& place, const BenchFile& bench) : place_(place), bench_(bench) {
        place.only({"name", "title", "points", "series", "preloads", "wait", "wait_at_top", "method",
                    "method_confirmed", "class", "up_to", "overlap_at"});
        out_.name = place.at("name").text();
        out_.title = place.at("title").text();
        if (place.has("method")) read_method();
        for (const char* key : {"method_confirmed", "class", "up_to"})
            if (!place.has("method") && place.has(key))
                place.at(key).say("belongs to a sequence with a \"method\"; take it away, or name the method");
    }

    Sequence read() {
        if (place_.wrong()) return std::move(out_);
        const bool of_method = method_ != nullptr && !method_->points.empty();
        if (place_.has("points") || !of_method)
            read_points();
        else
            make_points();
        if (place_.wrong()) return std::move(out_);
        if (place_.has("overlap_at")) read_overlap();
        if (place_.wrong()) return std::move(out_);
        plan_missing_loads();
        for (std::size_t i = 0; i < out_.points.size() && !place_.wrong(); ++i)
            if (!out_.points[i].zero) check_load(place_of(i), bench_, out_.points[i]);
        if (place_.wrong()) return std::move(out_);
        read_series();
        if (place_.wrong()) return std::move(out_);
        read_waits();
        check_class();
        return std::move(out_);
    }

  private:
    void read_method() {
        out_.method = place_.at("method").text();
        if (place_.wrong()) return;
        method_ = metrology::method_named(out_.method);
        if (method_ == nullptr)
            place_.at("method").say(
                fmt::format("\"{}\" is no method; use {}, or leave it out for a sequence of your own", out_.method,
                            metrology::method_names()));
        if (place_.has("method_confirmed")) out_.method_confirmed = place_.at("method_confirmed").text();
    }

    /// Where a point is written; one that the method makes is told at the sequence.
    Place place_of(std::size_t index) const {
        if (!place_.has("points")) return place_;
        const auto items = place_.at("points").items();
        return written_[index] < items.size() ? items[written_[index]] : place_;
    }

    void add_point(SequencePoint point, std::size_t written) {
        out_.points.push_back(std::move(point));
        written_.push_back(written);
    }

    void read_points() {
        if (place_.has("points") && place_.has("up_to")) {
            place_.at("up_to").say("the points are listed; take it away, or take \"points\" away");
            return;
        }
        const auto items = place_.items_at("points");
        for (std::size_t i = 0; i < items.size() && !place_.wrong(); ++i) {
            const Place& item = items[i];
            item.only({"pressure", "range", "discs", "overlap"});
            SequencePoint point;
            point.target_pa = item.at("pressure").quantity(Dimension::pressure);
            if (place_.wrong()) return;
            point.target = item.at("pressure").text();
            point.zero = point.target_pa == 0;
            if (point.target_pa < 0) {
                item.at("pressure").over_zero(Dimension::pressure);
                return;
            }
            point.overlap = item.has("overlap") && item.at("overlap").yes_or_no();
            if (point.zero)
                read_zero(item, i);
            else
                read_load(item, point, i);
            if (place_.wrong()) return;
            check_rising(item, point);
            if (place_.wrong()) return;
            add_point(std::move(point), i);
        }
        if (!place_.wrong() && out_.points.back().zero)
            place_.at("points").say("lists a zero and nothing else; add a point under pressure");
    }

    void read_zero(const Place& item, std::size_t index) const {
        if (item.has("discs") || item.has("range") || item.has("overlap"))
            item.say("a zero is read with the line open to air: take discs, range and overlap away");
        else if (index != 0)
            item.say("a zero is the lowest point; list it first");
    }

    void read_load(const Place& item, SequencePoint& point, std::size_t index) {
        if (item.has("range"))
            point.range = read_range_name(item.at("range"), bench_);
        else if (item.has("discs") && bench_.balance.ranges.size() > 1)
            item.say("the balance has two ranges; say which, \"range\": \"low\" or \"high\"");
        else
            point.range = range_for(bench_, point.target_pa);
        if (item.has("discs"))
            point.discs = read_discs(item.at("discs"), bench_);
        else
            unplanned_.push_back(index);
        if (!place_.wrong()) check_pressure(item, bench_, point);
    }

    void check_rising(const Place& item, const SequencePoint& point) const {
        if (out_.points.empty()) return;
        const auto& before = out_.points.back();
        const bool twin =
            point.overlap && before.overlap && point.range != before.range && point.target_pa == before.target_pa;
        if (!twin && point.target_pa <= before.target_pa)
            item.at("pressure")
                .say(fmt::format("{} does not rise above {}; list the points rising (an overlap point stands once "
                                 "in each range, both marked \"overlap\")",
                                 point.target, before.target));
        if (point.range < before.range)
            item.at("range").say("goes back to the low range; a rising series changes over once");
    }

    /// The points that the method asks for, as parts of the pressure that the sequence goes up to.
    void make_points() {
        const double top_pa = place_.at("up_to").over_zero(Dimension::pressure);
        if (place_.wrong()) return;
        const auto words = place_.at("up_to").text();
        for (const double part : method_->points) {
            SequencePoint point;
            point.target_pa = top_pa * part;
            point.target = part_of_pressure(words, top_pa, part);
            point.zero = part == 0;
            if (!point.zero) {
                point.range = range_for(bench_, point.target_pa);
                unplanned_.push_back(out_.points.size());
            }
            add_point(std::move(point), 0);
        }
    }

    /// One more nominal, in both ranges; or a point that is there already, in both.
    void read_overlap() {
        const Place at = place_.at("overlap_at");
        const double pressure_pa = at.over_zero(Dimension::pressure);
        if (place_.wrong()) return;
        if (bench_.balance.ranges.size() < 2) {
            at.say("a balance with one range has no overlap; take it away");
            return;
        }
        if (place_.has("points")) {
            at.say(
                "the points are listed: list the overlap point among them, once in each range with \"overlap\": true");
            return;
        }
        auto& points = out_.points;
        const auto same = std::find_if(points.begin(), points.end(), [&](const SequencePoint& point) {
            return std::abs(point.target_pa - pressure_pa) < 1e-9 * pressure_pa;
        });
        SequencePoint low;
        low.target_pa = pressure_pa;
        low.target = at.text();
        low.overlap = true;
        SequencePoint high = low;
        high.range = 1;
        std::size_t where;
        if (same != points.end()) {
            where = static_cast<std::size_t>(same - points.begin());
            points.erase(same);
        } else {
            where = static_cast<std::size_t>(
                std::find_if(points.begin(), points.end(),
                             [&](const SequencePoint& point) { return point.target_pa > pressure_pa; }) -
                points.begin());
        }
        for (auto& point : points)
            if (!point.zero) point.range = point.target_pa > pressure_pa ? 1 : 0;
        points.insert(points.begin() + static_cast<std::ptrdiff_t>(where), {low, high});
        written_.assign(points.size(), 0);
        unplanned_.clear();
        for (std::size_t i = 0; i < points.size(); ++i)
            if (!points[i].zero) unplanned_.push_back(i);
    }

    void plan_missing_loads() {
        for (const std::size_t i : unplanned_)
            if (!place_.wrong()) check_pressure(place_of(i), bench_, out_.points[i]);
        if (unplanned_.empty() || place_.wrong()) return;
        const auto kept = bench_.planned_loads.find(out_.name);
        if (kept != bench_.planned_loads.end() && kept->second.size() == out_.points.size()) {
            for (const std::size_t i : unplanned_)
                for (const auto& id : kept->second[i])
                    for (std::size_t disc = 0; disc < bench_.discs.size(); ++disc)
                        if (bench_.discs[disc].piece.name == id) out_.points[i].discs.push_back(disc);
            return;
        }
        std::vector<LoadTarget> targets;
        for (const std::size_t i : unplanned_)
            targets.push_back({out_.points[i].target_pa, out_.points[i].range});
        const auto loads =
            plan_loads(bench_, targets, bench_.surroundings.air, bench_.surroundings.piston_temperature_c);
        for (std::size_t k = 0; k < unplanned_.size(); ++k) {
            auto& point = out_.points[unplanned_[k]];
            point.discs = loads[k].discs;
            if (std::isfinite(loads[k].pressure_pa)) continue;
            place_of(unplanned_[k])
                .say(fmt::format("no discs of the set make {} in the range \"{}\" within its limits and the lowest "
                                 "rating; change the point or the range",
                                 point.target, bench_.balance.ranges[point.range].physics.name));
            return;
        }
    }

    void read_series() {
        if (place_.has("series") || method_ == nullptr || method_->series.empty()) {
            for (const Place& item : place_.items_at("series"))
                read_one_series(item);
            if (method_ != nullptr && !method_->series.empty() && out_.series.size() != method_->series.size())
                departs(metrology::sentence("{here} series where {method} asks for {asked}",
                                            counted(out_.series.size(), method_->series.size())));
        } else {
            for (const auto& series : method_->series)
                out_.series.push_back({series.rising ? Direction::rising : Direction::falling, series.role,
                                       series.reclamp_before, points_at(series.at)});
        }
        // What the method is silent about, for series that the file lists: roles by place.
        for (std::size_t i = 0; i < out_.series.size() && place_.has("series") && method_ != nullptr; ++i)
            if (i < method_->series.size() && out_.series[i].role == metrology::SeriesRole::cycle)
                out_.series[i].role = method_->series[i].role;
    }

    void read_one_series(const Place& item) {
        SequenceSeries series;
        const bool whole = item.node().is_string();
        if (!whole) item.only({"direction", "points", "reclamp", "role"});
        const Place direction = whole ? item : item.at("direction");
        const auto word = direction.text();
        if (place_.wrong()) return;
        if (word != "up" && word != "down") {
            direction.say(fmt::format("\"{}\" is not a direction; use \"up\" or \"down\"", word));
            return;
        }
        series.direction = word == "up" ? Direction::rising : Direction::falling;
        series.points = points_at({});
        if (!whole) {
            series.reclamp_before = item.has("reclamp") && item.at("reclamp").yes_or_no();
            if (series.reclamp_before) series.role = metrology::SeriesRole::reproducibility;
            if (item.has("role")) series.role = read_role(item.at("role"));
            if (item.has("points")) series.points = read_point_list(item);
        }
        out_.series.push_back(std::move(series));
    }

    metrology::SeriesRole read_role(const Place& at) const {
        const auto word = at.text();
        for (const auto role : {metrology::SeriesRole::cycle, metrology::SeriesRole::repeatability,
                                metrology::SeriesRole::reproducibility})
            if (word == metrology::word(role)) return role;
        at.say(fmt::format("\"{}\" is not known; use cycle, repeatability or reproducibility", word));
        return metrology::SeriesRole::cycle;
    }

    std::vector<std::size_t> read_point_list(const Place& item) const {
        std::vector<std::size_t> points;
        for (const Place& one : item.items_at("points")) {
            const double pressure_pa = one.quantity(Dimension::pressure);
            if (place_.wrong()) return points;
            bool found = false;
            for (std::size_t i = 0; i < out_.points.size(); ++i)
                if (std::abs(out_.points[i].target_pa - pressure_pa) <= 1e-9 * std::abs(pressure_pa)) {
                    points.push_back(i);
                    found = true;
                }
            if (!found) one.say(fmt::format("{} is none of the points of this sequence", one.text()));
        }
        std::sort(points.begin(), points.end());
        points.erase(std::unique(points.begin(), points.end()), points.end());
        return points;
    }

    /// The points nearest to these parts of the highest; all of them for none.
    std::vector<std::size_t> points_at(const std::vector<double>& parts) const {
        std::vector<std::size_t> points;
        const double top_pa = out_.points.back().target_pa;
        for (const double part : parts) {
            std::size_t nearest = 0;
            for (std::size_t i = 0; i < out_.points.size(); ++i)
                if (std::abs(out_.points[i].target_pa - part * top_pa) <
                    std::abs(out_.points[nearest].target_pa - part * top_pa))
                    nearest = i;
            if (points.empty() || points.back() != nearest) points.push_back(nearest);
        }
        for (std::size_t i = 0; parts.empty() && i < out_.points.size(); ++i)
            points.push_back(i);
        return points;
    }

    void read_waits() {
        if (method_ != nullptr) {
            out_.preloads = method_->preloads;
            out_.preload_hold_s = method_->preload_hold_s;
            out_.wait_s = method_->wait_s;
            out_.wait_at_top_s = method_->wait_at_top_s;
            out_.wait_at_top_dial_s = method_->wait_at_top_dial_s;
        }
        if (place_.has("preloads")) {
            const Place preloads = place_.at("preloads");
            preloads.only({"count", "hold"});
            out_.preloads = preloads.at("count").whole(0, 10);
            out_.preload_hold_s = preloads.size_or("hold", Dimension::time, out_.preload_hold_s);
        }
        const bool stated_wait = place_.has("wait");
        out_.wait_s = place_.size_or("wait", Dimension::time, out_.wait_s);
        if (place_.has("wait_at_top")) {
            out_.wait_at_top_s = out_.wait_at_top_dial_s = place_.size_or("wait_at_top", Dimension::time, 0);
        } else if (method_ == nullptr && stated_wait) {
            out_.wait_at_top_s = out_.wait_s;
        }
        if (method_ == nullptr) return;
        const auto shorter = [&](metrology::Sentence words, double here, double asked) {
            if (!(here < asked)) return;
            words.values = counted(here, asked);
            departs(std::move(words));
        };
        using metrology::sentence;
        shorter(sentence("preloads: {here} where {method} asks for {asked}"), out_.preloads, method_->preloads);
        shorter(sentence("wait at a point {here} s where {method} asks for {asked} s"), out_.wait_s, method_->wait_s);
        shorter(sentence("wait at the upper limit {here} s where {method} asks for {asked} s"), out_.wait_at_top_s,
                method_->wait_at_top_s);
        shorter(sentence("wait of a dial at the upper limit {here} s where {method} asks for {asked} s"),
                out_.wait_at_top_dial_s, method_->wait_at_top_dial_s);
    }

    void departs(metrology::Sentence words) { out_.departures.push_back(std::move(words)); }

    /// What the sequence has and what its method asks for.
    template <class Number>
    std::vector<metrology::Sentence::Value> counted(Number here, Number asked) const {
        return {metrology::number_value("here", fmt::format("{:g}", static_cast<double>(here))),
                metrology::text_value("method", out_.method),
                metrology::number_value("asked", fmt::format("{:g}", static_cast<double>(asked)))};
    }

    /// EN 837-1 asks for a number of points by class; other methods bring their own.
    void check_class() {
        if (method_ == nullptr || place_.wrong()) return;
        std::size_t nominals = 0;
        for (std::size_t i = 0; i < out_.points.size(); ++i)
            nominals += i == 0 || out_.points[i].target_pa != out_.points[i - 1].target_pa ? 1 : 0;
        if (!method_->points.empty()) {
            if (place_.has("points") && nominals != method_->points.size())
                departs(metrology::sentence("{here} points where {method} asks for {asked}",
                                            counted(nominals, method_->points.size())));
            if (place_.has("class")) place_.at("class").say("belongs to EN 837-1; take it away");
            return;
        }
        const double accuracy_class = place_.at("class").number();
        if (place_.wrong()) return;
        const auto least = static_cast<std::size_t>(metrology::least_points_en_837_1(accuracy_class));
        if (nominals < least)
            place_.at("points").say(fmt::format("{} points; EN 837-1 asks for at least {} for class {:g}", nominals,
                                                least, accuracy_class));
    }

    const Place& place_;
    const BenchFile& bench_;
    const metrology::Method* method_ = nullptr;
    Sequence out_;
    std::vector<std::size_t> written_;   ///< by point: its place in the file's list
    std::vector<std::size_t> unplanned_; ///< points that state no discs
};

/// Planned loads by name, so that they can be journalled.
std::vector<std::vector<std::string>> load_names(const BenchFile& bench, const Sequence& sequence) {
    std::vector<std::vector<std::string>> all;
    for (const auto& point : sequence.points) {
        auto& one = all.emplace_back();
        for (const auto disc : point.discs)
            one.push_back(bench.discs[disc].piece.name);
    }
    return all;
}

bool states_all_discs(const Place& place) {
    if (!place.has("points")) return false;
    for (const Place& item : place.at("points").items())
        if (!item.has("discs") && !(item.has("pressure") && item.at("pressure").quantity(Dimension::pressure) == 0))
            return false;
    return true;
}

} // namespace

void read_sequences(const Place& root, BenchFile& bench) {
    for (const Place& place : root.items_at("sequences", 0)) {
        auto sequence = SequenceReader(place, bench).read();
        if (root.wrong()) return;
        for (const auto& other : bench.sequences)
            if (other.name == sequence.name)
                place.at("name").say(
                    fmt::format("\"{}\" names another sequence already; give each its own", sequence.name));
        if (!states_all_discs(place)) bench.planned_loads[sequence.name] = load_names(bench, sequence);
        bench.sequences.push_back(std::move(sequence));
    }
}

} // namespace stillmark::bench
