#pragma once

#include "daemon/acquisition/reading.hpp"
#include "daemon/acquisition/stillness.hpp"
#include "daemon/acquisition/window_collector.hpp"
#include "daemon/bench/approach.hpp"
#include "daemon/bench/checks.hpp"
#include "daemon/bench/mark.hpp"

#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace stillmark::decider {

/// What lives beside the state for one channel with a wire: the detector and the reading windows.
struct LiveChannel {
    std::optional<acquisition::StillnessDetector> detector; ///< none for an instrument that a person reads
    std::optional<acquisition::Reading> latest;
    std::optional<acquisition::Reading> latest_good;
    /// Why the latest reading without a value has none; it stays when the channel reads again.
    struct Fault {
        acquisition::ChannelFault latest;
        std::uint64_t count = 0; ///< so many of this kind since another kind came
    };
    std::optional<Fault> fault;
    std::optional<bench::WindowPermit> permit;
    std::optional<acquisition::WindowCollector> window;
    Micros window_timing_us = 0;
    std::optional<bench::ApproachWatch> approach;
    /// Good readings since the approach's past was asked for of the journal; they are taken after it.
    std::optional<std::vector<double>> after_past;
    /// Good readings that may not be on disk yet, with their numbers: what a watch that begins anew cannot read there.
    std::deque<std::pair<std::uint64_t, double>> not_on_disk;
    /// Good readings of the last window's length while a float is open: how the pressure drifts now.
    std::deque<acquisition::TimedValue> recent;
    std::vector<bench::NumberedReading> check; ///< readings of the check before the run that is being watched

    /// The latest good reading where it still tells of now; null otherwise.
    const acquisition::Reading* fresh(Micros now_us, double poll_s) const {
        return latest_good && now_us - latest_good->at_us <= acquisition::longest_silence_us(poll_s) ? &*latest_good
                                                                                                     : nullptr;
    }
    /// The watch of the approach once it knows everything since its beginning; null before.
    const bench::ApproachWatch* whole_approach() const { return approach && !after_past ? &*approach : nullptr; }
};

} // namespace stillmark::decider
