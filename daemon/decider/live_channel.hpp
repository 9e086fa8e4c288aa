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
    std::optional<bench::WindowPermit> permit;
    std::optional<acquisition::WindowCollector> window;
    Micros window_timing_us = 0;
    std::optional<bench::ApproachWatch> approach;
    /// Good readings that may not be on disk yet, with their numbers: what a watch that begins anew cannot read there.
    std::deque<std::pair<std::uint64_t, double>> not_on_disk;
    /// Good readings of the last window's length while a float is open: how the pressure drifts now.
    std::deque<acquisition::TimedValue> recent;
    std::vector<bench::NumberedReading> check; ///< readings of the check before the run that is being watched
};

} // namespace stillmark::decider
