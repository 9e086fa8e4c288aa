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
    for (std::size_t at = 0; at < by_size.size();) {
        // A run of discs of one size, which may serve different ranges; those that serve the same stay together.
        const double size_kg = discs[by_size[at]].effective_kg;
        std::size_t end = at + 1;
        while (end < by_size.size() && std::abs(discs[by_size[end]].effective_kg - size_kg) <= alike * size_kg)
            ++end;
        std::vector<std::size_t> run(by_size.begin() + static_cast<std::ptrdiff_t>(at),
                                     by_size.begin() + static_cast<std::ptrdiff_t>(end));
        std::sort(run.begin(), run.end());
        std::stable_sort(run.begin(), run.end(), [&](std::size_t a, std::size_t b) { return serves(a) > serves(b); });
        for (std::size_t i = 0; i < run.size(); ++i) {
            if (i == 0 || serves(run[i]) != order.alike.back().serves)
                order.alike.push_back({order.disc.size(), 0, serves(run[i])});
            ++order.alike.back().count;
            order.disc.push_back(run[i]);
            order.effective.push_back(micrograms(discs[run[i]].effective_kg));
            order.lifted.push_back(micrograms(discs[run[i]].lifted_kg));
        }
        at = end;
    }
    return order;
}

} // namespace stillmark::metrology
