#pragma once

#include <cstdint>

namespace stillmark::decider {

/// The one order: every reading and every event gets the next number.
class Order {
  public:
    explicit Order(std::uint64_t last) : last_(last), last_event_(0) {}
    std::uint64_t next_reading() { return ++last_; }
    std::uint64_t next_event() { return last_event_ = ++last_; }
    std::uint64_t last() const { return last_; }
    std::uint64_t last_event() const { return last_event_; }

  private:
    std::uint64_t last_;
    std::uint64_t last_event_;
};

} // namespace stillmark::decider
