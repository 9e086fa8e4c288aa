#include "daemon/metrology/loads/near_loads.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cstdlib>
#include <numeric>

namespace stillmark::metrology {

namespace {

bool lighter(const NearLoad& a, const NearLoad& b) {
    return a.effective < b.effective;
}

/// Every choice of so many of each kind, sorted by sum: one more disc makes sums that are sorted already, and are
/// merged.
std::vector<NearLoad> sums_of(const StackOrder& order, const std::vector<AlikeDiscs>& kinds) {
    std::vector<NearLoad> sums{{}};
    for (const AlikeDiscs& kind : kinds) {
        const std::vector<NearLoad> before = sums;
        Stack stack = 0;
        Micrograms effective = 0;
        for (std::size_t i = kind.first; i < kind.first + kind.count; ++i) {
            stack |= Stack{1} << i;
            effective += order.effective[i];
            const auto middle = static_cast<std::ptrdiff_t>(sums.size());
            for (const NearLoad& one : before)
                sums.push_back({one.stack | stack, one.effective + effective});
            std::inplace_merge(sums.begin(), sums.begin() + middle, sums.end(), lighter);
        }
    }
    return sums;
}

bool fewer_discs(const NearLoad& a, const NearLoad& b) {
    const int na = std::popcount(a.stack), nb = std::popcount(b.stack);
    if (na != nb) return na < nb;
    return a.stack < b.stack;
}

} // namespace

LoadsOfRange::LoadsOfRange(const StackOrder& order, std::size_t range, std::size_t most_in_half) {
    whole_ = order.whole;
    std::vector<AlikeDiscs> kinds;
    for (const AlikeDiscs& kind : order.alike)
        if (range >= kind.serves.size() || kind.serves[range]) kinds.push_back(kind);
    const auto choices = [](const std::vector<AlikeDiscs>& of) {
        double product = 1;
        for (const AlikeDiscs& kind : of)
            product *= static_cast<double>(kind.count + 1);
        return product;
    };
    // Cut where the larger half is smallest.
    std::vector<AlikeDiscs> big, small = kinds;
    while (!small.empty()) {
        const double next = choices(big) * static_cast<double>(small.front().count + 1);
        if (next > choices(small)) break;
        big.push_back(small.front());
        small.erase(small.begin());
    }
    if (!small.empty()) {
        auto other_big = big;
        other_big.push_back(small.front());
        if (choices(other_big) < choices(small)) {
            big = std::move(other_big);
            small.erase(small.begin());
        }
    }
    for (auto* half : {&big, &small})
        while (choices(*half) > static_cast<double>(most_in_half)) {
            whole_ = false;
            auto& most = *std::max_element(half->begin(), half->end(),
                                           [](const AlikeDiscs& a, const AlikeDiscs& b) { return a.count < b.count; });
            if (most.count > 1)
                --most.count;
            else
                half->erase(half->begin());
        }
    big_ = sums_of(order, big);
    small_ = sums_of(order, small);
    // By the number of discs; among as many those that begin with the biggest, which share their lower parts.
    std::array<std::size_t, 66> begin{};
    for (const NearLoad& one : big_)
        ++begin[static_cast<std::size_t>(std::popcount(one.stack)) + 1];
    std::inclusive_scan(begin.begin(), begin.end(), begin.begin());
    big_by_count_.resize(big_.size());
    auto next = begin;
    for (const NearLoad& one : big_)
        big_by_count_[next[static_cast<std::size_t>(std::popcount(one.stack))]++] = one;
    for (std::size_t count = 0; count + 1 < begin.size(); ++count)
        std::sort(big_by_count_.begin() + static_cast<std::ptrdiff_t>(begin[count]),
                  big_by_count_.begin() + static_cast<std::ptrdiff_t>(begin[count + 1]),
                  [](const NearLoad& a, const NearLoad& b) { return a.stack < b.stack; });
}

std::optional<NearLoad> LoadsOfRange::nearest(Micrograms wanted, Micrograms least, Micrograms most) const {
    std::optional<NearLoad> best;
    const auto offer = [&](const NearLoad& a, const NearLoad& b) {
        const NearLoad load{a.stack | b.stack, a.effective + b.effective};
        if (load.effective < least || load.effective > most) return;
        if (best) {
            const auto now = std::abs(load.effective - wanted), then = std::abs(best->effective - wanted);
            if (now > then || (now == then && load.effective >= best->effective)) return;
        }
        best = load;
    };
    // Within bounds and nearest to what is wanted means nearest to what is wanted moved into the bounds.
    const Micrograms aim = std::clamp(wanted, std::min(least, most), most);
    std::size_t at = small_.size(); // the small sums below it are below the rest
    for (const NearLoad& one : big_) {
        const auto below_rest = [&](std::size_t i) { return one.effective + small_[i].effective < aim; };
        while (at > 0 && !below_rest(at - 1))
            --at;
        // The nearest from below, and from above; where the bounds cut one off the other remains.
        if (at > 0) offer(one, small_[at - 1]);
        if (at < small_.size()) offer(one, small_[at]);
        if (best && best->effective == wanted) break; // nothing is nearer
    }
    return best;
}

LoadsOfRange::Found LoadsOfRange::between(Micrograms least, Micrograms most, std::size_t at_most,
                                          std::size_t kept) const {
    const auto from = [&](const NearLoad& one) {
        return std::lower_bound(small_.begin(), small_.end(), least - one.effective,
                                [](const NearLoad& load, Micrograms bound) { return load.effective < bound; });
    };
    // How many there are, in one sweep over both halves.
    std::size_t count = 0;
    {
        std::size_t low = small_.size(), high = small_.size();
        for (const NearLoad& one : big_) {
            while (low > 0 && one.effective + small_[low - 1].effective >= least)
                --low;
            while (high > 0 && one.effective + small_[high - 1].effective > most)
                --high;
            if (high > low) count += high - low;
            if (high == 0 || count > at_most) break;
        }
    }
    Found found;
    found.all = count <= at_most && whole_;
    const std::size_t limit = count <= at_most ? count : kept;
    for (const NearLoad& one : big_by_count_) {
        if (found.loads.size() >= limit) break;
        if (one.effective > most || one.effective + small_.back().effective < least) continue;
        for (auto small = from(one); small != small_.end() && one.effective + small->effective <= most; ++small) {
            if (found.loads.size() >= limit) break;
            found.loads.push_back({one.stack | small->stack, one.effective + small->effective});
        }
    }
    std::sort(found.loads.begin(), found.loads.end(), fewer_discs);
    return found;
}

} // namespace stillmark::metrology
