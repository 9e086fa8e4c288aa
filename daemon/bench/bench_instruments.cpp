#include "daemon/bench/bench_parts.hpp"
#include "daemon/bench/decision_rule_text.hpp"
#include "daemon/bench/permissible_error_text.hpp"

#include <fmt/format.h>

#include <cmath>

namespace stillmark::bench {

using drivers::Dimension;

namespace {

protocols::SerialSettings read_line(const Place& place, bool modbus) {
    protocols::SerialSettings line;
    line.device = place.at("device").text();
    line.baud = place.at("baud").whole(1, 4000000);
    const auto parity = place.at("parity").text();
    if (parity == "none")
        line.parity = protocols::Parity::none;
    else if (parity == "odd")
        line.parity = protocols::Parity::odd;
    else if (parity == "even")
        line.parity = protocols::Parity::even;
    else if (!place.wrong())
        place.at("parity").say(fmt::format("\"{}\" is not a parity; use none, even or odd", parity));
    line.stop_bits = place.at("stop_bits").whole(1, 2);
    line.data_bits = !modbus && place.has("data_bits") ? place.at("data_bits").whole(7, 8) : 8;
    if (const auto mistake = objection_to(line); !place.wrong() && !mistake.empty()) place.at("baud").say(mistake);
    return line;
}

protocols::TcpSettings read_tcp(const Place& place) {
    return {place.at("host").text(), place.at("port").whole(1, 65535)};
}

/// What the evaluation judges by, and the single figure of the permissible error that stillness and approach use.
void read_conformity(const Place& place, Instrument& to) {
    if (place.has("mpe")) {
        to.permissible = read_permissible_error(place.at("mpe"));
        if (!place.wrong()) to.mpe_pa = metrology::least_permissible(*to.permissible, to.span_low_pa, to.span_high_pa);
    }
    if (place.has("decision_rule")) {
        if (!place.has("mpe"))
            place.at("decision_rule").say("there is nothing to decide by it; give \"mpe\", the permissible error");
        to.decision = read_decision_rule(place.at("decision_rule"));
    }
    if (!place.has("pointer_stop")) return;
    to.pointer_stop = place.at("pointer_stop").yes_or_no();
    if (!std::holds_alternative<drivers::ManualReading>(to.profile.how))
        place.at("pointer_stop").say("belongs to a dial that a person reads; take it away");
}

/// The pressure unit that a text such as "1000 bar" is written in.
drivers::PressureUnit unit_of(const std::string& text) {
    const auto space = text.find_last_of(" \t");
    const auto unit =
        drivers::pressure_unit(space == std::string::npos ? "" : std::string_view(text).substr(space + 1));
    return unit.value_or(drivers::PressureUnit{"Pa"});
}

/// An electrical output is read as the pressure that its nominal characteristic gives it.
void read_output(const Place& place, Instrument& to) {
    to.unit = to.profile.unit;
    if (!to.profile.signal) {
        if (place.has("output"))
            place.at("output").say("belongs to an electrical output; the profile is in " + to.profile.unit.symbol +
                                   ": take it away");
        return;
    }
    to.unit = unit_of(place.at("span").items().back().text());
    const auto ends = place.items_at("output");
    if (place.wrong()) return;
    if (ends.size() != 2) {
        place.at("output").say(fmt::format("give the output at the two ends of the span, for example [\"4 {0}\", \"20 "
                                           "{0}\"]",
                                           to.profile.unit.symbol));
        return;
    }
    const drivers::Characteristic nominal{ends[0].quantity(*to.profile.signal), ends[1].quantity(*to.profile.signal),
                                          to.span_low_pa, to.span_high_pa};
    if (place.wrong()) return;
    if (nominal.low_si == nominal.high_si) {
        place.at("output").say("the two ends are equal; give the output at both ends of the span");
        return;
    }
    to.profile = drivers::through(std::move(to.profile), nominal);
}

void read_stillness(const Place& place, Instrument& to) {
    if (to.manual()) return;
    to.poll_s = place.at("poll").over_zero(Dimension::time);
    if (!place.wrong() && !(to.poll_s >= 0.005 && to.poll_s <= 60))
        place.at("poll").say(fmt::format("found {}; use 5 ms to 60 s", place.at("poll").node().dump()));
    const bool has_limits = place.has("drift_limit") || place.has("scatter_limit");
    if (to.mpe_pa <= 0 && !has_limits) {
        place.say("nothing says how still is still; give \"mpe\", or \"drift_limit\" and \"scatter_limit\"");
        return;
    }
    auto limits = acquisition::default_limits(to.response_time_s, to.poll_s, to.resolution_pa, to.mpe_pa);
    limits.window_s = place.quantity_or("window", Dimension::time, limits.window_s);
    limits.hold_s = place.quantity_or("hold", Dimension::time, limits.window_s);
    limits.drift_limit_pa = place.quantity_or("drift_limit", Dimension::pressure, limits.drift_limit_pa);
    limits.scatter_limit_pa = place.quantity_or("scatter_limit", Dimension::pressure, limits.scatter_limit_pa);
    if (place.has("least_readings")) limits.least_readings = place.at("least_readings").whole(5, 100000);
    if (const auto mistake = acquisition::objection_to(limits); !place.wrong() && !mistake.empty()) place.say(mistake);
    to.limits = limits;
}

Instrument read_instrument(const Place& place, const BenchFile& bench) {
    place.only({"name",
                "serial",
                "profile",
                "bus",
                "server",
                "span",
                "rating",
                "mpe",
                "instrument_level",
                "level_u",
                "head",
                "response_time",
                "latency",
                "resolution",
                "poll",
                "window",
                "hold",
                "drift_limit",
                "scatter_limit",
                "least_readings",
                "output",
                "decision_rule",
                "pointer_stop",
                "pressure",
                "sealed_reference",
                "maker",
                "asset",
                "mounting",
                "reference_mark"});
    Instrument to;
    to.name = place.at("name").text();
    to.serial = place.at("serial").text();
    to.maker = place.text_or("maker", "");
    to.asset = place.text_or("asset", "");
    to.mounting = place.text_or("mounting", "");
    to.reference_mark = place.text_or("reference_mark", "");
    to.profile_file = place.at("profile").text();
    if (place.wrong()) return to;
    const auto text = bench.profile_texts.find(to.profile_file);
    if (text == bench.profile_texts.end()) {
        place.at("profile").say(fmt::format("\"{}\" was not found", to.profile_file));
        return to;
    }
    const auto profile = drivers::read_profile(to.profile_file, text->second);
    if (!profile) {
        place.at("profile").say(profile.error().message);
        return to;
    }
    to.profile = *profile;
    const bool by_hand = std::holds_alternative<drivers::ManualReading>(to.profile.how);
    if (by_hand == place.has("bus")) {
        place.say(by_hand ? "the profile is of an instrument that a person reads; take \"bus\" away"
                          : "the profile is of an instrument with a wire; name its \"bus\"");
        return to;
    }
    if (!by_hand) {
        const auto bus = place.at("bus").text();
        for (std::size_t i = 0; i < bench.buses.size(); ++i)
            if (bench.buses[i].name == bus) to.bus = i;
        if (!to.bus) {
            place.at("bus").say(fmt::format("no bus is named \"{}\"; name one of \"buses\"", bus));
            return to;
        }
        const auto& wire = bench.buses[*to.bus].wire;
        const bool text_wire = std::holds_alternative<TextSerialBus>(wire) || std::holds_alternative<TextTcpBus>(wire);
        if (text_wire != std::holds_alternative<drivers::TextReading>(to.profile.how)) {
            place.at("bus").say(
                fmt::format("the bus \"{}\" carries {}, the profile reads {}; use a bus of the other kind", bus,
                            text_wire ? "text lines" : "Modbus", text_wire ? "Modbus" : "text lines"));
            return to;
        }
        if (!text_wire)
            to.server = place.at("server").whole(std::holds_alternative<ModbusRtuBus>(wire) ? 1 : 0,
                                                 std::holds_alternative<ModbusRtuBus>(wire) ? 247 : 255);
        else if (place.has("server"))
            place.at("server").say("belongs to Modbus; take it away");
    }
    const auto span = place.items_at("span", 2);
    if (place.wrong()) return to;
    if (span.size() != 2) place.at("span").say("give the two ends, for example [\"0 bar\", \"1000 bar\"]");
    to.span_low_pa = span[0].quantity(Dimension::pressure);
    to.span_high_pa = span[1].quantity(Dimension::pressure);
    if (!place.wrong() && to.span_high_pa <= to.span_low_pa)
        place.at("span").say("the second end is not above the first; give the lower one first");
    if (place.wrong()) return to;
    read_output(place, to);
    to.rating_pa = place.at("rating").over_zero(Dimension::pressure);
    if (!place.wrong() && to.rating_pa < to.span_high_pa)
        place.at("rating").say(fmt::format(
            "{:g} bar is below the end of the span, {:g} bar; give the highest pressure that the instrument may see",
            to.rating_pa / 1e5, to.span_high_pa / 1e5));
    read_conformity(place, to);
    read_head(place, bench.balance, to);
    read_counting(place, to);
    to.latency_s = place.quantity_or("latency", Dimension::time, to.profile.latency_s);
    to.resolution_pa = place.quantity_or("resolution", Dimension::pressure, to.profile.resolution_pa.value_or(0));
    if (const auto* dial = std::get_if<drivers::ManualReading>(&to.profile.how))
        to.resolution_pa = dial->division_si / dial->parts;
    to.response_time_s = place.quantity_or("response_time", Dimension::time, to.profile.response_time_s.value_or(0));
    if (!place.wrong() && !to.manual() && !(to.response_time_s > 0))
        place.say(
            "neither the profile nor this place states \"response_time\"; a reading cannot be called still without it");
    if (!place.wrong()) read_stillness(place, to);
    return to;
}

/// What is read from where: two channels that read the same place would be one instrument under two names.
std::string wire_place(const BenchFile& bench, const Instrument& instrument) {
    if (instrument.manual()) return {};
    const auto& bus = bench.buses[*instrument.bus].name;
    if (const auto* modbus = std::get_if<drivers::ModbusReading>(&instrument.profile.how))
        return fmt::format("bus \"{}\", server {}, {} register {}", bus, instrument.server,
                           modbus->kind == protocols::RegisterKind::holding ? "holding" : "input", modbus->address);
    const auto& text = std::get<drivers::TextReading>(instrument.profile.how);
    return fmt::format("bus \"{}\", request \"{}\"", bus, text.request);
}

} // namespace

namespace {

/// Where the wire of a bus ends: a serial device, or a host and its port.
std::string wire_end(const Bus& bus) {
    const auto port = [](const protocols::TcpSettings& to) { return fmt::format("{}, port {}", to.host, to.port); };
    if (const auto* rtu = std::get_if<ModbusRtuBus>(&bus.wire)) return rtu->line.device;
    if (const auto* text = std::get_if<TextSerialBus>(&bus.wire)) return text->line.device;
    if (const auto* tcp = std::get_if<ModbusTcpBus>(&bus.wire)) return port(tcp->to);
    return port(std::get<TextTcpBus>(bus.wire).to);
}

} // namespace

void read_buses(const Place& root, BenchFile& bench) {
    for (const Place& place : root.items_at("buses", 0)) {
        Bus bus;
        bus.name = place.at("name").text();
        for (const auto& other : bench.buses)
            if (other.name == bus.name)
                place.at("name").say(fmt::format("\"{}\" names another bus already; give each its own", bus.name));
        const auto kind = place.at("kind").text();
        if (place.wrong()) return;
        if (kind == "modbus_rtu") {
            place.only({"name", "kind", "device", "baud", "parity", "stop_bits"});
            bus.wire = ModbusRtuBus{read_line(place, true)};
        } else if (kind == "modbus_tcp") {
            place.only({"name", "kind", "host", "port"});
            bus.wire = ModbusTcpBus{read_tcp(place)};
        } else if (kind == "text_serial") {
            place.only({"name", "kind", "device", "baud", "parity", "stop_bits", "data_bits"});
            bus.wire = TextSerialBus{read_line(place, false)};
        } else if (kind == "text_tcp") {
            place.only({"name", "kind", "host", "port"});
            bus.wire = TextTcpBus{read_tcp(place)};
        } else {
            place.at("kind").say(
                fmt::format("\"{}\" is not a kind of bus; use modbus_rtu, modbus_tcp, text_serial or text_tcp", kind));
        }
        // Two askers on one wire take each other's answers.
        for (std::size_t i = 0; i < bench.buses.size(); ++i)
            if (wire_end(bench.buses[i]) == wire_end(bus))
                place.say(fmt::format("leads to the same place as buses[{}] ({}); let the instruments share that bus",
                                      i, wire_end(bus)));
        bench.buses.push_back(std::move(bus));
        if (place.wrong()) return;
    }
}

void read_instruments(const Place& root, BenchFile& bench) {
    std::map<std::string, std::size_t> names;
    std::map<std::string, std::size_t> wires;
    const auto places = root.items_at("instruments");
    for (std::size_t i = 0; i < places.size() && !root.wrong(); ++i) {
        auto instrument = read_instrument(places[i], bench);
        if (root.wrong()) return;
        const auto [named, new_name] = names.emplace(instrument.name, i);
        if (!new_name)
            places[i].at("name").say(
                fmt::format("\"{}\" names instruments[{}] already; give each its own", instrument.name, named->second));
        if (const auto wire = wire_place(bench, instrument); !wire.empty()) {
            const auto [read, new_wire] = wires.emplace(wire, i);
            if (!new_wire)
                places[i].say(
                    fmt::format("reads the same as instruments[{}] ({}); give each its own address or register",
                                read->second, wire));
            for (std::size_t j = 0; j < i; ++j)
                if (const auto& other = bench.instruments[j]; other.bus == instrument.bus)
                    if (const auto* a = std::get_if<drivers::TextReading>(&other.profile.how))
                        if (const auto& b = std::get<drivers::TextReading>(instrument.profile.how);
                            a->terminator != b.terminator)
                            places[i].say(fmt::format("ends its lines otherwise than instruments[{}] on the same bus; "
                                                      "one bus has one terminator",
                                                      j));
        }
        bench.instruments.push_back(std::move(instrument));
    }
}

} // namespace stillmark::bench
