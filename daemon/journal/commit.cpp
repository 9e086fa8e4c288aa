#include "daemon/journal/commit.hpp"

#include "daemon/journal/block.hpp"
#include "daemon/journal/layout.hpp"

#include <algorithm>
#include <filesystem>
#include <sys/stat.h>

namespace stillmark::journal {

JournalResult<std::unique_ptr<OpenJournal>> OpenJournal::open(const std::string& path,
                                                              std::chrono::milliseconds patience) {
    auto database = Database::open(path, Database::Access::write, patience);
    if (!database) return database.error();
    auto lock = WriterLock::take(path);
    if (!lock) return lock.error();
    std::unique_ptr<OpenJournal> journal(new OpenJournal(std::move(*lock), std::move(*database)));
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
    if (auto made = make(insert_event_, "INSERT INTO events VALUES (?, ?, ?)"); !made) return made;
    return make(insert_block_, "INSERT INTO blocks VALUES (?, ?, ?)");
}

JournalResult<void> OpenJournal::commit(const Batch& batch) {
    if (auto begun = begin_.step(); !begun) return begun.error();
    auto inserted = insert(batch);
    if (inserted) {
        if (auto committed = commit_.step(); committed)
            inserted = still_in_place();
        else {
            bury_unconfirmed();
            inserted = committed.error();
        }
    }
    if (!inserted) (void)database_->run("ROLLBACK");
    return inserted;
}

// A commit that the disk took but did not confirm lies whole in the write-ahead log, and the next to open the file
// would take it for good, after everybody was told that it is not recorded. The next transaction goes to the same place
// in the log and breaks the chain of checksums there, even where the disk does not confirm that one either.
void OpenJournal::bury_unconfirmed() {
    (void)database_->run("ROLLBACK");
    (void)database_->run("UPDATE meta SET value = value + 1 WHERE key = 'unconfirmed'");
}

JournalResult<void> OpenJournal::insert(const Batch& batch) {
    for (const EventRecord& event : batch.events) {
        insert_event_.bind(1, event.number);
        insert_event_.bind(2, event.at_us);
        insert_event_.bind(3, event.body);
        if (auto done = insert_event_.step(); !done) return done.error();
    }
    for (std::span<const ReadingRecord> left = batch.readings; !left.empty();) {
        const std::uint64_t first = left.front().number;
        const auto end = std::ranges::partition_point(
            left, [first](const ReadingRecord& reading) { return reading.number - first < block_span; });
        const auto count = static_cast<std::size_t>(end - left.begin());
        if (auto done = insert_blocks(left.first(count)); !done) return done;
        left = left.subspan(count);
    }
    return {};
}

// Blocks go in in order of their first number, so that every insert is at the end of the table.
JournalResult<void> OpenJournal::insert_blocks(std::span<const ReadingRecord> readings) {
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
        const ReadingRecord& first = by_channel_[i].front();
        encode_block(by_channel_[i], columns_);
        insert_block_.bind(1, first.number);
        insert_block_.bind(2, std::int64_t{first.channel});
        insert_block_.bind(3, columns_);
        if (auto done = insert_block_.step(); !done) return done.error();
    }
    return {};
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
