#include "daemon/cli/surroundings_options.hpp"

#include "daemon/bench/bench_parts.hpp"
#include "drivers/units.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

namespace stillmark::cli {

std::vector<std::string> split_list(const std::string& text) {
    std::vector<std::string> parts;
    std::string part;
    for (const char c : text + ",") {
        if (c != ',') {
            part += c;
            continue;
        }
        const auto first = part.find_first_not_of(' ');
        if (first != std::string::npos) parts.push_back(part.substr(first, part.find_last_not_of(' ') - first + 1));
        part.clear();
    }
    return parts;
}

void SurroundingsOptions::add_to(CLI::App& command) {
    command.add_option("--temperature", temperature, "Piston temperature, \"23 degC\" (default: the bench file's)");
    command.add_option("--air", air, "Air, \"20 degC,1013.25 hPa,50 %\" (default: the bench file's)");
}

std::string SurroundingsOptions::take(metrology::Surroundings& of_air,
                                      metrology::Uncertain& piston_temperature_c) const {
    std::string wrong;
    const auto read = [&](const char* option, const std::string& text, drivers::Dimension dimension, double& to) {
        if (!wrong.empty()) return;
        const auto value = drivers::parse_quantity(text, dimension);
        if (value)
            to = *value;
        else
            wrong = fmt::format("{}: {}", option, value.error().message);
    };
    if (!air.empty()) {
        const auto parts = split_list(air);
        if (parts.size() != 3)
            return "--air: give temperature, pressure and humidity, for example \"20 degC,1013.25 hPa,50 %\"";
        read("--air", parts[0], drivers::Dimension::temperature, of_air.temperature_c.value);
        read("--air", parts[1], drivers::Dimension::pressure, of_air.pressure_pa.value);
        read("--air", parts[2], drivers::Dimension::fraction, of_air.humidity.value);
        if (wrong.empty())
            if (const auto objection = bench::surroundings_objection(of_air); !objection.empty())
                return "--air: " + objection;
    }
    if (!temperature.empty()) {
        read("--temperature", temperature, drivers::Dimension::temperature, piston_temperature_c.value);
        if (wrong.empty() && !(piston_temperature_c.value > -20 && piston_temperature_c.value < 80))
            return "--temperature: a piston is at -20 to 80 degC";
    }
    return wrong;
}

} // namespace stillmark::cli
