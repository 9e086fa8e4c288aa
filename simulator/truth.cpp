#include "simulator/truth.hpp"

#include "simulator/mistake.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::simulator {

namespace {

/// A mass as it truly is. A conventional mass m_c belongs to the body that balances a weight of 8000 kg/m3 in air of
/// 1.2 kg/m3 (OIML D 28): the same apparent weight, another true mass.
TrueMass true_mass(const std::string& name, double stated_kg, double density, bool conventional) {
    constexpr double air = 1.2;
    constexpr double reference = 8000;
    const double mass =
        conventional ? stated_kg * (reference - air) / reference * density / (density - air) : stated_kg;
    return {name, mass, density};
}

bool conventional(const JsonPlace& place) {
    return place.text_or("stated_as", "mass") == "conventional mass";
}

TrueMass draw_part(const JsonPlace& part, std::uint64_t seed) {
    // A part that stands in both ranges is one body: its name is its draw.
    const auto name = part.at("name").text();
    const double density = drawn(part.at("density").stated(density_kind), seed, "density of part " + name);
    return true_mass(name, drawn(part.at("mass").stated(mass_kind), seed, "mass of part " + name), density,
                     conventional(part));
}

TrueRange draw_range(const JsonPlace& place, std::uint64_t seed) {
    TrueRange range;
    range.name = place.at("name").text();
    const auto draw = [&](const char* key, const Kind& kind) {
        return place.has(key) ? drawn(place.at(key).stated(kind), seed, range.name + " " + key) : 0.0;
    };
    range.area_m2 = draw("area", area_kind) * (1 + draw("area_drift", number_kind));
    range.reference_temperature_c = place.quantity_or("reference_temperature", celsius_kind, 20);
    range.thermal_expansion_per_k = draw("thermal_expansion", per_kelvin_kind);
    range.distortion_per_pa = draw("distortion", per_pascal_kind);
    range.distortion2_per_pa2 = place.quantity_or("distortion2", per_pascal_squared_kind, 0);
    range.circumference_m = draw("circumference", length_kind);
    range.tilt_rad = draw("tilt", number_kind);
    range.immersed_volume_m3 = draw("immersed_volume", volume_kind);
    if (place.has("reference_level")) {
        const auto level = place.at("reference_level");
        Stated height{level.quantity_or("above_mark", length_kind, 0) - level.quantity_or("below_mark", length_kind, 0),
                      level.quantity_or("u", length_kind, 0), Shape::normal};
        range.level_m = drawn(height, seed, range.name + " reference_level");
    }
    range.highest_pa = place.at("highest").quantity(pressure_kind);
    range.float_band_m = place.at("float_band").quantity(length_kind);
    range.fall_rate_m_per_s = place.at("fall_rate").quantity(speed_kind);
    range.spin_time_s = place.at("spin_time").quantity(time_kind);
    for (const auto& part : place.at("floating_parts").items())
        range.floating_parts.push_back(draw_part(part, seed));
    if (place.has("valves"))
        for (const auto& words : place.at("valves").items())
            range.valves.push_back(words.text());
    return range;
}

TrueLiquid draw_liquid(const JsonPlace& place, std::uint64_t seed, double temperature_c) {
    TrueLiquid liquid;
    liquid.density_kg_m3 = drawn(place.at("density").stated(density_kind), seed, "liquid density");
    liquid.reference_temperature_c = place.quantity_or("reference_temperature", celsius_kind, 20);
    liquid.expansion_per_k = place.quantity_or("expansion", per_kelvin_kind, 0);
    liquid.compressibility_per_pa = place.quantity_or("compressibility", per_pascal_kind, 0);
    liquid.surface_tension_n_per_m =
        drawn(place.stated_or("surface_tension", surface_tension_kind, {}), seed, "surface tension");
    liquid.temperature_c = temperature_c;
    return liquid;
}

TrueGas draw_gas(const JsonPlace& place, std::uint64_t seed, double temperature_c) {
    TrueGas gas;
    gas.molar_mass_kg_mol = drawn(place.at("molar_mass").stated(molar_mass_kind), seed, "molar mass of the gas");
    gas.compressibility_factor = place.number_or("compressibility_factor", 1);
    const double from_c = place.quantity_or("reference_temperature", celsius_kind, 20);
    gas.second_virial_m3_mol =
        place.quantity_or("second_virial", molar_volume_kind, 0) +
        place.quantity_or("second_virial_slope", molar_volume_per_kelvin_kind, 0) * (temperature_c - from_c);
    gas.third_virial_m6_mol2 = place.quantity_or("third_virial", molar_volume_squared_kind, 0);
    gas.density_error = drawn(place.stated_or("density_error", number_kind, {}), seed, "density of the gas");
    gas.temperature_c = temperature_c;
    return gas;
}

void draw_fluid(const JsonPlace& balance, std::uint64_t seed, Truth& truth) {
    if (balance.has("gas"))
        truth.gas = draw_gas(balance.at("gas"), seed, truth.piston_temperature_c);
    else
        truth.liquid = draw_liquid(balance.at("liquid"), seed, truth.piston_temperature_c);
    const auto mode = balance.text_or("mode", "gauge");
    if (mode == "absolute")
        truth.bell_pa = std::max(0.0, drawn(balance.at("residual_pressure").stated(pressure_kind), seed, "the bell"));
    else if (mode != "gauge")
        balance.at("mode").refuse(fmt::format("\"{}\" is not known", mode));
}

/// What the barometer showed when the bench file was written stands in it; its error, and the height from which its
/// reading is carried down to the level mark, are drawn.
void draw_air(const JsonPlace& surroundings, std::uint64_t seed, Truth& truth) {
    auto& air = truth.air;
    air.temperature_c = drawn(surroundings.at("air_temperature").stated(celsius_kind), seed, "air temperature");
    air.pressure_pa = drawn(surroundings.at("air_pressure").stated(pressure_kind), seed, "air pressure");
    air.humidity = std::clamp(drawn(surroundings.at("humidity").stated(number_kind), seed, "humidity"), 0.0, 1.0);
    if (surroundings.has("barometer_level")) {
        const double above_m = drawn({height_above_balance_m(surroundings.at("barometer_level")),
                                      surroundings.quantity_or("barometer_level_u", length_kind, 0), Shape::normal},
                                     seed, "level of the barometer");
        air.pressure_pa += air_column_pa(air, truth.gravity_m_s2, above_m);
    }
    truth.air_density_kg_m3 = moist_air_density_kg_m3(air);
}

std::map<std::string, TrueMass> draw_discs(const JsonPlace& masses, std::uint64_t seed) {
    std::map<std::string, TrueMass> discs;
    const auto certificate = masses.at("certificate").text();
    for (const auto& disc : masses.at("discs").items()) {
        const auto id = disc.at("id").text();
        // One certificate, one deviation: its pieces are wrong together (r = 1), in mass and in density.
        const double density =
            disc.has("density") ? drawn(disc.at("density").stated(density_kind), seed, "density of disc " + id)
                                : drawn(masses.at("density").stated(density_kind), seed, "density of " + certificate);
        const double mass = drawn(disc.at("mass").stated(mass_kind), seed, "masses of " + certificate);
        if (!discs.emplace(id, true_mass(id, mass, density, conventional(masses))).second)
            disc.refuse(fmt::format("there are two discs \"{}\"", id));
    }
    return discs;
}

} // namespace

