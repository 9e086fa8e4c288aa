#include "daemon/gateway/looks.hpp"

#include <algorithm>

namespace stillmark::gateway {

using nlohmann::json;

bool Looks::add(json request, Reply reply) {
    const auto same = std::ranges::find(waiting_, request, &Question::request);
    if (same != waiting_.end()) {
        same->replies.push_back(std::move(reply));
        return true;
    }
    // A question that is under way is not joined: its reply may have been made before this request came.
    if (waiting_.size() == most_waiting) return false;
    waiting_.push_back({std::move(request), {}});
    waiting_.back().replies.push_back(std::move(reply));
    return true;
}

const json* Looks::next(Micros now_us) {
    if (under_way_ || waiting_.empty() || now_us < rests_until_us_) return nullptr;
    now_ = std::move(waiting_.front());
    waiting_.pop_front();
    under_way_ = true;
    asked_us_ = now_us;
    return &now_.request;
}

void Looks::replied(json reply, Micros now_us) {
    if (!under_way_) return;
    under_way_ = false;
    rests_until_us_ = now_us + std::clamp<Micros>(now_us - asked_us_, 0, longest_rest_us);
    const auto shared = std::make_shared<const json>(std::move(reply));
    const auto replies = std::move(now_.replies);
    now_ = {};
    for (const auto& give : replies)
        give(shared);
}

} // namespace stillmark::gateway
