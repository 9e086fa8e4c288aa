#include "daemon/journal/block.hpp"
#include "daemon/journal/database.hpp"
#include "daemon/journal/journal.hpp"
#include "daemon/journal/layout.hpp"
#include "daemon/journal/merge.hpp"

#include <algorithm>
#include <chrono>

namespace stillmark::journal {
namespace {

class FileReader final : public JournalReader {
  public:
    explicit FileReader(std::unique_ptr<Database> database) : database_(std::move(database)) {}

    JournalResult<void> events(const std::function<bool(const EventRecord&)>& visit) override {
        return events_from(0, visit);
    }

    JournalResult<void> events_from(std::uint64_t from, const std::function<bool(const EventRecord&)>& visit) override {
        return visit_events("SELECT number, at_us, body FROM events WHERE number >= ? ORDER BY number", from, visit);
    }

    JournalResult<void> events_below(std::uint64_t below,
                                     const std::function<bool(const EventRecord&)>& visit) override {
        return visit_events("SELECT number, at_us, body FROM events WHERE number < ? ORDER BY number DESC", below,
                            visit);
    }

    JournalResult<std::vector<ReadingRecord>> readings(std::uint32_t channel, std::uint64_t first,
                                                       std::uint64_t last) override {
        std::vector<ReadingRecord> found;
        last = std::min(last, largest_number);
        if (first > last) return found;
        auto rows = database_->prepare("SELECT first_number, channel, columns FROM blocks "
                                       "WHERE first_number BETWEEN ? AND ? AND channel = ? ORDER BY first_number");
        if (!rows) return rows.error();
        rows->bind(1, earliest_block_with(first));
        rows->bind(2, last);
        rows->bind(3, std::int64_t{channel});
        std::vector<ReadingRecord> block;
        std::uint64_t before = 0;
        for (;;) {
            const auto row = rows->step();
            if (!row) return row.error();
            if (!*row) return found;
            if (auto decoded = decode_row(*database_, *rows, block); !decoded) return decoded.error();
            if (block.front().number <= before) return stands_twice(*database_, block.front().number);
            before = block.back().number;
            std::ranges::copy_if(block, std::back_inserter(found), [&](const ReadingRecord& reading) {
                return reading.number >= first && reading.number <= last;
            });
        }
    }

    JournalResult<void> walk(const std::function<bool(const EventRecord&)>& event,
                             const std::function<bool(const ReadingRecord&)>& reading, std::uint64_t from) override {
        const auto snapshot = Snapshot::of(*database_);
        if (!snapshot) return snapshot.error();
        return walk_merged(*database_, event, reading, from);
    }

    JournalResult<std::uint64_t> last_number() override {
        const auto snapshot = Snapshot::of(*database_);
        if (!snapshot) return snapshot.error();
        return last_number_in(*database_);
    }

  private:
    JournalResult<void> visit_events(const char* sql, std::uint64_t bound,
                                     const std::function<bool(const EventRecord&)>& visit) {
        auto rows = database_->prepare(sql);
        if (!rows) return rows.error();
        rows->bind(1, std::min(bound, largest_number));
        for (;;) {
            const auto row = rows->step();
            if (!row) return row.error();
            if (!*row || !visit(event_in(*rows))) return {};
        }
    }

    std::unique_ptr<Database> database_;
};

} // namespace

JournalResult<std::unique_ptr<JournalReader>> JournalReader::open(const std::string& path) {
    auto database = Database::open(path, Database::Access::read, std::chrono::seconds(5));
    if (!database) return database.error();
    if (auto known = recognise(**database); !known) return known.error();
    return std::unique_ptr<JournalReader>(new FileReader(std::move(*database)));
}

} // namespace stillmark::journal
