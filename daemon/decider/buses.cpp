#include "daemon/decider/buses.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <limits>

namespace stillmark::decider {

namespace {

protocols::SerialSettings beside_bench(protocols::SerialSettings line, const bench::BenchFile& bench) {
    if (const std::filesystem::path device = line.device; device.is_relative())
        line.device = (std::filesystem::absolute(bench.path).parent_path() / device).string();
    return line;
}

struct Links {
    std::shared_ptr<protocols::ModbusLink> modbus;
    std::shared_ptr<protocols::TextLink> text;
};

Links open_links(const bench::BenchFile& bench, const bench::Bus& bus, const std::string& terminator) {
    Links links;
    if (const auto* rtu = std::get_if<bench::ModbusRtuBus>(&bus.wire))
        links.modbus = protocols::make_modbus_rtu_link(beside_bench(rtu->line, bench));
    else if (const auto* tcp = std::get_if<bench::ModbusTcpBus>(&bus.wire))
        links.modbus = protocols::make_modbus_tcp_link(tcp->to);
    else if (const auto* serial = std::get_if<bench::TextSerialBus>(&bus.wire))
        links.text = protocols::make_text_serial_link(beside_bench(serial->line, bench), terminator);
    else
        links.text = protocols::make_text_tcp_link(std::get<bench::TextTcpBus>(bus.wire).to, terminator);
    return links;
}

} // namespace

std::vector<acquisition::BusPlan> bus_plans(const bench::BenchFile& bench) {
    std::vector<acquisition::BusPlan> plans;
    Micros shortest_us = std::numeric_limits<Micros>::max();
    for (std::size_t b = 0; b < bench.buses.size(); ++b) {
        acquisition::BusPlan plan;
        plan.name = bench.buses[b].name;
        Links links;
        for (std::size_t i = 0; i < bench.instruments.size(); ++i) {
            const auto& instrument = bench.instruments[i];
            if (instrument.bus != b) continue;
            const auto* text = std::get_if<drivers::TextReading>(&instrument.profile.how);
            if (plan.channels.empty())
                links = open_links(bench, bench.buses[b], text != nullptr ? text->terminator : "");
            acquisition::PolledChannel channel;
            channel.channel = static_cast<std::uint32_t>(i);
            channel.period_us = static_cast<Micros>(std::llround(instrument.poll_s * 1e6));
            channel.name = instrument.name;
            channel.driver = text != nullptr
                                 ? drivers::make_text_driver(instrument.profile, *links.text)
                                 : drivers::make_modbus_driver(instrument.profile, *links.modbus, instrument.server);
            shortest_us = std::min(shortest_us, channel.period_us);
            plan.channels.push_back(std::move(channel));
        }
        if (plan.channels.empty()) continue;
        if (links.modbus)
            plan.link = links.modbus;
        else
            plan.link = links.text;
        plans.push_back(std::move(plan));
    }
    const auto phases = acquisition::spread_phases(plans.size(), plans.empty() ? 0 : shortest_us);
    for (std::size_t i = 0; i < plans.size(); ++i)
        plans[i].phase_us = phases[i];
    return plans;
}

} // namespace stillmark::decider
