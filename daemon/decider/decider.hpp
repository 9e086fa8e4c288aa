#pragma once

#include "daemon/acquisition/bus_thread.hpp"
#include "daemon/acquisition/window_collector.hpp"
#include "daemon/bench/commands.hpp"
#include "daemon/bench/mark.hpp"
#include "daemon/bench/state.hpp"
#include "daemon/bench/suspicion.hpp"
#include "daemon/decider/live_channel.hpp"
#include "daemon/decider/order.hpp"
#include "daemon/journal/journal.hpp"

#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/thread_pool.hpp>

#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <string>
#include <vector>

namespace stillmark::decider {

/// What became of a request.
struct Outcome {
    enum class Kind { recorded, refused, malformed, not_recorded, contradicted } kind = Kind::recorded;
    std::string why;
    std::vector<bench::Contradiction> contradicted = {}; ///< by these instruments, of the bench as it was decided
};

/// Everything on disk up to a number, and the digest that stands for it.
struct JournalHead {
    std::uint64_t number = 0;
    std::string digest_hex;
};

/// What the rest of the program is told, always after it is on disk. Called on the deciding thread; must return at
/// once.
struct DeciderSinks {
    std::function<void(const bench::Tell&)> tell;
    /// Something changed that a live view shows; at most twenty times a second.
    std::function<void()> changed;
    /// A person wants the channel asked again at once; may be empty.
    std::function<void(std::uint32_t channel)> ask_again = {};
};

/// The one thread's work: gives every reading and event its place in the one order, journals it, folds it, and answers.
/// All members are called on the deciding io_context, except `post`, which bus threads call.
class Decider {
  public:
    Decider(boost::asio::io_context& io, bench::State state, std::uint64_t last_number, std::string journal_path,
            DeciderSinks sinks, std::optional<seal::PrivateKey> key = std::nullopt);
    ~Decider();
    Decider(const Decider&) = delete;
    Decider& operator=(const Decider&) = delete;

    /// Opens the journal for writing, takes its first facts and waits until they are on disk, before anything else runs
    /// on the io_context. Says what is wrong, or nothing.
    std::optional<std::string> start(const std::vector<bench::Fact>& first_facts);
    /// Takes a last fact and lets go of the journal, which then holds everything.
    void stop(const std::string& why);

    /// From any thread: one reading from a bus.
    void post(const acquisition::Reading& reading);
    /// From any thread: why a reading has no value. Shown, and no part of any decision.
    void post(const acquisition::ChannelFault& fault);

    /// Decides a request on the present state; the outcome is told after it is on disk.
    void request(const std::function<bench::Decision(const bench::State&, const bench::Moment&)>& decide,
                 const std::function<void(Outcome)>& told);

    /// Has the wire of a channel asked again at once, whatever pause was made after its failures.
    void ask_again(std::uint32_t channel) const {
        if (sinks_.ask_again) sinks_.ask_again(channel);
    }

    /// Calls back once everything decided so far is on disk (at once where it is), or with false where that failed.
    void when_all_on_disk(const std::function<void(bool)>& then);

    const bench::State& state() const { return state_; }
    const std::vector<LiveChannel>& channels() const { return channels_; }
    bool journal_failed() const { return failed_; }
    /// False while an event is decided but not yet on disk: nothing of the state may be shown then.
    bool all_on_disk() const { return durable_ >= order_.last_event(); }
    Micros now_us() const;
    /// The number that was given last; not everything up to it need be on disk.
    std::uint64_t last_number() const { return order_.last(); }
    /// What a document prints so that the journal can be held against it later.
    const JournalHead& journal_head() const { return journal_head_; }

  private:
    void take(const acquisition::Reading& reading);
    void take(const acquisition::ChannelFault& fault);
    void take_all(const std::vector<bench::Fact>& facts, const std::function<void(Outcome)>& told);
    void take_fact(const bench::Fact& fact);
    void watch_channel(std::size_t channel, const acquisition::Reading& reading, std::uint64_t number);
    void watch_window(std::size_t channel, const acquisition::Reading& reading, std::uint64_t number);
    void finish_window(std::size_t channel, bool last_reading_holds);
    void judge_window(std::size_t channel);
    void take_back(std::size_t channel);
    void watch_limits(std::size_t channel, const acquisition::Reading& reading, std::uint64_t number);
    void watch_check(std::size_t channel, const acquisition::Reading& reading, std::uint64_t number);
    void finish_check(Micros now);
    void suspect_loss();
    void suspect_load();
    std::vector<bench::SeenReading> seen_readings(bool with_drift) const;
    void renew_watches();
    void read_past(std::size_t channel, std::uint64_t from);
    void take_past(std::size_t channel, const std::vector<double>& values_pa);
    void tick();
    void anchor_clock(Micros now);
    void on_durable(std::uint64_t number, const seal::Digest& digest);
    void on_failed(const std::string& words);
    void go_back_to(bench::State state);
    void reopen();
    struct Reopened;
    void take_reopened(Reopened found);
    journal::WriterSinks writer_sinks();
    void take_up_again(std::uint64_t number);
    void alarm(const std::string& words);
    std::optional<std::string> open_writer();

    struct Held {
        std::uint64_t number;
        std::function<void()> when_durable;
        std::function<void()> when_lost;
    };
    void hold(std::function<void()> when_durable, std::function<void()> when_lost);

    boost::asio::io_context& io_;
    boost::asio::steady_timer timer_;
    bench::State state_;
    bench::State on_disk_;             ///< the fold of what is on disk, to go back to where a commit failed
    std::deque<bench::Event> waiting_; ///< decided, and not on disk yet
    Order order_;
    std::string journal_path_;
    std::optional<seal::PrivateKey> key_; ///< signs the journal's checkpoints
    JournalHead journal_head_;
    DeciderSinks sinks_;
    std::unique_ptr<journal::JournalWriter> writer_;
    std::vector<LiveChannel> channels_;
    std::vector<Held> held_;
    std::uint64_t durable_ = 0;
    std::uint64_t writer_generation_ = 0;
    bool failed_ = false;
    std::string last_alarm_;
    bench::Event trial_; ///< what a failed journal is tried with
    bool stopping_ = false;
    Micros failed_since_us_ = 0;
    Micros last_frame_us_ = 0;
    Micros last_anchor_us_ = 0;
    std::int64_t watched_from_ = -1;
    /// When the float began whose load was held against readings at rest; 0: look again. A number is given again after
    /// a confirmation was taken back, an instant is not.
    Micros load_looked_at_us_ = 0;
    std::uint64_t watches_ = 0;        ///< how often the approaches were watched anew
    bool reopening_ = false;           ///< a failed journal is being read
    boost::asio::thread_pool disk_{1}; ///< reads the journal: the deciding thread does not wait for the disk
    std::shared_ptr<bool> alive_ = std::make_shared<bool>(true);
};

} // namespace stillmark::decider
