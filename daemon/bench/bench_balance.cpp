#include "daemon/bench/bench_parts.hpp"
#include "daemon/metrology/distortion.hpp"
#include "daemon/metrology/gravity.hpp"

#include <fmt/format.h>

#include <cmath>
#include <set>

namespace stillmark::bench {

using drivers::Dimension;
using metrology::Uncertain;

namespace {

void read_time_zone(const Place& place, BenchFile& bench, const MachineChecks& machine) {
    if (!place.has("time_zone")) return;
    const Place zone = place.at("time_zone");
    bench.time_zone = zone.text();
    if (zone.wrong() || !machine.is_time_zone || machine.is_time_zone(bench.time_zone)) return;
    zone.say(fmt::format("\"{}\" is no time zone that this machine knows; write its IANA name, for example "
                         "\"Europe/Berlin\", and install Debian's tzdata",
                         bench.time_zone));
}

} // namespace

void read_site(const Place& place, BenchFile& bench, const MachineChecks& machine) {
    place.only({"gravity", "latitude", "height", "time_zone"});
    read_time_zone(place, bench, machine);
    if (place.has("gravity") == (place.has("latitude") || place.has("height"))) {
        place.say(fmt::format(
            "found {}; state the measured \"gravity\", or \"latitude\" and \"height\" where it was not measured",
            place.has("gravity") ? "both" : "neither"));
        return;
    }
    auto& g = bench.site.gravity_m_s2;
    if (place.has("gravity")) {
        g = place.at("gravity").uncertain(Dimension::acceleration);
        if (!place.wrong() && !(g.value > 9.7 && g.value < 9.9))
            place.at("gravity").say(
                fmt::format("{} m/s2 is found nowhere on land; it lies between 9.76 and 9.84", g.value));
        return;
    }
    const double latitude_rad = place.at("latitude").quantity(Dimension::angle);
    const double height_m = place.at("height").quantity(Dimension::length);
    if (place.wrong()) return;
    if (!(latitude_rad >= -1.5708 && latitude_rad <= 1.5708))
        place.at("latitude").say(fmt::format("found {}; use -90 deg to 90 deg", place.at("latitude").node().dump()));
    if (!(height_m >= -500 && height_m <= 9000))
        place.at("height").say(fmt::format("found {}; use -500 m to 9000 m", place.at("height").node().dump()));
    g = metrology::gravity_from_position(latitude_rad, height_m);
}

metrology::Liquid read_liquid(const Place& place) {
    place.only({"name", "density", "reference_temperature", "expansion", "compressibility", "surface_tension"});
    metrology::Liquid liquid;
    liquid.name = place.text_or("name", "");
    liquid.density_kg_m3 = place.at("density").uncertain(Dimension::density);
    liquid.reference_temperature_c = place.quantity_or("reference_temperature", Dimension::temperature, 20);
    liquid.expansion_per_k = place.quantity_or("expansion", Dimension::per_kelvin, 0);
    liquid.compressibility_per_pa = place.quantity_or("compressibility", Dimension::per_pascal, 0);
    liquid.surface_tension_n_per_m = place.uncertain_or("surface_tension", Dimension::surface_tension, {});
    if (!place.wrong() && !(liquid.density_kg_m3.value > 300 && liquid.density_kg_m3.value < 3000))
        place.at("density").say(fmt::format("{} kg/m3 is no liquid of a pressure balance; use 300 to 3000 kg/m3",
                                            liquid.density_kg_m3.value));
    return liquid;
}

namespace {

Uncertain read_metal(const Place& place) {
    const auto density = place.uncertain(Dimension::density);
    if (!place.wrong() && !(density.value > 1000 && density.value < 25000))
        place.say(fmt::format("{} kg/m3 is no metal of a weight; use 1000 to 25000 kg/m3", density.value));
    return density;
}

/// A mass stated as true or conventional mass; `group` ties pieces of one certificate.
metrology::MassPiece read_piece(const Place& place, const std::string& name, const std::optional<Uncertain>& density,
                                bool conventional, const std::string& group) {
    metrology::MassPiece piece;
    piece.name = name;
    piece.mass_kg = place.at("mass").uncertain(Dimension::mass);
    if (!place.wrong() && !(piece.mass_kg.value > 0))
        place.at("mass").say(
            fmt::format("{:g} kg is no mass; it must be over zero, for example \"2.5 kg\"", piece.mass_kg.value));
    piece.conventional = conventional;
    piece.group = group;
    piece.density_kg_m3 = density && !place.has("density") ? *density : read_metal(place.at("density"));
    return piece;
}

bool stated_as_conventional(const Place& place) {
    const auto words = place.text_or("stated_as", "mass");
    if (words != "mass" && words != "conventional mass")
        place.at("stated_as").say(fmt::format("\"{}\" is not known; use \"mass\" or \"conventional mass\"", words));
    return words == "conventional mass";
}

metrology::Elasticity read_elasticity(const Place& place) {
    place.only({"youngs_modulus", "poisson"});
    metrology::Elasticity of;
    of.youngs_modulus_pa = place.at("youngs_modulus").quantity(Dimension::pressure);
    of.poisson = place.at("poisson").number();
    if (!place.wrong() && !(of.youngs_modulus_pa > 1e9 && of.youngs_modulus_pa < 2e12))
        place.at("youngs_modulus")
            .say(fmt::format("{:g} GPa is no piston's material; use 1 GPa to 2000 GPa", of.youngs_modulus_pa / 1e9));
    if (!place.wrong() && !(of.poisson > 0 && of.poisson < 0.5))
        place.at("poisson").say(
            fmt::format("{:g} is no material's; a Poisson's ratio is over 0 and under 0.5", of.poisson));
    return of;
}

void read_distortion(const Place& place, metrology::Range& to) {
    if (place.has("distortion") && place.has("distortion_from")) {
        place.at("distortion_from").say("\"distortion\" is stated too; keep the certificate's figure");
        return;
    }
    if (!place.has("distortion_from")) {
        to.distortion_per_pa = place.at("distortion").uncertain(Dimension::per_pascal);
        return;
    }
    const Place from = place.at("distortion_from");
    from.only({"piston", "cylinder", "outer_to_inner", "u"});
    const auto piston = read_elasticity(from.at("piston"));
    const auto cylinder = read_elasticity(from.at("cylinder"));
    const double ratio = from.at("outer_to_inner").number();
    if (!place.wrong() && !(ratio > 1))
        from.at("outer_to_inner")
            .say(fmt::format("{:g} leaves no wall; give the cylinder's outer over its inner diameter, over 1", ratio));
    const double relative_u = from.size_or("u", Dimension::fraction, metrology::estimated_distortion_relative_u);
    if (place.wrong()) return;
    to.distortion_per_pa.value = metrology::distortion_from_materials(piston, cylinder, ratio);
    to.distortion_per_pa.u = relative_u * std::abs(to.distortion_per_pa.value);
    to.distortion_is_estimate = true;
}

BalanceRange read_range(const Place& place, bool in_gas) {
    place.only({"name",
                "lowest",
                "highest",
                "area",
                "area_drift",
                "reference_temperature",
                "thermal_expansion",
                "distortion",
                "distortion_from",
                "distortion2",
                "circumference",
                "tilt",
                "immersed_volume",
                "level_refers_to_volume",
                "reference_level",
                "float_band",
                "fall_rate",
                "spin_time",
                "max_float",
                "floating_parts",
                "short_form",
                "stop",
                "valves"});
    BalanceRange range;
    auto& to = range.physics;
    to.name = place.at("name").text();
    range.lowest_pa = place.at("lowest").over_zero(Dimension::pressure);
    range.highest_pa = place.at("highest").over_zero(Dimension::pressure);
    to.area_m2 = place.at("area").uncertain(Dimension::area);
    if (!place.wrong() && !(to.area_m2.value > 0))
        place.at("area").say(fmt::format("{:g} mm2 is no area; it must be over zero, for example \"80.65 mm2\"",
                                         to.area_m2.value * 1e6));
    if (place.has("area_drift")) to.area_drift = place.at("area_drift").about_zero(Dimension::fraction);
    to.reference_temperature_c = place.at("reference_temperature").quantity(Dimension::temperature);
    to.thermal_expansion_per_k = place.at("thermal_expansion").uncertain(Dimension::per_kelvin);
    read_distortion(place, to);
    to.distortion2_per_pa2 = place.quantity_or("distortion2", Dimension::per_pascal_squared, 0);
    if (in_gas) {
        // A gas has no surface to pull at the piston, and no level that an extra volume could displace.
        for (const char* key : {"circumference", "immersed_volume", "level_refers_to_volume"})
            if (place.has(key)) place.at(key).say("belongs to a balance in liquid; take it away");
    } else {
        to.circumference_m = place.at("circumference").uncertain(Dimension::length);
    }
    if (place.has("tilt")) to.tilt_rad = place.at("tilt").about_zero(Dimension::angle);
    if (place.has("immersed_volume")) {
        to.immersed_volume_m3 = place.at("immersed_volume").about_zero(Dimension::volume);
        if (place.has("level_refers_to_volume") && place.at("level_refers_to_volume").yes_or_no())
            place.at("immersed_volume")
                .say("the reference level already takes it in (level_refers_to_volume); keep one of the two");
    }
    if (place.has("reference_level")) {
        // The level mark and the range's own level are told apart in words, so that no sign has to be guessed.
        const Place level = place.at("reference_level");
        level.only({"above_mark", "below_mark", "u"});
        if (level.has("above_mark") == level.has("below_mark")) level.say("give \"above_mark\" or \"below_mark\"");
        to.reference_level_m.value =
            level.size_or("above_mark", Dimension::length, 0) - level.size_or("below_mark", Dimension::length, 0);
        to.reference_level_m.u = level.size_or("u", Dimension::length, 0);
    }
    range.float_band_m = place.at("float_band").over_zero(Dimension::length);
    range.fall_rate_m_per_s = place.at("fall_rate").over_zero(Dimension::speed);
    range.spin_time_s = place.at("spin_time").over_zero(Dimension::time);
    if (place.has("max_float")) range.max_float_s = place.at("max_float").over_zero(Dimension::time);
    to.float_height_m.u = metrology::standard_uncertainty(range.float_band_m / 2, metrology::Distribution::rectangular);
    to.float_height_m.distribution = metrology::Distribution::rectangular;
    for (const Place& part : place.items_at("floating_parts")) {
        part.only({"name", "mass", "density", "stated_as", "certificate"});
        to.floating_parts.push_back(read_piece(part, part.at("name").text(), std::nullopt, stated_as_conventional(part),
                                               part.text_or("certificate", "")));
    }
    if (place.has("short_form")) to.short_form = read_short_form(place.at("short_form"));
    for (const Place& words : place.items_at("valves", 0))
        range.valves.push_back(words.text());
    if (!place.wrong() && range.highest_pa <= range.lowest_pa)
        place.at("highest").say(fmt::format("{:g} bar is not above \"lowest\", {:g} bar; swap the two",
                                            range.highest_pa / 1e5, range.lowest_pa / 1e5));
    return range;
}

} // namespace

void read_balance(const Place& place, BenchFile& bench) {
    place.only({"name", "serial", "dual_range", "level_mark", "liquid", "gas", "mode", "residual_pressure", "ranges",
                "guards"});
    auto& balance = bench.balance;
    balance.name = place.at("name").text();
    balance.serial = place.at("serial").text();
    balance.level_mark = place.text_or("level_mark", "the level mark of the balance");
    if (place.has("dual_range")) {
        const auto kind = place.at("dual_range").text();
        if (kind == "stopped")
            balance.kind = metrology::DualRange::stopped;
        else if (kind == "isolated")
            balance.kind = metrology::DualRange::isolated;
        else
            place.at("dual_range")
                .say(fmt::format("\"{}\" is not known; use \"stopped\" (the wide piston rests against its stop) or "
                                 "\"isolated\" (valves take it out)",
                                 kind));
    }
    read_fluid(place, balance);
    const auto ranges = place.items_at("ranges");
    const std::size_t wanted = balance.kind == metrology::DualRange::single ? 1 : 2;
    if (ranges.size() != wanted)
        place.at("ranges").say(fmt::format("found {} ranges; a balance {} \"dual_range\" has {}", ranges.size(),
                                           wanted == 1 ? "without" : "with", wanted));
    for (std::size_t i = 0; i < ranges.size() && !place.wrong(); ++i) {
        balance.ranges.push_back(read_range(ranges[i], balance.gas.has_value()));
        if (!ranges[i].has("stop")) continue;
        const Place stop = ranges[i].at("stop");
        if (balance.kind != metrology::DualRange::stopped || i != 1)
            stop.say("belongs to the high range of a balance that is \"dual_range\": \"stopped\"; take it away here");
        stop.only({"wide_piston_mass"});
        balance.stop_piston_mass_kg = stop.at("wide_piston_mass").over_zero(Dimension::mass);
    }
    if (wanted == 2 && !place.wrong()) {
        if (balance.ranges[0].physics.name != "low" || balance.ranges[1].physics.name != "high")
            place.at("ranges").say(fmt::format(
                "found \"{}\" and \"{}\"; a dual-range balance has the range \"low\" first and \"high\" second",
                balance.ranges[0].physics.name, balance.ranges[1].physics.name));
        else if (balance.ranges[0].physics.area_m2.value <= balance.ranges[1].physics.area_m2.value)
            place.at("ranges").say(
                "the low range has the larger area (its certificate's total area); the two are swapped");
        else if (balance.kind == metrology::DualRange::stopped && balance.stop_piston_mass_kg <= 0)
            place.at("ranges").say(
                "a \"stopped\" balance needs \"stop\": {\"wide_piston_mass\": ...} in its high range");
    }
    if (place.has("guards")) {
        const Place guards = place.at("guards");
        guards.only({"settle", "loss"});
        balance.settle_guard_s = guards.size_or("settle", Dimension::time, balance.settle_guard_s);
        balance.loss_guard_s = guards.size_or("loss", Dimension::time, balance.loss_guard_s);
        if (!place.wrong() && balance.settle_guard_s < 0.1)
            guards.at("settle").say(fmt::format(
                "{:g} s is too short for a raised piston to come to rest; use at least 0.1 s", balance.settle_guard_s));
    }
}

void read_masses(const Place& place, BenchFile& bench) {
    place.only({"certificate", "correlation", "density", "stated_as", "discs"});
    const auto certificate = place.at("certificate").text();
    const double correlation = place.has("correlation") ? place.at("correlation").number() : 1;
    if (!place.wrong() && !(correlation >= 0 && correlation <= 1))
        place.at("correlation")
            .say(fmt::format("found {:g}; pieces of one certificate are correlated by 0 to 1", correlation));
    // A floating part of the same certificate belongs to the same group.
    for (auto& range : bench.balance.ranges)
        for (auto& part : range.physics.floating_parts)
            if (part.group == certificate) part.mass_correlation = correlation;
    const bool conventional = stated_as_conventional(place);
    std::optional<Uncertain> density;
    if (place.has("density")) density = read_metal(place.at("density"));
    const auto discs = place.items_at("discs");
    std::map<std::string, std::size_t> first_with;
    for (std::size_t i = 0; i < discs.size() && !place.wrong(); ++i) {
        const Place& item = discs[i];
        item.only({"id", "mass", "density", "two_hands", "ranges"});
        Disc disc;
        const auto id = item.at("id").text();
        const auto [where, is_new] = first_with.emplace(id, i);
        if (!is_new)
            item.at("id").say(
                fmt::format("\"{}\" is already the id of masses.discs[{}]; give each disc its own", id, where->second));
        disc.piece = read_piece(item, id, density, conventional, certificate);
        disc.piece.mass_correlation = correlation;
        disc.two_hands = item.has("two_hands") && item.at("two_hands").yes_or_no();
        if (item.has("ranges"))
            for (const Place& range : item.items_at("ranges"))
                disc.ranges.push_back(read_range_name(range, bench));
        bench.discs.push_back(std::move(disc));
    }
}

std::string surroundings_objection(const metrology::Surroundings& air) {
    if (!(air.temperature_c.value > -20 && air.temperature_c.value < 60))
        return fmt::format("an air temperature of {} degC is no laboratory's; use -20 to 60 degC",
                           air.temperature_c.value);
    if (!(air.pressure_pa.value > 40000 && air.pressure_pa.value < 120000))
        return fmt::format("an air pressure of {} hPa is found nowhere on land; use 400 to 1200 hPa",
                           air.pressure_pa.value / 100);
    if (!(air.humidity.value >= 0 && air.humidity.value <= 1))
        return fmt::format("a humidity of {} % does not exist; use 0 % to 100 %", air.humidity.value * 100);
    return {};
}

} // namespace stillmark::bench
