#include "protocols/text_link.hpp"
#include "protocols/wire.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <fcntl.h>
#include <unistd.h>

namespace stillmark::protocols {
namespace {

using namespace std::chrono_literals;
using test::Bytes;
using test::FarEnd;
using test::SerialInstrument;
using test::TcpInstrument;

std::unique_ptr<TextLink> link_to(const SerialInstrument& instrument) {
    return make_text_serial_link({.device = instrument.device(), .baud = 115200, .parity = Parity::none}, "\r\n");
}
std::unique_ptr<TextLink> link_to(const TcpInstrument& instrument) {
    return make_text_tcp_link({"127.0.0.1", instrument.port()}, "\r\n");
}

/// "Q17\r\n" is answered by "17\r\n", until the far end is left alone.
void answer_all(FarEnd& end) {
    for (;;) {
        const Bytes request = end.receive_line('\n', 300ms);
        if (!request.ends_with("\r\n")) return;
        end.send(request.substr(1));
    }
}

template <class Instrument>
class TextLinkOn : public testing::Test {};
using Wires = testing::Types<SerialInstrument, TcpInstrument>;
TYPED_TEST_SUITE(TextLinkOn, Wires);

TYPED_TEST(TextLinkOn, ARequestIsSentWithItsTerminatorAndTheReplyComesWithout) {
    std::string sent;
    {
        TypeParam instrument([&sent](FarEnd& end) {
            sent = end.receive_line();
            end.send("123.45 bar\r\n");
            end.receive(1, 20ms);
        });
        const auto reply = link_to(instrument)->ask("PRES?", 500ms);
        ASSERT_TRUE(reply.has_value()) << reply.error().detail;
        EXPECT_EQ(reply->line, "123.45 bar");
        EXPECT_LE(reply->before_us, reply->after_us);
    }
    EXPECT_EQ(sent, "PRES?\r\n");
}

TYPED_TEST(TextLinkOn, AReplyMayComeByteByByteWithinTheDeadline) {
    TypeParam instrument([](FarEnd& end) {
        end.receive_line();
        for (const char byte : std::string("9.5\r\n")) {
            std::this_thread::sleep_for(3ms);
            end.send(Bytes(1, byte));
        }
        end.receive(1, 20ms);
    });
    const auto reply = link_to(instrument)->ask("P", 500ms);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->line, "9.5");
}

TYPED_TEST(TextLinkOn, BytesThatDripDoNotStretchTheDeadline) {
    TypeParam instrument([](FarEnd& end) {
        end.receive_line();
        for (int i = 0; i < 30 && !end.gone; ++i) {
            std::this_thread::sleep_for(10ms);
            end.send("1");
        }
    });
    const auto link = link_to(instrument);
    const Micros before = now_us();
    const auto reply = link->ask("P", 60ms);
    EXPECT_LT(now_us() - before, 150'000);
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, Fault::bad_frame) << reply.error().detail;
}

TYPED_TEST(TextLinkOn, NoReplyIsSilence) {
    TypeParam instrument([](FarEnd& end) {
        end.receive_line();
        end.receive(1, 80ms);
    });
    const auto reply = link_to(instrument)->ask("P", 30ms);
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, Fault::silent);
}

TYPED_TEST(TextLinkOn, ALineWithoutEndIsABadFrameAndBounded) {
    TypeParam instrument([](FarEnd& end) {
        end.receive_line();
        end.send(Bytes(3000, 'x'));
        end.receive(1, 80ms);
    });
    const auto reply = link_to(instrument)->ask("P", 100ms);
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, Fault::bad_frame);
    EXPECT_NE(reply.error().detail.find("512"), std::string::npos) << reply.error().detail;
}

TYPED_TEST(TextLinkOn, WhatCameBeforeTheRequestIsDropped) {
    TypeParam instrument([](FarEnd& end) {
        end.receive_line();
        end.send("1\r\n2\r\n3\r\n");
        end.receive_line();
        end.send("4\r\n");
        end.receive_line();
        end.send("5\r\n");
        end.receive(1, 50ms);
    });
    const auto link = link_to(instrument);
    EXPECT_EQ(link->ask("P", 2000ms)->line, "1");
    std::this_thread::sleep_for(10ms);
    // Lines that nothing asked for: the one before is doubtful, and it is asked twice before a line counts again.
    const auto reply = link->ask("P", 2000ms);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->line, "5");
    EXPECT_EQ(link->doubts(), 2U);
}

// "123.45" whose first half was dropped would read as 3.45.
TYPED_TEST(TextLinkOn, HalfALineIsDroppedWithItsOtherHalf) {
    TypeParam instrument([](FarEnd& end) {
        end.receive_line();
        end.send("1\r\n12");
        std::this_thread::sleep_for(15ms);
        end.send("3.45\r\n");
        end.receive_line();
        end.send("4\r\n");
        end.receive_line();
        end.send("5\r\n");
        end.receive(1, 50ms);
    });
    const auto link = link_to(instrument);
    EXPECT_EQ(link->ask("P", 2000ms)->line, "1");
    const auto reply = link->ask("P", 2000ms);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_TRUE(reply->line == "5" || reply->line == "4") << reply->line;
}

