#include "daemon/metrology/loads/load_plan.hpp"

#include "daemon/metrology/loads/near_loads.hpp"

#include <algorithm>
#include <bit>
#include <cstdlib>
#include <map>
#include <tuple>
#include <unordered_map>

namespace stillmark::metrology {

namespace {

/// Compared in this order.
struct Cost {
    std::int64_t lifts = 0;
    Micrograms lifted = 0;
    Micrograms distance = 0;

    bool operator<(const Cost& other) const {
        return std::tie(lifts, lifted, distance) < std::tie(other.lifts, other.lifted, other.distance);
    }
    Cost operator+(const Cost& other) const {
        return {lifts + other.lifts, lifted + other.lifted, distance + other.distance};
    }
};

/// A load of a point with the cheapest way to come to it.
struct Reached {
    NearLoad load;
    Cost cost;
    std::size_t before = 0; ///< which load of the point before
};

/// The cheapest way to stand with just this lower part of a stack on the head, everything above it taken off.
struct Part {
    Cost cost;
    std::size_t load = 0;
};

class StackPlanner {
  public:
    StackPlanner(std::span<const LoadDisc> discs, std::span<const LoadPoint> points, const PlanEffort& effort)
        : points_(points), effort_(effort), order_(stack_order(discs, effort.alike, ranges_of(discs, points))) {}

    LoadPlan plan(std::span<const std::size_t> at_start) {
        LoadPlan plan;
        plan.proven = order_.whole;
        plan.stacks.resize(points_.size());
        std::vector<std::vector<Reached>> reached;
        std::vector<std::size_t> possible;
        leave({{{stack_of(at_start), 0}, {}, 0}});
        for (std::size_t i = 0; i < points_.size(); ++i) {
            auto loads = loads_for(points_[i], plan.stacks[i], plan.proven);
            if (loads.empty()) continue; // the head stays as it is
            for (Reached& one : loads)
                arrive(one, micrograms(points_[i].wanted_kg));
            leave(loads);
            reached.push_back(std::move(loads));
            possible.push_back(i);
        }
        if (reached.empty()) return plan;
        const auto& last = reached.back();
        std::size_t at = static_cast<std::size_t>(
            std::min_element(last.begin(), last.end(),
                             [](const Reached& a, const Reached& b) { return a.cost < b.cost; }) -
            last.begin());
        plan.lifts = last[at].cost.lifts;
        plan.lifted_kg = static_cast<double>(last[at].cost.lifted) * 1e-9;
        for (std::size_t i = reached.size(); i-- > 0;) {
            const Reached& one = reached[i][at];
            PlannedStack& stack = plan.stacks[possible[i]];
            stack.effective_kg = static_cast<double>(one.load.effective) * 1e-9;
            for (Stack rest = one.load.stack; rest != 0; rest &= rest - 1)
                stack.discs.push_back(order_.disc[static_cast<std::size_t>(std::countr_zero(rest))]);
            at = one.before;
        }
        return plan;
    }

  private:
    static std::size_t ranges_of(std::span<const LoadDisc> discs, std::span<const LoadPoint> points) {
        std::size_t ranges = 1;
        for (const LoadDisc& disc : discs)
            ranges = std::max(ranges, disc.serves.size());
        for (const LoadPoint& point : points)
            ranges = std::max(ranges, point.range + 1);
        return ranges;
    }

    Stack stack_of(std::span<const std::size_t> discs) const {
        Stack stack = 0;
        for (std::size_t place = 0; place < order_.disc.size(); ++place)
            if (std::find(discs.begin(), discs.end(), order_.disc[place]) != discs.end()) stack |= Stack{1} << place;
        return stack;
    }

    std::vector<Reached> loads_for(const LoadPoint& point, PlannedStack& stack, bool& proven) {
        const auto range = ranges_.try_emplace(point.range, order_, point.range).first;
        const LoadsOfRange& loads = range->second;
        const Micrograms wanted = micrograms(point.wanted_kg), least = micrograms(point.least_kg),
                         most = micrograms(point.most_kg);
        const auto nearest = loads.nearest(wanted, least, most);
        if (!loads.whole()) proven = false;
        if (!nearest) return {};
        stack.possible = true;
        stack.nearest_kg = static_cast<double>(nearest->effective) * 1e-9;
        const Micrograms reach = std::abs(nearest->effective - wanted) + micrograms(point.tolerance_kg);
        auto found = loads.between(std::max(least, wanted - reach), std::min(most, wanted + reach), effort_.most_loads,
                                   effort_.kept_loads);
        if (!found.all) {
            proven = false;
            found.loads.push_back(*nearest);
        }
        std::vector<Reached> candidates;
        candidates.reserve(found.loads.size());
        for (const NearLoad& load : found.loads)
            candidates.push_back({load, {}, 0});
        return candidates;
    }

    Cost lifting(std::size_t place) const { return {1, order_.lifted[place], 0}; }

    /// Every lower part of every stack, with the cheapest stack to come from. Because taking more off than is needed
    /// never costs less, the cheapest way over all common parts is the way over the longest.
    void leave(const std::vector<Reached>& loads) {
        parts_.clear();
        for (std::size_t i = 0; i < loads.size(); ++i) {
            Cost cost = loads[i].cost;
            Stack part = loads[i].load.stack;
            while (true) {
                const auto [at, is_new] = parts_.try_emplace(part, Part{cost, i});
                if (!is_new && cost < at->second.cost) at->second = {cost, i};
                if (part == 0) break;
                const auto top = static_cast<std::size_t>(std::bit_width(part) - 1);
                part &= ~(Stack{1} << top);
                cost = cost + lifting(top);
            }
        }
    }

    void arrive(Reached& to, Micrograms wanted) const {
        bool any = false;
        Cost cost{0, 0, std::abs(to.load.effective - wanted)};
        Stack part = to.load.stack;
        while (true) {
            if (const auto from = parts_.find(part); from != parts_.end()) {
                const Cost whole = from->second.cost + cost;
                if (!any || whole < to.cost) {
                    to.cost = whole;
                    to.before = from->second.load;
                    any = true;
                }
            }
            if (part == 0) break;
            const auto top = static_cast<std::size_t>(std::bit_width(part) - 1);
            part &= ~(Stack{1} << top);
            cost = cost + lifting(top);
        }
    }

    std::span<const LoadPoint> points_;
    PlanEffort effort_;
    StackOrder order_;
    std::map<std::size_t, LoadsOfRange> ranges_;
    std::unordered_map<Stack, Part> parts_;
};

} // namespace

LoadPlan plan_stacks(std::span<const LoadDisc> discs, std::span<const LoadPoint> points,
                     std::span<const std::size_t> at_start, const PlanEffort& effort) {
    return StackPlanner(discs, points, effort).plan(at_start);
}

} // namespace stillmark::metrology
