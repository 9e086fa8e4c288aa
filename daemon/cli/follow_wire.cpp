#include "daemon/cli/follow_wire.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace stillmark::cli {

namespace {

constexpr int at_most_hz = 10;
constexpr Micros first_pause_us = 250'000;
constexpr Micros longest_pause_us = 1'000'000;
/// A service that has not answered for this long is taken for lost.
constexpr Micros answer_within_us = 5'000'000;

} // namespace

FollowWire::FollowWire(std::string path, std::string by)
    : path_(std::move(path)), by_(std::move(by)), pause_us_(first_pause_us) {}

std::vector<pollfd> FollowWire::waiting() const {
    std::vector<pollfd> all;
    for (const auto* socket : {&frames_, &commands_})
        if (*socket)
            all.push_back({(*socket)->descriptor(),
                           static_cast<short>((*socket)->wants_to_write() ? POLLIN | POLLOUT : POLLIN), 0});
    return all;
}

void FollowWire::connect(FollowState& state, Micros now_us) {
    auto frames = LineSocket::connect(path_);
    if (!frames) return lose(state, frames.error(), now_us);
    auto commands = LineSocket::connect(path_);
    if (!commands) return lose(state, commands.error(), now_us);
    frames_.emplace(std::move(*frames));
    commands_.emplace(std::move(*commands));
    connected_us_ = now_us;
    if (const auto trouble =
            frames_->send(to_line({{"id", ++last_id_}, {"do", "subscribe"}, {"at_most_hz", at_most_hz}})))
        lose(state, *trouble, now_us);
}

void FollowWire::lose(FollowState& state, const Trouble& trouble, Micros now_us) {
    const bool was_connected = state.connected;
    went_away(state, trouble.message, now_us);
    frames_.reset();
    commands_.reset();
    next_attempt_us_ = now_us + pause_us_;
    pause_us_ = std::min(2 * pause_us_, longest_pause_us);
    if (was_connected && !asked_.empty()) {
        const Request& request = asked_.begin()->second.request;
        refuse(state,
               fmt::format("No answer came to \"{}\": see here whether it was recorded when the service is back.",
                           request.what));
        if (request.is_entry && state.entry && state.entry->complete()) state.entry->reopen();
    }
    asked_.clear();
}

void FollowWire::turn(FollowState& state, Micros now_us) {
    if (!frames_) {
        if (now_us < next_attempt_us_) return;
        connect(state, now_us);
    }
    for (auto read : {&FollowWire::read_frames, &FollowWire::read_replies}) {
        if (!frames_) return;
        if (const auto trouble = (this->*read)(state, now_us)) lose(state, *trouble, now_us);
    }
}

std::optional<Trouble> FollowWire::read_frames(FollowState& state, Micros now_us) {
    auto trouble = frames_->pump();
    while (const auto line = frames_->take_line()) {
        const auto message = parse_line(*line);
        if (!message) return Trouble{"what came is not a line of JSON; this is no stillmarkd"};
        if (reply_to(*message)) {
            const auto reply = read_reply(*message);
            if (!reply) return reply.error();
            if (!reply->ok) return Trouble{reply->error};
        } else {
            take_frame(state, *message, now_us);
        }
        came_back(state, now_us);
        pause_us_ = first_pause_us;
    }
    if (trouble) return trouble;
    if (!state.connected && now_us - connected_us_ > answer_within_us) return Trouble{"it does not answer"};
    return std::nullopt;
}

std::optional<Trouble> FollowWire::read_replies(FollowState& state, Micros now_us) {
    auto trouble = commands_->pump();
    while (const auto line = commands_->take_line()) {
        const auto message = parse_line(*line);
        if (!message) return Trouble{"what came is not a line of JSON; this is no stillmarkd"};
        const auto found = asked_.find(reply_to(*message).value_or(0));
        if (found == asked_.end()) continue;
        const auto reply = read_reply(*message);
        if (!reply) return reply.error();
        Asked asked = std::move(found->second);
        asked_.erase(found);
        answered(state, asked.request, asked.then, *reply);
        if (reply->ok) send(std::move(asked.then), now_us);
    }
    if (trouble) return trouble;
    for (const auto& [id, asked] : asked_)
        if (now_us - asked.sent_us > answer_within_us) return Trouble{"it does not answer"};
    return std::nullopt;
}

void FollowWire::send(std::vector<Request> requests, Micros now_us) {
    if (requests.empty() || !commands_) return;
    Asked asked{std::move(requests.front()), {}, now_us};
    asked.then.assign(std::make_move_iterator(requests.begin() + 1), std::make_move_iterator(requests.end()));
    Json body = asked.request.body;
    body["id"] = ++last_id_;
    if (!by_.empty()) body["by"] = by_;
    asked_.emplace(last_id_, std::move(asked));
    // Trouble shows itself again when the reply is read.
    static_cast<void>(commands_->send(to_line(body)));
}

} // namespace stillmark::cli
