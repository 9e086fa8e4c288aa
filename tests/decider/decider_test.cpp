#include "daemon/bench/health.hpp"
#include "daemon/decider/frame.hpp"
#include "daemon/journal/block.hpp"
#include "daemon/journal/journal.hpp"
#include "daemon/journal/verify.hpp"
#include "decider/desk.hpp"
#include "decider/openings.hpp"

#include <gtest/gtest.h>
#include <sqlite3.h>

#include <bit>
#include <csignal>
#include <cstdlib>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

namespace stillmark::decider::testing {
namespace {

using bench::StepKind;
using nlohmann::json;
using Kind = Outcome::Kind;

/// A journal with the marks of the first two points, and the service gone in good order.
void make_journal(const std::string& path) {
    Desk desk(path);
    ASSERT_EQ(desk.start_run().kind, Kind::recorded);
    while (desk.state().marks.size() < 2 || desk.step()->kind != StepKind::act)
        ASSERT_EQ(desk.go_on().kind, Kind::recorded);
    desk.decider->stop("the test is done");
}

void change(const std::string& path, const char* sql, std::span<const std::uint8_t> blob = {}) {
    sqlite3* connection = nullptr;
    ASSERT_EQ(sqlite3_open(path.c_str(), &connection), SQLITE_OK);
    sqlite3_stmt* statement = nullptr;
    ASSERT_EQ(sqlite3_prepare_v2(connection, sql, -1, &statement, nullptr), SQLITE_OK) << sqlite3_errmsg(connection);
    if (!blob.empty()) sqlite3_bind_blob(statement, 1, blob.data(), static_cast<int>(blob.size()), SQLITE_TRANSIENT);
    EXPECT_EQ(sqlite3_step(statement), SQLITE_DONE) << sqlite3_errmsg(connection);
    sqlite3_finalize(statement);
    sqlite3_close(connection);
}

int exit_of(const std::string& command) {
    const int status = std::system(command.c_str());
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/// A program of the house, as it lies beside the folder of this one.
std::string program(const char* name) {
    return (std::filesystem::read_symlink("/proc/self/exe").parent_path().parent_path() / name).string();
}

TEST(Decider, AMarkComesAndReplaysToTheLastBit) {
    Folder folder;
    const auto path = folder / "x.journal";
    make_journal(path);
    const auto replayed = replay(path);
    ASSERT_TRUE(replayed) << replayed.error().message;
    ASSERT_EQ(replayed->marks.size(), 2U);
    for (const auto& mark : replayed->marks)
        EXPECT_TRUE(mark.same) << (mark.differences.empty() ? "" : mark.differences[0]);
    EXPECT_GT(replayed->readings, 40U);
    EXPECT_EQ(replayed->services.size(), 1U);
    for (const auto& mark : replayed->state.marks) {
        EXPECT_EQ(mark.status, bench::MarkStatus::sighted);
        EXPECT_LT(std::abs(mark.taken.deviation_pa), 30);
        EXPECT_GE(mark.taken.count, 8);
    }
    // What is recovered goes on from the same place.
    const auto recovered = recover(path);
    ASSERT_TRUE(recovered);
    EXPECT_EQ(recovered->state.runs.back().step, replayed->state.runs.back().step);
    EXPECT_EQ(recovered->state.marks.size(), 2U);
}

TEST(Decider, OneAlteredReadingIsFoundAndItsMarkNamed) {
    Folder folder;
    const auto path = folder / "x.journal";
    make_journal(path);
    const auto before = replay(path);
    ASSERT_TRUE(before);
    const auto first = static_cast<std::uint64_t>(before->marks[0].journalled.first);
    // The block that holds the first mark's first reading, with that reading a hundred-millionth larger.
    sqlite3* connection = nullptr;
    ASSERT_EQ(sqlite3_open(path.c_str(), &connection), SQLITE_OK);
    sqlite3_stmt* statement = nullptr;
    ASSERT_EQ(sqlite3_prepare_v2(connection,
                                 "SELECT first_number, channel, columns FROM blocks WHERE first_number <= ? ORDER BY "
                                 "first_number DESC LIMIT 1",
                                 -1, &statement, nullptr),
              SQLITE_OK)
        << sqlite3_errmsg(connection);
    sqlite3_bind_int64(statement, 1, static_cast<sqlite3_int64>(first));
    ASSERT_EQ(sqlite3_step(statement), SQLITE_ROW);
    const auto block = static_cast<std::uint64_t>(sqlite3_column_int64(statement, 0));
    const auto channel = static_cast<std::uint32_t>(sqlite3_column_int64(statement, 1));
    const auto* bytes = static_cast<const std::uint8_t*>(sqlite3_column_blob(statement, 2));
    std::vector<journal::ReadingRecord> readings;
    ASSERT_EQ(journal::decode_block(block, channel,
                                    {bytes, static_cast<std::size_t>(sqlite3_column_bytes(statement, 2))}, readings),
              nullptr);
    sqlite3_finalize(statement);
    sqlite3_close(connection);
    bool altered = false;
    for (auto& reading : readings)
        if (reading.number == first) altered = true, reading.value *= 1 + 1e-8;
    ASSERT_TRUE(altered);
    std::vector<std::uint8_t> again;
    journal::encode_block(readings, again);
    change(path, ("UPDATE blocks SET columns = ? WHERE first_number = " + std::to_string(block)).c_str(), again);

    const auto after = replay(path);
    ASSERT_TRUE(after) << after.error().message;
    EXPECT_FALSE(after->marks[0].same);
    EXPECT_TRUE(after->marks[1].same);
    const auto& differences = after->marks[0].differences;
    EXPECT_TRUE(std::any_of(differences.begin(), differences.end(),
                            [](const std::string& one) { return one.starts_with("deviation_pa: "); }));
    const auto out = folder / "out";
    EXPECT_EQ(exit_of(program("stillmark") + " replay " + path + " > " + out + " 2>&1"), 1);
    std::ifstream said(out);
    std::stringstream words;
    words << said.rdbuf();
    EXPECT_NE(words.str().find("mark    1"), std::string::npos) << words.str();
    EXPECT_NE(words.str().find("deviation_pa"), std::string::npos) << words.str();
}

TEST(Decider, ABenchThatThisBuildCannotReadIsNamed) {
    const Folder folder;
    const auto path = folder / "j";
    make_journal(path);
    change(path, R"(UPDATE events SET body = replace(body, '\"sequences\"', '\"later_key\": 1, \"sequences\"'))");
    const auto again = replay(path);
    ASSERT_FALSE(again);
    EXPECT_NE(again.error().message.find("the journalled bench cannot be read"), std::string::npos)
        << again.error().message;
    EXPECT_NE(again.error().message.find("later_key"), std::string::npos);
    EXPECT_EQ(exit_of(program("stillmark") + " replay " + path + " > " + (folder / "out") + " 2>&1"), 2);
}

TEST(Decider, AnUntouchedJournalReplaysWithExitZero) {
    Folder folder;
    const auto path = folder / "x.journal";
    make_journal(path);
    EXPECT_EQ(exit_of(program("stillmark") + " replay " + path + " > /dev/null 2>&1"), 0);
}

TEST(Decider, AKilledServiceGoesOnWhereItWas) {
    Folder folder;
    const auto path = folder / "x.journal";
    std::size_t step = 0;
    {
        Desk desk(path);
        ASSERT_EQ(desk.start_run().kind, Kind::recorded);
        desk.go_on_to(StepKind::sight); // a float is open, its mark provisional
        step = desk.state().running()->step;
        ASSERT_EQ(desk.state().marks.at(0).status, bench::MarkStatus::provisional);
        ASSERT_TRUE(desk.until([&] { return desk.decider->all_on_disk(); }));
        desk.decider.reset(); // without a last word
    }
    Desk desk(path);
    ASSERT_TRUE(desk.until([&] { return desk.decider->all_on_disk(); }));
    ASSERT_NE(desk.state().running(), nullptr);
    EXPECT_EQ(desk.state().intervals.back().end, bench::IntervalEnd::unknown);
    EXPECT_EQ(desk.state().marks.at(0).status, bench::MarkStatus::unbracketed);
    EXPECT_EQ(desk.state().running()->step, step - 2) << "the same point: raise and turn again";
    EXPECT_TRUE(desk.state().was_away);
    ASSERT_FALSE(desk.told.empty());
    EXPECT_EQ(desk.told[0].words,
              "the service was away while the piston floated: look at the piston and confirm again");
    // And it goes on to a mark that replays, with the approach seen before the fall and after it.
    desk.go_on_to(StepKind::sight);
    ASSERT_EQ(desk.state().marks.size(), 2U);
    desk.decider->stop("the test is done");
    const auto replayed = replay(path);
    ASSERT_TRUE(replayed);
    EXPECT_EQ(replayed->services.size(), 2U);
    for (const auto& mark : replayed->marks)
        EXPECT_TRUE(mark.same) << (mark.differences.empty() ? "" : mark.differences[0]);
}

// A service that was killed while it made its journal leaves an empty file, or a database without a table.
TEST(Decider, AJournalThatWasHardlyBegunIsBegunAgain) {
    for (const char* made : {"", "PRAGMA journal_mode = WAL"}) {
        Folder folder;
        const auto path = folder / "x.journal";
        std::ofstream(path).close();
        sqlite3* connection = nullptr;
        ASSERT_EQ(sqlite3_open(path.c_str(), &connection), SQLITE_OK);
        EXPECT_EQ(sqlite3_exec(connection, made, nullptr, nullptr, nullptr), SQLITE_OK);
        sqlite3_close(connection);
        Desk desk(path);
        EXPECT_EQ(desk.start_run().kind, Kind::recorded);
    }
    Folder folder;
    const auto path = folder / "other";
    change(path, "CREATE TABLE another_kind (x)");
    const auto refused = recover(path);
    ASSERT_FALSE(refused);
    EXPECT_NE(refused.error().message.find("is an SQLite file of another kind"), std::string::npos);
}

TEST(Decider, AnotherBenchIsRefusedWhileARunIsOpen) {
    Folder folder;
    const auto path = folder / "x.journal";
    {
        Desk desk(path);
        ASSERT_EQ(desk.start_run().kind, Kind::recorded);
        desk.decider->stop("the test is done");
    }
    const auto recovered = recover(path);
    ASSERT_TRUE(recovered);
    auto other = hurried_bench();
    other.revision = "another";
    const auto refused = first_facts(recovered->state, other, false);
    ASSERT_FALSE(refused);
    EXPECT_NE(refused.error().why.find("run R1 is open and began with another revision"), std::string::npos);
    const auto ended = first_facts(recovered->state, other, true);
    ASSERT_TRUE(ended);
    bool stops = false;
    for (const auto& fact : *ended)
        stops = stops || std::holds_alternative<bench::RunStopped>(fact);
    EXPECT_TRUE(stops);
}

TEST(Decider, NothingIsToldBeforeItIsOnDisk) {
    Folder folder;
    const auto path = folder / "x.journal";
    Desk desk(path);
    ASSERT_TRUE(desk.until([&] { return desk.decider->all_on_disk(); }));
    bool told = false;
    desk.decider->request(
        [](const bench::State& state, const bench::Moment& now) {
            return bench::start_run(state, Desk::press(now.now_us), "short", "as found", {});
        },
        [&](const Outcome& outcome) {
            told = true;
            EXPECT_EQ(outcome.kind, Kind::recorded);
            const auto on_disk = recover(path);
            ASSERT_TRUE(on_disk);
            EXPECT_EQ(on_disk->state.runs.size(), 1U) << "told before it was on disk";
        });
    EXPECT_FALSE(told) << "the answer did not wait for the disk";
    EXPECT_FALSE(desk.decider->all_on_disk());
    EXPECT_TRUE(desk.until([&] { return told; }));
}

TEST(Decider, RefusalsLeaveNoTrace) {
    Folder folder;
    Desk desk(folder / "x.journal");
    ASSERT_TRUE(desk.until([&] { return desk.decider->all_on_disk(); }));
    const auto refused = desk.ask(
        [](const bench::State& state, Micros now) { return bench::confirm_float(state, Desk::press(now), "low"); });
    EXPECT_EQ(refused.kind, Kind::refused);
    EXPECT_EQ(refused.why, "nobody stated the load; say first what is on the head");
    const auto malformed = desk.ask([](const bench::State& state, Micros now) {
        return bench::confirm_float(state, {now + 1'000'000, now, ""}, "low");
    });
    EXPECT_EQ(malformed.kind, Kind::malformed);
    EXPECT_TRUE(desk.state().intervals.empty());
}

TEST(Decider, BadReadingsNeverMakeAMark) {
    Folder folder;
    Desk desk(folder / "x.journal");
    ASSERT_EQ(desk.start_run().kind, Kind::recorded);
    desk.go_on_to(StepKind::read);
    desk.status = drivers::ReadingStatus::bad_frame;
    desk.pass(0.8);
    EXPECT_TRUE(desk.state().marks.empty());
    EXPECT_EQ(desk.state().channels[0].stillness, acquisition::Stillness::faulty);
    desk.status = drivers::ReadingStatus::good;
    desk.reads = false;
    ASSERT_TRUE(desk.until([&] { return desk.state().channels[0].stillness == acquisition::Stillness::silent; }));
    desk.reads = true;
    EXPECT_EQ(desk.go_on().kind, Kind::recorded);
    EXPECT_EQ(desk.state().marks.size(), 1U);
}

// The stray frame behind an answer is found only before the next request.
TEST(Decider, ADoubtAboutItsLastReadingBreaksACompleteWindow) {
    Folder folder;
    Desk desk(folder / "x.journal");
    ASSERT_EQ(desk.start_run().kind, Kind::recorded);
    desk.go_on_to(StepKind::read);
    const auto& live = desk.decider->channels()[0];
    ASSERT_TRUE(desk.until([&live] { return live.window && live.window->complete(); }));
    EXPECT_TRUE(desk.state().marks.empty()) << "before the next reading the last one may still be doubted";
    const auto doubted = live.window->last_number();
    desk.decider->post({0, 0, protocols::now_us(), 0, drivers::ReadingStatus::doubtful});
    desk.reads = false;
    ASSERT_TRUE(desk.until([&live] { return !live.window || !live.window->complete(); }));
    EXPECT_TRUE(desk.state().marks.empty());
    EXPECT_FALSE(live.latest_good.has_value());
    desk.reads = true;
    ASSERT_TRUE(desk.until([&desk] { return !desk.state().marks.empty(); }));
    EXPECT_GT(static_cast<std::uint64_t>(desk.state().marks.front().taken.first), doubted);
}

TEST(Decider, AFrameSaysWhatTheStepWaitsFor) {
    Folder folder;
    Desk desk(folder / "x.journal");
    EXPECT_TRUE(frame(*desk.decider)["run"].is_null());
    ASSERT_EQ(desk.start_run().kind, Kind::recorded);
    const auto at_start = frame(*desk.decider);
    EXPECT_EQ(at_start["step"]["wants"], "step_done");
    EXPECT_EQ(at_start["run"]["steps"], desk.state().running()->plan.steps.size());
    desk.go_on_to(StepKind::read);
    const auto at_read = frame(*desk.decider);
    EXPECT_EQ(at_read["step"]["kind"], "read");
    EXPECT_EQ(at_read["float"]["state"], "confirmed");
    EXPECT_EQ(at_read["float"]["range"], "low");
    EXPECT_EQ(at_read["channels"][0]["mark"], "waiting");
    EXPECT_EQ(at_read["channels"][1]["mark"], "none");
    EXPECT_EQ(at_read["step"]["waits_for"].get<std::string>().substr(0, 25), "waits for transmitter A: ");
    desk.go_on_to(StepKind::sight);
    const auto at_sight = frame(*desk.decider);
    EXPECT_EQ(at_sight["marks"].size(), 1U);
    EXPECT_EQ(at_sight["marks"][0]["status"], "provisional");
    EXPECT_EQ(at_sight["channels"][0]["mark"], "taken");
    const auto all = results(desk.state(), "");
    EXPECT_EQ(all["marks"].size(), 1U);
    EXPECT_TRUE(results(desk.state(), "R9").is_null());
    EXPECT_EQ(run_list(desk.state()).size(), 1U);
}

// Points that were passed without a mark are listed as missing.
// The readings of a check are watched by the service itself, and its result names them.
TEST(Decider, ALeakIsToldByTheReadingsOfItsWatch) {
    const Folder folder;
    auto bench = hurried_bench();
    bench.text.replace(
        bench.text.find("\"sequences\""), 0,
        R"("checks": {"leak": {"at": "100 bar", "settle": "0.1 s", "watch": "0.4 s", "drop": "0.1 bar"}},)");
    Desk desk(folder / "j", *bench::bench_from_texts("invented.json", bench.text, bench.profile_texts));
    desk.off_pa = 1e7; // the line is shut under pressure; nothing floats
    ASSERT_EQ(desk.start_run().kind, Kind::recorded);
    desk.go_on_to(bench::StepKind::check);
    ASSERT_NE(desk.step(), nullptr);
    const auto step = desk.state().running()->step;
    EXPECT_EQ(frame(*desk.decider)["step"]["wants"], "check");
    ASSERT_EQ(desk.go_on().kind, Outcome::Kind::recorded);
    const auto watched = frame(*desk.decider)["step"];
    EXPECT_EQ(watched["wants"], "nothing");
    EXPECT_EQ(watched["check"]["measuring"], true);
    EXPECT_EQ(watched["check"]["limit"], "at most 0.1 bar within 0.4 s");
    ASSERT_TRUE(desk.until([&desk] { return !desk.state().running()->checks.empty(); }));
    const auto result = desk.state().running()->checks.front().recorded;
    EXPECT_TRUE(result.passed) << result.words;
    EXPECT_EQ(desk.state().running()->step, step + 1);
    // Some forty readings in 0.4 s, all of them in the journal under the numbers that the result names.
    desk.decider->stop("the test is over");
    auto reader = journal::JournalReader::open(folder / "j");
    ASSERT_TRUE(reader);
    const auto readings =
        (*reader)->readings(0, static_cast<std::uint64_t>(result.first), static_cast<std::uint64_t>(result.last));
    ASSERT_TRUE(readings);
    ASSERT_GE(readings->size(), 20U);
    EXPECT_NEAR(static_cast<double>(readings->back().at_us - readings->front().at_us) / 1e6, 0.4, 0.1);
    const auto told = results(desk.state(), "");
    EXPECT_EQ(told["checks"][0]["check"], "leak");
    EXPECT_EQ(told["checks"][0]["passed"], true);
}

// What a certificate prints of its journal holds when the journal is looked at later.
TEST(Decider, TheJournalsHeadIsTheDigestOfWhatIsOnDisk) {
    const Folder folder;
    std::vector<JournalHead> heads;
    {
        Desk desk(folder / "j");
        heads.push_back(desk.decider->journal_head());
        desk.pass(0.5);
        heads.push_back(desk.decider->journal_head());
        desk.decider->stop("the test is over");
    }
    EXPECT_GT(heads[0].number, 0U);
    EXPECT_GT(heads[1].number, heads[0].number);
    for (const auto& head : heads) {
        const journal::PrintedDigest printed{static_cast<std::int64_t>(head.number),
                                             seal::digest_from_hex(head.digest_hex).value()};
        const auto told = journal::verify(folder / "j", {{}, {printed}});
        ASSERT_TRUE(told) << told.error().message;
        EXPECT_EQ(told->findings, std::vector<std::string>{}) << head.number;
    }
}

TEST(Decider, TheFrameCarriesTheLatestFaultOfAChannel) {
    Folder folder;
    Desk desk(folder / "x.journal");
    const auto fault_of = [&desk] { return frame(*desk.decider)["channels"][0]["fault"]; };
    EXPECT_TRUE(fault_of().is_null());
    desk.decider->post({0, 1'000, drivers::ReadingStatus::bad_frame, "01 03 04"});
    desk.decider->post({0, 2'000, drivers::ReadingStatus::bad_frame, "01 03 05"});
    desk.decider->post({99, 2'000, drivers::ReadingStatus::bad_frame, "of no channel"});
    desk.pass(0.1); // it reads again meanwhile
    EXPECT_EQ(fault_of(), (json{{"kind", "bad frame"}, {"detail", "01 03 05"}, {"at_us", 2'000}, {"count", 2}}));
    desk.decider->post({0, 3'000, drivers::ReadingStatus::not_understood, "the reply was \"\xff\""});
    desk.pass(0.05);
    EXPECT_EQ(fault_of()["kind"], "not understood");
    EXPECT_EQ(fault_of()["count"], 1);
    EXPECT_NE(fault_of().dump().find("the reply was"), std::string::npos) << "bytes that are no UTF-8 can be sent";
}

TEST(Decider, TheFrameNamesRangesInPoorHealth) {
    Folder folder;
    Desk desk(folder / "x.journal");
    EXPECT_TRUE(frame(*desk.decider)["poor_ranges"].empty());
    ASSERT_EQ(desk.ask([](const bench::State& state, Micros now) {
                      return bench::state_health(state, Desk::press(now), {"low", "", "20 s", "", ""});
                  })
                  .kind,
              Kind::recorded);
    const auto poor = frame(*desk.decider)["poor_ranges"];
    ASSERT_EQ(poor.size(), 1U);
    EXPECT_EQ(poor[0]["range"], "low");
    EXPECT_EQ(desk.start_run().kind, Kind::refused);
    ASSERT_EQ(desk.ask([](const bench::State& state, Micros now) {
                      return bench::start_run(state, Desk::press(now), "short", "as found", {"transmitter A"}, "why");
                  })
                  .kind,
              Kind::recorded);
    const auto said = results(desk.state(), "")["run"]["override_health"];
    EXPECT_EQ(said["because"], "why");
    EXPECT_EQ(said["by"], "invented person");
    EXPECT_EQ(said["found"], json::array({poor[0]["words"]}));
    // A start from the journal knows the same.
    const auto again = recover(folder / "x.journal");
    ASSERT_TRUE(again);
    EXPECT_EQ(again->state.runs.back().override_health, "why");
    EXPECT_EQ(again->state.runs.back().poor_at_start, std::vector<std::size_t>{0});
}

TEST(Decider, AReadingThatIsTooOldIsNoReadingOfNow) {
    LiveChannel live;
    EXPECT_EQ(live.fresh(0, 0.05), nullptr);
    live.latest_good = acquisition::Reading{};
    live.latest_good->at_us = 1'000'000;
    EXPECT_NE(live.fresh(1'500'000, 0.05), nullptr);
    EXPECT_EQ(live.fresh(1'500'001, 0.05), nullptr) << "half a second at least";
    EXPECT_NE(live.fresh(7'000'000, 2), nullptr) << "three polls of a slow one";
    EXPECT_EQ(live.fresh(7'000'001, 2), nullptr);
}

TEST(Decider, MissingMarksAreListed) {
    Folder folder;
    Desk desk(folder / "x.journal");
    ASSERT_EQ(desk.start_run().kind, Kind::recorded);
    desk.go_on_to(StepKind::sight);
    ASSERT_EQ(desk.go_on().kind, Kind::recorded);
    EXPECT_TRUE(results(desk.state(), "")["missing"].empty());
    ASSERT_EQ(desk.ask([](const bench::State& state, Micros now) {
                      return bench::void_mark(state, Desk::press(now), 1, "invented");
                  })
                  .kind,
              Kind::recorded);
    const auto missing = results(desk.state(), "")["missing"];
    ASSERT_EQ(missing.size(), 1U);
    EXPECT_EQ(missing[0]["channel"], "transmitter A");
    EXPECT_EQ(missing[0]["target"], "2 bar");
    EXPECT_EQ(missing[0]["direction"], "rising");
    ASSERT_EQ(
        desk.ask([](const bench::State& state, Micros now) { return bench::stop_run(state, Desk::press(now), "tea"); })
            .kind,
        Kind::recorded);
    EXPECT_EQ(results(desk.state(), "")["missing"].size(), 6U)
        << "a run that was stopped lacks every mark that it did not come to";
}

// What is not in the journal cannot be evidence: a reading that the full queue refused is in no window either.
TEST(Decider, ReadingsThatTheQueueRefusesAreNotUsed) {
    Folder folder;
    const auto path = folder / "x.journal";
    Desk desk(path);
    ASSERT_EQ(desk.start_run().kind, Kind::recorded);
    desk.go_on_to(StepKind::read);
    desk.reads = false;
    const double pressure_pa =
        bench::reference_for(desk.state(), desk.state().intervals.back(), desk.state().bench->instruments[0])
            .at_instrument_pa;
    // Another program keeps the file while more readings come than may wait.
    sqlite3* other = nullptr;
    ASSERT_EQ(sqlite3_open(path.c_str(), &other), SQLITE_OK);
    ASSERT_EQ(sqlite3_exec(other, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr), SQLITE_OK);
    constexpr std::uint64_t posted = 90'000;
    const Micros from_us = protocols::now_us();
    for (std::uint64_t i = 0; i < posted; ++i)
        desk.decider->post({0, 1, from_us + static_cast<Micros>(20 * i), pressure_pa, drivers::ReadingStatus::good});
    desk.io.run_for(std::chrono::milliseconds(1500));
    desk.io.restart();
    ASSERT_EQ(sqlite3_exec(other, "ROLLBACK", nullptr, nullptr, nullptr), SQLITE_OK);
    sqlite3_close(other);
    ASSERT_TRUE(desk.until([&] { return desk.decider->all_on_disk(); }));
    EXPECT_FALSE(desk.decider->journal_failed());
    bool said = false;
    for (const auto& tell : desk.told)
        said = said || tell.words.find("readings were refused") != std::string::npos;
    EXPECT_TRUE(said);
    desk.decider->stop("the test is done");
    const auto replayed = replay(path);
    ASSERT_TRUE(replayed) << replayed.error().message;
    EXPECT_GT(replayed->readings, 60'000U);
    EXPECT_LT(replayed->readings, posted) << "nothing was refused";
    for (const auto& mark : replayed->marks)
        EXPECT_TRUE(mark.same) << mark.differences[0];
}

/// Runs a part of a test in a child whose files may not grow beyond `most` bytes: the disk is full.
template <class Part>
void on_a_full_disk(Part part) {
    const pid_t child = ::fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
        ::signal(SIGXFSZ, SIG_IGN);
        ::alarm(60);
        part();
        ::_exit(::testing::Test::HasFailure() ? 1 : 0);
    }
    int status = -1;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0) << "status " << status;
}
void limit_files(rlim_t most) {
    rlimit limit{};
    ::getrlimit(RLIMIT_FSIZE, &limit);
    limit.rlim_cur = most;
    ::setrlimit(RLIMIT_FSIZE, &limit);
}

TEST(FullDisk, WhatIsNotRecordedDidNotHappen) {
    Folder folder;
    const auto path = folder / "x.journal";
    on_a_full_disk([&] {
        Desk desk(path);
        desk.reads = false;
        ASSERT_TRUE(desk.until([&] { return desk.decider->all_on_disk(); }));
        limit_files(std::filesystem::file_size(path + "-wal") + 1);
        const auto outcome = desk.start_run();
        EXPECT_EQ(outcome.kind, Kind::not_recorded);
        EXPECT_TRUE(desk.decider->journal_failed());
        EXPECT_TRUE(desk.state().runs.empty()) << "the state is what the journal says";
        ASSERT_FALSE(desk.told.empty());
        EXPECT_TRUE(desk.told.back().alarm);
        EXPECT_EQ(frame(*desk.decider)["journal"], "failed");
        EXPECT_EQ(desk.start_run().kind, Kind::not_recorded);
        for (const auto& tell : desk.told)
            EXPECT_EQ(tell.words.find("run R1 begins"), std::string::npos) << "told though it did not happen";
        // Space again: it goes on by itself, with the right numbers, and another thread reads the journal for it.
        const OpeningsWatched watched;
        limit_files(RLIM_INFINITY);
        ASSERT_TRUE(desk.until([&] { return !desk.decider->journal_failed(); }));
        EXPECT_GT(OpeningsWatched::all(), 0U);
        EXPECT_EQ(OpeningsWatched::on_this_thread(), 0U);
        EXPECT_EQ(desk.start_run().kind, Kind::recorded);
        EXPECT_EQ(desk.state().running()->id, "R1");
        desk.decider->stop("the test is done");
        const auto recovered = recover(path);
        ASSERT_TRUE(recovered) << recovered.error().message;
        EXPECT_EQ(recovered->state.runs.size(), 1U);
    });
}

TEST(FullDisk, AnOpenFloatIsUnknownAfterwards) {
    Folder folder;
    const auto path = folder / "x.journal";
    on_a_full_disk([&] {
        Desk desk(path);
        desk.reads = false;
        ASSERT_EQ(desk.start_run().kind, Kind::recorded);
        desk.go_on_to(StepKind::read);
        ASSERT_NE(desk.state().open_interval(), nullptr);
        limit_files(std::filesystem::file_size(path + "-wal") + 1);
        EXPECT_EQ(desk.ask([](const bench::State& state, Micros now) {
                          return bench::sight_float(state, Desk::press(now), false);
                      })
                      .kind,
                  Kind::not_recorded);
        EXPECT_NE(desk.state().open_interval(), nullptr) << "nothing is known of its end yet";
        limit_files(RLIM_INFINITY);
        ASSERT_TRUE(desk.until([&] { return !desk.decider->journal_failed(); }));
        EXPECT_EQ(desk.state().open_interval(), nullptr);
        EXPECT_EQ(desk.state().intervals.back().end, bench::IntervalEnd::unknown);
        // The instrument goes on, and so does the run.
        desk.reads = true;
        desk.go_on_to(StepKind::sight);
        EXPECT_EQ(desk.state().marks.size(), 1U);
        desk.decider->stop("the test is done");
        const auto replayed = replay(path);
        ASSERT_TRUE(replayed) << replayed.error().message;
        ASSERT_EQ(replayed->marks.size(), 1U);
        EXPECT_TRUE(replayed->marks[0].same) << replayed->marks[0].differences[0];
    });
}

// The very first facts, the service and its bench, may meet a full disk; a journal without them would tell nothing of
// what follows, so the service does not begin.
TEST(FullDisk, AServiceThatCannotSayWhatItIsDoesNotBegin) {
    Folder folder;
    const auto path = folder / "x.journal";
    on_a_full_disk([&] {
        const auto bench = hurried_bench("// " + std::string(100000, '-') + "\n");
        for (rlim_t most = 4096; most <= 65536; most += 4096) {
            limit_files(most);
            try {
                Desk desk(path, bench);
                ADD_FAILURE() << "it began within " << most << " bytes";
            } catch (const std::runtime_error& refused) {
                EXPECT_NE(std::string(refused.what()).find("the disk"), std::string::npos) << refused.what();
            }
        }
        limit_files(RLIM_INFINITY);
        Desk desk(path, bench);
        EXPECT_EQ(desk.start_run().kind, Kind::recorded);
        desk.decider->stop("the test is done");
        const auto recovered = recover(path);
        ASSERT_TRUE(recovered) << recovered.error().message;
        ASSERT_TRUE(recovered->state.bench);
        EXPECT_EQ(recovered->state.runs.size(), 1U);
    });
}

} // namespace
} // namespace stillmark::decider::testing
