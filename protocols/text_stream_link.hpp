#pragma once

#include "protocols/back_off.hpp"
#include "protocols/descriptor.hpp"
#include "protocols/owed_answers.hpp"
#include "protocols/text_link.hpp"

#include <boost/asio/buffer.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/write.hpp>
#include <fmt/format.h>

#include <array>
#include <optional>
#include <string>

namespace stillmark::protocols {

/// The longest line that is read; a longer one has lost its terminator.
constexpr std::size_t longest_line = 512;

/// A text link over any stream of Asio. A Door says how its stream is opened and what a failure means to it:
///   using Stream = ...;
///   std::string where() const;                       the device or address, for messages
///   std::string objection() const;                   why it can never be opened, or empty
///   Result<Stream> open(boost::asio::io_context&);
///   std::chrono::nanoseconds time_to_send(std::size_t characters) const;
///   std::chrono::nanoseconds soonest_answer(std::size_t request, std::size_t answer) const;   in characters
///   bool still_there(Stream&) const;                 whether a read of zero bytes is only silence
///   static constexpr bool reconnects;                a stream that nothing came on may be dead and is opened again
///
/// What is owed outlives a stream: behind a terminal server the instrument goes on sending. After a silence no line is
/// a reading before one of these:
///   the answer to the identification came, where the instrument has one: what is owed ended before it
///   as many lines came as are owed; nothing is asked meanwhile, so that this is one
///   nothing came for longer than any answer is late: it is asked twice, and the first line dropped
template <class Door>
class TextStreamLink final : public TextLink {
  public:
    TextStreamLink(Door door, std::string terminator) : door_(std::move(door)), terminator_(std::move(terminator)) {}

    Result<TextReply> ask(const std::string& request, std::chrono::milliseconds deadline) override;
    void synchronise_by(Identification by) override { identification_ = std::move(by); }
    std::uint64_t doubts() const override { return doubts_; }

  private:
    using Clock = std::chrono::steady_clock;
    using Whose = OwedAnswers::Whose;
    enum Kind { reading, identification };
    enum class Knows { perhaps, yes, no };

    std::optional<Failure> open();
    std::optional<Failure> drop_what_came_before(bool listening);
    std::optional<Failure> send(const std::string& request, Clock::time_point until);
    Result<TextReply> next_line(bool listening, TextReply reply, Clock::time_point until);
    Result<TextReply> exchange(const std::string& request, Kind kind, std::chrono::milliseconds deadline);
    std::optional<Failure> synchronise(const std::string& request, std::chrono::milliseconds deadline);
    std::optional<Failure> listen(std::chrono::milliseconds deadline);
    Whose settle(const std::string& line, bool may_be_own);
    Failure why_late() const;
    boost::system::error_code read_some(Clock::time_point until);
    bool run(Clock::time_point until);
    void note_end_of(const std::string& bytes);
    void close();
    Failure lost(const std::string& what);
    Failure trouble(Fault fault, const std::string& what) const {
        return {fault, fmt::format("{}: {}", door_.where(), what)};
    }

