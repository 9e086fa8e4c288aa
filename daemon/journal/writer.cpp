#include "daemon/journal/batch.hpp"
#include "daemon/journal/block.hpp"
#include "daemon/journal/commit.hpp"
#include "daemon/journal/journal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>

namespace stillmark::journal {
namespace {

using Clock = std::chrono::steady_clock;

class ThreadedWriter final : public JournalWriter {
  public:
    ThreadedWriter(std::unique_ptr<OpenJournal> journal, WriterSinks sinks, const WriterLimits& limits)
        : sinks_(std::move(sinks)), limits_(limits), journal_(std::move(journal)), last_(journal_->last_number()) {
        limits_.waiting_readings = std::max<std::size_t>(limits_.waiting_readings, 1);
        limits_.waiting_events = std::max(limits_.waiting_events, limits_.waiting_readings);
        hurry_ = std::min<std::size_t>(limits_.waiting_readings, block_span);
        thread_ = std::thread([this] { write(); });
    }

    ~ThreadedWriter() override {
        {
            const std::lock_guard lock(mutex_);
            ending_ = true;
        }
        wake_.notify_one();
        thread_.join();
    }
    ThreadedWriter(const ThreadedWriter&) = delete;
    ThreadedWriter& operator=(const ThreadedWriter&) = delete;

    bool append(EventRecord event) override {
        const std::lock_guard lock(mutex_);
        if (!admit(event.number, limits_.waiting_events)) return false;
        waiting_.events.push_back(std::move(event));
        wake_.notify_one();
        return true;
    }

    bool append(const ReadingRecord& reading) override {
        const std::lock_guard lock(mutex_);
        if (!admit(reading.number, limits_.waiting_readings)) return false;
        if (waiting_.readings.empty()) {
            due_ = Clock::now() + limits_.ride_along;
            wake_.notify_one();
        }
        waiting_.readings.push_back(reading);
        if (waiting_.size() == hurry_) wake_.notify_one();
        return true;
    }

    std::string why_refused() override {
        const std::lock_guard lock(mutex_);
        if (objection_) return *objection_;
        return failure_.empty() ? "the journal's queue is full" : failure_;
    }

  private:
    bool admit(std::uint64_t number, std::size_t most) {
        if (shut_) return false;
        if (number <= last_ || number > largest_number) {
            shut_ = true;
            objection_ = fmt::format("number {} was to follow {}; numbers rise, from 1 to 2^63 - 1", number, last_);
            wake_.notify_one();
            return false;
        }
        if (waiting_.size() >= most) {
            if (!refused_) wake_.notify_one();
            refused_ = true;
            return false;
        }
        last_ = number;
        waiting_.last = number;
        return true;
    }

    // Returns when there is something to do at once, or to sign at `sign_by`.
    void wait(std::unique_lock<std::mutex>& lock, std::optional<Clock::time_point> sign_by) {
        const auto at_once = [this] {
            return ending_ || shut_ || refused_ || !waiting_.events.empty() || waiting_.size() >= hurry_;
        };
        while (!at_once()) {
            const auto until = waiting_.readings.empty() ? sign_by : due_;
            if (!until)
                wake_.wait(lock);
            else if (wake_.wait_until(lock, *until) == std::cv_status::timeout && Clock::now() >= *until)
                return;
        }
    }

    void write() {
        Batch batch;
        bool told_full = false;
        // What is on disk without a signature is signed by then; at first at once, so that a start is on record.
        std::optional<Clock::time_point> sign_by;
        bool signs = journal_->can_sign();
        for (;;) {
            bool refused = false;
            bool ending = false;
            std::optional<std::string> objection;
            {
                std::unique_lock lock(mutex_);
                wait(lock, sign_by);
                std::swap(batch, waiting_);
                refused = std::exchange(refused_, false);
                objection = objection_;
                ending = ending_;
            }
            if (objection) return fail(*objection);
            if (refused && !told_full && sinks_.full) sinks_.full(batch.size());
            told_full = refused;
            if (sign_by && Clock::now() >= *sign_by) signs = true;
            if (batch.size() == 0) {
                // Woken to sign, or to end.
                if (sign_by && (signs || ending)) {
                    if (const auto done = journal_->sign_head(); !done) return fail(done.error().message);
                    sign_by.reset();
                    signs = false;
                }
                if (ending) return;
                continue;
            }
            if (const auto done = journal_->commit(batch, signs); !done) return fail(done.error().message);
            if (journal_->can_sign() && (signs || !sign_by)) sign_by = Clock::now() + limits_.unsigned_for;
            signs = false;
            if (sinks_.durable) sinks_.durable(batch.last, journal_->head().digest);
            batch.clear();
        }
    }

    void fail(const std::string& words) {
        {
            const std::lock_guard lock(mutex_);
            shut_ = true;
            failure_ = words;
            waiting_.clear();
        }
        // First, so that whoever is told finds the journal free, and closed as the last good commit left it.
        journal_.reset();
        if (sinks_.failed) sinks_.failed(words);
    }

    const WriterSinks sinks_;
    WriterLimits limits_;
    std::unique_ptr<OpenJournal> journal_; // of the writing thread

    std::mutex mutex_; // guards everything below
    std::condition_variable wake_;
    Batch waiting_;
    std::uint64_t last_ = 0;
    std::size_t hurry_ = 0; // as many waiting records are committed at once
    Clock::time_point due_;
    std::optional<std::string> objection_;
    std::string failure_;
    bool refused_ = false;
    bool shut_ = false;
    bool ending_ = false;

    std::thread thread_;
};

} // namespace

JournalResult<std::unique_ptr<JournalWriter>> JournalWriter::open(const std::string& path, WriterSinks sinks,
                                                                  const WriterLimits& limits,
                                                                  std::optional<seal::PrivateKey> key) {
    auto journal = OpenJournal::open(path, limits.patience, std::move(key));
    if (!journal) return journal.error();
    return std::unique_ptr<JournalWriter>(new ThreadedWriter(std::move(*journal), std::move(sinks), limits));
}

void throw_exception_from_error(const JournalError& error, const boost::source_location& at) {
    boost::throw_exception(std::runtime_error(error.message), at);
}

} // namespace stillmark::journal
