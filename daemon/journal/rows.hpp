#pragma once

#include "daemon/journal/database.hpp"
#include "daemon/seal/digest.hpp"

#include <cstdint>
#include <string_view>

namespace stillmark::journal {

/// An event or a block as it is stored. Views last until the next row is looked at.
struct Row {
    enum class Kind : std::uint8_t { event, block };
    Kind kind = Kind::event;
    std::int64_t number = 0; ///< of a block, its first
    std::int64_t detail = 0; ///< of an event its instant, of a block its channel
    seal::BytesView content; ///< of an event its body, of a block its columns
    seal::BytesView tag;
    bool is_sound = false; ///< every column is of the kind that the format says
};

/// All events and blocks of a journal as stored, in order of their number.
class RowsInOrder {
  public:
    struct Tables {
        std::string_view events = "events";
        std::string_view blocks = "blocks";
        bool tagged = true;
    };
    /// Those with first <= number <= last.
    static JournalResult<RowsInOrder> of(const Database& database, const Tables& tables, std::int64_t first = INT64_MIN,
                                         std::int64_t last = INT64_MAX);

    /// The row with the lowest number that is left, or nullptr.
    JournalResult<const Row*> peek();
    JournalResult<void> pop();

  private:
    struct Source {
        Row::Kind kind;
        bool tagged;
        Statement statement;
        Row row;
        bool more = false;
        JournalResult<void> advance();
    };
    RowsInOrder(Source events, Source blocks) : events_(std::move(events)), blocks_(std::move(blocks)) {}
    Source& lower();

    Source events_;
    Source blocks_;
};

} // namespace stillmark::journal
