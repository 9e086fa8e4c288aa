#pragma once

#include <nlohmann/json.hpp>

#include <fstream>
#include <string>

namespace stillmark::simulator {

/// What the operator did and said, one JSON object a line, with the instant (us of CLOCK_BOOTTIME).
class Notes {
  public:
    explicit Notes(const std::string& path); ///< empty: kept nowhere; throws Mistake
    void write(const std::string& what, nlohmann::json details = nlohmann::json::object());

  private:
    std::ofstream file_;
};

} // namespace stillmark::simulator
