#pragma once

#include "simulator/json_place.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::simulator {

/// What an instrument of this model puts on its wire, as its profile file says; read by the simulator's own eyes.
struct StatusMeaning {
    bool input = false;
    std::uint16_t address = 0;
    std::uint16_t mask = 0;
    std::string means;
};
struct SentinelMeaning {
    std::int64_t raw = 0;
    std::string means;
};
struct Profile {
    std::string file;
    std::string kind; ///< "modbus", "text" or "manual"
    std::string unit;
    double unit_pa = 1;
    double resolution_pa = 0;
    double latency_s = 0;
    // modbus
    bool input = false; ///< input registers (04), else holding registers (03)
    std::uint16_t address = 0;
    std::string type;  ///< "float32", "int16", ...
    std::string order; ///< "abcd", ...
    double scale = 1;
    double offset = 0;
    std::vector<StatusMeaning> status;
    std::vector<SentinelMeaning> sentinels;
    // text
    std::string request;
    std::string identification; ///< a request that is answered by the model; empty where there is none
    std::string model;
    bool knows(const std::string& line) const {
        return line == request || (!identification.empty() && line == identification);
    }
    std::string terminator;
    std::string pattern;
    std::vector<std::string> bad;
    // manual
    double division_pa = 0;
    int parts = 1;
};

/// Throws Mistake.
Profile read_profile(const std::string& path);

} // namespace stillmark::simulator
