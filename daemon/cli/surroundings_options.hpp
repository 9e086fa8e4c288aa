#pragma once

#include "daemon/metrology/balance.hpp"

#include <string>
#include <vector>

namespace CLI {
class App;
}

namespace stillmark::cli {

/// "a, b,c" as its parts, without the blanks around them and without empty ones.
std::vector<std::string> split_list(const std::string& text);

/// --air and --temperature of the commands that need no service.
struct SurroundingsOptions {
    std::string air;
    std::string temperature;

    void add_to(CLI::App& command);
    /// Puts what was given in the place of the bench file's values, whose uncertainties stay. Says what is wrong and
    /// what would do, or nothing.
    std::string take(metrology::Surroundings& of_air, metrology::Uncertain& piston_temperature_c) const;
};

} // namespace stillmark::cli
