#include "daemon/journal/merge.hpp"

#include "daemon/journal/block.hpp"
#include "daemon/journal/layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <vector>

namespace stillmark::journal {
namespace {

struct BlockBeingRead {
    std::vector<ReadingRecord> readings;
    std::size_t next = 0;
    std::uint64_t number() const { return readings[next].number; }
};

/// The readings of all blocks in one order: a block is opened when the walk reaches its first number.
class ReadingsInOrder {
  public:
    ReadingsInOrder(const Database& database, Statement blocks) : database_(&database), blocks_(std::move(blocks)) {}

    JournalResult<void> begin() { return fetch(); }

    /// The reading with the lowest number that is left.
    JournalResult<const ReadingRecord*> peek() {
        while (fetched_ && (open_.empty() || fetched_->number() <= open_.front().number())) {
            // Blocks that are open together lie within two spans of numbers, and no number stands twice.
            if (fetched_->readings.size() + open_readings_ > 2 * block_span)
                return stands_twice(*database_, fetched_->number());
            open_readings_ += fetched_->readings.size();
            open_.push_back(std::move(*fetched_));
            std::ranges::push_heap(open_, later);
            if (auto more = fetch(); !more) return more.error();
        }
        return open_.empty() ? nullptr : &open_.front().readings[open_.front().next];
    }

    void pop() {
        std::ranges::pop_heap(open_, later);
        BlockBeingRead& block = open_.back();
        if (++block.next < block.readings.size()) {
            std::ranges::push_heap(open_, later);
            return;
        }
        open_readings_ -= block.readings.size();
        spare_ = std::move(block.readings);
        open_.pop_back();
    }

  private:
    static bool later(const BlockBeingRead& one, const BlockBeingRead& other) { return one.number() > other.number(); }

    JournalResult<void> fetch() {
        fetched_.reset();
        const auto row = blocks_.step();
        if (!row) return row.error();
        if (!*row) return {};
        fetched_.emplace(BlockBeingRead{std::move(spare_), 0});
        return decode_row(*database_, blocks_, fetched_->readings);
    }

    const Database* database_;
    Statement blocks_;
    std::optional<BlockBeingRead> fetched_; // the next block that is not open yet
    std::vector<BlockBeingRead> open_;      // a heap, the lowest number in front
    std::size_t open_readings_ = 0;
    std::vector<ReadingRecord> spare_; // memory of a finished block
};

} // namespace

EventRecord event_in(const Statement& row) {
    return {static_cast<std::uint64_t>(row.integer(0)), row.integer(1), std::string(row.text(2))};
}

std::uint64_t earliest_block_with(std::uint64_t number) {
    return number >= block_span ? number - block_span + 1 : 0;
}

JournalError stands_twice(const Database& database, std::uint64_t number) {
    return database.error(fmt::format("number {} stands twice or out of order; use an undamaged copy", number));
}

JournalResult<void> walk_merged(Database& database, const std::function<bool(const EventRecord&)>& event,
                                const std::function<bool(const ReadingRecord&)>& reading, std::uint64_t from) {
    if (from > largest_number) return {};
    auto events = database.prepare("SELECT number, at_us, body FROM events WHERE number >= ? ORDER BY number");
    if (!events) return events.error();
    events->bind(1, from);
    auto blocks = database.prepare("SELECT first_number, channel, columns FROM blocks WHERE first_number >= ? "
                                   "ORDER BY first_number");
    if (!blocks) return blocks.error();
    blocks->bind(1, earliest_block_with(from));
    ReadingsInOrder readings(database, std::move(*blocks));
    if (auto begun = readings.begin(); !begun) return begun;

    auto more_events = events->step();
    std::uint64_t before = 0;
    for (;;) {
        const auto next = readings.peek();
        if (!next) return next.error();
        if (!more_events) return more_events.error();
        if (!*more_events && *next == nullptr) return {};
        const bool is_event =
            *more_events && (*next == nullptr || static_cast<std::uint64_t>(events->integer(0)) < (*next)->number);
        const std::uint64_t number = is_event ? static_cast<std::uint64_t>(events->integer(0)) : (*next)->number;
        if (number <= before) return stands_twice(database, number);
        before = number;
        if (is_event) {
            if (!event(event_in(*events))) return {};
            more_events = events->step();
        } else {
            if (number >= from && !reading(**next)) return {};
            readings.pop();
        }
    }
}

} // namespace stillmark::journal
