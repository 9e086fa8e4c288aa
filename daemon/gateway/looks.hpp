#pragma once

#include "protocols/instant.hpp"

#include <nlohmann/json.hpp>

#include <deque>
#include <functional>
#include <memory>
#include <string>
#include <vector>

namespace stillmark::gateway {

/// A reply that many may hold.
using LookReply = std::shared_ptr<const nlohmann::json>;

/// Questions to the deciding thread, one at a time: those who wait with the same question get the same reply, and after
/// each the deciding thread has as long for itself as the question took. However many ask, readings go on.
/// Owned by the gateway's thread; time is given in.
class Looks {
  public:
    using Reply = std::function<void(const LookReply&)>;

    /// At most so many different questions wait; a further one is told false.
    static constexpr std::size_t most_waiting = 64;
    static constexpr Micros longest_rest_us = 200'000;

    bool add(nlohmann::json request, Reply reply);
    /// The next question to be asked now, or nothing: none waits, one is under way, or it is time for a rest.
    const nlohmann::json* next(Micros now_us);
    /// The reply to the question that is under way.
    void replied(nlohmann::json reply, Micros now_us);
    /// When to look for a next question, where one waits and only the rest holds it back.
    Micros rests_until_us() const { return rests_until_us_; }
    bool any_waiting() const { return !waiting_.empty(); }
    bool under_way() const { return under_way_; }

  private:
    struct Question {
        nlohmann::json request;
        std::vector<Reply> replies;
    };
    std::deque<Question> waiting_;
    Question now_;
    bool under_way_ = false;
    Micros asked_us_ = 0;
    Micros rests_until_us_ = 0;
};

} // namespace stillmark::gateway
