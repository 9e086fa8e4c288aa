#include "daemon/acquisition/window_collector.hpp"

#include <algorithm>
#include <cmath>

namespace stillmark::acquisition {

WindowCollector::WindowCollector(Micros not_before_us, const StillnessLimits& limits)
    : not_before_us_(not_before_us), window_us_(std::llround(1e6 * limits.window_s)),
      most_(static_cast<std::size_t>(std::clamp(16 * limits.window_s / limits.poll_interval_s, 0.0, 1e7)) + 16) {}

bool WindowCollector::take(std::uint64_t number, const TimedValue& reading) {
    if (complete_ || overflowed_ || reading.at_us < not_before_us_) return complete_;
    if (readings_.size() == most_) {
        overflowed_ = true;
        return false;
    }
    if (readings_.empty()) first_number_ = number;
    last_number_ = number;
    readings_.push_back(reading);
    complete_ = reading.at_us - readings_.front().at_us >= window_us_;
    return complete_;
}

void WindowCollector::begin_again(Micros not_before_us) {
    not_before_us_ = not_before_us;
    readings_.clear();
    first_number_ = last_number_ = 0;
    complete_ = overflowed_ = false;
}

double WindowCollector::progress() const {
    if (complete_) return 1;
    return window_us_ > 0 ? static_cast<double>(to_us() - from_us()) / static_cast<double>(window_us_) : 0;
}

} // namespace stillmark::acquisition