    Door door_;
    std::string terminator_;
    Identification identification_;
    Knows knows_identification_ = Knows::perhaps;
    boost::asio::io_context io_{1};
    std::optional<typename Door::Stream> stream_;
    bool proven_ = false; ///< this opening of the stream has carried a line
    BackOff back_off_;
    std::string why_down_;
    std::array<char, 256> chunk_{};
    std::string buffer_;                   ///< what arrived since the request, as yet without terminator
    bool at_start_of_line_ = false;        ///< whether the next byte begins a line
    Clock::time_point quarantine_until_{}; ///< no request before: a late answer may still come
    OwedAnswers owed_;
    bool synchronised_ = true; ///< no answer to an earlier request can come any more
    std::uint64_t doubts_ = 0;
};

// One asynchronous operation with a deadline: Asio's blocking calls have none.
template <class Door>
bool TextStreamLink<Door>::run(Clock::time_point until) {
    io_.restart();
    io_.run_until(until);
    if (io_.stopped()) return true;
    boost::system::error_code ignored;
    stream_->cancel(ignored);
    io_.run();
    return false;
}

template <class Door>
void TextStreamLink<Door>::close() {
    boost::system::error_code ignored;
    if (stream_) stream_->close(ignored);
    stream_.reset();
    proven_ = false;
    buffer_.clear();
    at_start_of_line_ = false;
}

template <class Door>
Failure TextStreamLink<Door>::lost(const std::string& what) {
    close();
    back_off_.failed(Clock::now());
    Failure down = trouble(Fault::link_down, what);
    why_down_ = down.detail;
    return down;
}

template <class Door>
std::optional<Failure> TextStreamLink<Door>::open() {
    if (stream_) return std::nullopt;
    if (!back_off_.may_try(Clock::now())) return Failure{Fault::link_down, why_down_};
    auto opened = door_.open(io_);
    if (opened.has_error()) return lost(opened.error().detail);
    stream_.emplace(std::move(*opened));
    return std::nullopt;
}

template <class Door>
void TextStreamLink<Door>::note_end_of(const std::string& bytes) {
    if (!bytes.empty()) at_start_of_line_ = bytes.ends_with(terminator_);
}

// What is here before the request answers something older. Half a line is dropped with its other half, which is still
// on its way; after a failure this also sits out the quarantine.
template <class Door>
std::optional<Failure> TextStreamLink<Door>::drop_what_came_before(bool listening) {
    const auto half_a_line = std::chrono::milliseconds(50);
    auto until = std::max(quarantine_until_, Clock::now());
    const auto patience = until + std::chrono::seconds(1);
    std::string stray = std::move(buffer_);
    buffer_.clear();
    note_end_of(stray);
    if (!listening && !stray.empty() && !at_start_of_line_) until = std::max(until, Clock::now() + half_a_line);
    for (;;) {
        const auto found = wait_readable(stream_->native_handle(), until);
        if (found == Readable::nothing) break;
        if (found == Readable::gone || !take_waiting(stream_->native_handle(), stray)) return lost("hung up");
        note_end_of(stray);
        // An instrument that talks by itself is never quiet; its next line is found by its start.
        if (listening) break;
        if (!at_start_of_line_) until = std::max(until, Clock::now() + half_a_line);
        if (Clock::now() > patience) return trouble(Fault::bad_frame, "the line is never silent");
    }
    if (listening) return std::nullopt;
    for (std::size_t from = 0, end = 0; (end = stray.find(terminator_, from)) != std::string::npos;
         from = end + terminator_.size())
        settle(stray.substr(from, end - from), true);
    return std::nullopt;
}

template <class Door>
std::optional<Failure> TextStreamLink<Door>::send(const std::string& request, Clock::time_point until) {
    const std::string line = request + terminator_;
    boost::system::error_code error;
    boost::asio::async_write(*stream_, boost::asio::buffer(line),
                             [&error](const boost::system::error_code& result, std::size_t) { error = result; });
    if (!run(until)) return trouble(Fault::silent, "the line takes no bytes");
    if (error) return lost(error.message());
    return std::nullopt;
}

template <class Door>
boost::system::error_code TextStreamLink<Door>::read_some(Clock::time_point until) {
    boost::system::error_code error;
    std::size_t count = 0;
    stream_->async_read_some(boost::asio::buffer(chunk_),
                             [&error, &count](const boost::system::error_code& result, std::size_t read) {
                                 error = result;
                                 count = read;
                             });
    if (!run(until) && count == 0) return boost::asio::error::timed_out;
    buffer_.append(chunk_.data(), count);
    return error;
}

template <class Door>
Result<TextReply> TextStreamLink<Door>::next_line(bool listening, TextReply reply, Clock::time_point until) {
    bool skipping = listening && !at_start_of_line_;
    for (;;) {
        if (const std::size_t end = buffer_.find(terminator_); end != std::string::npos) {
            std::string line = buffer_.substr(0, end);
            buffer_.erase(0, end + terminator_.size());
            if (skipping) {
                skipping = false;
                reply.before_us = now_us();
                continue;
            }
            reply.after_us = now_us();
            at_start_of_line_ = buffer_.empty();
            reply.line = std::move(line);
            return reply;
        }
        if (buffer_.size() > longest_line) {
            buffer_.clear();
            at_start_of_line_ = false;
            return trouble(Fault::bad_frame, fmt::format("no end of line within {} bytes", longest_line));
        }
        const bool nothing_before = buffer_.empty();
        const auto error = read_some(until);
        // A line that comes unasked was measured when it began to come, not when this end began to listen.
        if (listening && nothing_before && !buffer_.empty()) reply.before_us = now_us();
        if (error == boost::asio::error::timed_out) {
            at_start_of_line_ = at_start_of_line_ && buffer_.empty();
            if (!buffer_.empty()) return trouble(Fault::bad_frame, "the line broke off");
            return trouble(Fault::silent, "no answer");
        }
        if (error && !(error == boost::asio::error::eof && door_.still_there(*stream_))) return lost(error.message());
        if (error && Clock::now() >= until) return trouble(Fault::silent, "no answer");
    }
}

// Ends the debt that a line pays. One that nothing is owed for makes the latest reply doubtful: it may be what had been
// asked then. An instrument that never identified itself may answer that question with a reading.
template <class Door>
OwedAnswers::Whose TextStreamLink<Door>::settle(const std::string& line, bool may_be_own) {
    const bool identifies = identification_.fits && identification_.fits(line);
    const bool answers_any = !identifies && knows_identification_ != Knows::yes;
    Kind of = reading;
    const Whose whose = owed_.came(
        [&](const OwedAnswers::Request& one) {
            const bool fits = answers_any || one.kind == (identifies ? identification : reading);
            if (fits) of = static_cast<Kind>(one.kind);
            return fits;
        },
        may_be_own);
    if (whose == Whose::nobody) {
        ++doubts_;
        synchronised_ = false;
        return whose;
    }
    if (identifies) knows_identification_ = Knows::yes;
    if (of == identification && !identifies) knows_identification_ = Knows::no;
    const bool only_owed = owed_.empty() && knows_identification_ != Knows::yes;
    if (only_owed || (identifies && !owed_.owes_reading())) synchronised_ = true;
    return whose;
}

template <class Door>
Failure TextStreamLink<Door>::why_late() const {
    return trouble(Fault::bad_frame, owed_.behind() >= OwedAnswers::stays_behind
                                         ? "the instrument stays one answer behind: each answer belongs to the "
                                           "request before"
                                         : "a late answer came before the one asked for");
}

template <class Door>
Result<TextReply> TextStreamLink<Door>::exchange(const std::string& request, Kind kind,
                                                 std::chrono::milliseconds deadline) {
    const auto sent_at = Clock::now();
    const auto until = sent_at + door_.time_to_send(request.size() + terminator_.size()) + deadline;
    TextReply begun;
    begun.before_us = now_us();
    at_start_of_line_ = true;
    owed_.sent(kind, 0, kind == identification, sent_at);
    if (const auto failed = send(request, until)) return *failed;
    bool late = false;
    for (;;) {
        auto reply = next_line(false, begun, until);
        if (reply.has_error()) {
            if (late && reply.error().fault == Fault::silent) return why_late();
            return reply;
        }
        if (reply->line == request)
            return trouble(Fault::bad_frame, "the line echoes what is sent; turn local echo off");
        const auto soonest =
            door_.soonest_answer(request.size() + terminator_.size(), reply->line.size() + terminator_.size());
        const bool may_be_own = Clock::now() - sent_at >= soonest;
        if (settle(reply->line, may_be_own) == Whose::own) return reply;
        late = true;
    }
}

// Waits for lines that are owed, and asks nothing meanwhile.
template <class Door>
std::optional<Failure> TextStreamLink<Door>::listen(std::chrono::milliseconds deadline) {
    const auto until = Clock::now() + deadline;
    while (!synchronised_) {
        const auto line = next_line(false, {}, until);
        if (line.has_error()) return line.error();
        settle(line->line, true);
    }
    return std::nullopt;
}

template <class Door>
std::optional<Failure> TextStreamLink<Door>::synchronise(const std::string& request,
                                                         std::chrono::milliseconds deadline) {
    const auto patience = std::max<std::chrono::nanoseconds>(longest_lateness, 3 * deadline);
    const bool given_up = owed_.forget_before(Clock::now() - patience);
    const auto of_identification = [](const OwedAnswers::Request& one) { return one.kind == identification; };
    // One that may not know it is asked seldom: each question may be one more answer that is owed.
    const auto pause = std::max<std::chrono::nanoseconds>(std::chrono::milliseconds(500), 3 * deadline);
    const bool asked_lately = owed_.any([since = Clock::now() - pause, of_identification](const auto& one) {
        return of_identification(one) && one.at > since;
    });
    const bool may_identify = identification_.fits && (knows_identification_ == Knows::yes ||
                                                       (knows_identification_ == Knows::perhaps && !asked_lately));
    if (given_up && knows_identification_ == Knows::perhaps) knows_identification_ = Knows::no;
    if (may_identify && !(given_up && knows_identification_ == Knows::no)) {
        const auto reply = exchange(identification_.request, identification, deadline);
        if (synchronised_) return drop_what_came_before(false);
        if (reply.has_error()) return reply.error();
        return why_late();
    }
    if (!owed_.empty()) {
        if (const auto silent = listen(deadline)) return silent;
        return drop_what_came_before(false);
    }
    if (Door::reconnects && given_up) {
        close();
        if (const auto down = open()) return down;
    }
    const auto dropped = exchange(request, reading, deadline);
    if (dropped.has_error()) return dropped.error();
    synchronised_ = true;
    return drop_what_came_before(false);
}

template <class Door>
Result<TextReply> TextStreamLink<Door>::ask(const std::string& request, std::chrono::milliseconds deadline) {
    if (const std::string no = door_.objection(); !no.empty()) return trouble(Fault::unsupported, no);
    if (terminator_.empty()) return trouble(Fault::unsupported, "a line without terminator never ends; give one");
    if (const auto down = open()) return *down;
    const bool listening = request.empty();
    const bool had_worked = proven_;
    if (const auto busy = drop_what_came_before(listening)) {
        if (busy->fault != Fault::link_down || !had_worked) return *busy;
        // An idle connection may have been closed: that costs no reading where it opens again at once.
        back_off_.answered();
        if (const auto down = open()) return *down;
    }
    if (listening) {
        TextReply begun;
        begun.before_us = now_us();
        auto heard = next_line(true, std::move(begun), Clock::now() + deadline);
        if (heard.has_value()) {
            proven_ = true;
            back_off_.answered();
        }
        return heard;
    }

    Result<TextReply> reply = Failure{Fault::bad_frame, {}};
    const auto unsynchronised = synchronised_ ? std::nullopt : synchronise(request, deadline);
    if (unsynchronised)
        reply = *unsynchronised;
    else if (!synchronised_)
        reply = why_late(); // a stray line came right behind
    else
        reply = exchange(request, reading, deadline);
    if (reply.has_value()) {
        proven_ = true;
        back_off_.answered();
        return reply;
    }
    synchronised_ = false;
    if (!stream_) return reply;
    quarantine_until_ = Clock::now() + deadline;
    // Answers of a network instrument may overtake one another on one connection, and end with it; an identification
    // then tells what a terminal server kept.
    if (Door::reconnects && knows_identification_ == Knows::yes) close();
    return reply;
}

} // namespace stillmark::protocols
