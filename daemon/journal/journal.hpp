#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include <boost/system/result.hpp>

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

/// Called on the writing thread; must return at once (post).
struct WriterSinks {
    std::function<void(std::uint64_t number)> durable;     ///< everything up to and with this number is on disk
    std::function<void(const std::string& words)> failed;  ///< nothing after the last `durable` is on disk
    std::function<void(std::size_t waiting)> full;         ///< the queue is full: readings are being refused
};

/// Writes one journal on its own thread from a bounded queue. Events commit at once; readings ride along or are
/// committed within 250 ms. Numbers must rise.
class JournalWriter {
  public:
    static JournalResult<std::unique_ptr<JournalWriter>> open(const std::string& path, WriterSinks sinks);
    virtual ~JournalWriter() = default;              ///< commits what is queued, then joins
    virtual bool append(EventRecord event) = 0;      ///< false: queue full or journal failed
    virtual bool append(const ReadingRecord& reading) = 0;
};

/// Reads one journal, also while a service writes it.
class JournalReader {
  public:
    static JournalResult<std::unique_ptr<JournalReader>> open(const std::string& path);
    virtual ~JournalReader() = default;
    /// Every event in order of number; the visitor returns false to stop.
    virtual JournalResult<void> events(const std::function<bool(const EventRecord&)>& visit) = 0;
    /// The readings of one channel with first <= number <= last, in order.
    virtual JournalResult<std::vector<ReadingRecord>> readings(std::uint32_t channel, std::uint64_t first,
                                                               std::uint64_t last) = 0;
    /// The highest number in the journal, of an event or a reading; 0 for an empty one.
    virtual JournalResult<std::uint64_t> last_number() = 0;
};

} // namespace stillmark::journal
