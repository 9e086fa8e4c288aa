#include "daemon/metrology/propagation/trial_figures.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

namespace stillmark::metrology {

namespace {

/// Of many values, the `size` first in the order given. Only those beyond a limit that is found from every 64th value
/// are looked at, so that most values are read once.
template <class Before>
std::vector<double> first_of(std::span<const double> values, std::size_t size, std::vector<double>& scratch,
                             Before before) {
    constexpr std::size_t stride = 64;
    scratch.clear();
    const std::size_t sampled = values.size() / stride;
    const double of_sample = static_cast<double>(size) / static_cast<double>(stride);
    const auto wanted = static_cast<std::size_t>(of_sample + 4 * std::sqrt(of_sample)) + 1;
    if (sampled >= 1000 && wanted < sampled) {
        for (std::size_t i = 0; i < sampled; ++i)
            scratch.push_back(values[i * stride]);
        const auto place = scratch.begin() + static_cast<std::ptrdiff_t>(wanted);
        std::nth_element(scratch.begin(), place, scratch.end(), before);
        const double limit = *place;
        scratch.clear();
        for (const double value : values)
            if (before(value, limit)) scratch.push_back(value);
    }
    if (scratch.size() < size) scratch.assign(values.begin(), values.end());
    const auto end = scratch.begin() + static_cast<std::ptrdiff_t>(size);
    if (end != scratch.end()) std::nth_element(scratch.begin(), end, scratch.end(), before);
    std::vector<double> first(scratch.begin(), end);
    std::sort(first.begin(), first.end(), before);
    return first;
}

double width(const Tails& tails, std::size_t r) {
    return tails.high[r] - tails.low[r];
}

/// Where a parabola through the widths around the least one has its least. The widths are a random walk about a smooth
/// curve: the least of them alone settles only with the cube root of the number of trials, the parabola's with its
/// square root.
std::size_t smoothed_place(const Tails& tails, std::size_t least) {
    constexpr std::size_t part = 6; ///< of all widths, on either side
    const std::size_t reach = tails.low.size() / part;
    if (reach < 10) return least;
    const std::size_t first = least - std::min(least, reach);
    const std::size_t last = std::min(least + reach, tails.low.size() - 1);
    const double middle = static_cast<double>(first + last) / 2;
    const double half = static_cast<double>(last - first) / 2;
    // Least squares of a + b x + c x^2, x from -1 to 1; the sums of odd powers are zero.
    double sum_w = 0, sum_xw = 0, sum_x2w = 0, sum_x2 = 0, sum_x4 = 0;
    const auto n = static_cast<double>(last - first + 1);
    for (std::size_t r = first; r <= last; ++r) {
        const double x = (static_cast<double>(r) - middle) / half;
        const double w = width(tails, r) - width(tails, least);
        sum_w += w;
        sum_xw += x * w;
        sum_x2w += x * x * w;
        sum_x2 += x * x;
        sum_x4 += x * x * x * x;
    }
    const double slope = sum_xw / sum_x2;
    const double curvature = (sum_x2w - sum_x2 * sum_w / n) / (sum_x4 - sum_x2 * sum_x2 / n);
    if (!(curvature > 0)) return least;
    const double vertex = std::clamp(-slope / (2 * curvature), -1.0, 1.0);
    return static_cast<std::size_t>(std::lround(middle + half * vertex));
}

} // namespace

std::size_t tail_size(std::size_t values, double coverage) {
    const double inside = coverage * static_cast<double>(values);
    const double whole = std::round(inside);
    // A product that is whole but for its rounding counts as whole.
    const double q = std::abs(inside - whole) < 1e-9 * inside ? whole : std::floor(inside + 0.5);
    return values - std::min(values - 1, static_cast<std::size_t>(q));
}

Tails tails_of(std::span<const double> values, std::size_t size, std::vector<double>& scratch) {
    Tails tails;
    tails.low = first_of(values, size, scratch, std::less<>());
    tails.high = first_of(values, size, scratch, std::greater<>());
    std::reverse(tails.high.begin(), tails.high.end());
    return tails;
}

Interval shortest_interval(const Tails& tails) {
    // With M values, q inside and M - q in each tail, interval r goes from value r to value r + q.
    std::size_t best = 0;
    for (std::size_t r = 1; r < tails.low.size(); ++r)
        if (width(tails, r) < width(tails, best)) best = r;
    best = smoothed_place(tails, best);
    return {tails.low[best], tails.high[best]};
}

Interval symmetric_interval(const Tails& tails) {
    // r = (M - q)/2, or half a step more; the first value has number 1.
    const std::size_t outside = tails.low.size();
    const std::size_t r = (outside + 1) / 2 - 1;
    return {tails.low[r], tails.high[r]};
}

} // namespace stillmark::metrology
