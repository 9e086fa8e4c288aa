#include "daemon/people/users.hpp"
#include "people/people_of_test.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <random>

namespace stillmark::people {
namespace {

using testing::quick_hash;

const std::string hash = "$scrypt$ln=15,r=8,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";

User user(const std::string& name, Roles roles = {Role::bench_operator}) {
    return {name, std::move(roles), hash};
}

std::string objection(const std::string& text) {
    const auto users = read_users(text);
    return users ? "good" : users.error().message;
}

/// A file with one user, in which one text was replaced by another.
std::string with(const std::string& old, const std::string& other) {
    std::string text = R"({"users": [{"name": "Ada", "roles": ["operator"], "password": ")" + hash + "\"}]}";
    const auto at = text.find(old);
    EXPECT_NE(at, std::string::npos) << old;
    return text.replace(at, old.size(), other);
}

TEST(Users, WhatIsWrittenIsRead) {
    Users users;
    EXPECT_EQ(add_user(users, user("Ada B.", {Role::bench_operator, Role::administrator})), std::nullopt);
    EXPECT_EQ(add_user(users, user("J\xC3\xBCrgen \"the \\hand\"", {Role::reviewer})), std::nullopt);
    const auto again = read_users(users_text(users));
    ASSERT_TRUE(again) << again.error().message;
    EXPECT_EQ(*again, users);
    EXPECT_EQ(read_users(users_text({})).value(), Users{});
}

TEST(Users, AreToldApartByTheirNames) {
    Users users;
    EXPECT_EQ(add_user(users, user("Ada")), std::nullopt);
    EXPECT_EQ(add_user(users, user("Ada")), "somebody is named \"Ada\" already");
    EXPECT_EQ(add_user(users, user("ada")), std::nullopt) << "compared byte by byte";
    EXPECT_TRUE(add_user(users, user("")));
    EXPECT_EQ(add_user(users, user("Ben", {})), "a person has at least one role: operator, reviewer, administrator");
    EXPECT_EQ(users.list.size(), 2U);
    EXPECT_EQ(users.find("Ada")->name, "Ada");
    EXPECT_EQ(users.find("Eve"), nullptr);
}

TEST(Users, TwoHundredAndNoMore) {
    Users users;
    for (int i = 0; i < 200; ++i)
        ASSERT_EQ(add_user(users, user("person " + std::to_string(i))), std::nullopt) << i;
    EXPECT_EQ(add_user(users, user("one more")), "there is room for 200 people; remove somebody");
    EXPECT_TRUE(read_users(users_text(users)));
    users.list.push_back(user("one more"));
    EXPECT_EQ(objection(users_text(users)), "users: 201 people are listed; there is room for 200");
}

TEST(Users, TheLastAdministratorStays) {
    Users users;
    add_user(users, user("Ada", {Role::administrator}));
    add_user(users, user("Ben"));
    EXPECT_EQ(remove_user(users, "Ada"), "Ada is the last administrator; add another one first");
    EXPECT_EQ(users.list.size(), 2U);
    add_user(users, user("Eve", {Role::administrator, Role::reviewer}));
    EXPECT_EQ(remove_user(users, "Ada"), std::nullopt);
    EXPECT_EQ(users.find("Ada"), nullptr);
    EXPECT_EQ(remove_user(users, "Ben"), std::nullopt);
    EXPECT_EQ(remove_user(users, "Ben"), "nobody is named \"Ben\" here; see the list");
}

TEST(Users, APasswordIsSetForOneThatIsThere) {
    Users users;
    add_user(users, user("Ada"));
    const std::string other = quick_hash("wet chalk");
    EXPECT_EQ(set_password(users, "Ada", other), std::nullopt);
    EXPECT_EQ(users.find("Ada")->password_hash, other);
    EXPECT_EQ(set_password(users, "Ben", other), "nobody is named \"Ben\" here; see the list");
}

TEST(Users, AMistakeIsToldWithItsPlace) {
    EXPECT_EQ(objection(with("Ada", "Ada")), "good");
    EXPECT_EQ(objection(""), "this is not JSON; look for a missing or extra comma, quote or bracket");
    EXPECT_EQ(objection(with("}]}", "}]")), objection(""));
    EXPECT_EQ(objection("[]"), "an object {...} belongs here");
    EXPECT_EQ(objection("{}"), "\"users\" is missing");
    EXPECT_EQ(objection(R"({"users": {}})"), "users: a list [...] belongs here");
    EXPECT_EQ(objection(R"({"users": [], "groups": []})"), "the key \"groups\" is not known; known here are users");
    EXPECT_EQ(objection(R"({"users": [5]})"), "users[0]: an object {...} belongs here");
    EXPECT_EQ(objection(with("\"name\": \"Ada\", ", "")), "users[0]: \"name\" is missing");
    EXPECT_EQ(objection(with("\"Ada\"", "5")), "users[0].name: a text belongs here");
    EXPECT_EQ(objection(with("Ada", " Ada")), "users[0].name: a name has no blanks at its ends; take them away");
    EXPECT_EQ(objection(with("Ada", "A\\u0000da")),
              "users[0].name: a name holds a control character, such as a tab or a line end; leave it out");
    EXPECT_EQ(objection(with("[\"operator\"]", "[]")),
              "users[0].roles: a list of roles belongs here: operator, reviewer, administrator");
    EXPECT_EQ(objection(with("\"operator\"", "\"master\"")),
              "users[0].roles: \"master\" is no role; use operator, reviewer or administrator");
    EXPECT_EQ(objection(with("\"operator\"", "\"operator\", \"operator\"")),
              "users[0].roles: the role operator stands twice");
    EXPECT_EQ(objection(with("ln=15", "ln=4")),
              "users[0].password: this is no hash that is taken here; set the password "
              "anew: stillmark users FILE password \"Ada\"");
    EXPECT_EQ(objection(with("\"" + hash + "\"", "\"wet chalk\"")), objection(with("ln=15", "ln=4")))
        << "a password in clear text";
    EXPECT_EQ(objection(with("\"name\": \"Ada\"", "\"name\": \"Ada\", \"name\": \"Ben\"")),
              "the key \"name\" stands twice in one object; keep one");
    Users twice;
    twice.list = {user("Ada"), user("Ben"), user("Ada")};
    EXPECT_EQ(objection(users_text(twice)), "users[2].name: \"Ada\" stands twice; keep one");
}

TEST(Users, NestingWithoutEndIsAMistake) {
    for (const std::size_t depth : {7U, 1000U, 100000U}) {
        EXPECT_EQ(objection(std::string(depth, '[') + std::string(depth, ']')),
                  "lists stand in lists where a users file has none");
        EXPECT_NE(objection(std::string(depth, '[')), "good");
    }
}

// Whatever bytes stand in a file: it is read as somebody's who could have been written, or refused with words.
TEST(Users, NoBytesBreakTheReading) {
    Users users;
    add_user(users, user("Ada \xC3\x84", {Role::bench_operator, Role::administrator}));
    add_user(users, user("Ben", {Role::reviewer}));
    const std::string sound = users_text(users);
    std::mt19937 draw(20261127);
    const auto below = [&draw](std::size_t n) { return std::uniform_int_distribution<std::size_t>(0, n - 1)(draw); };
    const std::string pieces = "{}[]\",:\\u0 \n\t\xFF\x80$=ntf-1e9";
    int taken = 0;
    int refused = 0;
    for (int i = 0; i < 20000; ++i) {
        std::string text = sound;
        for (std::size_t edits = 1 + below(3); edits > 0 && !text.empty(); --edits) {
            const auto at = below(text.size());
            switch (below(4)) {
            case 0:
                text.erase(at, 1 + below(20));
                break;
            case 1:
                text[at] = pieces[below(pieces.size())];
                break;
            case 2:
                text.insert(at, 1, pieces[below(pieces.size())]);
                break;
            default:
                text.insert(at, text.substr(below(text.size()), below(60)));
                break;
            }
        }
        const auto read = read_users(text);
        if (!read) {
            ++refused;
            ASSERT_FALSE(read.error().message.empty());
            continue;
        }
        ++taken;
        ASSERT_EQ(read_users(users_text(*read)).value(), *read) << text;
        for (const auto& one : read->list)
            ASSERT_FALSE(one.roles.empty()) << text;
    }
    EXPECT_GT(taken, 100);
    EXPECT_GT(refused, 10000);
}

} // namespace
} // namespace stillmark::people
