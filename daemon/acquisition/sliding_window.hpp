#pragma once

#include "daemon/acquisition/line_fit.hpp"
#include "protocols/instant.hpp"

#include <cstddef>
#include <vector>

namespace stillmark::acquisition {

/// The latest readings of a channel and the line through them, at a cost a reading that does not depend on how many
/// they are. Sums are kept about an anchored line (an instant, a pressure, a slope) near the readings, and are made
/// anew from the kept readings every fourth window, and at once where a step of pressure has cost them digits: plain
/// sliding sums, and Welford's with removal, lose every digit within 10^8 readings.
/// The fit agrees with a two-pass computation to about 1e-12 of the residual sum of squares.
class SlidingWindow {
  public:
    /// Room for `usual` readings at first; beyond `most` the oldest ones are forgotten.
    SlidingWindow(std::size_t usual, std::size_t most);

    /// Takes the next reading; stamps never go back and values are finite.
    void push(Micros at_us, double value_pa) {
        if (count_ == ring_.size()) make_room();
        if (count_ == 0) anchor_at(at_us, value_pa);
        ring_[(first_ + count_) & mask_] = {at_us, value_pa};
        const Point point = about_anchor(at(count_));
        if (count_ == 0)
            front_ = point;
        else
            add_pair(back_, point, +1);
        add(point, +1);
        back_ = point;
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
        if (since_rebuild_ >= windows_of_one_anchor * count_) rebuild();
        if (!compute()) {
            rebuild();
            compute();
        }
        return fit_;
    }
    /// The latest fit, while nothing was pushed since.
    const LineFit& latest_fit() const { return fit_; }
    Micros origin_us() const { return anchor_us_; }

  private:
    /// Four cost as few digits as one, and a quarter of its time.
    static constexpr std::size_t windows_of_one_anchor = 4;

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

    struct Point {
        double x, z;
    };

    const Kept& at(std::size_t i) const { return ring_[(first_ + i) & mask_]; }
    Point about_anchor(const Kept& kept) const {
        const double x = 1e-6 * static_cast<double>(kept.at_us - anchor_us_);
        return {x, (kept.value_pa - anchor_pa_) - anchor_slope_ * x};
    }
    void anchor_at(Micros at_us, double value_pa) {
        anchor_us_ = at_us;
        anchor_pa_ = value_pa;
        anchor_slope_ = 0;
        sums_ = {};
        since_rebuild_ = 0;
    }
    void add(const Point& point, double sign) {
        const double signed_x = sign * point.x;
        const double signed_z = sign * point.z;
        sums_.x += signed_x;
        sums_.z += signed_z;
        sums_.xx += signed_x * point.x;
        sums_.xz += signed_x * point.z;
        sums_.zz += signed_z * point.z;
        sums_.spent += point.z * point.z;
    }
    void add_pair(const Point& left, const Point& right, double sign) {
        sums_.pair_xx += sign * (left.x * right.x);
        sums_.pair_xz += sign * (left.x * right.z + left.z * right.x);
        sums_.pair_zz += sign * (left.z * right.z);
    }
    void forget_first() {
        const Point leaving = front_;
        add(leaving, -1);
        if (count_ > 1) {
            front_ = about_anchor(at(1));
            add_pair(leaving, front_, -1);
        }
        first_ = (first_ + 1) & mask_;
        --count_;
    }

    /// False where the sums have lost so many digits that they must be made anew first.
    bool compute() {
        // One part in 10^12 of the residuals is asked for; a thousand times their own size may pass through the sums.
        constexpr double rounding = 0x1p-53;
        constexpr double wanted = 1e-12;
        if (fit_.count != count_) {
            fit_.count = count_;
            const auto count = static_cast<double>(count_);
            fit_.per_count = 1 / count;
            fit_.per_interval = 1 / (count - 1);
            fit_.per_freedom = 1 / (count - 2);
        }
        const Sums& s = sums_;
        const double mean_x = s.x * fit_.per_count;
        const double mean_z = s.z * fit_.per_count;
        const double sxx = s.xx - s.x * mean_x;
        const double sxz = s.xz - s.x * mean_z;
        const double slope = sxx > 0 ? sxz / sxx : 0;
        const double residual = s.zz - s.z * mean_z - slope * sxz;
        if (!fresh_ && !(s.spent * rounding <= wanted * residual)) return false;
        const double level = mean_z - slope * mean_x;
        fit_.span_s = back_.x - front_.x;
        fit_.mean_time_s = mean_x;
        fit_.mean_pa = anchor_pa_ + (mean_z + anchor_slope_ * mean_x);
        fit_.sxx_s2 = sxx;
        fit_.slope_pa_per_s = anchor_slope_ + slope;
        fit_.residual_pa2 = residual > 0 ? residual : 0;
        // Sum of (z - level - slope x)(z' - level - slope x') over neighbours: each point counts twice but the outer
        // ones.
        const double twice_x = 2 * s.x - front_.x - back_.x;
        const double twice_z = 2 * s.z - front_.z - back_.z;
        const double pairs = static_cast<double>(count_ - 1);
        fit_.neighbour_pa2 =
            s.pair_zz - level * (twice_z - pairs * level - slope * twice_x) - slope * (s.pair_xz - slope * s.pair_xx);
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
    bool fresh_ = false; ///< nothing was added since the sums were made anew
    Point front_{};      ///< the first and the last reading about the anchor
    Point back_{};
    Micros anchor_us_ = 0;
    double anchor_pa_ = 0;
    double anchor_slope_ = 0;
    Sums sums_;
    LineFit fit_;
};

} // namespace stillmark::acquisition
