#include "daemon/journal/commit.hpp"

#include "daemon/journal/block.hpp"
#include "daemon/journal/layout.hpp"

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <sys/stat.h>

namespace stillmark::journal {

JournalResult<std::unique_ptr<OpenJournal>>
OpenJournal::open(const std::string& path, std::chrono::milliseconds patience, std::optional<seal::PrivateKey> key) {
    auto database = Database::open(path, Database::Access::write, patience);
    if (!database) return database.error();
    auto lock = WriterLock::take(path);
    if (!lock) return lock.error();
    std::unique_ptr<OpenJournal> journal(new OpenJournal(std::move(*lock), std::move(*database), std::move(key)));
    if (auto prepared = journal->prepare(); !prepared) return prepared.error();
    return journal;
}

JournalResult<void> OpenJournal::prepare() {
    if (auto ready = make_ready_to_write(*database_); !ready) return ready;
    const auto last = last_number_in(*database_);
    if (!last) return last.error();
    last_number_ = *last;

    std::error_code wrong;
    absolute_path_ = std::filesystem::absolute(database_->path(), wrong).string();
    struct stat status {};
    if (::stat(absolute_path_.c_str(), &status) != 0)
        return database_->error("was removed while it was being opened; start again");
    device_ = status.st_dev;
    inode_ = status.st_ino;

    const auto make = [this](Statement& statement, std::string_view sql) -> JournalResult<void> {
        auto made = database_->prepare(sql);
        if (!made) return made.error();
        statement = std::move(*made);
        return {};
    };
    if (auto made = make(begin_, "BEGIN IMMEDIATE"); !made) return made;
    if (auto made = make(commit_, "COMMIT"); !made) return made;
    auto chain = ChainWriter::on(*database_);
    if (!chain) return chain.error();
    chain_.emplace(std::move(*chain));
    const auto identity = identity_of(*database_);
    if (!identity) return identity.error();
    identity_ = *identity;
    return {};
}

JournalResult<void> OpenJournal::commit(const Batch& batch, bool signs) {
    auto done = transact(batch, signs && can_sign());
    if (done) last_number_ = batch.last;
    return done;
}

JournalResult<void> OpenJournal::sign_head() {
    return transact({}, true);
}

JournalResult<void> OpenJournal::transact(const Batch& batch, bool signs) {
    if (auto begun = begin_.step(); !begun) return begun.error();
    auto inserted = insert(batch, signs);
    if (inserted) {
        if (auto committed = commit_.step(); committed) {
            chain_->committed();
            inserted = still_in_place();
        } else {
            bury_unconfirmed();
            inserted = committed.error();
        }
    }
    if (!inserted) (void)database_->run("ROLLBACK");
    return inserted;
}

// A commit that the disk took but did not confirm lies whole in the write-ahead log, and the next to open the file
// would take it for good, after everybody was told that it is not recorded. The next transaction goes to the same place
// in the log and breaks the chain of checksums there, even where the disk does not confirm that one either. It is a
// link that covers no rows, after the last one that is recorded.
void OpenJournal::bury_unconfirmed() {
    (void)database_->run("ROLLBACK");
    if (!database_->run("BEGIN IMMEDIATE")) return;
    chain_->begin();
    const Link head = chain_->head();
    if (chain_->end(head.last, head.unconfirmed + 1)) (void)database_->run("COMMIT");
}

JournalResult<void> OpenJournal::insert(const Batch& batch, bool signs) {
    chain_->begin();
    if (signs) {
        const auto utc_us =
            std::chrono::duration_cast<std::chrono::microseconds>(std::chrono::system_clock::now().time_since_epoch());
        const auto checkpoint = sign(*key_, identity_, chain_->head(), utc_us.count());
        if (!checkpoint) return checkpoint.error();
        if (auto put = chain_->put(*checkpoint); !put) return put;
    }
    block_count_ = 0;
    for (std::span<const ReadingRecord> left = batch.readings; !left.empty();) {
        const std::uint64_t first = left.front().number;
        const auto end = std::ranges::partition_point(
            left, [first](const ReadingRecord& reading) { return reading.number - first < block_span; });
        const auto count = static_cast<std::size_t>(end - left.begin());
        make_blocks(left.first(count));
        left = left.subspan(count);
    }
    if (auto done = insert_rows(batch.events); !done) return done;
    const Link& head = chain_->head();
    return chain_->end(std::max(static_cast<std::int64_t>(batch.last), head.last), head.unconfirmed);
}

// In order of number, as the link covers them; so every insert is at the end of its table.
JournalResult<void> OpenJournal::insert_rows(std::span<const EventRecord> events) {
    std::span<const Block> blocks(blocks_.data(), block_count_);
    while (!events.empty() || !blocks.empty()) {
        if (blocks.empty() || (!events.empty() && events.front().number < blocks.front().first)) {
            const EventRecord& event = events.front();
            if (auto put = chain_->put_event(static_cast<std::int64_t>(event.number), event.at_us, event.body); !put)
                return put;
            events = events.subspan(1);
        } else {
            const Block& block = blocks.front();
            if (auto put = chain_->put_block(static_cast<std::int64_t>(block.first), std::int64_t{block.channel},
                                             block.columns);
                !put)
                return put;
            blocks = blocks.subspan(1);
        }
    }
    return {};
}

// Channels come in the order of their first number.
void OpenJournal::make_blocks(std::span<const ReadingRecord> readings) {
    place_of_channel_.clear();
    for (const ReadingRecord& reading : readings) {
        const auto [place, fresh] = place_of_channel_.try_emplace(reading.channel, place_of_channel_.size());
        if (fresh) {
            if (by_channel_.size() < place_of_channel_.size()) by_channel_.emplace_back();
            by_channel_[place->second].clear();
        }
        by_channel_[place->second].push_back(reading);
    }
    for (std::size_t i = 0; i < place_of_channel_.size(); ++i) {
        if (blocks_.size() == block_count_) blocks_.emplace_back();
        Block& block = blocks_[block_count_++];
        block.first = by_channel_[i].front().number;
        block.channel = by_channel_[i].front().channel;
        encode_block(by_channel_[i], block.columns);
    }
}

// A file that was removed or replaced takes commits without complaint, and keeps none of them.
JournalResult<void> OpenJournal::still_in_place() {
    struct stat status {};
    if (::stat(absolute_path_.c_str(), &status) != 0)
        return database_->error("was removed while it was being written; what followed is lost, begin a new journal");
    if (status.st_dev != device_ || status.st_ino != inode_)
        return database_->error("was replaced by another file while it was being written; what followed is lost, put "
                                "the journal back or begin a new one");
    return {};
}

} // namespace stillmark::journal
