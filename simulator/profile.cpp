#include "simulator/profile.hpp"

#include "simulator/mistake.hpp"

#include <fmt/format.h>

#include <filesystem>

namespace stillmark::simulator {

namespace {

bool reads_input(const JsonPlace& place) {
    const auto function = place.at("function").text();
    if (function == "input registers") return true;
    if (function != "holding registers") place.at("function").refuse(fmt::format("\"{}\" is not served", function));
    return false;
}

std::uint16_t register_address(const JsonPlace& place) {
    const auto address = place.whole();
    if (address < 0 || address > 65535) place.refuse("an address is 0 to 65535");
    return static_cast<std::uint16_t>(address);
}

void read_modbus(const JsonPlace& reading, Profile& to) {
    to.input = reads_input(reading);
    to.address = register_address(reading.at("address"));
    to.type = reading.at("type").text();
    to.order = reading.text_or("order", "abcd");
    to.scale = reading.number_or("scale", 1);
    to.offset = reading.number_or("offset", 0);
    if (reading.has("sentinels"))
        for (const auto& item : reading.at("sentinels").items())
            to.sentinels.push_back({item.at("raw").whole(), item.at("means").text()});
    if (reading.has("status"))
        for (const auto& item : reading.at("status").items()) {
            const auto mask = item.at("mask").text();
            to.status.push_back({reads_input(item), register_address(item.at("address")),
                                 static_cast<std::uint16_t>(std::stoul(mask, nullptr, 0)), item.at("means").text()});
        }
}

} // namespace

Profile read_profile(const std::string& path) {
    const auto json = read_json_file(path);
    const JsonPlace root(json, std::filesystem::path(path).filename().string());
    Profile profile;
    profile.file = path;
    profile.kind = root.at("kind").text();
    profile.unit = root.at("unit").text();
    profile.unit_pa = pascals_in(profile.unit);
    profile.resolution_pa = root.quantity_or("resolution", pressure_kind, 0);
    profile.latency_s = root.quantity_or("latency", time_kind, 0);
    const auto reading = root.at("reading");
    if (profile.kind == "modbus") {
        read_modbus(reading, profile);
    } else if (profile.kind == "text") {
        profile.request = reading.at("request").text();
        profile.model = root.at("model").text();
        if (reading.has("identification")) profile.identification = reading.at("identification").at("request").text();
        profile.terminator = reading.at("terminator").text();
        profile.pattern = reading.at("pattern").text();
        if (reading.has("bad"))
            for (const auto& item : reading.at("bad").items())
                profile.bad.push_back(item.text());
    } else if (profile.kind == "manual") {
        profile.division_pa = reading.at("division").quantity(pressure_kind);
        profile.parts = static_cast<int>(reading.at("parts").whole());
    } else {
        root.at("kind").refuse(fmt::format("\"{}\" is not simulated", profile.kind));
    }
    return profile;
}

} // namespace stillmark::simulator
