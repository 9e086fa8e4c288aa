#include "daemon/people/users.hpp"
#include "people/people_of_test.hpp"

#include <gtest/gtest.h>

#include <chrono>
#include <csignal>
#include <fcntl.h>
#include <sys/file.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <thread>
#include <unistd.h>

namespace stillmark::people {
namespace {

using testing::Folder;
using testing::quick_hash;
using testing::text_of_file;
using testing::write_file;

User user(const std::string& name, Roles roles = {Role::administrator}) {
    static const std::string hash = quick_hash("wet chalk");
    return {name, std::move(roles), hash};
}

UsersResult<Users> add(const std::string& path, const std::string& name, bool may_make = true) {
    return change_users(path, may_make, [&name](Users& users) { return add_user(users, user(name)); });
}

std::size_t entries(const Folder& folder) {
    return static_cast<std::size_t>(std::distance(std::filesystem::directory_iterator(folder.path()), {}));
}

TEST(UsersFile, IsMadeAndChangedForItsOwnerAlone) {
    const Folder folder;
    const std::string path = folder / "users.json";
    const auto made = add(path, "Ada");
    ASSERT_TRUE(made) << made.error().message;
    ASSERT_TRUE(add(path, "Ben"));
    struct stat found {};
    ASSERT_EQ(::stat(path.c_str(), &found), 0);
    EXPECT_EQ(found.st_mode & 07777U, 0600U);
    const auto users = load_users(path);
    ASSERT_TRUE(users) << users.error().message;
    EXPECT_EQ(users->list, (std::vector<User>{user("Ada"), user("Ben")}));
    EXPECT_EQ(entries(folder), 1U) << "nothing lies about beside it";
}

TEST(UsersFile, OneThatIsMissingIsNamedWithItsRemedy) {
    const Folder folder;
    const std::string path = folder / "users.json";
    const std::string expected =
        path + ": there is no such file; make it: stillmark users " + path + " add NAME --role administrator";
    EXPECT_EQ(load_users(path).error().message, expected);
    EXPECT_EQ(add(path, "Ada", false).error().message, expected);
    EXPECT_EQ(entries(folder), 0U);
}

TEST(UsersFile, OneThatOthersMayReadOrWriteIsRefused) {
    const Folder folder;
    const std::string path = folder / "users.json";
    ASSERT_TRUE(add(path, "Ada"));
    for (const mode_t mode : {0604U, 0602U, 0601U, 0640U, 0620U, 0644U, 0666U}) {
        ::chmod(path.c_str(), mode);
        const auto users = load_users(path);
        ASSERT_FALSE(users) << mode;
        EXPECT_EQ(users.error().message,
                  fmt::format("{}: others than its owner may read or write it (mode {:03o}); say: chmod 600 {}", path,
                              mode, path));
        EXPECT_FALSE(add(path, "Ben"));
    }
    for (const mode_t mode : {0600U, 0400U}) {
        ::chmod(path.c_str(), mode);
        EXPECT_TRUE(load_users(path)) << mode;
    }
}

TEST(UsersFile, AFolderThatEverybodyMayChangeIsRefused) {
    const Folder folder;
    const std::string path = folder / "users.json";
    ASSERT_TRUE(add(path, "Ada"));
    ::chmod(folder.path().c_str(), 0777);
    EXPECT_EQ(load_users(path).error().message,
              fmt::format("{}: everybody may change the folder {} (mode 777); say: chmod o-w {}", path,
                          folder.path().string(), folder.path().string()));
    ::chmod(folder.path().c_str(), 01777);
    EXPECT_TRUE(load_users(path)) << "there everybody may change his own files only";
}

TEST(UsersFile, WhatIsNoUsersFileIsRefused) {
    const Folder folder;
    const std::string path = folder / "users.json";
    write_file(path, "{\"users\": [");
    EXPECT_EQ(load_users(path).error().message,
              path + ": this is not JSON; look for a missing or extra comma, quote or bracket");
    write_file(path, std::string((1U << 20U) + 1, ' '));
    EXPECT_EQ(load_users(path).error().message, path + ": it is larger than 1 MiB; this is no users file");
    std::filesystem::create_directory(folder / "sub");
    ::chmod((folder / "sub").c_str(), 0700);
    EXPECT_EQ(load_users(folder / "sub").error().message, (folder / "sub") + ": this is no file; name the users file");
    ASSERT_EQ(::mkfifo((folder / "pipe").c_str(), 0600), 0);
    EXPECT_EQ(load_users(folder / "pipe").error().message,
              (folder / "pipe") + ": this is no file; name the users file");
    EXPECT_FALSE(load_users(path + "/below"));
    EXPECT_FALSE(load_users(""));
}

TEST(UsersFile, AChangeThatIsRefusedLeavesItAsItWas) {
    const Folder folder;
    const std::string path = folder / "users.json";
    ASSERT_TRUE(add(path, "Ada"));
    const auto before = users_stamp(path);
    const auto refused = change_users(path, false, [](Users& users) { return remove_user(users, "Ada"); });
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().kind, UsersTrouble::Kind::refused);
    EXPECT_EQ(refused.error().message, "Ada is the last administrator; add another one first");
    EXPECT_EQ(users_stamp(path), before);
    // Nor is one that was spoilt by hand written over.
    write_file(path, "{}");
    EXPECT_EQ(add(path, "Ben").error().kind, UsersTrouble::Kind::file);
    EXPECT_EQ(text_of_file(path), "{}");
}

TEST(UsersFile, IsWrittenWholeOrNotAtAll) {
    const Folder folder;
    const std::string path = folder / "users.json";
    ASSERT_TRUE(add(path, "Ada"));
    const std::string before = text_of_file(path);
    rlimit limit{};
    ASSERT_EQ(::getrlimit(RLIMIT_FSIZE, &limit), 0);
    const auto handler = std::signal(SIGXFSZ, SIG_IGN);
    rlimit small = limit;
    small.rlim_cur = before.size() + 10; // part of the new text fits
    ASSERT_EQ(::setrlimit(RLIMIT_FSIZE, &small), 0);
    const auto users = add(path, "Ben");
    ::setrlimit(RLIMIT_FSIZE, &limit);
    std::signal(SIGXFSZ, handler);
    ASSERT_FALSE(users);
    EXPECT_EQ(users.error().message, path + ": it could not be written: File too large; it stays as it was");
    EXPECT_EQ(text_of_file(path), before);
    EXPECT_EQ(entries(folder), 1U);
}

TEST(UsersFile, ALinkStaysALink) {
    const Folder folder;
    std::filesystem::create_directory(folder / "there");
    const std::string path = folder / "there/users.json";
    ASSERT_TRUE(add(path, "Ada"));
    std::filesystem::create_symlink(path, folder / "link");
    ASSERT_TRUE(add(folder / "link", "Ben"));
    EXPECT_TRUE(std::filesystem::is_symlink(folder / "link"));
    EXPECT_EQ(load_users(path)->list.size(), 2U);
}

// Several who change the file at the same time lose nobody's change.
TEST(UsersFile, ChangesAtTheSameTimeAllStand) {
    const Folder folder;
    const std::string path = folder / "users.json";
    ASSERT_TRUE(add(path, "Ada"));
    {
        std::vector<std::jthread> threads;
        for (int t = 0; t < 4; ++t)
            threads.emplace_back([t, &path] {
                for (int i = 0; i < 5; ++i) {
                    const auto users = add(path, fmt::format("person {} {}", t, i));
                    EXPECT_TRUE(users) << users.error().message;
                }
            });
    }
    EXPECT_EQ(load_users(path)->list.size(), 21U);
}

TEST(UsersFile, NobodyWaitsWithoutEnd) {
    const Folder folder;
    const std::string path = folder / "users.json";
    ASSERT_TRUE(add(path, "Ada"));
    const int held = ::open(folder.path().c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    ASSERT_EQ(::flock(held, LOCK_EX | LOCK_NB), 0);
    const auto began = std::chrono::steady_clock::now();
    EXPECT_EQ(add(path, "Ben").error().message, path + ": somebody else has been changing it for 2 s; try again");
    EXPECT_LT(std::chrono::steady_clock::now() - began, std::chrono::seconds(10));
    ::close(held);
    EXPECT_TRUE(add(path, "Ben"));
}

TEST(UsersFile, TheStampTellsThatItWasWrittenAnew) {
    const Folder folder;
    const std::string path = folder / "users.json";
    EXPECT_EQ(users_stamp(path), "");
    ASSERT_TRUE(add(path, "Ada"));
    const auto first = users_stamp(path);
    EXPECT_EQ(users_stamp(path), first);
    ASSERT_TRUE(add(path, "Ben"));
    const auto second = users_stamp(path);
    EXPECT_NE(second, first);
    ::chmod(path.c_str(), 0644);
    EXPECT_NE(users_stamp(path), second);
}

} // namespace
} // namespace stillmark::people
