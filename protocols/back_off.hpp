#pragma once

#include <algorithm>
#include <chrono>

namespace stillmark::protocols {

/// When a lost link may be tried again: after 0.25 s, doubling to 5 s, forever. The clock is the caller's, so that it
/// is tested on invented time.
class BackOff {
  public:
    using Instant = std::chrono::steady_clock::time_point;
    static constexpr std::chrono::milliseconds first{250};
    static constexpr std::chrono::milliseconds longest{5000};

    bool may_try(Instant now) const { return now >= next_try_; }

    void failed(Instant now) {
        pause_ = pause_.count() == 0 ? first : std::min(2 * pause_, longest);
        next_try_ = now + pause_;
    }

    /// An instrument answered: only that proves a link. A server that accepts and hangs up does not shorten the pauses.
    void answered() {
        pause_ = {};
        next_try_ = {};
    }

  private:
    std::chrono::milliseconds pause_{0};
    Instant next_try_{};
};

} // namespace stillmark::protocols
