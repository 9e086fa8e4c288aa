#include "daemon/acquisition/bus_thread.hpp"

#include "daemon/acquisition/outage.hpp"
#include "daemon/acquisition/pace_report.hpp"
#include "daemon/acquisition/poll_schedule.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <condition_variable>
#include <csignal>
#include <limits>
#include <mutex>
#include <pthread.h>
#include <stop_token>
#include <sys/prctl.h>

namespace stillmark::acquisition {

namespace {

using drivers::ReadingStatus;
using protocols::now_us;

constexpr Micros slow_pace_us = 1'000'000;
constexpr Micros unsupported_tried_again_us = 60'000'000;
/// Lost instruments pause four times as long as asking all of them takes: a fifth of the bus at most.
constexpr Micros pause_of_cost = 4;

/// Waits for instants, and ends a wait at once when asked to stop.
class Alarm {
  public:
    explicit Alarm(std::stop_token stop) : stop_(std::move(stop)), wake_(stop_, Wake{this}) {}

    /// False where the thread is to stop.
    bool wait_until(Micros at_us) {
        const std::chrono::microseconds left(at_us - now_us());
        if (left.count() > 0) {
            std::unique_lock lock(mutex_);
            woken_.wait_until(lock, std::chrono::steady_clock::now() + left, [this] { return stop_.stop_requested(); });
        }
        return !stop_.stop_requested();
    }

  private:
    struct Wake {
        Alarm* alarm;
        void operator()() const {
            const std::lock_guard lock(alarm->mutex_);
            alarm->woken_.notify_all();
        }
    };
    std::stop_token stop_;
    std::mutex mutex_;
    std::condition_variable woken_;
    std::stop_callback<Wake> wake_; ///< last: it may be called while it is being made
};

struct Channel {
    PolledChannel polled;
    Outage outage;
    bool unsupported = false;
    Micros asked_us = 0;
    Micros cost_us = 0; ///< of the latest exchange
};

Reading reading_from(std::uint32_t channel, const drivers::DriverReading& from) {
    Reading reading;
    reading.channel = channel;
    reading.timing_us =
        static_cast<std::uint32_t>(std::clamp<Micros>(from.timing_us, 0, std::numeric_limits<std::uint32_t>::max()));
    reading.at_us = from.at_us;
    reading.status = from.status;
    if (from.status == ReadingStatus::good) {
        reading.value_pa = from.value_pa;
        if (!std::isfinite(from.value_pa)) reading.status = ReadingStatus::not_a_number;
    }
    return reading;
}

Failing kind_of(ReadingStatus status) {
    switch (status) {
    case ReadingStatus::silent:
    case ReadingStatus::link_down:
    case ReadingStatus::bad_frame:
        return Failing::unanswered;
    case ReadingStatus::unsupported:
        return Failing::for_good;
    default:
        return Failing::answered;
    }
}

std::vector<Channel> channels_from(BusPlan& plan) {
    std::vector<Channel> channels;
    channels.reserve(plan.channels.size());
    for (PolledChannel& polled : plan.channels) {
        const std::string name = polled.name.empty() ? fmt::format("channel {}", polled.channel) : polled.name;
        channels.push_back({std::move(polled), Outage(fmt::format("{}, {}", plan.name, name))});
    }
    return channels;
}

/// The channels of one bus share its period, so that none of them waits for all the others at every slot; the phase of
/// the bus is shrunk with their distance, so that channels of different buses do not meet.
std::vector<PollSchedule::Grid> grids_of(const BusPlan& plan) {
    std::vector<PollSchedule::Grid> grids;
    grids.reserve(plan.channels.size());
    const auto count = static_cast<Micros>(plan.channels.size());
    for (Micros i = 0; i < count; ++i) {
        const Micros period_us = std::max<Micros>(1, plan.channels[static_cast<std::size_t>(i)].period_us);
        grids.push_back({period_us, (plan.phase_us + i * period_us) / count});
    }
    return grids;
}

class Bus {
  public:
    Bus(BusPlan plan, BusSinks sinks)
        : link_(std::move(plan.link)), sinks_(std::move(sinks)), schedule_(grids_of(plan), now_us()), name_(plan.name),
          outage_(plan.name), channels_(channels_from(plan)) {}

