#pragma once

#include "protocols/instant.hpp"

#include <cstdint>
#include <optional>
#include <string>

namespace stillmark::acquisition {

/// Says when a bus cannot keep the pace that it is asked for: judged each minute, said at most once in five minutes,
/// and only where more than one poll in a hundred had to be left out, since a busy machine loses one now and then.
/// Pure: the clock is passed in.
class PaceReport {
  public:
    /// After a poll, with the slots skipped since the one before.
    std::optional<std::string> polled(Micros now_us, std::uint64_t skipped);

  private:
    std::optional<Micros> minute_began_us_;
    std::optional<Micros> last_line_us_;
    std::uint64_t polls_ = 0;
    std::uint64_t skipped_ = 0;
};

} // namespace stillmark::acquisition
