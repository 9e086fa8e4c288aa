#pragma once

#include "daemon/acquisition/reading.hpp"

#include <functional>
#include <memory>
#include <string>
#include <thread>
#include <vector>

namespace stillmark::acquisition {

/// One channel as its bus thread polls it.
struct PolledChannel {
    std::uint32_t channel;
    Micros period_us;
    std::unique_ptr<drivers::Driver> driver;
};

/// Everything that one bus thread owns: the link, and drivers that use it.
struct BusPlan {
    std::string name;
    std::shared_ptr<void> link; ///< kept alive as long as the drivers
    std::vector<PolledChannel> channels;
    Micros phase_us = 0; ///< where in the period this bus polls, so that buses do not all poll at once
};

/// Where readings and changes of a bus go. Called on the bus thread; must return at once (it posts).
struct BusSinks {
    std::function<void(const Reading&)> reading;
    /// Loud on change, quiet otherwise: first failure, recovery with the count of failures between.
    std::function<void(const std::string& words, bool bad)> change;
};

/// Phases that spread `count` buses evenly over `period_us`.
std::vector<Micros> spread_phases(std::size_t count, Micros period_us);

/// Polls one bus in straight-line blocking code on its own thread until destroyed; joins on destruction.
class BusThread {
  public:
    BusThread(BusPlan plan, BusSinks sinks);
    ~BusThread();
    BusThread(const BusThread&) = delete;
    BusThread& operator=(const BusThread&) = delete;

  private:
    std::jthread thread_;
};

} // namespace stillmark::acquisition
