#include "daemon/bench/bench_parts.hpp"

#include <fmt/format.h>

#include <utility>

namespace stillmark::bench {

using drivers::Dimension;
using metrology::PressureKind;

metrology::Gas read_gas(const Place& place) {
    place.only({"name", "molar_mass", "compressibility_factor", "second_virial", "second_virial_slope", "third_virial",
                "reference_temperature", "density_error"});
    metrology::Gas gas;
    gas.name = place.at("name").text();
    gas.molar_mass_kg_mol = place.at("molar_mass").uncertain(Dimension::molar_mass);
    if (!place.wrong() && !(gas.molar_mass_kg_mol.value > 1.9e-3 && gas.molar_mass_kg_mol.value < 0.2))
        place.at("molar_mass")
            .say(fmt::format("{:g} g/mol is no gas of a pressure balance; use 2 g/mol to 200 g/mol",
                             gas.molar_mass_kg_mol.value * 1e3));
    const bool has_virials = place.has("second_virial") || place.has("third_virial");
    if (place.has("compressibility_factor")) {
        if (has_virials)
            place.at("compressibility_factor")
                .say("the virial coefficients already say it; keep one of the two, the coefficients where known");
        gas.compressibility_factor = place.at("compressibility_factor").number();
        if (!place.wrong() && !(gas.compressibility_factor > 0.5 && gas.compressibility_factor < 2))
            place.at("compressibility_factor")
                .say(fmt::format("{:g} is no gas of a pressure balance; use 0.5 to 2", gas.compressibility_factor));
    }
    if (place.has("third_virial") && !place.has("second_virial"))
        place.at("third_virial").say("means nothing without \"second_virial\"; give both");
    if (place.has("second_virial_slope") && !place.has("second_virial"))
        place.at("second_virial_slope").say("means nothing without \"second_virial\"; give both");
    gas.second_virial_m3_mol = place.quantity_or("second_virial", Dimension::molar_volume, 0);
    gas.second_virial_slope_m3_mol_k = place.quantity_or("second_virial_slope", Dimension::molar_volume_per_k, 0);
    gas.third_virial_m6_mol2 = place.quantity_or("third_virial", Dimension::molar_volume_squared, 0);
    gas.reference_temperature_c = place.quantity_or("reference_temperature", Dimension::temperature, 20);
    gas.density_error = {.value = 0, .u = metrology::gas_density_relative_u};
    if (place.has("density_error")) gas.density_error = place.at("density_error").about_zero(Dimension::fraction);
    return gas;
}

void read_fluid(const Place& place, Balance& balance) {
    if (place.has("liquid") && place.has("gas")) {
        place.at("gas").say("a liquid is stated too; a balance is filled with one fluid, keep that one");
        return;
    }
    if (place.has("gas"))
        balance.gas = read_gas(place.at("gas"));
    else
        balance.liquid = read_liquid(place.at("liquid"));
    const auto mode = place.text_or("mode", "gauge");
    if (mode != "gauge" && mode != "absolute") {
        place.at("mode").say(fmt::format(
            "\"{}\" is not known; use \"gauge\", or \"absolute\" (the masses hang in an evacuated bell)", mode));
        return;
    }
    if (mode == "gauge") {
        if (place.has("residual_pressure"))
            place.at("residual_pressure").say("belongs to \"mode\": \"absolute\"; take it away, or state the mode");
        return;
    }
    balance.mode = PressureKind::absolute;
    if (balance.kind != metrology::DualRange::single)
        place.at("mode").say("no bell fits over a balance that is dual-range; use \"gauge\"");
    balance.residual_pressure_pa = place.at("residual_pressure").uncertain(Dimension::pressure);
    constexpr double highest_residual_pa = 1000;
    if (!place.wrong() &&
        !(balance.residual_pressure_pa.value >= 0 && balance.residual_pressure_pa.value <= highest_residual_pa))
        place.at("residual_pressure")
            .say(fmt::format("{:g} Pa is no evacuated bell; use 0 Pa to 1000 Pa, absolute",
                             balance.residual_pressure_pa.value));
}

// Which way is part of the words, because half the trade counts up and half down.
double read_height(const Place& place, const std::string& down, const std::string& up) {
    const auto words = place.text();
    if (place.wrong()) return 0;
    for (const auto& [ending, sign] : {std::pair{down, 1.0}, std::pair{up, -1.0}}) {
        if (!words.ends_with(ending)) continue;
        const auto length =
            drivers::parse_quantity(std::string_view(words).substr(0, words.size() - ending.size()), Dimension::length);
        if (!length) {
            place.say(length.error().message);
            return 0;
        }
        if (*length < 0) {
            place.say(fmt::format("\"{}\" has a sign and a direction; give a length without a sign", words));
            return 0;
        }
        return sign * *length;
    }
    place.say(
        fmt::format("\"{0}\" does not say which way; write for example \"85 mm{1}\" or \"85 mm{2}\"", words, down, up));
    return 0;
}

namespace {

bool is_the_balances(const Place& fluid) {
    return fluid.node().is_string() && fluid.text() == "balance";
}

/// A segment's fluid: described, or the word "balance" for what fills the balance.
void read_segment_fluid(const Place& place, const Balance& balance, metrology::HeadSegment& segment) {
    if (place.has("liquid") == place.has("gas")) {
        place.say("state what fills this segment: \"liquid\" or \"gas\", one of the two");
        return;
    }
    const bool is_gas = place.has("gas");
    const Place fluid = place.at(is_gas ? "gas" : "liquid");
    if (!is_the_balances(fluid)) {
        if (is_gas)
            segment.gas = read_gas(fluid);
        else
            segment.liquid = read_liquid(fluid);
        return;
    }
    if (is_gas != balance.gas.has_value()) {
        fluid.say(is_gas ? "the balance is filled with a liquid; write \"liquid\": \"balance\", or describe the gas"
                         : "the balance is filled with a gas; write \"gas\": \"balance\", or describe the liquid");
        return;
    }
    segment.liquid = balance.liquid;
    segment.gas = balance.gas;
}

} // namespace

void read_head(const Place& place, const Balance& balance, Instrument& to) {
    if (place.has("instrument_level") == place.has("head")) {
        place.say("state where the pressure is taken: \"instrument_level\" (one fluid, the balance's), or \"head\" (a "
                  "list of segments)");
        return;
    }
    const double u = place.size_or("level_u", Dimension::length, 0);
    if (place.has("instrument_level")) {
        metrology::HeadSegment segment{balance.liquid, {}, balance.gas};
        segment.height_m.value = read_height(place.at("instrument_level"), " below balance", " above balance");
        segment.height_m.u = u;
        to.head.push_back(segment);
        return;
    }
    for (const Place& item : place.items_at("head")) {
        item.only({"liquid", "gas", "height", "u"});
        metrology::HeadSegment segment;
        read_segment_fluid(item, balance, segment);
        if (item.wrong()) return;
        segment.height_m.value = read_height(item.at("height"), " down", " up");
        segment.height_m.u = item.size_or("u", Dimension::length, 0);
        to.head.push_back(segment);
    }
}

void read_counting(const Place& place, Instrument& to) {
    const auto words = place.text_or("pressure", "gauge");
    if (words == "absolute")
        to.counted_from = PressureKind::absolute;
    else if (words == "sealed")
        to.counted_from = PressureKind::sealed;
    else if (words != "gauge" && !place.wrong())
        place.at("pressure").say(fmt::format("\"{}\" is not known; use \"gauge\", \"absolute\" or \"sealed\"", words));
    if (to.counted_from != PressureKind::sealed) {
        if (place.has("sealed_reference"))
            place.at("sealed_reference").say("belongs to \"pressure\": \"sealed\"; take it away, or state the kind");
        return;
    }
    to.sealed_reference_pa = place.at("sealed_reference").uncertain(Dimension::pressure);
    if (!place.wrong() && !(to.sealed_reference_pa.value > 0 && to.sealed_reference_pa.value < 2e5))
        place.at("sealed_reference")
            .say(
                fmt::format("{:g} bar is nothing that was shut in at the air's pressure; use an absolute pressure over "
                            "0 and under 2 bar",
                            to.sealed_reference_pa.value / 1e5));
}

} // namespace stillmark::bench
