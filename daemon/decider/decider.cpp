#include "daemon/decider/decider.hpp"

#include "daemon/bench/reference.hpp"
#include "daemon/decider/recovery.hpp"
#include "protocols/instant.hpp"

#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/post.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <utility>

namespace stillmark::decider {

using bench::Fact;

namespace {

constexpr auto tick_period = std::chrono::milliseconds(20);
constexpr Micros frame_period_us = 50'000;     ///< a live view changes at most twenty times a second
constexpr Micros anchor_period_us = 5'000'000; ///< how often the wall clock is looked at
constexpr Micros anchor_step_us = 20'000;      ///< a smaller difference is the clock being disciplined
constexpr Micros first_facts_within_us = 30'000'000;
constexpr Micros reopen_period_us = 2'000'000; ///< how often a failed journal is tried again

/// Readings of one window, so that a drift can be measured when it is asked for.
void keep_recent(LiveChannel& live, const acquisition::TimedValue& value, double window_s) {
    constexpr std::size_t most = 4096;
    if (!value.good) return;
    live.recent.push_back(value);
    while (live.recent.size() > most || value.at_us - live.recent.front().at_us > static_cast<Micros>(window_s * 1e6))
        live.recent.pop_front();
}

Micros utc_us() {
    return std::chrono::duration_cast<std::chrono::microseconds>(std::chrono::system_clock::now().time_since_epoch())
        .count();
}

} // namespace

Decider::Decider(boost::asio::io_context& io, bench::State state, std::uint64_t last_number, std::string journal_path,
                 DeciderSinks sinks, std::optional<seal::PrivateKey> key)
    : io_(io), timer_(io), state_(std::move(state)), on_disk_(state_), order_(last_number),
      journal_path_(std::move(journal_path)), key_(std::move(key)), sinks_(std::move(sinks)) {}

Decider::~Decider() {
    *alive_ = false;
    disk_.join();
    writer_.reset();
}

Micros Decider::now_us() const {
    return protocols::now_us();
}

journal::WriterSinks Decider::writer_sinks() {
    const auto generation = ++writer_generation_;
    const auto to_this = [this, alive = alive_, generation](auto call) {
        boost::asio::post(io_, [this, alive, generation, call] {
            if (*alive && generation == writer_generation_) call(*this);
        });
    };
    journal::WriterSinks sinks;
    sinks.durable = [to_this](std::uint64_t number, const seal::Digest& digest) {
        to_this([number, digest](Decider& self) { self.on_durable(number, digest); });
    };
    sinks.failed = [to_this](const std::string& words) { to_this([words](Decider& self) { self.on_failed(words); }); };
    sinks.full = [to_this](std::size_t waiting) {
        to_this(
            [waiting](Decider& self) { self.take_fact(bench::ReadingsRefused{static_cast<std::int64_t>(waiting)}); });
    };
    return sinks;
}

std::optional<std::string> Decider::open_writer() {
    auto writer = journal::JournalWriter::open(journal_path_, writer_sinks(), {}, key_);
    if (!writer) return writer.error().message;
    writer_ = std::move(*writer);
    return std::nullopt;
}

std::optional<std::string> Decider::start(const std::vector<Fact>& first_facts) {
    if (auto wrong = open_writer()) return wrong;
    for (const auto& fact : first_facts)
        take_fact(fact);
    // Without these on disk the journal would explain nothing of what follows.
    const auto work = boost::asio::make_work_guard(io_);
    const Micros until_us = now_us() + first_facts_within_us;
    while (!failed_ && !all_on_disk() && now_us() < until_us)
        io_.run_one_for(tick_period);
    if (failed_ || !all_on_disk())
        return failed_ ? last_alarm_ : fmt::format("{}: the disk takes nothing in time", journal_path_);
    for (const auto& instrument : state_.bench->instruments) {
        LiveChannel channel;
        if (!instrument.manual()) channel.detector.emplace(instrument.limits);
        channels_.push_back(std::move(channel));
    }
    last_anchor_us_ = now_us();
    renew_watches();
    tick();
    return std::nullopt;
}

void Decider::stop(const std::string& why) {
    stopping_ = true;
    timer_.cancel();
    // From here on nobody watches the piston.
    if (const auto* interval = state_.open_interval()) take_fact(bench::FloatUnknown{interval->number});
    take_fact(bench::ServiceStopped{why});
    writer_.reset();
}

void Decider::post(const acquisition::Reading& reading) {
    boost::asio::post(io_, [this, alive = alive_, reading] {
        if (*alive) take(reading);
    });
}

void Decider::post(const acquisition::ChannelFault& fault) {
    boost::asio::post(io_, [this, alive = alive_, fault] {
        if (*alive) take(fault);
    });
}

void Decider::take(const acquisition::ChannelFault& fault) {
    if (fault.channel >= channels_.size()) return;
    auto& known = channels_[fault.channel].fault;
    const bool again = known && known->latest.status == fault.status;
    known = {fault, again ? known->count + 1 : 1};
}

void Decider::request(const std::function<bench::Decision(const bench::State&, const bench::Moment&)>& decide,
                      const std::function<void(Outcome)>& told) {
    if (failed_) return told({Outcome::Kind::not_recorded, "the journal cannot be written; nothing was recorded"});
    const auto decision = decide(state_, {now_us(), seen_readings(false)});
    if (!decision) {
        const auto& found = decision.error();
        const auto kind = found.malformed              ? Outcome::Kind::malformed
                          : found.contradicted.empty() ? Outcome::Kind::refused
                                                       : Outcome::Kind::contradicted;
        const Outcome refusal{kind, found.why, found.contradicted};
        // A refusal tells of the state too, which may not be on disk yet.
        return when_all_on_disk([told, refusal](bool kept) {
            told(kept ? refusal : Outcome{Outcome::Kind::not_recorded, "the disk failed; nothing was recorded"});
        });
    }
    take_all(*decision, told);
}

void Decider::take_all(const std::vector<Fact>& facts, const std::function<void(Outcome)>& told) {
    for (const auto& fact : facts)
        take_fact(fact);
    hold([told] { told({}); },
         [told] {
             told({Outcome::Kind::not_recorded, "the disk refused it; nothing was recorded"});
         });
}

void Decider::when_all_on_disk(const std::function<void(bool)>& then) {
    if (failed_ || all_on_disk()) return then(!failed_);
    hold([then] { then(true); }, [then] { then(false); });
}

void Decider::hold(std::function<void()> when_durable, std::function<void()> when_lost) {
    if (failed_) {
        if (when_lost) when_lost();
        return;
    }
    held_.push_back({order_.last_event(), std::move(when_durable), std::move(when_lost)});
}

void Decider::take_fact(const Fact& fact) {
    if (failed_) return;
    const bench::Event event{order_.next_event(), now_us(), fact};
    if (writer_ == nullptr || !writer_->append(journal::EventRecord{event.number, event.at_us, bench::to_text(fact)})) {
        on_failed(writer_ == nullptr ? "it is closed" : writer_->why_refused());
        return;
    }
    waiting_.push_back(event);
    for (const auto& tell : bench::apply(state_, event))
        hold([this, tell] { sinks_.tell(tell); }, {});
    renew_watches();
}

void Decider::take(const acquisition::Reading& reading) {
    const std::size_t channel = reading.channel;
    if (stopping_ || channel >= channels_.size() || !channels_[channel].detector) return;
    auto& live = channels_[channel];
    live.latest = reading;
    if (reading.status == drivers::ReadingStatus::good) live.latest_good = reading;
    if (reading.status == drivers::ReadingStatus::doubtful) take_back(channel);
    std::uint64_t number = 0;
    if (!failed_) {
        number = order_.next_reading();
        const bool kept =
            writer_->append(journal::ReadingRecord{number, reading.channel, reading.timing_us, reading.at_us,
                                                   reading.value_pa, static_cast<std::uint8_t>(reading.status)});
        // What is not in the journal cannot be evidence, so it is not looked at either.
        if (!kept) return;
    }
    watch_channel(channel, reading, number);
}

/// The latest good reading may be the answer to another request: it counts nowhere any more.
void Decider::take_back(std::size_t channel) {
    auto& live = channels_[channel];
    if (live.latest_good && !live.recent.empty() && live.recent.back().at_us == live.latest_good->at_us)
        live.recent.pop_back();
    live.latest_good.reset();
    if (!live.check.empty()) live.check.back().value.good = false;
}

void Decider::watch_channel(std::size_t channel, const acquisition::Reading& reading, std::uint64_t number) {
    auto& live = channels_[channel];
    // Before anything of this reading counts: it ends what the one before it completed.
    if (!failed_) finish_window(channel, reading.status != drivers::ReadingStatus::doubtful);
    const acquisition::TimedValue value{reading.at_us, reading.value_pa,
                                        reading.status == drivers::ReadingStatus::good};
    const auto before = state_.channels[channel].stillness;
    const auto now = live.detector->push(value);
    if (failed_) return;
    if (value.good) live.not_on_disk.emplace_back(number, value.value_pa);
    if (value.good && live.after_past)
        live.after_past->push_back(value.value_pa);
    else if (value.good && live.approach)
        live.approach->take(value.value_pa);
    keep_recent(live, value, state_.bench->instruments[channel].limits.window_s);
    if (now != before) {
        take_fact(bench::StillnessChanged{static_cast<std::int64_t>(channel), now, static_cast<std::int64_t>(number)});
        load_looked_at_us_ = 0;
        suspect_loss();
    }
    watch_limits(channel, reading, number);
    watch_check(channel, reading, number);
    watch_window(channel, reading, number);
}

/// Keeps what a check before the run is judged by.
void Decider::watch_check(std::size_t channel, const acquisition::Reading& reading, std::uint64_t number) {
    constexpr std::size_t most = 100'000; // an hour at 27 readings a second
    auto& kept = channels_[channel].check;
    const auto watch = bench::check_watch(state_);
    if (!watch) return kept.clear();
    if (reading.at_us < watch->from_us || reading.at_us > watch->to_us || kept.size() >= most) return;
    // What an earlier trial left behind does not count.
    if (!kept.empty() && kept.front().value.at_us < watch->from_us) kept.clear();
    kept.push_back({number, {reading.at_us, reading.value_pa, reading.status == drivers::ReadingStatus::good}});
}

void Decider::finish_check(Micros now) {
    const auto watch = bench::check_watch(state_);
    if (!watch) return;
    // The last reading is a while on its way.
    double late_s = 0.5;
    for (const auto channel : watch->channels)
        late_s = std::max(late_s, 2 * state_.bench->instruments[channel].poll_s + 0.5);
    if (now < watch->to_us + static_cast<Micros>(late_s * 1e6)) return;
    std::vector<Fact> results;
    for (const auto channel : watch->channels) {
        auto& kept = channels_[channel].check;
        if (!kept.empty() && kept.front().value.at_us < watch->from_us) kept.clear();
        results.emplace_back(bench::judge_check(state_, channel, kept));
    }
    for (const auto& result : results)
        take_fact(result);
}

void Decider::watch_window(std::size_t channel, const acquisition::Reading& reading, std::uint64_t number) {
    auto& live = channels_[channel];
    const acquisition::TimedValue value{reading.at_us, reading.value_pa,
                                        reading.status == drivers::ReadingStatus::good};
    if (live.permit && !bench::window_may_go_on(state_, channel, *live.permit)) {
        live.permit.reset();
        live.window.reset();
    }
    if (live.after_past) return; // how the pressure was reached is part of a mark, and is still being read
    if (!live.window) {
        std::string why_not;
        live.permit = bench::window_permit(state_, channel, reading.at_us, why_not);
        if (!live.permit) return;
        // The first reading's own timing uncertainty keeps the guard whole; later ones are checked at the end.
        live.window.emplace(live.permit->not_before_us + 4 * static_cast<Micros>(reading.timing_us),
                            state_.bench->instruments[channel].limits);
        live.window_timing_us = 0;
    }
    const bool belongs = !live.window->readings().empty();
    const bool complete = live.window->take(number, value);
    if (belongs || !live.window->readings().empty())
        live.window_timing_us = std::max(live.window_timing_us, static_cast<Micros>(reading.timing_us));
    if (complete) return; // the next reading says whether the last one holds
    if (!live.window->overflowed()) return;
    judge_window(channel);
}

/// A complete window is judged when the next reading comes: only then is its last one beyond doubt.
void Decider::finish_window(std::size_t channel, bool last_reading_holds) {
    auto& live = channels_[channel];
    if (!live.window || !live.window->complete()) return;
    if (last_reading_holds && live.permit && bench::window_may_go_on(state_, channel, *live.permit))
        return judge_window(channel);
    live.permit.reset();
    live.window.reset();
}

void Decider::judge_window(std::size_t channel) {
    auto& live = channels_[channel];
    const bench::Window window{live.window->first_number(), live.window->last_number(), live.window_timing_us,
                               live.window->readings()};
    const auto fact =
        live.approach
            ? bench::judge_window(state_, channel, window, *live.approach)
            : Fact{bench::WindowFailed{static_cast<std::int64_t>(channel), static_cast<std::int64_t>(window.first),
                                       static_cast<std::int64_t>(window.last), "nothing watched the approach"}};
    live.permit.reset();
    live.window.reset();
    take_fact(fact);
}

void Decider::watch_limits(std::size_t channel, const acquisition::Reading& reading, std::uint64_t number) {
    if (reading.status != drivers::ReadingStatus::good) return;
    const auto& now = state_.channels[channel];
    const double rating_pa = state_.bench->weakest().rating_pa;
    const double above_air_pa =
        bench::above_air_pa(state_.bench->instruments[channel], reading.value_pa, state_.conditions.air);
    if (!now.above_rating && above_air_pa > rating_pa)
        take_fact(
            bench::RatingExceeded{static_cast<std::int64_t>(channel), static_cast<std::int64_t>(number), above_air_pa});
    else if (now.above_rating && above_air_pa < 0.98 * rating_pa)
        take_fact(bench::RatingRestored{static_cast<std::int64_t>(channel)});
    const auto* approach = channels_[channel].whole_approach();
    if (approach == nullptr || now.beyond_pa) return;
    const auto& instrument = state_.bench->instruments[channel];
    // The instrument itself may be off by its permissible error; more than that beyond the point is the pressure's
    // doing.
    const double limit_pa = instrument.mpe_pa + bench::approach_margin_pa(0, 0, instrument);
    if (approach->beyond_target_pa() > limit_pa)
        take_fact(bench::OvershootSeen{static_cast<std::int64_t>(channel), static_cast<std::int64_t>(number),
                                       reading.value_pa, limit_pa});
}

void Decider::suspect_loss() {
    const auto* run = state_.running();
    const auto* interval = state_.open_interval();
    if (run == nullptr || interval == nullptr || state_.loss_suspected) return;
    // Right after a confirmation the last of the winding still shows; later all channels moving together is no chance.
    if (now_us() - interval->from_us < static_cast<Micros>(2e6 * state_.bench->balance.settle_guard_s)) return;
    std::size_t watched = 0, moving = 0;
    for (std::size_t i = 0; i < channels_.size(); ++i) {
        if (!channels_[i].detector || !run->takes_part[i]) continue;
        ++watched;
        if (state_.channels[i].stillness == acquisition::Stillness::moving) ++moving;
    }
    if (watched > 0 && moving == watched) take_fact(bench::suspect_loss(state_, seen_readings(true), now_us()));
}

/// What the channels with a wire show now, of a run those that take part; a channel without a fresh good reading shows
/// nothing.
std::vector<bench::SeenReading> Decider::seen_readings(bool with_drift) const {
    std::vector<bench::SeenReading> seen;
    const auto* run = state_.running();
    for (std::size_t i = 0; i < channels_.size(); ++i) {
        const auto& live = channels_[i];
        if (!live.detector || (run != nullptr && !run->takes_part[i])) continue;
        const auto* reading = live.fresh(now_us(), state_.bench->instruments[i].poll_s);
        if (reading == nullptr) continue;
        double drift = 0;
        if (with_drift && live.recent.size() >= 3) {
            const std::vector<acquisition::TimedValue> recent(live.recent.begin(), live.recent.end());
            drift = acquisition::measure_window(recent, state_.bench->instruments[i].limits).slope_pa_per_s;
        }
        seen.push_back({i, reading->value_pa, drift});
    }
    return seen;
}

/// Once all that can read is at rest under a confirmed float, and again whenever something moved and rests.
void Decider::suspect_load() {
    const auto* run = state_.running();
    const auto* interval = state_.open_interval();
    if (run == nullptr || interval == nullptr || load_looked_at_us_ == interval->from_us) return;
    if (now_us() - interval->from_us < static_cast<Micros>(1e6 * state_.bench->balance.settle_guard_s)) return;
    std::size_t still = 0;
    for (std::size_t i = 0; i < channels_.size(); ++i) {
        if (!channels_[i].detector || !run->takes_part[i]) continue;
        const auto stillness = state_.channels[i].stillness;
        if (stillness == acquisition::Stillness::moving || stillness == acquisition::Stillness::settling) return;
        if (stillness == acquisition::Stillness::still) ++still;
    }
    if (still == 0) return;
    load_looked_at_us_ = interval->from_us;
    if (bench::load_suspicion(state_) != nullptr) return;
    if (const auto fact = bench::suspect_wrong_load(state_, seen_readings(false))) take_fact(*fact);
}

void Decider::renew_watches() {
    const auto* run = state_.running();
    const std::int64_t from = run != nullptr ? run->approach_from : 0;
    if (from == watched_from_ || channels_.empty()) return;
    watched_from_ = from;
    ++watches_;
    for (std::size_t i = 0; i < channels_.size(); ++i) {
        auto& live = channels_[i];
        live.approach = bench::approach_watch(state_, i);
        live.after_past.reset();
        const auto first = static_cast<std::uint64_t>(from);
        if (live.approach && first < order_.last()) read_past(i, first);
    }
}

/// After a restart, or a press taken back, in the middle of an approach: what came before is in the journal, and the
/// last of it still on its way there. The watch waits for it, for it takes readings in their order.
void Decider::read_past(std::size_t channel, std::uint64_t from) {
    auto& live = channels_[channel];
    live.permit.reset();
    live.window.reset();
    live.after_past.emplace();
    for (const auto& [number, value_pa] : live.not_on_disk)
        if (number > std::max(from, durable_)) live.after_past->push_back(value_pa);
    boost::asio::post(disk_, [this, alive = alive_, channel, from, last = durable_, path = journal_path_,
                              watches = watches_, &io = io_] {
        auto values_pa = good_readings(path, static_cast<std::uint32_t>(channel), from, last);
        boost::asio::post(io, [this, alive, channel, watches, values_pa = std::move(values_pa)] {
            if (*alive && watches == watches_) take_past(channel, values_pa);
        });
    });
}

void Decider::take_past(std::size_t channel, const std::vector<double>& values_pa) {
    auto& live = channels_[channel];
    if (!live.approach || !live.after_past) return;
    const auto after = std::exchange(live.after_past, std::nullopt);
    for (const double value_pa : values_pa)
        live.approach->take(value_pa);
    for (const double value_pa : *after)
        live.approach->take(value_pa);
}

void Decider::tick() {
    if (stopping_) return;
    const Micros now = now_us();
    for (std::size_t i = 0; i < channels_.size() && !failed_; ++i) {
        if (!channels_[i].detector) continue;
        const auto stillness = channels_[i].detector->tick(now);
        if (stillness != state_.channels[i].stillness)
            take_fact(bench::StillnessChanged{static_cast<std::int64_t>(i), stillness, 0});
    }
    if (!failed_)
        for (const auto& fact : bench::due_facts(state_, now, seen_readings(false)))
            take_fact(fact);
    if (!failed_) finish_check(now);
    if (!failed_) suspect_load();
    anchor_clock(now);
    if (failed_ && now - failed_since_us_ > reopen_period_us) reopen();
    if (now - last_frame_us_ >= frame_period_us && (failed_ || all_on_disk())) {
        // In step with its period, whatever the ticks make of it: twenty a second, not sixteen.
        last_frame_us_ = std::max(last_frame_us_ + frame_period_us, now - frame_period_us);
        sinks_.changed();
    }
    timer_.expires_after(tick_period);
    timer_.async_wait([this, alive = alive_](const boost::system::error_code& error) {
        if (!error && *alive) tick();
    });
}

void Decider::anchor_clock(Micros now) {
    if (failed_ || now - last_anchor_us_ < anchor_period_us) return;
    last_anchor_us_ = now;
    const Micros utc = utc_us();
    if (std::abs(utc - now - state_.utc_offset_us) > anchor_step_us) take_fact(bench::ClockAnchored{utc});
}

void Decider::on_durable(std::uint64_t number, const seal::Digest& digest) {
    journal_head_ = {number, seal::hex(digest)};
    if (failed_) return take_up_again(number);
    durable_ = std::max(durable_, number);
    for (; !waiting_.empty() && waiting_.front().number <= durable_; waiting_.pop_front())
        bench::apply(on_disk_, waiting_.front());
    for (auto& live : channels_)
        while (!live.not_on_disk.empty() && live.not_on_disk.front().first <= durable_)
            live.not_on_disk.pop_front();
    std::vector<Held> ready;
    const auto first_waiting =
        std::find_if(held_.begin(), held_.end(), [this](const Held& one) { return one.number > durable_; });
    ready.assign(std::make_move_iterator(held_.begin()), std::make_move_iterator(first_waiting));
    held_.erase(held_.begin(), first_waiting);
    for (const auto& one : ready)
        one.when_durable();
}

void Decider::on_failed(const std::string& words) {
    ++writer_generation_;
    writer_.reset();
    if (failed_) return; // the trial failed as what went before did, and people know
    failed_ = true;
    failed_since_us_ = now_us();
    waiting_.clear();
    go_back_to(on_disk_);
    std::vector<Held> lost = std::move(held_);
    held_.clear();
    for (const auto& one : lost)
        if (one.when_lost) one.when_lost();
    alarm(fmt::format("the journal cannot be written ({}): nothing is recorded until it can", words));
}

/// To a state that is on disk. Numbers go on: one that was lost is not given again.
void Decider::go_back_to(bench::State state) {
    state_ = std::move(state);
    order_ = Order(order_.last());
    for (auto& live : channels_) {
        live.permit.reset();
        live.window.reset();
        live.not_on_disk.clear();
    }
    watched_from_ = -1;
}

/// A failed journal as the disk has it now.
struct Decider::Reopened {
    std::unique_ptr<journal::JournalWriter> writer; ///< null: it cannot be opened yet
    std::optional<Recovered> recovered;
    std::string trouble; ///< why it could not be read
};

void Decider::reopen() {
    failed_since_us_ = now_us();
    if (writer_ != nullptr || reopening_) return;
    reopening_ = true;
    boost::asio::post(
        disk_, [this, alive = alive_, path = journal_path_, key = key_, sinks = writer_sinks(), &io = io_]() mutable {
            auto found = std::make_shared<Reopened>();
            std::error_code error;
            // A journal that is gone is not begun anew: it would explain nothing of what goes on.
            if (std::filesystem::exists(path, error))
                if (auto writer = journal::JournalWriter::open(path, std::move(sinks), {}, key)) {
                    found->writer = std::move(*writer);
                    if (auto recovered = recover(path))
                        found->recovered = std::move(*recovered);
                    else
                        found->trouble = recovered.error().message;
                }
            boost::asio::post(io, [this, alive, found] {
                if (*alive) take_reopened(std::move(*found));
            });
        });
}

/// A file that opens may still take nothing: one fact is tried, and until it is on disk the journal counts as failed.
void Decider::take_reopened(Reopened found) {
    reopening_ = false;
    failed_since_us_ = now_us();
    if (found.writer == nullptr || stopping_ || !failed_) return;
    if (!found.recovered || !found.recovered->state.bench || found.recovered->last_number < durable_) {
        alarm(found.recovered
                  ? fmt::format("{} is not the journal that was written before; put that one back", journal_path_)
                  : found.trouble);
        return;
    }
    writer_ = std::move(found.writer);
    on_disk_ = std::move(found.recovered->state);
    go_back_to(on_disk_);
    Fact fact = bench::ClockAnchored{utc_us()};
    // Nobody's word was recorded in between, so nobody knows whether the piston went on floating.
    if (const auto* interval = state_.open_interval()) fact = bench::FloatUnknown{interval->number};
    trial_ = {order_.next_event(), now_us(), std::move(fact)};
    if (!writer_->append(journal::EventRecord{trial_.number, trial_.at_us, bench::to_text(trial_.fact)}))
        writer_.reset();
}

void Decider::take_up_again(std::uint64_t number) {
    if (number < trial_.number) return;
    failed_ = false;
    durable_ = number;
    last_alarm_.clear();
    sinks_.tell({false, "the journal can be written again"});
    bench::apply(on_disk_, trial_);
    for (const auto& tell : bench::apply(state_, trial_))
        sinks_.tell(tell);
    renew_watches();
}

/// Said once, not at every trial.
void Decider::alarm(const std::string& words) {
    if (words == last_alarm_) return;
    last_alarm_ = words;
    sinks_.tell({true, words});
}

} // namespace stillmark::decider
