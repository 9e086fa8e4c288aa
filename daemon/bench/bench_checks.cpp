#include "daemon/bench/bench_parts.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::bench {

using drivers::Dimension;

namespace {

std::vector<std::string> read_valves(const Place& place) {
    std::vector<std::string> words;
    if (!place.has("valves")) return words;
    for (const Place& line : place.items_at("valves"))
        words.push_back(line.text());
    return words;
}

Checks::Purge read_purge(const Place& place, const BenchFile& bench) {
    place.only({"to", "turns", "valves"});
    Checks::Purge purge;
    purge.to_pa = place.at("to").over_zero(Dimension::pressure);
    purge.to = place.at("to").text();
    purge.most_turns = place.at("turns").number();
    purge.valves = read_valves(place);
    if (place.wrong()) return purge;
    if (!(purge.most_turns > 0))
        place.at("turns").say("is no number of turns; give how many turns of the press a line without air needs at "
                              "most, for example 3");
    if (purge.to_pa > bench.weakest().rating_pa)
        place.at("to").say(fmt::format("{} is above the lowest rating on the bench ({}, {:g} bar)", purge.to,
                                       bench.weakest().part, bench.weakest().rating_pa / 1e5));
    return purge;
}

/// The instrument whose readings tell the leak: the one named, otherwise the finest that has a wire.
std::size_t leak_channel(const Place& place, const BenchFile& bench) {
    const auto& all = bench.instruments;
    if (place.has("channel")) {
        const auto name = place.at("channel").text();
        const auto found =
            std::find_if(all.begin(), all.end(), [&name](const Instrument& one) { return one.name == name; });
        if (found == all.end())
            place.at("channel").say(fmt::format("no instrument is named \"{}\"", name));
        else if (found->manual())
            place.at("channel").say(fmt::format("{} is read by a person; name one with a wire", name));
        else
            return static_cast<std::size_t>(found - all.begin());
        return 0;
    }
    std::optional<std::size_t> finest;
    for (std::size_t i = 0; i < all.size(); ++i)
        if (!all[i].manual() && (!finest || all[i].resolution_pa < all[*finest].resolution_pa)) finest = i;
    if (!finest) place.say("no instrument of this bench has a wire, so that nothing tells a leak; take it away");
    return finest.value_or(0);
}

Checks::Leak read_leak(const Place& place, const BenchFile& bench) {
    place.only({"at", "settle", "watch", "drop", "channel", "valves"});
    Checks::Leak leak;
    leak.at_pa = place.at("at").over_zero(Dimension::pressure);
    leak.at = place.at("at").text();
    leak.settle_s = place.size_or("settle", Dimension::time, 0);
    leak.watch_s = place.at("watch").over_zero(Dimension::time);
    leak.drop_pa = place.at("drop").over_zero(Dimension::pressure);
    leak.valves = read_valves(place);
    if (place.wrong()) return leak;
    leak.channel = leak_channel(place, bench);
    if (place.wrong()) return leak;
    const auto& instrument = bench.instruments[leak.channel];
    if (leak.at_pa > bench.weakest().rating_pa)
        place.at("at").say(fmt::format("{} is above the lowest rating on the bench ({}, {:g} bar)", leak.at,
                                       bench.weakest().part, bench.weakest().rating_pa / 1e5));
    else if (leak.settle_s + leak.watch_s > 3600)
        place.at("watch").say("the check would take more than an hour; give less");
    else if (leak.watch_s < 10 * instrument.poll_s)
        place.at("watch").say(fmt::format("{} is read every {:g} s; give time for ten readings at least",
                                          instrument.name, instrument.poll_s));
    else if (leak.drop_pa < instrument.resolution_pa)
        place.at("drop").say(fmt::format("{} shows no step finer than {:g} bar; give at least that, or name a finer "
                                         "instrument as \"channel\"",
                                         instrument.name, instrument.resolution_pa / 1e5));
    return leak;
}

Checks::Zero read_zero(const Place& place, const BenchFile& bench) {
    place.only({"limit"});
    Checks::Zero zero;
    if (place.has("limit")) zero.limit_pa = place.at("limit").over_zero(Dimension::pressure);
    const bool any = std::any_of(bench.instruments.begin(), bench.instruments.end(),
                                 [](const Instrument& one) { return !one.pointer_stop; });
    if (!any) place.say("every instrument of this bench has a pointer stop, so that none shows a zero; take it away");
    return zero;
}

} // namespace

void read_checks(const Place& root, BenchFile& bench) {
    if (!root.has("checks")) return;
    const Place place = root.at("checks");
    place.only({"warm_up", "level", "purge", "leak", "zero"});
    if (root.wrong()) return;
    auto& to = bench.checks;
    if (place.has("warm_up")) to.warm_up_s = place.at("warm_up").over_zero(Dimension::time);
    if (place.has("level")) to.level_rad = place.at("level").over_zero(Dimension::angle);
    if (!root.wrong() && place.has("purge")) to.purge = read_purge(place.at("purge"), bench);
    if (!root.wrong() && place.has("leak")) to.leak = read_leak(place.at("leak"), bench);
    if (!root.wrong() && place.has("zero")) to.zero = read_zero(place.at("zero"), bench);
}

} // namespace stillmark::bench
