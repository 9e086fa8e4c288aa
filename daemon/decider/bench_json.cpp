#include "daemon/decider/bench_json.hpp"

#include <cmath>

namespace stillmark::decider {

using nlohmann::json;

namespace {

struct BusKind {
    const char* operator()(const bench::ModbusRtuBus&) const { return "Modbus RTU"; }
    const char* operator()(const bench::ModbusTcpBus&) const { return "Modbus TCP"; }
    const char* operator()(const bench::TextSerialBus&) const { return "text on a serial line"; }
    const char* operator()(const bench::TextTcpBus&) const { return "text on a socket"; }
};

json positive_or_null(double value) {
    return value > 0 ? json(value) : json(nullptr);
}

json ranges(const bench::BenchFile& bench) {
    json list = json::array();
    for (const auto& one : bench.balance.ranges)
        list.push_back({{"name", one.physics.name},
                        {"lowest_pa", one.lowest_pa},
                        {"highest_pa", one.highest_pa},
                        {"float_band_m", one.float_band_m},
                        {"spin_time_s", positive_or_null(one.spin_time_s)},
                        {"valves", one.valves}});
    return list;
}

json discs(const bench::BenchFile& bench) {
    json list = json::array();
    for (const auto& one : bench.discs)
        list.push_back({{"name", one.piece.name}, {"mass_kg", one.piece.mass_kg.value}, {"two_hands", one.two_hands}});
    return list;
}

json instruments(const bench::BenchFile& bench) {
    json list = json::array();
    for (const auto& one : bench.instruments) {
        json division = nullptr, parts = nullptr;
        if (const auto* dial = std::get_if<drivers::ManualReading>(&one.profile.how)) {
            division = dial->division_si / one.profile.unit.pascals;
            parts = dial->parts;
        }
        list.push_back(
            {{"name", one.name},
             {"serial", one.serial},
             {"model", one.profile.model},
             {"unit", one.unit.symbol},
             {"pascals_per_unit", one.unit.pascals},
             {"resolution_pa", one.resolution_pa},
             {"span_low_pa", one.span_low_pa},
             {"span_high_pa", one.span_high_pa},
             {"rating_pa", one.rating_pa},
             {"mpe_pa", positive_or_null(one.mpe_pa)},
             {"permissible_error", one.permissible ? json(metrology::english(one.permissible->words)) : json(nullptr)},
             {"manual", one.manual()},
             {"pointer_stop", one.pointer_stop},
             {"division", std::move(division)},
             {"parts", std::move(parts)},
             {"window_s", one.limits.window_s},
             {"hold_s", one.limits.hold_s},
             {"poll_us", one.manual() ? json(nullptr) : json(static_cast<std::int64_t>(one.poll_s * 1e6))},
             {"bus", one.bus ? json(bench.buses[*one.bus].name) : json(nullptr)}});
    }
    return list;
}

json sequences(const bench::BenchFile& bench) {
    json list = json::array();
    for (const auto& one : bench.sequences) {
        json points = json::array();
        for (const auto& point : one.points) {
            json names = json::array();
            for (const auto disc : point.discs)
                names.push_back(bench.discs[disc].piece.name);
            points.push_back(
                {{"target", point.target},
                 {"target_pa", point.target_pa},
                 {"range", point.zero ? json(nullptr) : json(bench.balance.ranges[point.range].physics.name)},
                 {"overlap", point.overlap},
                 {"zero", point.zero},
                 {"discs", std::move(names)}});
        }
        json series = json::array();
        for (const auto& pass : one.series)
            series.push_back({{"direction", bench::word(pass.direction)}, {"points", pass.points.size()}});
        list.push_back({{"name", one.name},
                        {"title", one.title},
                        {"method", one.method.empty() ? json(nullptr) : json(one.method)},
                        {"preloads", one.preloads},
                        {"points", std::move(points)},
                        {"series", std::move(series)}});
    }
    return list;
}

} // namespace

json bench_json(const bench::BenchFile& bench) {
    json buses = json::array();
    for (const auto& one : bench.buses)
        buses.push_back({{"name", one.name}, {"kind", std::visit(BusKind(), one.wire)}});
    return {{"name", bench.name},
            {"laboratory", bench.laboratory},
            {"revision", bench.revision},
            {"balance", {{"name", bench.balance.name}, {"serial", bench.balance.serial}}},
            {"level_mark", bench.balance.level_mark},
            {"weakest", {{"part", bench.weakest().part}, {"rating_pa", bench.weakest().rating_pa}}},
            {"ranges", ranges(bench)},
            {"discs", discs(bench)},
            {"buses", std::move(buses)},
            {"instruments", instruments(bench)},
            {"sequences", sequences(bench)},
            {"surroundings",
             {{"lowest_c", bench.surroundings.lowest_c},
              {"highest_c", bench.surroundings.highest_c},
              {"drift_k", bench.surroundings.drift_k},
              {"valid_s", bench.surroundings.valid_s},
              {"air_pressure_valid_s", bench.surroundings.air_pressure_valid_s},
              {"air_pressure_drift_pa", std::isfinite(bench.surroundings.air_pressure_drift_pa)
                                            ? json(bench.surroundings.air_pressure_drift_pa)
                                            : json(nullptr)}}}};
}

} // namespace stillmark::decider
