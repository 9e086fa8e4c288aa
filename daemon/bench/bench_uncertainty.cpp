#include "daemon/bench/bench_parts.hpp"
#include "daemon/metrology/at_most.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace stillmark::bench {

using drivers::Dimension;

namespace {

/// a + b p, expanded by k.
struct SumOfTwo {
    double constant_pa = 0;
    double of_pressure = 0;
    double k = 2;
};

double read_part_of_reading(const Place& place) {
    const auto words = place.text();
    if (place.wrong()) return 0;
    static const std::string of_reading = " of reading";
    if (!words.ends_with(of_reading)) {
        place.say(fmt::format("\"{}\" does not say of what; write for example \"30 ppm of reading\"", words));
        return 0;
    }
    const auto part = drivers::parse_quantity(std::string_view(words).substr(0, words.size() - of_reading.size()),
                                              Dimension::fraction);
    if (!part)
        place.say(part.error().message);
    else if (!(*part > 0 && *part < 1))
        place.say(fmt::format("\"{}\" is no uncertainty; it must be over zero and under 100 %", words));
    return part ? *part : 0;
}

SumOfTwo read_sum(const Place& place) {
    SumOfTwo sum;
    if (!place.has("a") && !place.has("b")) {
        place.say("states no uncertainty; give \"a\" (a pressure), \"b\" (of reading), or both: U = a + b of reading");
        return sum;
    }
    if (place.has("a")) sum.constant_pa = place.at("a").over_zero(Dimension::pressure);
    if (place.has("b")) sum.of_pressure = read_part_of_reading(place.at("b"));
    const Place k = place.at("k");
    if (place.wrong()) return sum;
    sum.k = k.node().is_number() ? k.node().get<double>() : 0;
    if (!(sum.k >= 1 && sum.k <= 10)) {
        k.say(fmt::format("found {}; a coverage factor is a bare number from 1 to 10", k.node().dump()));
        sum.k = 2;
    }
    return sum;
}

} // namespace

metrology::ShortForm read_short_form(const Place& place) {
    place.only({"a", "b", "k", "dof", "covers"});
    const auto sum = read_sum(place);
    metrology::ShortForm to;
    to.constant_pa = sum.constant_pa / sum.k;
    to.of_pressure = sum.of_pressure / sum.k;
    if (place.has("dof")) {
        to.dof = place.at("dof").number();
        if (!place.wrong() && !(to.dof >= 1))
            place.at("dof").say(fmt::format("found {:g}; degrees of freedom are a number from 1 up", to.dof));
    }
    for (const Place& item : place.items_at("covers")) {
        const auto words = item.text();
        if (place.wrong()) return to;
        const auto& known = metrology::short_form_may_cover;
        if (std::find(known.begin(), known.end(), words) == known.end())
            item.say(fmt::format("\"{}\" is nothing that a certificate of the balance can answer for; use {}", words,
                                 fmt::join(known, ", ")));
        if (std::find(to.covers.begin(), to.covers.end(), words) != to.covers.end())
            item.say(fmt::format("\"{}\" stands twice; keep one", words));
        to.covers.push_back(words);
    }
    return to;
}

void read_capability(const Place& root, BenchFile& bench) {
    if (!root.has("capability")) return;
    for (const Place& item : root.items_at("capability")) {
        item.only({"from", "to", "a", "b", "k"});
        CapabilityRange range;
        range.from_pa = item.at("from").quantity(Dimension::pressure);
        range.to_pa = item.at("to").quantity(Dimension::pressure);
        if (!root.wrong() && !(range.to_pa > range.from_pa))
            item.at("to").say(fmt::format("{:g} bar is not above \"from\", {:g} bar; swap the two", range.to_pa / 1e5,
                                          range.from_pa / 1e5));
        const auto sum = read_sum(item);
        if (root.wrong()) return;
        range.constant_pa = sum.constant_pa;
        range.of_pressure = sum.of_pressure;
        range.k = sum.k;
        bench.capability.push_back(range);
    }
}

double capability_floor_pa(const BenchFile& bench, double pressure_pa) {
    constexpr double reported_k = 2;
    double least_pa = 0;
    const double magnitude_pa = std::abs(pressure_pa);
    for (const auto& range : bench.capability)
        for (const double at_pa : {pressure_pa, magnitude_pa})
            if (metrology::at_most(range.from_pa, at_pa) && metrology::at_most(at_pa, range.to_pa))
                least_pa =
                    std::max(least_pa, (range.constant_pa + range.of_pressure * magnitude_pa) / range.k * reported_k);
    return least_pa;
}

} // namespace stillmark::bench
