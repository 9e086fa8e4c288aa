#include "daemon/people/throttle.hpp"

#include <algorithm>
#include <iterator>

namespace stillmark::people {

std::int64_t Throttle::wait_after(int wrong) {
    if (wrong < free_of_charge) return 0;
    // Six doublings pass the longest wait.
    const int doublings = std::min(wrong - free_of_charge, 6);
    return std::min(longest_wait_us, std::int64_t{1'000'000} << doublings);
}

void Throttle::forget_old(Address& address, std::int64_t now_us) {
    const auto is_old = [now_us](const Count& count) { return now_us - count.last_us >= remembered_us; };
    std::erase_if(address.names, [is_old](const auto& one) { return is_old(one.second); });
    if (is_old(address.beyond)) address.beyond = {};
}

int Throttle::wrong_at(const Address& address) {
    int wrong = address.beyond.wrong;
    for (const auto& [name, count] : address.names)
        wrong += count.wrong;
    return wrong;
}

void Throttle::make_room(std::int64_t now_us) {
    if (addresses_.size() < most_addresses) return;
    for (auto one = addresses_.begin(); one != addresses_.end();) {
        forget_old(one->second, now_us);
        one = wrong_at(one->second) == 0 ? addresses_.erase(one) : std::next(one);
    }
    if (addresses_.size() < most_addresses) return;
    addresses_.erase(std::ranges::min_element(addresses_, {}, [](const auto& one) { return wrong_at(one.second); }));
}

std::int64_t Throttle::take(const std::string& name, const std::string& address, std::int64_t now_us) {
    if (!addresses_.contains(address)) make_room(now_us);
    Address& at = addresses_[address];
    forget_old(at, now_us);
    const bool has_place = at.names.contains(name) || at.names.size() < most_names;
    Count& count = has_place ? at.names[name] : at.beyond;
    if (now_us < count.free_at_us) return count.free_at_us - now_us;
    ++count.wrong;
    count.last_us = now_us;
    count.free_at_us = now_us + wait_after(count.wrong);
    return 0;
}

void Throttle::right(const std::string& name, const std::string& address) {
    const auto at = addresses_.find(address);
    if (at == addresses_.end()) return;
    // A name that shares its count with others cannot forgive theirs.
    if (at->second.names.erase(name) == 0) return not_checked(name, address);
    if (wrong_at(at->second) == 0) addresses_.erase(at);
}

void Throttle::not_checked(const std::string& name, const std::string& address) {
    const auto at = addresses_.find(address);
    if (at == addresses_.end()) return;
    const auto known = at->second.names.find(name);
    Count& count = known != at->second.names.end() ? known->second : at->second.beyond;
    if (count.wrong == 0) return;
    --count.wrong;
    count.free_at_us = 0; // it was free when the attempt was taken
    if (count.wrong == 0 && known != at->second.names.end()) at->second.names.erase(known);
    if (wrong_at(at->second) == 0) addresses_.erase(at);
}

} // namespace stillmark::people
