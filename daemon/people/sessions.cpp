#include "daemon/people/sessions.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <openssl/rand.h>
#include <openssl/sha.h>

namespace stillmark::people {

Sessions::Key Sessions::key_of(std::string_view token) {
    Key key{};
    SHA256(reinterpret_cast<const unsigned char*>(token.data()), token.size(), key.data());
    return key;
}

bool Sessions::is_over(const Session& session, std::int64_t now_us) {
    return now_us - session.used_us >= idle_us || now_us - session.opened_us >= longest_us;
}

void Sessions::make_room(std::string_view name, std::int64_t now_us) {
    std::erase_if(sessions_, [now_us](const auto& one) { return is_over(one.second, now_us); });
    const auto is_his = [name](const auto& one) { return one.second.person.name == name; };
    const bool has_many = std::ranges::count_if(sessions_, is_his) >= static_cast<std::ptrdiff_t>(most_of_a_person);
    if (!has_many && sessions_.size() < most) return;
    auto oldest = sessions_.end();
    for (auto one = sessions_.begin(); one != sessions_.end(); ++one) {
        if (has_many && !is_his(*one)) continue;
        if (oldest == sessions_.end() || one->second.used_us < oldest->second.used_us) oldest = one;
    }
    sessions_.erase(oldest);
}

std::optional<std::string> Sessions::open(const Person& person, std::int64_t now_us) {
    std::array<unsigned char, 32> random{};
    if (RAND_bytes(random.data(), static_cast<int>(random.size())) != 1) return std::nullopt;
    std::string token;
    for (const auto byte : random)
        token += fmt::format("{:02x}", byte);
    make_room(person.name, now_us);
    sessions_[key_of(token)] = {person, now_us, now_us};
    return token;
}

std::optional<Person> Sessions::who(const Key& key, std::int64_t now_us) const {
    const auto found = sessions_.find(key);
    if (found == sessions_.end() || is_over(found->second, now_us)) return std::nullopt;
    return found->second.person;
}

void Sessions::used(const Key& key, std::int64_t now_us) {
    const auto found = sessions_.find(key);
    if (found != sessions_.end() && !is_over(found->second, now_us)) found->second.used_us = now_us;
}

void Sessions::close(const Key& key) {
    sessions_.erase(key);
}

void Sessions::close_all_of(std::string_view name) {
    std::erase_if(sessions_, [name](const auto& one) { return one.second.person.name == name; });
}

} // namespace stillmark::people
