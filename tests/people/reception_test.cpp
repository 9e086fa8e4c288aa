#include "daemon/people/reception.hpp"
#include "people/people_of_test.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <ctime>

namespace stillmark::people {
namespace {

using testing::Folder;
using testing::quick_hash;
using testing::write_file;
using Kind = Answer::Kind;

constexpr std::int64_t s = 1'000'000;
const Person head{"Ada", {Role::administrator}};

/// A reception whose pool works when it is told to, and whose thread is the test's.
struct Desk {
    Desk() {
        Users users;
        users.list = {{"Ada", {Role::administrator}, quick_hash("wet chalk")},
                      {"Ben", {Role::bench_operator}, quick_hash("dry chalk")}};
        write_file(path, users_text(users));
        reception = std::make_unique<Reception>(
            path, users,
            Workers{[this](std::function<void()> work) { pool.push_back(std::move(work)); },
                    [this](std::function<void()> then) { found.push_back(std::move(then)); }},
            [this](bool bad, const std::string& words) { told.push_back((bad ? "bad: " : "good: ") + words); });
    }

    /// Lets the pool do all that it was given, and what follows from it.
    void work() {
        for (int bound = 0; bound < 10000 && !(pool.empty() && found.empty()); ++bound) {
            auto& next = pool.empty() ? found : pool;
            const auto job = std::move(next.front());
            next.erase(next.begin());
            job();
        }
    }
    Answer log_in(const std::string& name, const std::string& password, const std::string& address = "10.0.0.1",
                  std::int64_t now_us = 0) {
        Answer said;
        said.words = "no answer";
        reception->log_in(name, password, address, now_us, [&said](const Answer& answer) { said = answer; });
        work();
        return said;
    }
    std::optional<Person> who(const Answer& answer, std::int64_t now_us = 1) const {
        return reception->who(Sessions::key_of(answer.token), now_us);
    }
    Reply keep(Answer& said) {
        return [&said](const Answer& answer) { said = answer; };
    }

    Folder folder;
    std::string path = folder / "users.json";
    std::vector<std::function<void()>> pool;
    std::vector<std::function<void()>> found;
    std::vector<std::string> told;
    std::unique_ptr<Reception> reception;
};

TEST(Reception, TheRightPasswordOpensASession) {
    Desk desk;
    const auto said = desk.log_in(" Ben ", "dry chalk");
    EXPECT_EQ(said.kind, Kind::done);
    EXPECT_EQ(said.person.name, "Ben");
    EXPECT_EQ(desk.who(said)->roles, Roles{Role::bench_operator});
    EXPECT_EQ(desk.told, std::vector<std::string>{"good: log-in: Ben from 10.0.0.1"});
}

TEST(Reception, WhetherNameOrPasswordIsWrongIsNotTold) {
    Desk desk;
    const auto password = desk.log_in("Ben", "wet chalk");
    const auto name = desk.log_in("Eve", "wet chalk");
    EXPECT_EQ(password.kind, Kind::wrong);
    EXPECT_EQ(name.kind, Kind::wrong);
    EXPECT_EQ(password.words, "the name or the password is wrong");
    EXPECT_EQ(name.words, password.words);
    EXPECT_TRUE(password.token.empty());
    EXPECT_EQ(desk.told.at(1), "bad: log-in refused: \"Eve\" from 10.0.0.1");
}

/// The processor time of one log-in, the least of three.
double cost_s(const std::string& name, const std::string& password) {
    double least = 1e9;
    for (int i = 0; i < 3; ++i) {
        Desk desk;
        timespec began{};
        timespec ended{};
        ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &began);
        desk.log_in(name, password);
        ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &ended);
        least = std::min(least, static_cast<double>(ended.tv_sec - began.tv_sec) +
                                    static_cast<double>(ended.tv_nsec - began.tv_nsec) * 1e-9);
    }
    return least;
}

