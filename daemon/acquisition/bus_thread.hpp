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
    /// Beside each reading without a value; may be empty.
    std::function<void(const ChannelFault&)> fault = {};
};

class AskedAgain;

/// Phases that spread `count` buses evenly over `period_us`.
std::vector<Micros> spread_phases(std::size_t count, Micros period_us);

/// Polls one bus in straight-line blocking code on its own thread until destroyed; joins on destruction, within the
/// deadline of the exchange that goes on. Signals are blocked on the thread.
///
/// Every poll posts a reading, good or with the status that says why not. Where the line has shown that the reading
/// before belongs to another request, a reading with the status `doubtful` is posted first, stamped between the two.
/// What follows a failure:
///   link down     asked again at the usual pace (the link itself paces its reopening); said once for the whole bus
///   no answer     after a loss (see Outage) asked again once a second, or so seldom that all lost instruments of the
///   bus
///                 together take at most a fifth of its time: their neighbours keep theirs
///   unsupported   (see SupportWatch) said once and no longer asked; the status is posted once a second. The question
///   is
///                 tried again once a minute, because an instrument may be set right or exchanged while the service
///                 runs, and at once where a person wants it
///   any other     an answer did come: asked again at the usual pace
class BusThread {
  public:
    BusThread(BusPlan plan, BusSinks sinks);
    ~BusThread();
    /// Begins to stop without waiting for it: whoever ends many buses asks all of them before destroying the first.
    void ask_to_stop() { thread_.request_stop(); }
    /// From any thread: the channel is asked at its next slot, whatever pause was made after its failures. False where
    /// it is not on this bus.
    bool ask_again(std::uint32_t channel);
    BusThread(const BusThread&) = delete;
    BusThread& operator=(const BusThread&) = delete;

  private:
    std::vector<std::uint32_t> channels_;
    std::shared_ptr<AskedAgain> asked_again_;
    std::jthread thread_;
};

} // namespace stillmark::acquisition
