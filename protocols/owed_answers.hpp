#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <functional>

namespace stillmark::protocols {

/// How long an answer may stay away before it is believed lost, where nothing else parts it from later ones.
constexpr std::chrono::seconds longest_lateness{6};

/// The requests to one instrument whose answers have not come. An instrument answers in order and may lose any request,
/// so an answer ends the debt of its request and of all before it. Where an answer fits several requests, it is taken
/// for the oldest: that forgets too little and never too much. Pure: the clock is passed in.
class OwedAnswers {
  public:
    using Clock = std::chrono::steady_clock;
    struct Request {
        int kind = 0;       ///< what tells its answer from those to other kinds: a function, a line's meaning
        int length = 0;     ///< likewise; of an RTU answer the bytes of registers
        bool probe = false; ///< asked to synchronise the line; no reading comes of it
        Clock::time_point at{};
        std::uint64_t number = 0;
    };
    using Fits = std::function<bool(const Request&)>;
    enum class Whose {
        own,    ///< of the latest request, and of no other that is owed
        older,  ///< of an earlier request
        nobody, ///< of no request that is owed
    };

    /// Notes a request that goes out now; it is the latest until the next.
    void sent(int kind, int length, bool probe, Clock::time_point at);
    /// Takes an answer. `may_be_own` is false where it came sooner than the latest request can have been answered.
    Whose came(const Fits& fits, bool may_be_own = true);
    /// Believes lost what was sent before the instant; true where there was any.
    bool forget_before(Clock::time_point instant);

    /// Whether a request that is no probe is owed: then no answer is a reading.
    bool owes_reading() const;
    bool empty() const { return owed_.empty(); }
    bool any(const Fits& fits) const;

    /// How many exchanges running brought the answer to the request before, and not their own.
    int behind() const { return behind_; }
    /// From so many on, the instrument is called one answer behind.
    static constexpr int stays_behind = 3;

  private:
    std::deque<Request> owed_; ///< the oldest first
    std::uint64_t latest_ = 0;
    bool previous_came_ = false;
    int behind_ = 0;
};

} // namespace stillmark::protocols
