#pragma once

#include "daemon/acquisition/line_fit.hpp"
#include "protocols/instant.hpp"

#include <cstddef>
#include <vector>

namespace stillmark::acquisition {

/// The latest readings of a channel and the line through them, at a cost a reading that does not depend on how many
/// they are. Sums are kept about an anchored line (an instant, a pressure, a slope) near the readings, and are made
/// anew from the kept readings once a window, and at once where a step of pressure has cost them digits: plain
/// sliding sums, and Welford's with removal, lose every digit within 10^8 readings.
/// The fit agrees with a two-pass computation to about 1e-12 of the residual sum of squares.
class SlidingWindow {
  public:
    /// Room for `usual` readings at first; beyond `most` the oldest ones are forgotten.
    SlidingWindow(std::size_t usual, std::size_t most);

    /// Takes the next reading; stamps never go back and values are finite.
    void push(Micros at_us, double value_pa) {
        if (count_ == 0) anchor_at(at_us, value_pa);
        if (count_ == ring_.size()) make_room();
        ring_[(first_ + count_) & mask_] = {at_us, value_pa};
        if (count_ > 0) add_pair(at(count_ - 1), at(count_), +1);
        add(at(count_), +1);
        ++count_;
        ++since_rebuild_;
    }

    /// Forgets what is older than needed to reach back to `horizon_us`: the last reading at or before it stays.
    void reach_back_to(Micros horizon_us) {
        while (count_ > 2 && at(1).at_us <= horizon_us)
            forget_first();
    }
    void keep_last(std::size_t count) {
        while (count_ > count)
            forget_first();
    }
    void clear() { count_ = 0; }

    std::size_t count() const { return count_; }
    Micros first_at_us() const { return at(0).at_us; }
    Micros last_at_us() const { return at(count_ - 1).at_us; }
    Micros span_us() const { return count_ == 0 ? 0 : last_at_us() - first_at_us(); }

    /// The line through the readings; `mean_time_s` counts from origin_us(). At least one reading.
    const LineFit& fit() {
        if (since_rebuild_ >= count_) rebuild();
        if (!compute()) {
            rebuild();
            compute();
        }
        return fit_;
    }
    Micros origin_us() const { return anchor_us_; }

  private:
    struct Kept {
        Micros at_us;
        double value_pa;
    };
    /// About the anchored line: x seconds, z pascals.
    struct Sums {
        double x = 0, xx = 0, z = 0, xz = 0, zz = 0;
        double pair_xx = 0, pair_xz = 0, pair_zz = 0; ///< over neighbours: x x', x z' + z x', z z'
        double spent = 0; ///< all z z ever added or taken away: what rounding errors scale with
    };

    const Kept& at(std::size_t i) const { return ring_[(first_ + i) & mask_]; }
    double x_of(const Kept& kept) const { return 1e-6 * static_cast<double>(kept.at_us - anchor_us_); }
    double z_of(const Kept& kept, double x) const { return (kept.value_pa - anchor_pa_) - anchor_slope_ * x; }

    void anchor_at(Micros at_us, double value_pa) {
        anchor_us_ = at_us;
        anchor_pa_ = value_pa;
        anchor_slope_ = 0;
        sums_ = {};
        since_rebuild_ = 0;
    }
    void add(const Kept& kept, double sign) {
        const double x = x_of(kept);
        const double z = z_of(kept, x);
        sums_.x += sign * x;
        sums_.xx += sign * x * x;
        sums_.z += sign * z;
        sums_.xz += sign * x * z;
        sums_.zz += sign * z * z;
        sums_.spent += z * z;
    }
    void add_pair(const Kept& left, const Kept& right, double sign) {
        const double x = x_of(left);
        const double z = z_of(left, x);
        const double next_x = x_of(right);
        const double next_z = z_of(right, next_x);
        sums_.pair_xx += sign * x * next_x;
        sums_.pair_xz += sign * (x * next_z + z * next_x);
        sums_.pair_zz += sign * z * next_z;
    }
    void forget_first() {
        if (count_ > 1) add_pair(at(0), at(1), -1);
        add(at(0), -1);
        first_ = (first_ + 1) & mask_;
        --count_;
    }

    /// False where the sums have lost so many digits that they must be made anew first.
    bool compute() {
        // One part in 10^12 of the residuals is asked for; a thousand times their own size may pass through the sums.
        constexpr double rounding = 0x1p-53;
        constexpr double wanted = 1e-12;
        const auto n = static_cast<double>(count_);
        const double mean_x = sums_.x / n;
        const double mean_z = sums_.z / n;
        const double sxx = sums_.xx - sums_.x * mean_x;
        const double sxz = sums_.xz - sums_.x * mean_z;
        const double slope = sxx > 0 ? sxz / sxx : 0;
        const double residual = sums_.zz - sums_.z * mean_z - slope * sxz;
        if (!fresh_ && !(sums_.spent * rounding <= wanted * residual)) return false;
        const Kept& first = at(0);
        const Kept& last = at(count_ - 1);
        const double first_x = x_of(first);
        const double last_x = x_of(last);
        const double first_z = z_of(first, first_x);
        const double last_z = z_of(last, last_x);
        const double level = mean_z - slope * mean_x;
        fit_.count = count_;
        fit_.span_s = last_x - first_x;
        fit_.mean_time_s = mean_x;
        fit_.mean_pa = anchor_pa_ + (mean_z + anchor_slope_ * mean_x);
        fit_.sxx_s2 = sxx;
        fit_.slope_pa_per_s = anchor_slope_ + slope;
        fit_.residual_pa2 = residual > 0 ? residual : 0;
        // Sum of (z - level - slope x)(z' - level - slope x') over neighbours.
        fit_.neighbour_pa2 = sums_.pair_zz - level * (2 * sums_.z - first_z - last_z) - slope * sums_.pair_xz +
                             (n - 1) * level * level + level * slope * (2 * sums_.x - first_x - last_x) +
                             slope * slope * sums_.pair_xx;
        fresh_ = false;
        return true;
    }

    void make_room();
    void rebuild();

    std::vector<Kept> ring_; ///< its size is a power of two
    std::size_t mask_;
    std::size_t most_;
    std::size_t first_ = 0;
    std::size_t count_ = 0;
    std::size_t since_rebuild_ = 0;
    bool fresh_ = false;
    Micros anchor_us_ = 0;
    double anchor_pa_ = 0;
    double anchor_slope_ = 0;
    Sums sums_;
    LineFit fit_;
};

} // namespace stillmark::acquisition
