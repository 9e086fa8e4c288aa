#include "protocols/owed_answers.hpp"

#include <algorithm>

namespace stillmark::protocols {

void OwedAnswers::sent(int kind, int length, bool probe, Clock::time_point at) {
    previous_came_ = false;
    owed_.push_back({kind, length, probe, at, ++latest_});
}

OwedAnswers::Whose OwedAnswers::came(const Fits& fits, bool may_be_own) {
    const auto oldest = std::find_if(owed_.begin(), owed_.end(), [&](const Request& request) {
        return fits(request) && (may_be_own || request.number != latest_);
    });
    if (oldest == owed_.end()) return Whose::nobody;
    const std::uint64_t number = oldest->number;
    owed_.erase(owed_.begin(), oldest + 1);
    if (number == latest_) {
        behind_ = 0;
        return Whose::own;
    }
    if (number + 1 == latest_ && !previous_came_) {
        previous_came_ = true;
        ++behind_;
    }
    return Whose::older;
}

bool OwedAnswers::forget_before(Clock::time_point instant) {
    bool any = false;
    for (; !owed_.empty() && owed_.front().at < instant; owed_.pop_front())
        any = true;
    return any;
}

bool OwedAnswers::owes_reading() const {
    return any([](const Request& request) { return !request.probe; });
}

bool OwedAnswers::any(const Fits& fits) const {
    return std::any_of(owed_.begin(), owed_.end(), fits);
}

} // namespace stillmark::protocols
