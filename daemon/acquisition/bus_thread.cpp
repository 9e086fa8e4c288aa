#include "daemon/acquisition/bus_thread.hpp"

#include "daemon/acquisition/outage.hpp"
#include "daemon/acquisition/pace_report.hpp"
#include "daemon/acquisition/poll_schedule.hpp"
#include "daemon/acquisition/support_watch.hpp"

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
#include <utility>

namespace stillmark::acquisition {

/// The channels that a person wants asked again, on their way to the bus thread.
class AskedAgain {
  public:
    void add(std::uint32_t channel) {
        const std::lock_guard lock(mutex);
        channels.push_back(channel);
        woken.notify_all();
    }
    std::vector<std::uint32_t> take() {
        const std::lock_guard lock(mutex);
        return std::exchange(channels, {});
    }

    std::mutex mutex;
    std::condition_variable woken;
    std::vector<std::uint32_t> channels;
};

namespace {

using drivers::ReadingStatus;
using protocols::now_us;

constexpr Micros slow_pace_us = 1'000'000;
constexpr Micros unsupported_tried_again_us = 60'000'000;
/// Lost instruments pause four times as long as asking all of them takes: a fifth of the bus at most.
constexpr Micros pause_of_cost = 4;

/// Waits for instants, and ends a wait at once when asked to stop or to ask a channel again.
class Alarm {
  public:
    enum class Why { time, asked_again, stop };

    Alarm(std::stop_token stop, AskedAgain& again)
        : stop_(std::move(stop)), again_(again), wake_(stop_, Wake{&again}) {}

    Why wait_until(Micros at_us) {
        const std::chrono::microseconds left(at_us - now_us());
        std::unique_lock lock(again_.mutex);
        if (left.count() > 0)
            again_.woken.wait_until(lock, std::chrono::steady_clock::now() + left,
                                    [this] { return stop_.stop_requested() || !again_.channels.empty(); });
        if (stop_.stop_requested()) return Why::stop;
        return again_.channels.empty() ? Why::time : Why::asked_again;
    }

  private:
    struct Wake {
        AskedAgain* again;
        void operator()() const {
            const std::lock_guard lock(again->mutex);
            again->woken.notify_all();
        }
    };
    std::stop_token stop_;
    AskedAgain& again_;
    std::stop_callback<Wake> wake_; ///< last: it may be called while it is being made
};

struct Channel {
    PolledChannel polled;
    Outage outage;
    SupportWatch support;
    Micros asked_us = 0;
    Micros read_us = 0; ///< stamp of the latest reading
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

Failing kind_of(ReadingStatus status, bool unsupported = true) {
    switch (status) {
    case ReadingStatus::silent:
    case ReadingStatus::link_down:
    case ReadingStatus::bad_frame:
        return Failing::unanswered;
    case ReadingStatus::unsupported:
        return unsupported ? Failing::for_good : Failing::answered;
    default:
        return Failing::answered;
    }
}

std::vector<Channel> channels_from(BusPlan& plan) {
    std::vector<Channel> channels;
    channels.reserve(plan.channels.size());
    for (PolledChannel& polled : plan.channels) {
        const std::string name = polled.name.empty() ? fmt::format("channel {}", polled.channel) : polled.name;
        channels.push_back({std::move(polled), Outage(fmt::format("{}, {}", plan.name, name)), {}});
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

    void run(const std::stop_token& stop, AskedAgain& again) {
        if (channels_.empty()) return;
        Alarm alarm(stop, again);
        for (;;) {
            const PollSchedule::Due due = schedule_.next();
            switch (alarm.wait_until(due.at_us)) {
            case Alarm::Why::stop:
                return;
            case Alarm::Why::asked_again:
                ask_again(again.take());
                break;
            case Alarm::Why::time:
                poll(due.channel);
                break;
            }
        }
    }

  private:
    void ask_again(const std::vector<std::uint32_t>& wanted) {
        const Micros at_us = now_us();
        for (std::size_t i = 0; i < channels_.size(); ++i) {
            if (std::find(wanted.begin(), wanted.end(), channels_[i].polled.channel) == wanted.end()) continue;
            channels_[i].support.ask_again();
            schedule_.end_pause(i, at_us);
        }
    }

    /// Takes the latest reading back by one of its own, between it and the next.
    void take_back(Channel& channel, Micros before_us) {
        Reading reading;
        reading.channel = channel.polled.channel;
        reading.at_us = std::max(before_us, channel.read_us);
        reading.status = ReadingStatus::doubtful;
        sinks_.reading(reading);
        say(channel.outage.failed(before_us, Failing::answered, drivers::word(reading.status),
                                  "an answer that nothing had asked for came after the latest reading"));
    }

    void poll(std::size_t index) {
        Channel& channel = channels_[index];
        const Micros before_us = now_us();
        if (channel.support.unsupported() && before_us - channel.asked_us < unsupported_tried_again_us) {
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
        if (answer.doubts_previous) take_back(channel, before_us);
        const Reading reading = reading_from(channel.polled.channel, answer);
        channel.read_us = reading.at_us;
        if (reading.status != ReadingStatus::good && sinks_.fault)
            sinks_.fault({reading.channel, reading.at_us, reading.status, answer.detail});
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
        const bool was_unsupported = channel.support.unsupported();
        if (kind_of(status) != Failing::unanswered) channel.support.answered(status == ReadingStatus::unsupported);
        if (status == ReadingStatus::good)
            say(channel.outage.succeeded(at_us));
        else if (status != ReadingStatus::unsupported || !was_unsupported)
            say(channel.outage.failed(at_us, kind_of(status, channel.support.unsupported()), drivers::word(status),
                                      detail));
    }

    Micros pause_us(const Channel& channel) const {
        if (channel.support.unsupported()) return slow_pace_us;
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

BusThread::BusThread(BusPlan plan, BusSinks sinks) : asked_again_(std::make_shared<AskedAgain>()) {
    for (const PolledChannel& channel : plan.channels)
        channels_.push_back(channel.channel);
    const SignalsBlocked blocked;
    thread_ = std::jthread(
        [plan = std::move(plan), sinks = std::move(sinks), again = asked_again_](const std::stop_token& stop) mutable {
            // The kernel may group wake-ups within this slack; its default of 50 us is most of a poll's delay.
            prctl(PR_SET_TIMERSLACK, 1UL, 0UL, 0UL, 0UL);
            pthread_setname_np(pthread_self(), plan.name.substr(0, 15).c_str());
            Bus(std::move(plan), std::move(sinks)).run(stop, *again);
        });
}

BusThread::~BusThread() = default;

bool BusThread::ask_again(std::uint32_t channel) {
    if (std::find(channels_.begin(), channels_.end(), channel) == channels_.end()) return false;
    asked_again_->add(channel);
    return true;
}

} // namespace stillmark::acquisition