// Nobody is hashed at twice the cost that the test gives its people.
TEST(Reception, ANameThatNobodyHasTakesAsLong) {
    const double known = cost_s("Ben", "wrong chalk");
    const double unknown = cost_s("Eve", "wrong chalk");
    EXPECT_GT(unknown, 1.2 * known);
    EXPECT_LT(unknown, 4 * known);
}

TEST(Reception, WhatCannotBeANameIsNotHashed) {
    Desk desk;
    EXPECT_EQ(desk.log_in("", "wet chalk").kind, Kind::bad_request);
    EXPECT_EQ(desk.log_in(std::string(65, 'a'), "wet chalk").kind, Kind::bad_request);
    EXPECT_EQ(desk.log_in("Ben", std::string(1025, 'a')).kind, Kind::bad_request);
    EXPECT_EQ(desk.log_in("Ben", "").kind, Kind::wrong);
}

TEST(Reception, WrongPasswordsSlowThePairAndNotTheName) {
    Desk desk;
    for (int i = 0; i < 3; ++i)
        EXPECT_EQ(desk.log_in("Ben", "no").kind, Kind::wrong);
    const auto said = desk.log_in("Ben", "dry chalk");
    EXPECT_EQ(said.kind, Kind::wait);
    EXPECT_EQ(said.wait_us, s);
    EXPECT_EQ(said.words, "too many wrong passwords for this name from here; try again in 1 s");
    EXPECT_EQ(desk.log_in("Ben", "dry chalk", "10.0.0.2").kind, Kind::done) << "the owner is let in elsewhere";
    EXPECT_EQ(desk.log_in("Ben", "dry chalk", "10.0.0.1", s).kind, Kind::done);
    // And that forgave what was wrong before.
    for (int i = 0; i < 3; ++i)
        EXPECT_EQ(desk.log_in("Ben", "no", "10.0.0.1", s).kind, Kind::wrong);
}

TEST(Reception, AtMostTwoHashesAtATime) {
    Desk desk;
    std::vector<Answer> said(12);
    for (std::size_t i = 0; i < said.size(); ++i)
        desk.reception->log_in("Ben", "dry chalk", "10.0.0." + std::to_string(i), 0, desk.keep(said[i]));
    EXPECT_EQ(desk.pool.size(), 2U);
    const auto job = desk.pool.front();
    desk.pool.erase(desk.pool.begin());
    job();
    EXPECT_EQ(desk.pool.size(), 1U) << "the next begins when the result has come back";
    desk.found.front()();
    desk.found.clear();
    EXPECT_EQ(desk.pool.size(), 2U);
    desk.work();
    EXPECT_TRUE(
        std::ranges::all_of(said, [](const Answer& one) { return one.kind == Kind::done && !one.token.empty(); }));
}

TEST(Reception, OneWhoFloodsWaitsForHimself) {
    Desk desk;
    std::vector<Answer> flood(100);
    for (std::size_t i = 0; i < flood.size(); ++i)
        desk.reception->log_in("name " + std::to_string(i), "x", "10.0.0.66", 0, desk.keep(flood[i]));
    EXPECT_EQ(std::ranges::count(flood, Kind::busy, &Answer::kind), 96) << "no more than 4 of his are taken";
    Answer other;
    desk.reception->log_in("Ben", "dry chalk", "10.0.0.1", 0, desk.keep(other));
    desk.work();
    EXPECT_EQ(other.kind, Kind::done);
    EXPECT_EQ(other.person.name, "Ben");
}

TEST(Reception, TheQueueEndsSomewhere) {
    Desk desk;
    std::vector<Answer> said(100);
    for (std::size_t i = 0; i < said.size(); ++i)
        desk.reception->log_in("Ben", "dry chalk", "10.0.1." + std::to_string(i), 0, desk.keep(said[i]));
    EXPECT_EQ(std::ranges::count(said, Kind::busy, &Answer::kind), 100 - 2 - 32);
    EXPECT_EQ(said.back().words, "many passwords are being checked just now; try again in a few seconds");
    desk.work();
    // Who was turned away has not guessed wrongly.
    for (int i = 0; i < 3; ++i)
        EXPECT_EQ(desk.log_in("Ben", "no", "10.0.1.99").kind, Kind::wrong);
    EXPECT_EQ(desk.log_in("Ben", "no", "10.0.1.99").kind, Kind::wait);
}

