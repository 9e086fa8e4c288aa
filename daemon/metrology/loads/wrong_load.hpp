#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <vector>

namespace stillmark::metrology {

/// One channel's reading less the reference and less what the instrument is expected to be off by, with the standard
/// uncertainty of that expectation (over zero).
struct ChannelOffset {
    double off_pa = 0;
    double u_pa = 0;
};

/// By how much all channels are off together.
struct CommonOffset {
    double off_pa = 0; ///< mean of the channels that agree, weighted by their uncertainties
    double u_pa = 0;
    std::size_t agreeing = 0;
};

/// Nothing where the channels do not agree (each within three of its uncertainties of the weighted median, two thirds
/// of them at least) or where what they share is less than four of its own uncertainties: then it is no load's doing.
std::optional<CommonOffset> common_offset(std::span<const ChannelOffset> channels);

/// What may be wrong with a load, one thing at a time.
enum class LoadFault : std::uint8_t {
    missing_disc,   ///< stated, and not on the head
    extra_disc,     ///< on the head, and not stated
    swapped_disc,   ///< another lies in the place of a stated one
    forgotten_part, ///< a floating part is not there
    other_range,    ///< the valves stand for another range, whose piston floats
    between_ranges, ///< the pressure lies between those that the load makes in two ranges: neither piston floats
    none            ///< nothing of this
};

struct LoadExplanation {
    LoadFault fault = LoadFault::none;
    std::size_t disc = 0;    ///< missing, extra, or stated; of a part: which; of a range: which
    std::size_t other = 0;   ///< of a swap: what lies there instead
    double predicted_pa = 0; ///< offset that it would make; between ranges the nearest possible one
    double misfit = 0;       ///< distance from the common offset in its standard uncertainties
    double probability = 0;  ///< among the explanations told, by fit and by what was moved last
};

/// What is known of the load; all masses effective (in air), kg.
struct LoadCase {
    std::vector<double> discs_kg;              ///< of the whole set
    std::vector<bool> stated;                  ///< by disc: it is on the head by what was said
    std::vector<bool> moved;                   ///< by disc: put on or taken off for this point
    std::vector<bool> usable;                  ///< by disc: it may be used in this range
    std::vector<double> parts_kg;              ///< floating parts of the range
    std::function<double(double)> pressure_pa; ///< of the range, over the discs' effective mass
    double reference_pa = 0;                   ///< of the stated load
    /// The pressure that the stated discs make in each other range of the balance.
    struct OtherRange {
        std::size_t range = 0;
        double pressure_pa = 0;
    };
    std::vector<OtherRange> others;
    bool range_changed = false; ///< the valves were to be turned for this point
    bool first_load = false;    ///< nothing floated before in this run: parts may have been forgotten
};

/// Every single fault that could be behind a common offset, the best first, at most `most`. Posterior weight: a normal
/// likelihood of the offset that the fault predicts, times how often such a thing happens (moved discs more than
/// others). "None" and "between ranges" predict no figure but an interval, over which their likelihood is spread, so
/// that they stand behind an explanation that names the figure. Discs that explain equally well are told once.
std::vector<LoadExplanation> explain(const LoadCase& load, const CommonOffset& offset, std::size_t most = 5);

} // namespace stillmark::metrology
