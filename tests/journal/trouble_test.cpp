#include "journal/scratch.hpp"
#include "journal/shaky_disk.hpp"

#include <csignal>
#include <fstream>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

namespace stillmark::journal::testing {
namespace {

// A journal with one event that is durable, and then trouble.
class Trouble : public ::testing::Test {
  protected:
    void begin() {
        opened_ = writer(scratch_.file(), told_, {.patience = 100ms});
        ASSERT_TRUE(opened_->append(event(1)));
        ASSERT_TRUE(told_.wait_durable(1));
    }
    // Something is appended and fails; what was told before stays, the rest is not there, and a new writer goes on.
    void expect_failure(const std::string& words) {
        opened_->append(reading(2));
        opened_->append(event(3));
        ASSERT_TRUE(told_.wait_failed());
        EXPECT_EQ(told_.failed(), std::vector<std::string>{scratch_.file() + ": " + words});
        EXPECT_EQ(told_.durable(), std::vector<std::uint64_t>{1});
        EXPECT_FALSE(opened_->append(event(4)));
        EXPECT_EQ(opened_->why_refused(), scratch_.file() + ": " + words);
        EXPECT_FALSE(opened_->append(reading(5)));
    }
    void expect_going_on() {
        Told again;
        auto next = writer(scratch_.file(), again); // while the failed one still lives
        EXPECT_EQ(everything(scratch_.file())->order, std::vector<std::uint64_t>{1});
        EXPECT_TRUE(next->append(event(3, "{}")));
        EXPECT_TRUE(again.wait_durable(3));
        opened_.reset();
        EXPECT_EQ(told_.durable(), std::vector<std::uint64_t>{1});
        EXPECT_EQ(told_.failed().size(), 1U);
        next.reset();
        EXPECT_EQ(everything(scratch_.file())->order, (std::vector<std::uint64_t>{1, 3}));
        EXPECT_EQ(sql(scratch_.file(), "PRAGMA integrity_check"), std::vector<std::string>{"ok"});
    }

    Scratch scratch_;
    Told told_;
    std::unique_ptr<JournalWriter> opened_;
};

TEST_F(Trouble, AFullDisk) {
    ShakyDisk disk;
    begin();
    disk.write_gives = SQLITE_FULL;
    expect_failure("the disk is full; free some space there, then go on");
    disk.write_gives = 0;
    expect_going_on();
}

TEST_F(Trouble, ADiskThatDoesNotWrite) {
    ShakyDisk disk;
    begin();
    disk.write_gives = SQLITE_IOERR_WRITE;
    expect_failure("the disk failed (disk I/O error); check the disk, then go on");
    disk.write_gives = 0;
    expect_going_on();
}

// The bytes are in the file, but the disk did not confirm them: that is not durable.
TEST_F(Trouble, ADiskThatDoesNotConfirm) {
    ShakyDisk disk;
    begin();
    disk.sync_gives = SQLITE_IOERR_FSYNC;
    expect_failure("the disk failed (disk I/O error); check the disk, then go on");
    disk.sync_gives = 0;
    expect_going_on();
}

TEST_F(Trouble, AnotherProgramThatKeepsTheFileLocked) {
    begin();
    sqlite3* other = nullptr;
    ASSERT_EQ(sqlite3_open(scratch_.file().c_str(), &other), SQLITE_OK);
    ASSERT_EQ(sqlite3_exec(other, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr), SQLITE_OK);
    expect_failure("is locked by another program; close that program, then go on");
    sqlite3_close(other);
    expect_going_on();
}

TEST_F(Trouble, AShortLockIsWaitedFor) {
    begin();
    sqlite3* other = nullptr;
    ASSERT_EQ(sqlite3_open(scratch_.file().c_str(), &other), SQLITE_OK);
    ASSERT_EQ(sqlite3_exec(other, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr), SQLITE_OK);
    ASSERT_TRUE(opened_->append(event(2)));
    EXPECT_FALSE(told_.wait_durable(2, 20ms));
    sqlite3_close(other);
    EXPECT_TRUE(told_.wait_durable(2));
}

TEST_F(Trouble, AJournalThatWasRemoved) {
    begin();
    std::filesystem::remove(scratch_.file());
    expect_failure("was removed while it was being written; what followed is lost, begin a new journal");
}

TEST_F(Trouble, AJournalThatWasReplaced) {
    begin();
    std::filesystem::rename(scratch_.file(), scratch_.file("moved"));
    std::ofstream(scratch_.file()) << "something else";
    expect_failure(
        "was replaced by another file while it was being written; what followed is lost, put the journal back "
        "or begin a new one");
}

TEST(Durable, IsToldOnlyAfterTheLogWasForcedToTheDisk) {
    ShakyDisk disk;
    const Scratch scratch;
    bool early = false;
    int told = 0;
    WriterSinks sinks;
    sinks.durable = [&](std::uint64_t, const seal::Digest&) {
        early = early || disk.unsynced;
        ++told;
    };
    {
        auto opened = JournalWriter::open(scratch.file(), sinks);
        ASSERT_TRUE(opened);
        for (std::uint64_t n = 1; n <= 300; ++n)
            ASSERT_TRUE(n % 3 == 0 ? (*opened)->append(event(n)) : (*opened)->append(reading(n)));
    }
    EXPECT_GT(told, 0);
    EXPECT_FALSE(early);
    EXPECT_GE(disk.syncs.load(), told);
}

// A real limit of the kernel on the size of a file, in a process of its own.
TEST(Durable, NothingIsToldThatAFileSizeLimitKeptOut) {
    const Scratch scratch;
    const pid_t child = ::fork();
    if (child == 0) {
        (void)::signal(SIGXFSZ, SIG_IGN);
        const rlimit small{300000, 300000};
        ::setrlimit(RLIMIT_FSIZE, &small);
        Told told;
        auto opened = writer(scratch.file(), told);
        std::uint64_t n = 1;
        while (n < 10000 && opened->append(event(n, std::string(1000, ' '))) && told.wait_durable(n, 500ms))
            ++n;
        const bool as_expected = n < 10000 && told.wait_failed() && !told.durable().empty() &&
                                 told.failed()[0].find(": the disk ") != std::string::npos;
        const auto found = everything(scratch.file());
        const bool kept = found && !found->order.empty() && found->order.back() == told.durable().back();
        opened.reset();
        if (!as_expected || !kept)
            (void)std::fprintf(stderr, "%llu: %s; %s\n", static_cast<unsigned long long>(n),
                               told.failed().empty() ? "no failure" : told.failed()[0].c_str(),
                               found ? "" : found.error().message.c_str());
        ::_exit((as_expected ? 0 : 1) + (kept ? 0 : 2));
    }
    int status = -1;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    ASSERT_TRUE(WIFEXITED(status));
    EXPECT_EQ(WEXITSTATUS(status), 0);
}

} // namespace
} // namespace stillmark::journal::testing
