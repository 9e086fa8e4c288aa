#include "daemon/people/roles.hpp"

#include <gtest/gtest.h>

namespace stillmark::people {
namespace {

const Roles nobody;
const Roles at_the_bench{Role::bench_operator};
const Roles reviewing{Role::reviewer};
const Roles administrating{Role::administrator};

TEST(Roles, WordsAndBack) {
    for (const Role role : {Role::bench_operator, Role::reviewer, Role::administrator})
        EXPECT_EQ(role_of(word(role)), role);
    EXPECT_EQ(word(Role::bench_operator), "operator");
    EXPECT_EQ(role_of("Operator"), std::nullopt);
    EXPECT_EQ(role_of(""), std::nullopt);
}

TEST(Roles, WhoConfirmsIsAtTheBench) {
    for (const char* what : {"run_start", "run_stop", "step_done", "load", "vented", "check", "go_on", "confirm",
                             "sighted", "lost", "undo", "enter", "redo", "health", "surroundings"}) {
        EXPECT_TRUE(may(at_the_bench, what)) << what;
        EXPECT_FALSE(may(reviewing, what)) << what;
        EXPECT_TRUE(may(administrating, what)) << what;
        EXPECT_FALSE(may(nobody, what)) << what;
    }
    EXPECT_EQ(roles_that_may("confirm"), "operator or administrator");
}

TEST(Roles, WhoReviewsLooksAndVoids) {
    EXPECT_TRUE(may(reviewing, "look"));
    EXPECT_TRUE(may(reviewing, "void"));
    EXPECT_TRUE(may(at_the_bench, "void"));
    EXPECT_FALSE(may(nobody, "look"));
}

TEST(Roles, OnlyAReviewerAcceptsAndSigns) {
    for (const char* what : {"accept", "sign", "override"}) {
        EXPECT_TRUE(may(reviewing, what)) << what;
        EXPECT_FALSE(may({Role::bench_operator, Role::administrator}, what)) << what;
        EXPECT_EQ(roles_that_may(what), "reviewer");
    }
    for (const char* what : {"draft", "particulars"}) {
        EXPECT_TRUE(may(at_the_bench, what)) << what;
        EXPECT_TRUE(may(reviewing, what)) << what;
    }
}

TEST(Roles, OnlyAnAdministratorAllowsWhatHasExpired) {
    EXPECT_FALSE(may({Role::bench_operator, Role::reviewer}, "allow_expiry"));
    EXPECT_TRUE(may(administrating, "allow_expiry"));
}

TEST(Roles, OnlyAnAdministratorHasToDoWithUsers) {
    EXPECT_TRUE(may(administrating, "users"));
    EXPECT_FALSE(may({Role::bench_operator, Role::reviewer}, "users"));
    EXPECT_EQ(roles_that_may("users"), "administrator");
}

TEST(Roles, WhatIsNotInTheTableNobodyMay) {
    for (const char* what : {"", "confirm ", "CONFIRM", "signs", "status"}) {
        EXPECT_FALSE(may({Role::bench_operator, Role::reviewer, Role::administrator}, what)) << what;
        EXPECT_EQ(roles_that_may(what), "nobody");
    }
}

TEST(Roles, SeveralRolesAddUp) {
    const Roles both{Role::bench_operator, Role::reviewer};
    EXPECT_TRUE(may(both, "confirm"));
    EXPECT_TRUE(may(both, "void"));
    EXPECT_EQ(words(both), (std::vector<std::string>{"operator", "reviewer"}));
}

} // namespace
} // namespace stillmark::people
