#pragma once

#include "simulator/instant.hpp"

#include <map>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::simulator {

/// A truth log, read back.
class TrueCourse {
  public:
    explicit TrueCourse(const std::string& path); ///< throws Mistake

    /// Settled indication minus pressure at the instrument's level, Pa: what its deviation truly is, as the mean over
    /// the rows from one instant to another, or of the row nearest to their middle where none lies between.
    std::optional<double> true_deviation_pa(const std::string& instrument, Micros from_us, Micros to_us) const;
    /// Whether the piston was in its band in every row between.
    bool floated(Micros from_us, Micros to_us) const;
    /// Whether the line was open to air: no pressure above it at the level mark in any row between.
    bool was_open(Micros from_us, Micros to_us) const;

  private:
    struct Rows {
        std::size_t first;
        std::size_t last; ///< one past
    };
    Rows between(Micros from_us, Micros to_us) const;
    std::vector<Micros> at_us_;
    std::vector<bool> in_band_;
    std::vector<double> at_mark_pa_; ///< gauge
    std::map<std::string, std::vector<double>> deviation_pa_;
};

} // namespace stillmark::simulator
