#include "daemon/people/sessions.hpp"

#include <gtest/gtest.h>

#include <set>

namespace stillmark::people {
namespace {

constexpr std::int64_t s = 1'000'000;
constexpr std::int64_t h = 3600 * s;
const Person ada{"Ada", {Role::bench_operator}};
const Person ben{"Ben", {Role::reviewer}};

TEST(Sessions, ATokenIsItsOwners) {
    Sessions sessions;
    const auto token = sessions.open(ada, 0).value();
    const auto other = sessions.open(ben, 0).value();
    EXPECT_EQ(token.size(), 64U) << "256 bits";
    EXPECT_EQ(sessions.who(Sessions::key_of(token), s)->name, "Ada");
    EXPECT_EQ(sessions.who(Sessions::key_of(token), s)->roles, Roles{Role::bench_operator});
    EXPECT_EQ(sessions.who(Sessions::key_of(other), s)->name, "Ben");
    for (const std::string& none : {std::string(), token.substr(1), token + "0", std::string(64, '0')})
        EXPECT_FALSE(sessions.who(Sessions::key_of(none), s)) << none;
}

// FIPS 180-4's example: SHA-256 of "abc" begins ba7816bf and ends f20015ad.
TEST(Sessions, OnlyTheDigestOfATokenIsKept) {
    const auto key = Sessions::key_of("abc");
    EXPECT_EQ(key[0], 0xBA);
    EXPECT_EQ(key[1], 0x78);
    EXPECT_EQ(key[31], 0xAD);
}

TEST(Sessions, TokensDoNotRepeat) {
    Sessions sessions;
    std::set<std::string> seen;
    for (int i = 0; i < 1000; ++i)
        seen.insert(sessions.open({std::to_string(i), {Role::reviewer}}, i).value());
    EXPECT_EQ(seen.size(), 1000U);
}

TEST(Sessions, EndAfterAShiftWithoutUse) {
    Sessions sessions;
    const auto key = Sessions::key_of(sessions.open(ada, 0).value());
    EXPECT_TRUE(sessions.who(key, 12 * h - 1));
    EXPECT_FALSE(sessions.who(key, 12 * h));
    // A use that comes too late revives nothing.
    sessions.used(key, 12 * h);
    EXPECT_FALSE(sessions.who(key, 12 * h + 1));
}

TEST(Sessions, ALookIsNoUse) {
    Sessions sessions;
    const auto key = Sessions::key_of(sessions.open(ada, 0).value());
    EXPECT_TRUE(sessions.who(key, 11 * h));
    EXPECT_FALSE(sessions.who(key, 12 * h)) << "a page that asks by itself keeps nobody logged in";
}

TEST(Sessions, EndAfterADayInAnyCase) {
    Sessions sessions;
    const auto key = Sessions::key_of(sessions.open(ada, 0).value());
    for (int hour = 1; hour < 24; ++hour)
        sessions.used(key, hour * h);
    EXPECT_TRUE(sessions.who(key, 24 * h - 1));
    EXPECT_FALSE(sessions.who(key, 24 * h));
}

TEST(Sessions, LogOutEndsOneAndNoOther) {
    Sessions sessions;
    const auto here = Sessions::key_of(sessions.open(ada, 0).value());
    const auto there = Sessions::key_of(sessions.open(ada, 0).value());
    sessions.close(here);
    sessions.close(here);
    EXPECT_FALSE(sessions.who(here, s));
    EXPECT_TRUE(sessions.who(there, s));
}

TEST(Sessions, AllOfOnePersonEndTogether) {
    Sessions sessions;
    const auto here = Sessions::key_of(sessions.open(ada, 0).value());
    const auto there = Sessions::key_of(sessions.open(ada, 0).value());
    const auto others = Sessions::key_of(sessions.open(ben, 0).value());
    sessions.close_all_of("Ada");
    EXPECT_FALSE(sessions.who(here, s));
    EXPECT_FALSE(sessions.who(there, s));
    EXPECT_TRUE(sessions.who(others, s));
}

TEST(Sessions, ASixthLogInEndsTheOneUsedLeastLately) {
    Sessions sessions;
    std::vector<Sessions::Key> keys;
    for (int i = 0; i < 5; ++i)
        keys.push_back(Sessions::key_of(sessions.open(ada, i * s).value()));
    sessions.used(keys[0], 10 * s);
    const auto sixth = Sessions::key_of(sessions.open(ada, 11 * s).value());
    EXPECT_TRUE(sessions.who(keys[0], 12 * s));
    EXPECT_FALSE(sessions.who(keys[1], 12 * s));
    EXPECT_TRUE(sessions.who(keys[2], 12 * s));
    EXPECT_TRUE(sessions.who(sixth, 12 * s));
    EXPECT_EQ(sessions.count(), 5U);
}

// As many people as a file may hold, each with as many sessions as a person may have: nobody pushes out anybody else.
TEST(Sessions, NobodyPushesOutAnybodyElse) {
    Sessions sessions;
    std::vector<Sessions::Key> first;
    for (int person = 0; person < 200; ++person) {
        for (int i = 0; i < 5; ++i) {
            const auto token = sessions.open({"person " + std::to_string(person), {Role::reviewer}}, person).value();
            if (i == 4) first.push_back(Sessions::key_of(token));
        }
    }
    EXPECT_EQ(sessions.count(), 1000U);
    for (int i = 0; i < 100; ++i)
        sessions.open({"person 7", {Role::reviewer}}, 1000 + i);
    EXPECT_EQ(sessions.count(), 1000U);
    for (std::size_t person = 0; person < first.size(); ++person)
        EXPECT_EQ(sessions.who(first[person], 2000).has_value(), person != 7) << person;
}

TEST(Sessions, NeverMoreThanAThousand) {
    Sessions sessions;
    for (int person = 0; person < 1500; ++person)
        sessions.open({"person " + std::to_string(person), {Role::reviewer}}, person);
    EXPECT_EQ(sessions.count(), 1000U);
}

TEST(Sessions, ThoseThatAreOverMakeRoom) {
    Sessions sessions;
    for (int i = 0; i < 5; ++i)
        sessions.open(ada, 0);
    sessions.open(ben, 13 * h);
    EXPECT_EQ(sessions.count(), 1U);
}

} // namespace
} // namespace stillmark::people