    void run(const std::stop_token& stop) {
        if (channels_.empty()) return;
        Alarm alarm(stop);
        for (PollSchedule::Due due = schedule_.next(); alarm.wait_until(due.at_us); due = schedule_.next())
            poll(due.channel);
    }

  private:
    void poll(std::size_t index) {
        Channel& channel = channels_[index];
        const Micros before_us = now_us();
        if (channel.unsupported && before_us - channel.asked_us < unsupported_tried_again_us) {
            Reading reading;
            reading.channel = channel.polled.channel;
            reading.at_us = before_us;
            reading.status = ReadingStatus::unsupported;
            sinks_.reading(reading);
            schedule_.done(index, before_us, before_us + slow_pace_us);
            return;
        }
        const drivers::DriverReading answer = channel.polled.driver->read();
        const Micros after_us = now_us();
        channel.asked_us = before_us;
        channel.cost_us = after_us - before_us;
        const Reading reading = reading_from(channel.polled.channel, answer);
        sinks_.reading(reading);
        note(channel, reading.status, answer.detail, after_us);
        const std::uint64_t skipped = schedule_.done(index, after_us, after_us + pause_us(channel));
        if (const auto words = pace_.polled(after_us, skipped)) say(Change{fmt::format("{}: {}", name_, *words), true});
    }

    void note(Channel& channel, ReadingStatus status, const std::string& detail, Micros at_us) {
        if (status == ReadingStatus::link_down) {
            say(outage_.failed(at_us, Failing::unanswered, drivers::word(status), detail));
            return;
        }
        say(outage_.succeeded(at_us));
        if (status == ReadingStatus::good)
            say(channel.outage.succeeded(at_us));
        else if (status != ReadingStatus::unsupported || !channel.unsupported)
            say(channel.outage.failed(at_us, kind_of(status), drivers::word(status), detail));
        channel.unsupported = status == ReadingStatus::unsupported;
    }

    Micros pause_us(const Channel& channel) const {
        if (channel.unsupported) return slow_pace_us;
        if (!channel.outage.lost()) return 0;
        Micros cost_us = 0;
        for (const Channel& other : channels_)
            if (other.outage.lost()) cost_us += other.cost_us;
        return std::max(slow_pace_us, pause_of_cost * cost_us);
    }

    void say(const std::optional<Change>& change) const {
        if (change) sinks_.change(change->words, change->bad);
    }

    std::shared_ptr<void> link_; ///< before the drivers that use it, so that it goes after them
    BusSinks sinks_;
    PollSchedule schedule_;
    std::string name_;
    Outage outage_;
    std::vector<Channel> channels_;
    PaceReport pace_;
};

/// Blocks every signal in this thread, so that a thread started meanwhile never takes one: they belong to the main
/// thread, and a signal would cut an exchange short.
class SignalsBlocked {
  public:
    SignalsBlocked() {
        sigset_t all;
        sigfillset(&all);
        pthread_sigmask(SIG_SETMASK, &all, &before_);
    }
    ~SignalsBlocked() { pthread_sigmask(SIG_SETMASK, &before_, nullptr); }
    SignalsBlocked(const SignalsBlocked&) = delete;
    SignalsBlocked& operator=(const SignalsBlocked&) = delete;

  private:
    sigset_t before_{};
};

} // namespace

std::vector<Micros> spread_phases(std::size_t count, Micros period_us) {
    std::vector<Micros> phases;
    phases.reserve(count);
    for (std::size_t i = 0; i < count; ++i)
        phases.push_back(static_cast<Micros>(i) * period_us / static_cast<Micros>(count));
    return phases;
}

BusThread::BusThread(BusPlan plan, BusSinks sinks) {
    const SignalsBlocked blocked;
    thread_ = std::jthread([plan = std::move(plan), sinks = std::move(sinks)](const std::stop_token& stop) mutable {
        // The kernel may group wake-ups within this slack; its default of 50 us is most of a poll's delay.
        prctl(PR_SET_TIMERSLACK, 1UL, 0UL, 0UL, 0UL);
        pthread_setname_np(pthread_self(), plan.name.substr(0, 15).c_str());
        Bus(std::move(plan), std::move(sinks)).run(stop);
    });
}

BusThread::~BusThread() = default;

} // namespace stillmark::acquisition
