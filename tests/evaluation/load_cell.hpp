#pragma once

#include <fstream>
#include <sstream>
#include <string>
#include <vector>

namespace stillmark::metrology {

/// Pontius, NIST StRD: two passes of a load cell over 20 loads; the e-Handbook's case study 4.6.1 evaluates it.
struct LoadCell {
    std::vector<double> load, deflection;
    std::vector<std::size_t> point;
};

inline LoadCell load_cell() {
    std::ifstream file(std::string(STILLMARK_SOURCE_DIR) + "/tests/evaluation/data/load_cell.csv");
    LoadCell out;
    std::string line;
    std::getline(file, line);
    while (std::getline(file, line)) {
        std::istringstream cells(line);
        std::string series, direction, load, deflection;
        std::getline(cells, series, ',');
        std::getline(cells, direction, ',');
        std::getline(cells, load, ',');
        std::getline(cells, deflection, ',');
        out.load.push_back(std::stod(load));
        out.deflection.push_back(std::stod(deflection));
        out.point.push_back(out.point.size() % 20);
    }
    return out;
}

} // namespace stillmark::metrology
