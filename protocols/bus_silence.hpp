#pragma once

#include "protocols/descriptor.hpp"
#include "protocols/fault.hpp"

#include <chrono>
#include <string>

namespace stillmark::protocols {

/// A serial line as the wait for silence needs it: its clock and the bytes that arrive.
class ListenedLine {
  public:
    using Clock = std::chrono::steady_clock;
    virtual ~ListenedLine() = default;
    virtual Clock::time_point now() const = 0;
    /// Waits until bytes arrive, until the other end is gone, or until the instant.
    virtual Readable wait(Clock::time_point until) = 0;
    /// Appends what has arrived to `taken`. False where the other end is gone.
    virtual bool take(std::string& taken) = 0;
};

/// How long a line may go on sending before the wait for silence is given up, counted from the end of the quarantine.
inline constexpr std::chrono::seconds never_silent_after{1};

/// When a wait for silence may end.
struct SilenceWanted {
    ListenedLine::Clock::time_point last_byte;        ///< last activity on the line that is known
    std::chrono::nanoseconds silence;                 ///< no byte for so long
    ListenedLine::Clock::time_point quarantine_until; ///< and not before
};

/// What a wait for silence ended with.
struct SilenceFound {
    ListenedLine::Clock::time_point last_byte;
    std::string stray; ///< bytes that arrived and answer no request
};

/// Waits for a silent line and takes the bytes that arrive before it. bad_frame where the line does not become silent,
/// link_down where the other end is gone.
Result<SilenceFound> await_silence(ListenedLine& line, const SilenceWanted& wanted);

} // namespace stillmark::protocols
