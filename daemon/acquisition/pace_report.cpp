#include "daemon/acquisition/pace_report.hpp"

#include <fmt/format.h>

namespace stillmark::acquisition {

namespace {
constexpr Micros minute_us = 60'000'000;
constexpr Micros between_lines_us = 5 * minute_us;
constexpr std::uint64_t bearable = 100;
} // namespace

std::optional<std::string> PaceReport::polled(Micros now_us, std::uint64_t skipped) {
    if (!minute_began_us_) minute_began_us_ = now_us;
    ++polls_;
    skipped_ += skipped;
    if (now_us - *minute_began_us_ < minute_us) return std::nullopt;
    const std::uint64_t planned = polls_ + skipped_;
    const bool too_many = skipped_ * bearable > planned;
    const bool quiet_long_enough = !last_line_us_ || now_us - *last_line_us_ >= between_lines_us;
    std::optional<std::string> words;
    if (too_many && quiet_long_enough) {
        last_line_us_ = now_us;
        words = fmt::format("cannot keep the pace: {} of {} polls left out; poll less often or move an instrument to "
                            "another bus",
                            skipped_, planned);
    }
    minute_began_us_ = now_us;
    polls_ = skipped_ = 0;
    return words;
}

} // namespace stillmark::acquisition
