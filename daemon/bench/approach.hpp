#pragma once

#include "daemon/bench/bench_file.hpp"

#include <limits>
#include <optional>

namespace stillmark::bench {

/// How a pressure was reached, from readings in order: the farthest good one beyond, in the direction of the series,
/// since the readings were last clearly on the side that they should come from. Going back below (rising) and returning
/// is the remedy of an overshoot, so it begins the watch anew. Pressures in Pa.
class ApproachWatch {
  public:
    /// `target_pa`: where the readings are to come to rest; `return_pa`: how far on the right side is clearly there.
    ApproachWatch(Direction direction, double target_pa, double return_pa)
        : sign_(direction == Direction::falling ? -1.0 : 1.0), target_(sign_ * target_pa), return_(return_pa) {}

    void take(double value_pa) {
        const double along = sign_ * value_pa;
        if (along < target_ - return_)
            farthest_.reset();
        else if (!farthest_ || along > *farthest_)
            farthest_ = along;
    }
    /// The farthest reading, as a pressure; none where every reading is still on the right side.
    std::optional<double> farthest_pa() const {
        if (!farthest_) return std::nullopt;
        return sign_ * *farthest_;
    }
    /// How far beyond `rest_pa` the farthest reading lay, Pa; not positive where none was beyond.
    double beyond_pa(double rest_pa) const {
        return farthest_ ? *farthest_ - sign_ * rest_pa : -std::numeric_limits<double>::infinity();
    }

    /// How far `value_pa` has yet to go to the target in the direction of the series, Pa; negative: beyond.
    double to_go_pa(double value_pa) const { return target_ - sign_ * value_pa; }
    /// A change of pressure as one towards the target: positive where it comes nearer from the right side.
    double towards(double change_pa) const { return sign_ * change_pa; }

    /// How far beyond the target the farthest reading lay, Pa.
    double beyond_target_pa() const {
        return farthest_ ? *farthest_ - target_ : -std::numeric_limits<double>::infinity();
    }

  private:
    double sign_;
    double target_;
    double return_;
    std::optional<double> farthest_;
};

/// How far a reading may lie beyond before it tells an overshoot: max(3 u, 0.1 MPE), and not what the reading's own
/// scatter and last digit do.
double approach_margin_pa(double u_pa, double scatter_pa, const Instrument& instrument);

/// How far on the right side counts as having gone back: the permissible error, and at least half a per cent of the
/// pressure where none is stated.
double approach_return_pa(double target_pa, const Instrument& instrument);

} // namespace stillmark::bench
