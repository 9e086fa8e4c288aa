#pragma once

#include "daemon/seal/key.hpp"

#include <boost/system/result.hpp>

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace stillmark::journal {

/// An event as the journal keeps it: its place in the one order, its instant (us of CLOCK_BOOTTIME), canonical JSON.
struct EventRecord {
    std::uint64_t number = 0;
    std::int64_t at_us = 0;
    std::string body;
};

/// A reading as the journal keeps it; same numbers, same order.
struct ReadingRecord {
    std::uint64_t number = 0;
    std::uint32_t channel = 0;
    std::uint32_t timing_us = 0;
    std::int64_t at_us = 0;
    double value = 0;
    std::uint8_t status = 0;
};

struct JournalError {
    std::string message; ///< file, what was found, what would do
};
template <class T>
using JournalResult = boost::system::result<T, JournalError>;
[[noreturn]] void throw_exception_from_error(const JournalError& error, const boost::source_location& at);

/// Called on the writing thread; must return at once (post). May be left empty.
struct WriterSinks {
    /// Everything up to and with this number is on disk; `digest` stands for all of it.
    std::function<void(std::uint64_t number, const seal::Digest& digest)> durable;
    std::function<void(const std::string& words)> failed; ///< nothing after the last `durable` is on disk; told once
    /// The queue was full and records were refused; told when that begins. `waiting` is how many wait.
    std::function<void(std::size_t waiting)> full;
};

/// How much may wait, and how long.
struct WriterLimits {
    std::size_t waiting_readings = 65536;          ///< a reading is refused where as many records wait, at least 1
    std::size_t waiting_events = 65536 + 4096;     ///< an event likewise; more, so that readings never crowd one out
    std::chrono::milliseconds ride_along{200};     ///< a reading waits so long for an event; with the commit, 250 ms
    std::chrono::milliseconds patience{5000};      ///< with a lock on the file that another program holds
    std::chrono::milliseconds unsigned_for{60000}; ///< what is on disk waits so long for its signature
};

/// Writes one journal on its own thread from a bounded queue. Events commit at once, with everything that waits;
/// readings ride along or are committed within 250 ms.
/// Numbers rise over events and readings together, from 1 to 2^63 - 1; another number is refused and fails the journal,
/// because what follows it would be a different order from the one that was decided in.
/// A journal that failed has let go of its file and accepts nothing: its owner makes a new writer.
class JournalWriter {
  public:
    /// Makes the journal, or goes on with it. Refuses a file of another kind or of a newer format, and a journal that
    /// another writer has open (a writer that was killed has not). With a key, what is on disk is signed at the first
    /// commit, within `unsigned_for` while something is written, and at the end.
    static JournalResult<std::unique_ptr<JournalWriter>> open(const std::string& path, WriterSinks sinks,
                                                              const WriterLimits& limits = {},
                                                              std::optional<seal::PrivateKey> key = std::nullopt);
    virtual ~JournalWriter() = default;         ///< commits what is queued, signs, then joins
    virtual bool append(EventRecord event) = 0; ///< false: queue full or journal failed
    virtual bool append(const ReadingRecord& reading) = 0;
    /// After a refusal: what the journal failed of, which `failed` may not have told yet, or that the queue is full.
    virtual std::string why_refused() = 0;
};

/// Reads one journal, also while a service writes it. Each call sees one state of the file from its begin to its end.
/// A block that breaks the format, or a number that stands twice, is an error that names the place. One thread at a
/// time; a visitor may not call its reader.
class JournalReader {
  public:
    static JournalResult<std::unique_ptr<JournalReader>> open(const std::string& path);
    virtual ~JournalReader() = default;
    /// Every event in order of number; the visitor returns false to stop.
    virtual JournalResult<void> events(const std::function<bool(const EventRecord&)>& visit) = 0;
    /// Events with this number and above, in order of number.
    virtual JournalResult<void> events_from(std::uint64_t from,
                                            const std::function<bool(const EventRecord&)>& visit) = 0;
    /// Events below this number, the latest first.
    virtual JournalResult<void> events_below(std::uint64_t below,
                                             const std::function<bool(const EventRecord&)>& visit) = 0;
    /// The readings of one channel with first <= number <= last, in order. Looks at the blocks of that stretch of
    /// numbers only.
    virtual JournalResult<std::vector<ReadingRecord>> readings(std::uint32_t channel, std::uint64_t first,
                                                               std::uint64_t last) = 0;
    /// Events and readings from number `from` on, merged in order of number, in bounded memory; a visitor returns
    /// false to stop.
    virtual JournalResult<void> walk(const std::function<bool(const EventRecord&)>& event,
                                     const std::function<bool(const ReadingRecord&)>& reading, std::uint64_t from) = 0;
    /// The highest number in the journal, of an event or a reading; 0 for an empty one.
    virtual JournalResult<std::uint64_t> last_number() = 0;
};

} // namespace stillmark::journal