TEST(Reception, AnAdministratorAddsAndRemoves) {
    Desk desk;
    Answer said;
    desk.reception->add(head, "Eve", {Role::reviewer}, "sharp pencil", "10.0.0.1", desk.keep(said));
    desk.work();
    EXPECT_EQ(said.kind, Kind::done) << said.words;
    EXPECT_EQ(desk.told.back(), "good: Ada added \"Eve\" (reviewer)");
    const auto eve = desk.log_in("Eve", "sharp pencil");
    EXPECT_EQ(eve.kind, Kind::done);
    EXPECT_EQ(load_users(desk.path)->list.size(), 3U) << "it stands in the file";
    desk.reception->remove(head, "Eve", "10.0.0.1", desk.keep(said));
    desk.work();
    EXPECT_EQ(said.kind, Kind::done) << said.words;
    EXPECT_FALSE(desk.who(eve)) << "the session ends with its owner";
    EXPECT_EQ(desk.log_in("Eve", "sharp pencil").kind, Kind::wrong);
}

TEST(Reception, ANewPasswordEndsAllSessionsOfItsOwner) {
    Desk desk;
    const auto here = desk.log_in("Ben", "dry chalk");
    const auto there = desk.log_in("Ben", "dry chalk", "10.0.0.2");
    const auto other = desk.log_in("Ada", "wet chalk");
    Answer said;
    desk.reception->set_password(head, "Ben", "sharp pencil", "10.0.0.1", desk.keep(said));
    desk.work();
    EXPECT_EQ(said.kind, Kind::done) << said.words;
    EXPECT_FALSE(desk.who(here));
    EXPECT_FALSE(desk.who(there));
    EXPECT_TRUE(desk.who(other));
    EXPECT_EQ(desk.log_in("Ben", "dry chalk").kind, Kind::wrong);
    EXPECT_EQ(desk.log_in("Ben", "sharp pencil").kind, Kind::done);
}

TEST(Reception, APasswordThatWasChangedMeanwhileLetsNobodyIn) {
    Desk desk;
    Answer said;
    Answer changed;
    desk.reception->set_password(head, "Ben", "sharp pencil", "10.0.0.1", desk.keep(changed));
    desk.reception->log_in("Ben", "dry chalk", "10.0.0.2", 0, desk.keep(said));
    desk.work();
    EXPECT_EQ(changed.kind, Kind::done);
    EXPECT_EQ(said.kind, Kind::wrong);
}

TEST(Reception, WhatCannotBeDoneIsSaid) {
    Desk desk;
    Answer said;
    const auto kind = [&desk, &said] {
        desk.work();
        return said.kind;
    };
    desk.reception->add(head, "Ben", {Role::reviewer}, "sharp pencil", "10.0.0.1", desk.keep(said));
    EXPECT_EQ(kind(), Kind::refused);
    desk.reception->add(head, "Eve", {Role::reviewer}, "short", "10.0.0.1", desk.keep(said));
    EXPECT_EQ(kind(), Kind::bad_request);
    desk.reception->add(head, "E\tve", {Role::reviewer}, "sharp pencil", "10.0.0.1", desk.keep(said));
    EXPECT_EQ(kind(), Kind::bad_request);
    desk.reception->add(head, "Eve", {}, "sharp pencil", "10.0.0.1", desk.keep(said));
    EXPECT_EQ(kind(), Kind::refused);
    desk.reception->remove(head, "Ada", "10.0.0.1", desk.keep(said));
    EXPECT_EQ(kind(), Kind::refused);
    EXPECT_EQ(said.words, "Ada is the last administrator; add another one first");
    desk.reception->set_password(head, "Eve", "sharp pencil", "10.0.0.1", desk.keep(said));
    EXPECT_EQ(kind(), Kind::refused);
    std::filesystem::remove(desk.path);
    desk.reception->remove(head, "Ben", "10.0.0.1", desk.keep(said));
    EXPECT_EQ(kind(), Kind::not_recorded);
    EXPECT_NE(desk.reception->users().find("Ben"), nullptr) << "nothing happened";
}

