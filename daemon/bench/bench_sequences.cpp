#include "daemon/bench/bench_parts.hpp"
#include "daemon/bench/reference.hpp"
#include "daemon/metrology/dual_range.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

namespace stillmark::bench {

using drivers::Dimension;

namespace {

/// How far the load of a point may make another pressure than the point says (common practice: points are nominal;
/// the deviation is taken against the pressure that was really there).
constexpr double point_tolerance = 0.02;

std::size_t read_range_name(const Place& place, const BenchFile& bench) {
    const auto name = place.text();
    for (std::size_t i = 0; i < bench.balance.ranges.size(); ++i)
        if (bench.balance.ranges[i].physics.name == name) return i;
    if (!place.wrong())
        place.say(fmt::format("the balance has no range \"{}\"; use the name of one of balance.ranges", name));
    return 0;
}

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

void check_load(const Place& place, const BenchFile& bench, const SequencePoint& point) {
    const auto& range = bench.balance.ranges[point.range];
    const auto& weakest = bench.weakest();
    if (point.target_pa > weakest.rating_pa)
        return place.at("pressure")
            .say(fmt::format(
                "{} is above the lowest rating on the bench ({}, {:g} bar); lower the point or change the part",
                point.target, weakest.part, weakest.rating_pa / 1e5));
    if (point.target_pa < range.lowest_pa * (1 - point_tolerance) ||
        point.target_pa > range.highest_pa * (1 + point_tolerance))
        return place.at("pressure")
            .say(fmt::format("{} is outside the range \"{}\" ({:g} bar to {:g} bar); use another range or point",
                             point.target, range.physics.name, range.lowest_pa / 1e5, range.highest_pa / 1e5));
    for (const std::size_t disc : point.discs) {
        const auto& allowed = bench.discs[disc].ranges;
        if (!allowed.empty() && std::find(allowed.begin(), allowed.end(), point.range) == allowed.end())
            return place.at("discs").say(fmt::format("the disc \"{}\" is not for the range \"{}\"; use another",
                                                     bench.discs[disc].piece.name, range.physics.name));
    }
    const auto inputs = reference_inputs(bench, point.range, point.discs, bench.surroundings.air,
                                         bench.surroundings.piston_temperature_c, nullptr);
    const double made_pa = metrology::reference_pressure_pa(inputs);
    if (!(std::abs(made_pa - point.target_pa) <= point_tolerance * point.target_pa))
        return place.at("discs").say(
            fmt::format("these discs make {:.4g} bar, {:.3g} % {} {}; change the discs or the point", made_pa / 1e5,
                        std::abs(100 * (made_pa / point.target_pa - 1)), made_pa > point.target_pa ? "above" : "below",
                        point.target));
    if (made_pa > weakest.rating_pa)
        return place.at("discs").say(fmt::format(
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
            place.at("discs").say("this load is too light to hold both pistons together in the low range; put on more");
    }
}

Sequence read_sequence(const Place& place, const BenchFile& bench) {
    place.only({"name", "title", "points", "series", "preloads", "wait", "wait_at_top"});
    Sequence sequence;
    sequence.name = place.at("name").text();
    sequence.title = place.at("title").text();
    const auto points = place.items_at("points");
    for (const Place& item : points) {
        item.only({"pressure", "range", "discs", "overlap"});
        SequencePoint point;
        point.target_pa = item.at("pressure").over_zero(Dimension::pressure);
        if (place.wrong()) return sequence;
        point.target = item.at("pressure").text();
        if (item.has("range"))
            point.range = read_range_name(item.at("range"), bench);
        else if (bench.balance.ranges.size() > 1)
            item.say("the balance has two ranges; say which, \"range\": \"low\" or \"high\"");
        point.discs = read_discs(item.at("discs"), bench);
        point.overlap = item.has("overlap") && item.at("overlap").yes_or_no();
        if (place.wrong()) return sequence;
        check_load(item, bench, point);
        if (!sequence.points.empty()) {
            const auto& before = sequence.points.back();
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
        if (place.wrong()) return sequence;
        sequence.points.push_back(std::move(point));
    }
    for (const Place& item : place.items_at("series")) {
        const auto direction = item.text();
        if (direction == "up")
            sequence.series.push_back(Direction::rising);
        else if (direction == "down")
            sequence.series.push_back(Direction::falling);
        else
            item.say(fmt::format("\"{}\" is not a direction; use \"up\" or \"down\"", direction));
    }
    if (place.has("preloads")) {
        const Place preloads = place.at("preloads");
        preloads.only({"count", "hold"});
        sequence.preloads = preloads.at("count").whole(0, 10);
        sequence.preload_hold_s = preloads.size_or("hold", Dimension::time, 0);
    }
    sequence.wait_s = place.size_or("wait", Dimension::time, 0);
    sequence.wait_at_top_s = place.size_or("wait_at_top", Dimension::time, sequence.wait_s);
    return sequence;
}

} // namespace

void read_sequences(const Place& root, BenchFile& bench) {
    for (const Place& place : root.items_at("sequences", 0)) {
        auto sequence = read_sequence(place, bench);
        if (root.wrong()) return;
        for (const auto& other : bench.sequences)
            if (other.name == sequence.name)
                place.at("name").say(
                    fmt::format("\"{}\" names another sequence already; give each its own", sequence.name));
        bench.sequences.push_back(std::move(sequence));
    }
}

} // namespace stillmark::bench
