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
    std::string name = {}; ///< as people know the channel, for the log; its number where empty
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

/// Polls one bus in straight-line blocking code on its own thread until destroyed; joins on destruction, within the
/// deadline of the exchange that goes on. Signals are blocked on the thread.
///
/// Every poll posts a reading, good or with the status that says why not. What follows a failure:
///   link down     asked again at the usual pace (the link itself paces its reopening); said once for the whole bus
///   no answer     after a loss (see Outage) asked again once a second, or so seldom that all lost instruments of the
///   bus
///                 together take at most a fifth of its time: their neighbours keep theirs
///   unsupported   said once and no longer asked; the status is posted once a second. The question is tried again once
///                 a minute, because an instrument may be set right or exchanged while the service runs
///   any other     an answer did come: asked again at the usual pace
class BusThread {
  public:
    BusThread(BusPlan plan, BusSinks sinks);
    ~BusThread();
    /// Begins to stop without waiting for it: whoever ends many buses asks all of them before destroying the first.
    void ask_to_stop() { thread_.request_stop(); }
    BusThread(const BusThread&) = delete;
    BusThread& operator=(const BusThread&) = delete;

  private:
    std::jthread thread_;
};

} // namespace stillmark::acquisition