TEST(Reception, OneChangeAtATime) {
    Desk desk;
    Answer first;
    Answer second;
    desk.reception->remove(head, "Ben", "10.0.0.1", desk.keep(first));
    desk.reception->add(head, "Eve", {Role::reviewer}, "sharp pencil", "10.0.0.2", desk.keep(second));
    EXPECT_EQ(second.kind, Kind::busy);
    desk.work();
    EXPECT_EQ(first.kind, Kind::done);
    desk.reception->add(head, "Eve", {Role::reviewer}, "sharp pencil", "10.0.0.2", desk.keep(second));
    desk.work();
    EXPECT_EQ(second.kind, Kind::done);
}

TEST(Reception, WhatTheCommandChangesInTheFileIsTakenUp) {
    Desk desk;
    const auto ben = desk.log_in("Ben", "dry chalk");
    const auto ada = desk.log_in("Ada", "wet chalk");
    desk.reception->look_at_file();
    desk.work();
    EXPECT_TRUE(desk.who(ben)) << "a file that says the same ends nothing";
    ASSERT_TRUE(change_users(desk.path, false, [](Users& users) {
        users.list[1].roles = {Role::reviewer};
        return add_user(users, {"Eve", {Role::reviewer}, quick_hash("sharp pencil")});
    }));
    desk.reception->look_at_file();
    desk.work();
    EXPECT_FALSE(desk.who(ben)) << "another role begins with another log-in";
    EXPECT_TRUE(desk.who(ada));
    EXPECT_EQ(desk.log_in("Ben", "dry chalk").person.roles, Roles{Role::reviewer});
    EXPECT_EQ(desk.log_in("Eve", "sharp pencil").kind, Kind::done);
}

TEST(Reception, AFileThatWasSpoiltChangesNothingAndIsToldOnce) {
    Desk desk;
    write_file(desk.path, "{");
    for (int i = 0; i < 3; ++i) {
        desk.reception->look_at_file();
        desk.work();
    }
    ASSERT_EQ(desk.told.size(), 1U);
    EXPECT_EQ(desk.told[0], "bad: " + desk.path +
                                ": this is not JSON; look for a missing or extra comma, quote or bracket; "
                                "the people known until now stay");
    EXPECT_EQ(desk.log_in("Ben", "dry chalk").kind, Kind::done);
}

TEST(Reception, ALookThatIsOlderThanAChangeIsForgotten) {
    Desk desk;
    Answer said;
    desk.reception->look_at_file();
    const auto look = desk.pool.front();
    desk.pool.clear();
    look(); // it has read the old file
    desk.reception->add(head, "Eve", {Role::reviewer}, "sharp pencil", "10.0.0.1", desk.keep(said));
    const auto old = desk.found.front();
    desk.found.clear();
    desk.work();
    EXPECT_EQ(said.kind, Kind::done);
    old();
    EXPECT_NE(desk.reception->users().find("Eve"), nullptr);
}

TEST(Reception, WhatThePoolFindsAfterTheEndGoesNowhere) {
    Desk desk;
    Answer said;
    said.words = "no answer";
    desk.reception->log_in("Ben", "dry chalk", "10.0.0.1", 0, desk.keep(said));
    desk.reception.reset();
    desk.work();
    EXPECT_EQ(said.words, "no answer");
}

} // namespace
} // namespace stillmark::people
