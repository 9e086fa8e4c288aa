#include "simulator/scenario.hpp"

#include "simulator/mistake.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <iterator>
#include <regex>

namespace stillmark::simulator {

namespace fs = std::filesystem;

namespace {

BusEntry read_bus(const JsonPlace& place, const fs::path& folder) {
    BusEntry bus;
    bus.name = place.at("name").text();
    bus.kind = place.at("kind").text();
    if (bus.serial()) {
        const fs::path device = place.at("device").text();
        bus.device = (device.is_absolute() ? device : folder / device).lexically_normal().string();
        bus.baud = static_cast<int>(place.at("baud").whole());
        if (bus.baud < 1) place.at("baud").refuse("a rate is over zero");
        const bool parity = place.at("parity").text() != "none";
        const auto data = place.has("data_bits") ? place.at("data_bits").whole() : 8;
        bus.bits_per_character = static_cast<int>(1 + data + (parity ? 1 : 0) + place.at("stop_bits").whole());
    } else if (bus.kind == "modbus_tcp" || bus.kind == "text_tcp") {
        bus.host = place.at("host").text();
        bus.port = static_cast<int>(place.at("port").whole());
        if (bus.host != "127.0.0.1" && bus.host != "::1" && bus.host != "localhost")
            place.at("host").refuse(
                fmt::format("\"{}\" is not this machine; a simulated bus is served on 127.0.0.1", bus.host));
    } else {
        place.at("kind").refuse(fmt::format("\"{}\" is not simulated", bus.kind));
    }
    return bus;
}

Counting read_counting(const JsonPlace& place, std::uint64_t seed, const std::string& who) {
    Counting counting;
    const auto kind = place.text_or("pressure", "gauge");
    counting.from_air = kind == "gauge";
    if (kind == "sealed")
        counting.sealed_pa = drawn(place.at("sealed_reference").stated(pressure_kind), seed, "sealed in " + who);
    else if (kind != "gauge" && kind != "absolute")
        place.at("pressure").refuse(fmt::format("\"{}\" is not known", kind));
    return counting;
}

void check_reply(const InstrumentEntry& instrument, const JsonPlace& place) {
    if (instrument.reply.find("{value}") == std::string::npos) place.refuse("the reply has no {value}");
    auto line = instrument.reply;
    line.replace(line.find("{value}"), 7, fmt::format("{:.{}f}", 12.5, instrument.decimals));
    if (!std::regex_match(line, std::regex(instrument.profile.pattern)))
        place.refuse(
            fmt::format("the reply \"{}\" does not fit the profile's pattern {}", line, instrument.profile.pattern));
}

void read_character(const JsonPlace& place, const std::string& who, std::uint64_t seed, InstrumentEntry& to) {
    place.only({"zero", "span_error", "nonlinearity", "hysteresis", "hysteresis_width", "noise", "conversion", "lag",
                "delay", "resolution", "friction", "turn_round", "reply", "decimals", "talks_every", "warm_up",
                "reclamping"});
    auto& c = to.character;
    const auto draw = [&](const char* key, const Kind& kind, double otherwise) {
        return place.has(key) ? drawn(place.at(key).stated(kind), seed, who + " " + key) : otherwise;
    };
    c.zero_pa = draw("zero", pressure_kind, c.zero_pa);
    c.span_error = draw("span_error", number_kind, c.span_error);
    c.nonlinearity_pa = draw("nonlinearity", pressure_kind, c.nonlinearity_pa);
    c.hysteresis_pa = draw("hysteresis", pressure_kind, c.hysteresis_pa);
    c.hysteresis_width_pa =
        place.quantity_or("hysteresis_width", pressure_kind, 0.02 * (c.span_high_pa - c.span_low_pa));
    c.noise_pa = place.quantity_or("noise", pressure_kind, 0);
    c.conversion_s = place.quantity_or("conversion", time_kind, c.conversion_s);
    if (c.conversion_s < 1e-4) place.at("conversion").refuse("use 0.1 ms or more");
    c.lag_s = place.quantity_or("lag", time_kind, 0);
    c.delay_s = place.quantity_or("delay", time_kind, c.delay_s);
    c.resolution_pa = place.quantity_or("resolution", pressure_kind, c.resolution_pa);
    c.friction_pa = place.quantity_or("friction", pressure_kind, 0);
    if (place.has("warm_up")) {
        const auto warm_up = place.at("warm_up");
        warm_up.only({"error", "time"});
        c.cold_pa = drawn(warm_up.at("error").stated(pressure_kind), seed, who + " warm_up");
        c.warm_up_s = warm_up.at("time").quantity(time_kind);
        if (!(c.warm_up_s > 0)) warm_up.at("time").refuse("a time constant is over zero");
    }
    c.reclamping = place.stated_or("reclamping", pressure_kind, {});
    if (c.reclamping.shape == Shape::exact && c.reclamping.value != 0)
        place.at("reclamping").refuse("each clamping is another draw: give {\"limits\": ...} or {\"u\": ...}");
    to.turn_round_s = place.quantity_or("turn_round", time_kind, 0);
    to.reply = place.text_or("reply", to.reply);
    if (place.has("decimals")) to.decimals = static_cast<int>(place.at("decimals").whole());
    to.talks_every_s = place.quantity_or("talks_every", time_kind, to.talks_every_s);
    if (to.profile.kind == "text") check_reply(to, place);
}

InstrumentEntry read_instrument(const JsonPlace& place, const fs::path& bench_folder, const fs::path& profiles,
                                std::uint64_t seed) {
    InstrumentEntry to;
    to.name = place.at("name").text();
    to.bus = place.text_or("bus", "");
    if (place.has("server")) to.server = static_cast<int>(place.at("server").whole());
    const auto file = place.at("profile").text();
    to.profile = read_profile(((fs::exists(bench_folder / file) ? bench_folder : profiles) / file).string());
    to.level_m = drawn({height_above_balance_m(place.at("instrument_level")),
                        place.quantity_or("level_u", length_kind, 0), Shape::normal},
                       seed, "level of " + to.name);
    to.counting = read_counting(place, seed, to.name);
    const auto span = place.at("span").items();
    if (span.size() != 2) place.at("span").refuse("two pressures belong here");
    to.character.span_low_pa = span[0].quantity(pressure_kind);
    to.character.span_high_pa = span[1].quantity(pressure_kind);
    to.character.resolution_pa = to.profile.resolution_pa;
    to.character.delay_s = to.profile.latency_s;
    to.reply = "{value} " + to.profile.unit;
    return to;
}

/// A leak in proportion to the pressure, from how far the pressure falls within a while in a line that is shut off:
/// p = at exp(-t / tau), so that the oil lost a second is what the line takes for p / tau.
double read_weeping(const JsonPlace& place, const OilCircuit& oil) {
    place.only({"drop", "within", "at"});
    const double drop_pa = place.at("drop").quantity(pressure_kind);
    const double at_pa = place.at("at").quantity(pressure_kind);
    const double within_s = place.at("within").quantity(time_kind);
    if (!(drop_pa > 0 && drop_pa < at_pa && within_s > 0))
        place.refuse("the drop is over zero and less than the pressure, and the time is over zero");
    return oil.volume_m3 / oil.bulk_modulus_pa * -std::log1p(-drop_pa / at_pa) / within_s;
}

OilCircuit read_oil(const JsonPlace& place) {
    place.only({"oil_volume", "bulk_modulus", "press_stroke", "press_turn", "piston_relaxation", "travel", "leak",
                "trapped_air"});
    OilCircuit oil;
    oil.volume_m3 = place.quantity_or("oil_volume", volume_kind, oil.volume_m3);
    oil.bulk_modulus_pa = place.quantity_or("bulk_modulus", pressure_kind, oil.bulk_modulus_pa);
    oil.press_stroke_m3 = place.quantity_or("press_stroke", volume_kind, oil.press_stroke_m3);
    oil.piston_relaxation_s = place.quantity_or("piston_relaxation", time_kind, oil.piston_relaxation_s);
    oil.travel_over_band = place.number_or("travel", oil.travel_over_band);
    oil.press_turn_m3 = place.quantity_or("press_turn", volume_kind, oil.press_turn_m3);
    oil.trapped_air_m3 = place.quantity_or("trapped_air", volume_kind, 0);
    if (!(oil.press_turn_m3 > 0)) place.at("press_turn").refuse("a turn gives more than no oil");
    if (!(oil.trapped_air_m3 >= 0)) place.at("trapped_air").refuse("a volume is not below zero");
    if (!(oil.volume_m3 > 0 && oil.bulk_modulus_pa > 0 && oil.piston_relaxation_s > 0 && oil.travel_over_band >= 1))
        place.refuse("volume, modulus and relaxation are over zero, and the travel is at least 1 band");
    if (place.has("leak")) {
        const auto leak = place.at("leak");
        if (leak.node().is_object())
            oil.leak_m3_per_pa_s = read_weeping(leak, oil);
        else
            oil.leak_m3_per_s = leak.quantity(Kind{0, 3, -1, 0});
    }
    return oil;
}

OperatorMistake read_mistake(const JsonPlace& place) {
    place.only({"what", "point", "direction", "notices_after", "size"});
    OperatorMistake mistake;
    mistake.what = place.at("what").text();
    constexpr const char* known[] = {"confirms too early", "forgets a disc", "takes a wrong disc",
                                     "leaves the valves",  "lets it sink",   "overshoots"};
    if (std::find(std::begin(known), std::end(known), mistake.what) == std::end(known))
        place.at("what").refuse(fmt::format("\"{}\" is not a mistake; use {}", mistake.what, fmt::join(known, ", ")));
    mistake.point = static_cast<int>(place.at("point").whole());
    mistake.direction = place.text_or("direction", "rising");
    mistake.notices_after_s = place.quantity_or("notices_after", time_kind, mistake.notices_after_s);
    if (place.has("size")) mistake.size = place.at("size").quantity(number_kind);
    return mistake;
}

OperatorPlan read_plan(const JsonPlace& place) {
    place.only({"sequence", "condition", "delays", "patience", "mistakes"});
    OperatorPlan plan;
    plan.works = true;
    plan.sequence = place.at("sequence").text();
    plan.condition = place.text_or("condition", plan.condition);
    plan.patience_s = place.quantity_or("patience", time_kind, plan.patience_s);
    if (place.has("delays")) {
        const auto delays = place.at("delays");
        delays.only({"instruction", "first_disc", "each_disc", "look", "dial"});
        plan.instruction_s = delays.quantity_or("instruction", time_kind, plan.instruction_s);
        plan.first_disc_s = delays.quantity_or("first_disc", time_kind, plan.first_disc_s);
        plan.each_disc_s = delays.quantity_or("each_disc", time_kind, plan.each_disc_s);
        plan.look_s = delays.quantity_or("look", time_kind, plan.look_s);
        plan.dial_s = delays.quantity_or("dial", time_kind, plan.dial_s);
    }
    if (place.has("mistakes"))
        for (const auto& item : place.at("mistakes").items())
            plan.mistakes.push_back(read_mistake(item));
    return plan;
}

void check_fault(const Fault& fault, const Scenario& scenario, const JsonPlace& place) {
    if (fault.kind == FaultKind::leak) return;
    std::string kind;
    for (const auto& instrument : scenario.instruments) {
        if (instrument.name != fault.instrument && (!fault.instrument.empty() || instrument.bus != fault.bus)) continue;
        for (const auto& bus : scenario.buses)
            if (bus.name == instrument.bus) kind = bus.kind;
    }
    if (kind.empty()) place.refuse("no wired instrument or bus has this name");
    if (fault.kind == FaultKind::bad_checksum && kind != "modbus_rtu")
        place.refuse(fmt::format("{} has no checksum to spoil; use garbage", kind));
    const bool modbus_only = fault.kind == FaultKind::wrong_address || fault.kind == FaultKind::wrong_count ||
                             fault.kind == FaultKind::exception || fault.kind == FaultKind::wrong_word_order;
    if (modbus_only && !kind.starts_with("modbus"))
        place.refuse(fmt::format("\"{}\" is a fault of Modbus alone", word(fault.kind)));
}

/// The text of a stated quantity, without its uncertainty: what a thermometer shows.
std::string shown_text(const JsonPlace& place) {
    return place.node().is_string() ? place.text() : place.at("value").text();
}

BenchChecks read_checks(const JsonPlace& place) {
    BenchChecks checks;
    checks.warm_up_s = place.quantity_or("warm_up", time_kind, 0);
    if (place.has("purge")) checks.purge_to_pa = place.at("purge").at("to").quantity(pressure_kind);
    if (place.has("leak")) {
        const auto leak = place.at("leak");
        checks.leak_at_pa = leak.at("at").quantity(pressure_kind);
        checks.leak_s = leak.quantity_or("settle", time_kind, 0) + leak.quantity_or("watch", time_kind, 0);
        if (leak.has("valves"))
            for (const auto& words : leak.at("valves").items())
                checks.shut_off_words.push_back(words.text());
    }
    return checks;
}

void read_bench(const JsonPlace& bench, const fs::path& profiles, Scenario& to) {
    const auto folder = fs::absolute(to.bench_path).parent_path();
    to.bench_name = bench.at("name").text();
    to.truth = draw_truth(bench, to.seed);
    for (const auto& bus : bench.at("buses").items())
        to.buses.push_back(read_bus(bus, folder));
    for (const auto& instrument : bench.at("instruments").items())
        to.instruments.push_back(read_instrument(instrument, folder, profiles, to.seed));
    const auto balance = bench.at("balance");
    to.settle_guard_s = balance.has("guards") ? balance.at("guards").quantity_or("settle", time_kind, 2) : 2;
    if (bench.has("checks")) to.checks = read_checks(bench.at("checks"));
    for (const auto* key : {"air_temperature", "air_pressure", "humidity", "piston_temperature"})
        to.surroundings[key] = shown_text(bench.at("surroundings").at(key));
}

/// A scenario may be another one with changes: "like" names it, and the rest is merged over it (RFC 7396).
nlohmann::json whole_scenario(const std::string& path) {
    auto json = read_json_file(path);
    const JsonPlace root(json, fs::path(path).filename().string());
    if (!root.has("like")) return json;
    auto base = read_json_file((fs::absolute(path).parent_path() / root.at("like").text()).string());
    if (base.contains("like")) root.at("like").refuse("names a scenario that is itself like another; name that one");
    json.erase("like");
    base.merge_patch(json);
    return base;
}

} // namespace

Scenario read_scenario(const std::string& path, const ScenarioChanges& changes) {
    const auto json = whole_scenario(path);
    const JsonPlace root(json, fs::path(path).filename().string());
    root.only({"bench", "profiles", "seed", "time_factor", "powered", "hydraulics", "instruments", "faults", "operator",
               "expect"});
    const auto folder = fs::absolute(path).parent_path();
    Scenario scenario;
    scenario.bench_path =
        changes.bench.empty() ? (folder / root.at("bench").text()).lexically_normal().string() : changes.bench;
    const fs::path profiles =
        changes.profiles.empty() ? folder / root.text_or("profiles", ".") : fs::path(changes.profiles);
    scenario.seed = changes.seed ? *changes.seed : static_cast<std::uint64_t>(root.at("seed").whole());
    scenario.time_factor = changes.time_factor ? *changes.time_factor : root.number_or("time_factor", 1);
    if (!(scenario.time_factor >= 0.1 && scenario.time_factor <= 1000)) root.refuse("a time factor is 0.1 to 1000");
    scenario.powered_s = root.quantity_or("powered", time_kind, 3600);
    const auto bench_json = read_json_file(scenario.bench_path);
    read_bench(JsonPlace(bench_json, fs::path(scenario.bench_path).filename().string()), profiles, scenario);
    if (root.has("hydraulics")) scenario.oil = read_oil(root.at("hydraulics"));
    if (root.has("instruments"))
        for (const auto& [name, place] : root.at("instruments").members()) {
            bool found = false;
            for (auto& instrument : scenario.instruments) {
                if (instrument.name != name) continue;
                read_character(place, name, scenario.seed, instrument);
                found = true;
            }
            if (!found) place.refuse("the bench has no instrument of this name");
        }
    for (auto& instrument : scenario.instruments)
        instrument.character.powered_s = scenario.powered_s;
    if (root.has("faults"))
        for (const auto& place : root.at("faults").items()) {
            scenario.faults.push_back(read_fault(place));
            check_fault(scenario.faults.back(), scenario, place);
        }
    for (const auto& name : changes.wrong_word_order) {
        Fault fault;
        fault.kind = FaultKind::wrong_word_order;
        fault.instrument = name;
        check_fault(fault, scenario, JsonPlace(json, "--wrong-word-order " + name));
        scenario.faults.push_back(fault);
    }
    if (root.has("operator") && !changes.no_operator) scenario.plan = read_plan(root.at("operator"));
    if (root.has("expect"))
        for (const auto& place : root.at("expect").items()) {
            place.only({"point", "direction", "status", "flag"});
            scenario.expectations.push_back({static_cast<int>(place.at("point").whole()),
                                             place.text_or("direction", "rising"), place.text_or("status", ""),
                                             place.text_or("flag", "")});
        }
    return scenario;
}

} // namespace stillmark::simulator