TYPED_TEST(TextLinkOn, ALocalEchoIsNamed) {
    TypeParam instrument([](FarEnd& end) {
        end.send(end.receive_line() + "1.0\r\n");
        end.receive(1, 50ms);
    });
    const auto reply = link_to(instrument)->ask("PRES?", 100ms);
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, Fault::bad_frame);
    EXPECT_NE(reply.error().detail.find("echo"), std::string::npos) << reply.error().detail;
}

struct LateCount {
    std::atomic<int> late{0};
    std::atomic<int> good{0};
    std::atomic<int> stale{0};
};

/// Every second reply or so comes after its deadline.
template <class Instrument>
void ask_a_late_instrument(unsigned seed, LateCount& count) {
    constexpr auto deadline = 20ms;
    Instrument instrument([&count, seed](FarEnd& end) {
        unsigned random = seed;
        for (;;) {
            const Bytes request = end.receive_line('\n', 200ms);
            if (!request.ends_with("\r\n")) return;
            random = (random + static_cast<unsigned char>(request[1])) * 1664525U + 1013904223U;
            if ((random >> 16) % 2 == 0) {
                ++count.late;
                std::this_thread::sleep_for(std::chrono::microseconds(22'000 + (random >> 8) % 12'000));
            }
            end.send(request.substr(1));
        }
    });
    const auto link = link_to(instrument);
    for (int i = 0; i < 40; ++i) {
        const auto reply = link->ask(fmt::format("Q{}", i), deadline);
        if (reply.has_error()) continue;
        ++count.good;
        if (reply->line != std::to_string(i)) ++count.stale;
    }
}

TYPED_TEST(TextLinkOn, NoLateReplyIsTakenForTheNext) {
    LateCount count;
    {
        std::vector<std::jthread> threads;
        for (unsigned line = 0; line < 20; ++line) {
            threads.emplace_back([&count, line] { ask_a_late_instrument<TypeParam>(line + 1, count); });
        }
    }
    EXPECT_EQ(count.stale, 0);
    EXPECT_GE(count.late, 250);
    EXPECT_GE(count.good, 100) << "the link may not earn this by giving up";
}

// Nothing is asked while an answer is owed, so the next line is that one.
TYPED_TEST(TextLinkOn, AfterASilenceTheLateLineIsWaitedForAndDropped) {
    TypeParam instrument([](FarEnd& end) {
        const Bytes first = end.receive_line('\n', 5s);
        EXPECT_FALSE(end.receive(1, 120ms).size()) << "something was asked while an answer was owed";
        end.send(first.substr(1));
        answer_all(end);
    });
    const auto link = link_to(instrument);
    EXPECT_EQ(link->ask("Q1", 20ms).error().fault, Fault::silent);
    const auto reply = link->ask("Q2", 5000ms);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->line, "2");
    EXPECT_EQ(link->doubts(), 0U);
}

TYPED_TEST(TextLinkOn, AnIdentificationPartsTheLateLineFromTheNext) {
    TypeParam instrument([](FarEnd& end) {
        for (;;) {
            const Bytes request = end.receive_line('\n', 500ms);
            if (!request.ends_with("\r\n")) return;
            if (request == "Q1\r\n") continue; // its answer is lost
            end.send(request == "ID?\r\n" ? "Invented gauge\r\n" : request.substr(1));
        }
    });
    const auto link = link_to(instrument);
    link->synchronise_by({"ID?", [](const std::string& line) { return line.starts_with("Invented"); }});
    EXPECT_EQ(link->ask("Q1", 20ms).error().fault, Fault::silent);
    const auto reply = link->ask("Q2", 2000ms);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->line, "2");
}

// It answers any line with a reading: then the identification tells nothing, and what is owed is waited for.
TYPED_TEST(TextLinkOn, AnInstrumentThatDoesNotKnowTheIdentificationGivesNoStaleReading) {
    TypeParam instrument([](FarEnd& end) {
        const Bytes first = end.receive_line('\n', 5s);
        const Bytes second = end.receive_line('\n', 5s);
        end.send(first.substr(1));
        end.send("0\r\n");
        EXPECT_EQ(second, "ID?\r\n");
        answer_all(end);
    });
    const auto link = link_to(instrument);
    link->synchronise_by({"ID?", [](const std::string& line) { return line.starts_with("Invented"); }});
    EXPECT_EQ(link->ask("Q1", 20ms).error().fault, Fault::silent);
    Result<TextReply> reply = Failure{};
    for (int tries = 2; tries < 5 && reply.has_error(); ++tries)
        reply = link->ask(fmt::format("Q{}", tries), 1000ms);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_GE(std::stoi(reply->line), 2);
}

