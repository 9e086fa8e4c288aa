#include "drivers/request_plan.hpp"

#include "drivers/register_words.hpp"

#include <algorithm>

namespace stillmark::drivers {
namespace {

constexpr int most_registers = 125; // Modbus Application Protocol V1.1b3, 6.3 and 6.4

int end_of(const protocols::RegisterRequest& request) {
    return request.address + request.count;
}

/// Widens the request to the register, where the rules let it.
bool reach(protocols::RegisterRequest& request, const StatusBits& bits, bool over_gaps) {
    if (request.kind != bits.kind) return false;
    const int first = std::min<int>(request.address, bits.address);
    const int end = std::max(end_of(request), bits.address + 1);
    if (end - first > most_registers) return false;
    const int wanted_gap = end - first - request.count;
    if (!over_gaps && wanted_gap > 1) return false;
    request.address = static_cast<std::uint16_t>(first);
    request.count = static_cast<std::uint16_t>(end - first);
    return true;
}

RegisterPlace place_of(const RequestPlan& plan, protocols::RegisterKind kind, std::uint16_t address) {
    for (std::size_t i = 0; i < plan.requests.size(); ++i) {
        const auto& request = plan.requests[i];
        if (request.kind == kind && address >= request.address && address < end_of(request)) {
            return {i, static_cast<std::size_t>(address - request.address)};
        }
    }
    return {0, 0};
}

} // namespace

RequestPlan plan_requests(const ModbusReading& how, int server, bool over_gaps) {
    RequestPlan plan;
    const auto words = words_of(how.type);
    plan.requests.push_back({server, how.kind, how.address, static_cast<std::uint16_t>(words)});
    // The nearest register first, so that neighbours join one by one.
    std::vector<StatusBits> nearest = how.status;
    std::stable_sort(nearest.begin(), nearest.end(), [&how](const StatusBits& a, const StatusBits& b) {
        return std::abs(a.address - how.address) < std::abs(b.address - how.address);
    });
    for (const auto& bits : nearest) {
        const bool reached = std::any_of(plan.requests.begin(), plan.requests.end(),
                                         [&](auto& request) { return reach(request, bits, over_gaps); });
        if (!reached) plan.requests.push_back({server, bits.kind, bits.address, 1});
    }
    plan.value = place_of(plan, how.kind, how.address);
    for (const auto& bits : how.status)
        plan.status.push_back(place_of(plan, bits.kind, bits.address));

    std::size_t asked = 0;
    for (const auto& request : plan.requests)
        asked += request.count;
    std::vector<std::pair<protocols::RegisterKind, int>> wanted;
    wanted.reserve(static_cast<std::size_t>(words) + how.status.size());
    for (int i = 0; i < words; ++i)
        wanted.emplace_back(how.kind, how.address + i);
    for (const auto& bits : how.status)
        wanted.emplace_back(bits.kind, bits.address);
    std::sort(wanted.begin(), wanted.end());
    wanted.erase(std::unique(wanted.begin(), wanted.end()), wanted.end());
    plan.over_gaps = asked > wanted.size();
    return plan;
}

} // namespace stillmark::drivers
