#include "journal/scratch.hpp"

#include <csignal>
#include <random>
#include <sys/wait.h>
#include <thread>
#include <unistd.h>

namespace stillmark::journal::testing {
namespace {

// A service that goes on with the journal and says on a pipe what it was told is durable, until it is killed.
[[noreturn]] void serve(const std::string& path, int say) {
    WriterSinks sinks;
    sinks.durable = [say](std::uint64_t number, const seal::Digest&) { (void)!::write(say, &number, sizeof number); };
    auto before = JournalReader::open(path);
    const std::uint64_t last = before ? (*before)->last_number().value() : 0;
    auto opened = JournalWriter::open(path, sinks, {.ride_along = std::chrono::milliseconds(3)});
    if (!opened) ::_exit(2);
    for (std::uint64_t n = last + 1;; ++n) {
        const bool kept = n % 37 == 0 ? (*opened)->append(event(n)) : (*opened)->append(reading(n));
        if (!kept) ::_exit(3);
        if (n % 100 == 0) std::this_thread::sleep_for(1ms);
    }
}

TEST(KilledService, EverythingToldAsDurableIsThere) {
    const Scratch scratch;
    std::mt19937_64 draw(20);
    std::uint64_t told = 0;
    for (int round = 0; round < 25; ++round) {
        int ends[2];
        ASSERT_EQ(::pipe(ends), 0);
        const pid_t child = ::fork();
        if (child == 0) serve(scratch.file(), ends[1]);
        ::close(ends[1]);
        std::this_thread::sleep_for(std::chrono::microseconds(draw() % 60000));
        ASSERT_EQ(::kill(child, SIGKILL), 0);
        int status = 0;
        ASSERT_EQ(::waitpid(child, &status, 0), child);
        ASSERT_TRUE(WIFSIGNALED(status)) << "the service ended by itself, with " << WEXITSTATUS(status);
        for (std::uint64_t number = 0; ::read(ends[0], &number, sizeof number) == sizeof number;)
            told = number;
        ::close(ends[0]);

        const auto found = everything(scratch.file());
        if (!found) {
            // Killed before the journal was made, which is only allowed while nothing was told.
            ASSERT_EQ(told, 0U) << found.error().message;
            continue;
        }
        ASSERT_GE(found->order.size(), told);
        ASSERT_EQ(found->order.size(), found->order.empty() ? 0 : found->order.back()); // no gap
        for (const ReadingRecord& one : found->readings)
            ASSERT_TRUE(same(one, reading(one.number)));
        ASSERT_EQ(sql(scratch.file(), "PRAGMA integrity_check"), std::vector<std::string>{"ok"});
    }
    EXPECT_GT(told, 1000U);
    // The dead writers hold nothing up.
    EXPECT_TRUE(JournalWriter::open(scratch.file(), {}));
}

} // namespace
} // namespace stillmark::journal::testing
