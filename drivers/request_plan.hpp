#pragma once

#include "drivers/profile.hpp"

#include <cstddef>
#include <vector>

namespace stillmark::drivers {

/// Where a register stands among the replies of a plan.
struct RegisterPlace {
    std::size_t request;
    std::size_t offset;
};

/// The requests that bring an instrument's value and status, the value's first.
struct RequestPlan {
    std::vector<protocols::RegisterRequest> requests;
    RegisterPlace value;
    std::vector<RegisterPlace> status; ///< one for each StatusBits
    bool over_gaps = false;            ///< some register between is asked for that nobody wants
};

/// As few requests as reach all registers, each of at most 125. `over_gaps` lets a request take along registers that
/// the profile does not name; some instruments refuse that, and are then asked without.
RequestPlan plan_requests(const ModbusReading& how, int server, bool over_gaps);

} // namespace stillmark::drivers
