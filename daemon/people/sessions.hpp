#pragma once

#include "daemon/people/roles.hpp"

#include <array>
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>

namespace stillmark::people {

/// Who is logged in. Instants are microseconds of one clock that the caller reads; nothing here reads one.
class Sessions {
  public:
    /// A session ends 12 h after it was last used: that is a long shift, and nobody is asked for a password with oily
    /// hands in the middle of a run (common practice; NIST SP 800-63B (2017), 4.2.3 has the same figure). It ends after
    /// 24 h in any case, so that what a shift left open does not last for days.
    static constexpr std::int64_t idle_us = std::int64_t{12} * 3600 * 1'000'000;
    static constexpr std::int64_t longest_us = std::int64_t{24} * 3600 * 1'000'000;
    /// One person's sixth log-in ends the one that was used least lately. As a file has at most 200 people, nobody can
    /// push out anybody else.
    static constexpr std::size_t most_of_a_person = 5;
    static constexpr std::size_t most = 1000;

    /// What is kept of a token: its SHA-256, so that a look into the memory of the service opens no session.
    using Key = std::array<std::uint8_t, 32>;
    static Key key_of(std::string_view token);

    /// A new session's token: 256 random bits as 64 hexadecimal digits. Nothing where the library has no random bytes.
    std::optional<std::string> open(const Person& person, std::int64_t now_us);
    /// Whose session this is, or nothing where there is none or its time is over. What a page asks by itself is no use.
    std::optional<Person> who(const Key& key, std::int64_t now_us) const;
    /// A person did something in this session.
    void used(const Key& key, std::int64_t now_us);
    void close(const Key& key);
    void close_all_of(std::string_view name);
    std::size_t count() const { return sessions_.size(); }

  private:
    struct Session {
        Person person;
        std::int64_t opened_us;
        std::int64_t used_us;
    };
    static bool is_over(const Session& session, std::int64_t now_us);
    /// Makes room for one more session of this person.
    void make_room(std::string_view name, std::int64_t now_us);

    std::map<Key, Session> sessions_;
};

} // namespace stillmark::people