TYPED_TEST(TextLinkOn, AnInstrumentThatTalksByItselfIsHeardInWholeLines) {
    TypeParam instrument([](FarEnd& end) {
        // The first byte is only for the far end's thread to begin; the link itself sends nothing.
        for (int i = 0; i < 80 && !end.gone; ++i) {
            const std::string line = fmt::format("{}\r\n", 1000 + i);
            end.send(line.substr(0, 2));
            std::this_thread::sleep_for(2ms);
            end.send(line.substr(2));
            std::this_thread::sleep_for(4ms);
        }
    });
    const auto link = link_to(instrument);
    // A pseudo-terminal's far end begins with the first byte: the silent first listening is over by then.
    if constexpr (std::is_same_v<TypeParam, SerialInstrument>) (void)link->ask("begin", 1ms);
    int last = 0;
    for (int i = 0; i < 10; ++i) {
        const auto reply = link->ask("", 100ms);
        ASSERT_TRUE(reply.has_value()) << reply.error().detail;
        ASSERT_EQ(reply->line.size(), 4U) << reply->line;
        const int number = std::stoi(reply->line);
        EXPECT_GT(number, last);
        EXPECT_LT(reply->after_us - reply->before_us, 50'000);
        last = number;
        std::this_thread::sleep_for(std::chrono::milliseconds(i));
    }
}

TEST(TextSerialLink, APulledAdapterIsTakenUpAgainUnderItsName) {
    SerialInstrument instrument(answer_all);
    const auto link = link_to(instrument);
    EXPECT_EQ(link->ask("Q1", 200ms)->line, "1");
    instrument.pull_out();
    EXPECT_EQ(link->ask("Q2", 100ms).error().fault, Fault::link_down);
    EXPECT_EQ(link->ask("Q2", 100ms).error().fault, Fault::link_down);
    instrument.plug_in(answer_all);
    Result<TextReply> reply = Failure{};
    for (int tries = 0; tries < 200 && reply.has_error(); ++tries) {
        std::this_thread::sleep_for(10ms);
        reply = link->ask("Q3", 100ms);
    }
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->line, "3");
}

TEST(TextTcpLink, AConnectionThatTheServerClosedCostsNoReading) {
    TcpInstrument instrument([](FarEnd& end) { end.send(end.receive_line().substr(1)); });
    const auto link = link_to(instrument);
    for (int i = 0; i < 5; ++i) {
        const auto reply = link->ask(fmt::format("Q{}", i), 200ms);
        ASSERT_TRUE(reply.has_value()) << reply.error().detail;
        EXPECT_EQ(reply->line, std::to_string(i));
        std::this_thread::sleep_for(5ms);
    }
}

TEST(TextTcpLink, AnAbsentServerIsALinkThatIsDownAtOnce) {
    int port = 0;
    {
        TcpInstrument gone([](FarEnd&) {});
        port = gone.port();
    }
    const auto link = make_text_tcp_link({"127.0.0.1", port}, "\r\n");
    const auto reply = link->ask("P", 50ms);
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().detail, fmt::format("127.0.0.1:{}: Connection refused", port));
    const Micros before = now_us();
    EXPECT_EQ(link->ask("P", 50ms).error().fault, Fault::link_down);
    EXPECT_LT(now_us() - before, 20'000);
}

TEST(TextSerialLink, ATerminalThatStillHasTheseSettingsIsOpenedAgain) {
    SerialInstrument instrument(answer_all);
    const SerialSettings settings{.device = instrument.device(), .baud = 9600, .parity = Parity::even, .data_bits = 7};
    const int held = open(instrument.device().c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC);
    ASSERT_TRUE(make_text_serial_link(settings, "\r\n")->ask("Q1", 200ms).has_value());
    const auto reply = make_text_serial_link(settings, "\r\n")->ask("Q2", 200ms);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->line, "2");
    close(held);
}

TEST(TextSerialLink, SettingsThatCannotBeUsedAreSaid) {
    const auto link = make_text_serial_link({.device = "/dev/null", .baud = 300}, "\r\n");
    EXPECT_EQ(link->ask("P", 10ms).error().detail, "/dev/null: 300 is not a standard rate; use 1200");
    const auto unterminated = make_text_serial_link({.device = "/dev/null", .baud = 9600}, "");
    EXPECT_EQ(unterminated->ask("P", 10ms).error().fault, Fault::unsupported);
}

TEST(TextSerialLink, ADeviceThatIsNoTerminalIsALinkThatIsDown) {
    const auto link = make_text_serial_link({.device = "/dev/null", .baud = 9600}, "\n");
    EXPECT_EQ(link->ask("P", 10ms).error().fault, Fault::link_down);
}

} // namespace
} // namespace stillmark::protocols
