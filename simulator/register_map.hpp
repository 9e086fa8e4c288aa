#pragma once

#include "simulator/profile.hpp"

#include <cstdint>
#include <map>
#include <string>
#include <vector>

namespace stillmark::simulator {

/// The registers of one instrument at one moment, by function (03 holding, 04 input) and 0-based address.
class RegisterMap {
  public:
    void put(bool input, std::uint16_t address, std::uint16_t value) { (input ? input_ : holding_)[address] = value; }
    /// False where one of the addresses does not exist.
    bool get(bool input, std::uint16_t address, std::uint16_t count, std::vector<std::uint16_t>& to) const;

  private:
    std::map<std::uint16_t, std::uint16_t> input_;
    std::map<std::uint16_t, std::uint16_t> holding_;
};

/// What the instrument says of itself beside its number.
struct SelfReport {
    bool swapped_words = false; ///< sends its words in the other order than its maker says
    std::string means;          ///< "", "instrument_fault", "under_range" or "over_range"
};

/// The registers that show this pressure as the profile says. A number too large for its type stays at the type's end.
RegisterMap registers_of(const Profile& profile, double pressure_pa, const SelfReport& report);

} // namespace stillmark::simulator
