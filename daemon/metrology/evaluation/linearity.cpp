#include "daemon/metrology/evaluation/linearity.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

namespace stillmark::metrology {

namespace {

struct Points {
    std::span<const double> x, y;
    double cross(std::size_t a, std::size_t b, std::size_t c) const {
        return (x[b] - x[a]) * (y[c] - y[a]) - (y[b] - y[a]) * (x[c] - x[a]);
    }
};

/// Indices of the upper (side 1) or lower (side -1) convex hull, from the left.
std::vector<std::size_t> hull(const Points& points, double side) {
    std::vector<std::size_t> chain;
    for (std::size_t i = 0; i < points.x.size(); ++i) {
        while (chain.size() > 1 && side * points.cross(chain[chain.size() - 2], chain.back(), i) >= 0)
            chain.pop_back();
        chain.push_back(i);
    }
    return chain;
}

struct Strip {
    double slope, lowest, highest;
    double half_width() const { return (highest - lowest) / 2; }
};

Strip strip_along(const Points& points, double slope) {
    Strip strip{slope, std::numeric_limits<double>::infinity(), -std::numeric_limits<double>::infinity()};
    for (std::size_t i = 0; i < points.x.size(); ++i) {
        const double rest = points.y[i] - slope * points.x[i];
        strip.lowest = std::min(strip.lowest, rest);
        strip.highest = std::max(strip.highest, rest);
    }
    return strip;
}

/// The narrowest strip in y that holds all points runs along an edge of their hull.
Strip narrowest(const Points& points) {
    Strip best{0, 0, std::numeric_limits<double>::infinity()};
    for (const double side : {1.0, -1.0}) {
        const auto chain = hull(points, side);
        for (std::size_t i = 1; i < chain.size(); ++i) {
            const double slope =
                (points.y[chain[i]] - points.y[chain[i - 1]]) / (points.x[chain[i]] - points.x[chain[i - 1]]);
            const Strip strip = strip_along(points, slope);
            if (strip.half_width() < best.half_width()) best = strip;
        }
    }
    return best;
}

double largest_distance(const Points& points, double slope) {
    double largest = 0;
    for (std::size_t i = 1; i < points.x.size(); ++i)
        largest = std::max(largest, std::abs(points.y[i] - points.y[0] - slope * (points.x[i] - points.x[0])));
    return largest;
}

/// max |y_i - s x_i| is convex in s: its least value is found between the slopes to the single points by halving the
/// interval where it falls until the two lines that meet there are known.
double best_slope_through_first(const Points& points) {
    const std::size_t n = points.x.size();
    double low = std::numeric_limits<double>::infinity(), high = -low;
    for (std::size_t i = 1; i < n; ++i) {
        const double slope = (points.y[i] - points.y[0]) / (points.x[i] - points.x[0]);
        low = std::min(low, slope);
        high = std::max(high, slope);
    }
    // At the best slope one point lies as far above as another below: the two that decide are those that are farthest
    // above on the left of it and farthest below on the right.
    double slope = (low + high) / 2;
    constexpr int most_steps = 200;
    for (int step = 0; step < most_steps; ++step) {
        std::size_t above = 1, below = 1;
        const auto distance = [&](std::size_t i) {
            return points.y[i] - points.y[0] - slope * (points.x[i] - points.x[0]);
        };
        for (std::size_t i = 1; i < n; ++i) {
            if (distance(i) > distance(above)) above = i;
            if (distance(i) < distance(below)) below = i;
        }
        const double dx = points.x[above] - points.x[0] + points.x[below] - points.x[0];
        const double next = (points.y[above] - points.y[0] + points.y[below] - points.y[0]) / dx;
        if (next == slope || !(std::abs(next - slope) > 1e-15 * (std::abs(next) + std::abs(high - low)))) return next;
        (next > slope ? low : high) = slope;
        slope = next > low && next < high ? next : (low + high) / 2;
    }
    return slope;
}

} // namespace

Linearity linearity(std::span<const double> x, std::span<const double> y) {
    constexpr double none = std::numeric_limits<double>::quiet_NaN();
    if (x.size() < 2 || x.size() != y.size()) return {none, none, none, none, none, none};
    const Points points{x, y};
    Linearity out;
    out.terminal = largest_distance(points, (y.back() - y.front()) / (x.back() - x.front()));
    out.zero_based_slope = best_slope_through_first(points);
    out.zero_based = largest_distance(points, out.zero_based_slope);
    const Strip strip = narrowest(points);
    out.independent = strip.half_width();
    out.independent_slope = strip.slope;
    out.independent_intercept = (strip.lowest + strip.highest) / 2;
    return out;
}

} // namespace stillmark::metrology
