#pragma once

#include "daemon/journal/batch.hpp"
#include "daemon/journal/database.hpp"
#include "daemon/journal/writer_lock.hpp"

#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <sys/types.h>
#include <unordered_map>
#include <vector>

namespace stillmark::journal {

/// A journal open for writing, with the right to write it. Used by one thread at a time.
class OpenJournal {
  public:
    static JournalResult<std::unique_ptr<OpenJournal>> open(const std::string& path,
                                                            std::chrono::milliseconds patience);

    /// Puts a batch on disk, whole or not at all. Each channel's readings become one block, or one for every
    /// block_span numbers.
    JournalResult<void> commit(const Batch& batch);
    std::uint64_t last_number() const { return last_number_; }

  private:
    explicit OpenJournal(WriterLock lock, std::unique_ptr<Database> database)
        : lock_(std::move(lock)), database_(std::move(database)) {}
    JournalResult<void> prepare();
    JournalResult<void> insert(const Batch& batch);
    JournalResult<void> insert_blocks(std::span<const ReadingRecord> readings);
    JournalResult<void> still_in_place();
    void bury_unconfirmed();

    WriterLock lock_;
    std::unique_ptr<Database> database_;
    Statement begin_;
    Statement commit_;
    Statement insert_event_;
    Statement insert_block_;
    std::uint64_t last_number_ = 0;
    std::string absolute_path_;
    dev_t device_ = 0;
    ino_t inode_ = 0;

    // Kept from commit to commit for their memory.
    std::unordered_map<std::uint32_t, std::size_t> place_of_channel_;
    std::vector<std::vector<ReadingRecord>> by_channel_;
    std::vector<std::uint8_t> columns_;
};

} // namespace stillmark::journal
