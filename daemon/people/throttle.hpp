#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <string>

namespace stillmark::people {

/// Slows wrong passwords down, each pair of a name and an address by itself: whoever guesses at one address cannot keep
/// the owner of the name out at another. Instants are microseconds of one clock that the caller reads.
///
/// Bounded so that filling it gains nothing. An address has a place for 8 names; what it tries beyond them shares a
/// ninth, so that trying many names is no way round the waiting. Of more addresses than there is room for, the one with
/// the fewest wrong passwords is forgotten: an address that guesses much is never pushed out by ones that guess little,
/// and nobody is turned away because others fill the table.
class Throttle {
  public:
    static constexpr int free_of_charge = 3; ///< wrong passwords before anybody waits: hands are oily
    static constexpr std::int64_t longest_wait_us = 60'000'000;
    static constexpr std::int64_t remembered_us = std::int64_t{15} * 60 * 1'000'000;
    static constexpr std::size_t most_names = 8;
    static constexpr std::size_t most_addresses = 1024;

    /// 0: this attempt may be checked now. Otherwise how long to wait; such an attempt does not count. One that may be
    /// checked counts as wrong until told otherwise, so that many at the same time gain nothing.
    std::int64_t take(const std::string& name, const std::string& address, std::int64_t now_us);
    /// The attempt was right: what was wrong before is forgotten.
    void right(const std::string& name, const std::string& address);
    /// The attempt was not checked after all.
    void not_checked(const std::string& name, const std::string& address);

    /// How long after that many wrong passwords: 1 s after the third, then twice as long each time.
    static std::int64_t wait_after(int wrong);
    std::size_t addresses() const { return addresses_.size(); }

  private:
    struct Count {
        int wrong = 0;
        std::int64_t last_us = 0;
        std::int64_t free_at_us = 0;
    };
    struct Address {
        std::map<std::string, Count> names;
        Count beyond; ///< of all names for which there is no place
    };
    static void forget_old(Address& address, std::int64_t now_us);
    static int wrong_at(const Address& address);
    void make_room(std::int64_t now_us);

    std::map<std::string, Address> addresses_;
};

} // namespace stillmark::people
