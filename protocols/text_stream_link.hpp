#pragma once

#include "protocols/back_off.hpp"
#include "protocols/descriptor.hpp"
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
///   bool still_there(Stream&) const;                 whether a read of zero bytes is only silence
///   static constexpr bool reconnects;                a doubtful stream is closed, and what is late on it ends with it
template <class Door>
class TextStreamLink final : public TextLink {
  public:
    TextStreamLink(Door door, std::string terminator) : door_(std::move(door)), terminator_(std::move(terminator)) {}

    Result<TextReply> ask(const std::string& request, std::chrono::milliseconds deadline) override;

  private:
    using Clock = std::chrono::steady_clock;

    std::optional<Failure> open();
    std::optional<Failure> drop_what_came_before(bool listening);
    std::optional<Failure> send(const std::string& request, Clock::time_point until);
    Result<TextReply> next_line(const std::string& request, TextReply reply, Clock::time_point until);
    std::optional<Failure> await_debt(Clock::time_point until);
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
    boost::asio::io_context io_{1};
    std::optional<typename Door::Stream> stream_;
    bool proven_ = false; ///< this opening of the stream has carried a line
    BackOff back_off_;
    std::string why_down_;
    std::array<char, 256> chunk_{};
    std::string buffer_;                   ///< what arrived since the request, as yet without terminator
    bool at_start_of_line_ = false;        ///< whether the next byte begins a line
    Clock::time_point quarantine_until_{}; ///< no request before: a late answer may still come
    int owed_ = 0;                         ///< answers to earlier requests that never came
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
    if (owed_ > 0 && stray.find(terminator_) != std::string::npos) --owed_;
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
Result<TextReply> TextStreamLink<Door>::next_line(const std::string& request, TextReply reply,
                                                  Clock::time_point until) {
    const bool listening = request.empty();
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

// An answer that never came may be on its way still, and then the true one follows it. Where two come within the time
// of three answers, the first was late.
template <class Door>
std::optional<Failure> TextStreamLink<Door>::await_debt(Clock::time_point until) {
    if (owed_ == 0) return std::nullopt;
    if (!buffer_.empty() || wait_readable(stream_->native_handle(), until) != Readable::nothing) {
        return trouble(Fault::bad_frame, "a late answer came before the one asked for");
    }
    owed_ = 0;
    return std::nullopt;
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

    const auto until = Clock::now() + door_.time_to_send(request.size() + terminator_.size()) + deadline;
    TextReply begun;
    begun.before_us = now_us();
    if (!listening) {
        at_start_of_line_ = true;
        if (const auto failed = send(request, until)) return *failed;
    }
    auto reply = next_line(request, std::move(begun), until);
    if (reply.has_value() && !listening && reply->line == request) {
        reply = trouble(Fault::bad_frame, "the line echoes what is sent; turn local echo off");
    } else if (reply.has_value() && !listening) {
        if (const auto late = await_debt(until + 2 * deadline)) reply = *late;
    }
    if (reply.has_value()) {
        proven_ = true;
        back_off_.answered();
    } else if (!listening && stream_) {
        if (reply.error().fault == Fault::silent) ++owed_;
        quarantine_until_ = Clock::now() + deadline;
        if (Door::reconnects) close();
    }
    return reply;
}

} // namespace stillmark::protocols
