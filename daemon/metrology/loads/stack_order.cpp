#include "daemon/metrology/loads/stack_order.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace stillmark::metrology {

Micrograms micrograms(double kg) {
    constexpr double most = 9e17; // stays clear of overflow when sums are formed
    return static_cast<Micrograms>(std::llround(std::clamp(kg * 1e9, -most, most)));
}

StackOrder stack_order(std::span<const LoadDisc> discs, double alike, std::size_t ranges) {
    constexpr std::size_t places = 64;
    StackOrder order;
    std::vector<std::size_t> by_size(discs.size());
    std::iota(by_size.begin(), by_size.end(), std::size_t{0});
    std::stable_sort(by_size.begin(), by_size.end(),
                     [&](std::size_t a, std::size_t b) { return discs[a].lifted_kg > discs[b].lifted_kg; });
    if (by_size.size() > places) {
        // The small ones are those without which points are missed.
        order.whole = false;
        by_size.erase(by_size.begin(), by_size.end() - static_cast<std::ptrdiff_t>(places));
    }
    const auto serves = [&](std::size_t disc) {
        std::vector<bool> all(ranges, true);
        for (std::size_t i = 0; i < std::min(ranges, discs[disc].serves.size()); ++i)
            all[i] = discs[disc].serves[i];
        return all;
    };
    for (const std::size_t disc : by_size) {
        const double size_kg = order.alike.empty() ? 0 : discs[order.disc[order.alike.back().first]].effective_kg;
        const bool one_more = !order.alike.empty() && serves(disc) == order.alike.back().serves &&
                              std::abs(discs[disc].effective_kg - size_kg) <= alike * size_kg;
        if (!one_more) order.alike.push_back({order.disc.size(), 0, serves(disc)});
        ++order.alike.back().count;
        order.disc.push_back(disc);
        order.effective.push_back(micrograms(discs[disc].effective_kg));
        order.lifted.push_back(micrograms(discs[disc].lifted_kg));
    }
    return order;
}

} // namespace stillmark::metrology