const TrueRange& Truth::range(const std::string& name) const {
    for (const auto& range : ranges)
        if (range.name == name) return range;
    throw Mistake(fmt::format("the balance has no range \"{}\"", name));
}

Truth draw_truth(const JsonPlace& bench, std::uint64_t seed) {
    Truth truth;
    const auto site = bench.at("site");
    if (site.has("gravity")) {
        truth.gravity_m_s2 = drawn(site.at("gravity").stated(acceleration_kind), seed, "gravity");
    } else {
        const double by_place =
            gravity_by_place_m_s2(site.at("latitude").quantity(number_kind), site.at("height").quantity(length_kind));
        truth.gravity_m_s2 = drawn({by_place, 5e-5 * by_place, Shape::normal}, seed, "gravity");
    }
    const auto surroundings = bench.at("surroundings");
    draw_air(surroundings, seed, truth);
    truth.piston_temperature_c =
        drawn(surroundings.at("piston_temperature").stated(celsius_kind), seed, "piston temperature");

    const auto balance = bench.at("balance");
    draw_fluid(balance, seed, truth);
    const auto change = balance.text_or("dual_range", "single");
    if (change == "stopped")
        truth.range_change = RangeChange::stopped;
    else if (change == "isolated")
        truth.range_change = RangeChange::isolated;
    else if (change != "single")
        balance.at("dual_range").refuse(fmt::format("\"{}\" is not known", change));
    for (const auto& range : balance.at("ranges").items())
        truth.ranges.push_back(draw_range(range, seed));
    const std::size_t count = truth.range_change == RangeChange::single ? 1 : 2;
    if (truth.ranges.size() != count) balance.at("ranges").refuse(fmt::format("{} ranges belong here", count));
    std::stable_sort(truth.ranges.begin(), truth.ranges.end(),
                     [](const TrueRange& a, const TrueRange& b) { return a.area_m2 > b.area_m2; });
    truth.discs = draw_discs(bench.at("masses"), seed);
    return truth;
}

} // namespace stillmark::simulator
