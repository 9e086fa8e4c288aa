#pragma once

#include "daemon/journal/batch.hpp"
#include "daemon/journal/chain_writer.hpp"
#include "daemon/journal/database.hpp"
#include "daemon/journal/writer_lock.hpp"

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <sys/types.h>
#include <unordered_map>
#include <vector>

namespace stillmark::journal {

/// A journal open for writing, with the right to write it. Used by one thread at a time.
class OpenJournal {
  public:
    static JournalResult<std::unique_ptr<OpenJournal>> open(const std::string& path, std::chrono::milliseconds patience,
                                                            std::optional<seal::PrivateKey> key);

    /// Puts a batch on disk, whole or not at all, and signs what was there before where it `signs` and has a key. Each
    /// channel's readings become one block, or one for every block_span numbers.
    JournalResult<void> commit(const Batch& batch, bool signs);
    /// Signs what is on disk; whole or not at all.
    JournalResult<void> sign_head();
    std::uint64_t last_number() const { return last_number_; }
    const Link& head() const { return chain_->head(); }
    bool can_sign() const { return key_.has_value(); }

  private:
    OpenJournal(WriterLock lock, std::unique_ptr<Database> database, std::optional<seal::PrivateKey> key)
        : lock_(std::move(lock)), database_(std::move(database)), key_(std::move(key)) {}
    JournalResult<void> prepare();
    JournalResult<void> transact(const Batch& batch, bool signs);
    JournalResult<void> insert(const Batch& batch, bool signs);
    JournalResult<void> insert_rows(std::span<const EventRecord> events);
    void make_blocks(std::span<const ReadingRecord> readings);
    JournalResult<void> still_in_place();
    void bury_unconfirmed();

    WriterLock lock_;
    std::unique_ptr<Database> database_;
    Statement begin_;
    Statement commit_;
    std::optional<seal::PrivateKey> key_;
    std::optional<ChainWriter> chain_;
    JournalIdentity identity_{};
    std::uint64_t last_number_ = 0;
    std::string absolute_path_;
    dev_t device_ = 0;
    ino_t inode_ = 0;

    // Kept from commit to commit for their memory.
    struct Block {
        std::uint64_t first = 0;
        std::uint32_t channel = 0;
        std::vector<std::uint8_t> columns;
    };
    std::vector<Block> blocks_;
    std::size_t block_count_ = 0;
    std::unordered_map<std::uint32_t, std::size_t> place_of_channel_;
    std::vector<std::vector<ReadingRecord>> by_channel_;
};

} // namespace stillmark::journal
