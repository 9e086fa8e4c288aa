#pragma once

#include "drivers/driver.hpp"

#include <cstdint>
#include <string>

namespace stillmark::acquisition {

/// One reading of one channel on its way to the deciding thread.
struct Reading {
    std::uint32_t channel = 0;   ///< index of the channel in the bench file
    std::uint32_t timing_us = 0; ///< timing uncertainty, half the exchange
    Micros at_us = 0;            ///< middle of the exchange
    double value_pa = 0;         ///< meaningful only where status is good
    drivers::ReadingStatus status = drivers::ReadingStatus::good;
};

/// Why a reading has no value, as the wire gave it.
struct ChannelFault {
    std::uint32_t channel = 0;
    Micros at_us = 0;
    drivers::ReadingStatus status = drivers::ReadingStatus::silent;
    std::string detail; ///< raw reply or registers, exception, what was expected; may be empty
};

} // namespace stillmark::acquisition
