#pragma once

#include "daemon/journal/chain.hpp"
#include "daemon/journal/rows.hpp"

namespace stillmark::journal {

/// Writes rows and the link that covers them, within a transaction of its owner.
class ChainWriter {
  public:
    static JournalResult<ChainWriter> on(const Database& database);

    /// The last link that is on disk.
    const Link& head() const { return head_; }
    /// A link after the head begins. Rows follow in order of number, a checkpoint before them.
    void begin() { being_made_.begin(head_); }
    JournalResult<void> put(const Checkpoint& checkpoint);
    JournalResult<void> put_event(std::int64_t number, std::int64_t at_us, std::string_view body);
    JournalResult<void> put_block(std::int64_t first_number, std::int64_t channel, seal::BytesView columns);
    JournalResult<void> put(const Row& row);
    JournalResult<void> end(std::int64_t last, std::int64_t unconfirmed);
    /// What was ended last is the head. Not called where the transaction failed: the chain then goes on where it was.
    void committed() { head_ = ended_; }

  private:
    ChainWriter() = default;
    Link head_;
    Link ended_;
    LinkBeingMade being_made_;
    Statement insert_event_;
    Statement insert_block_;
    Statement insert_link_;
    Statement insert_checkpoint_;
};

} // namespace stillmark::journal
