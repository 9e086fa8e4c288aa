#include "protocols/modbus_link.hpp"
#include "protocols/serial_line.hpp"
#include "protocols/wire.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <fcntl.h>
#include <sys/resource.h>
#include <unistd.h>

namespace stillmark::protocols {
namespace {

using namespace std::chrono_literals;
using test::bytes;
using test::Bytes;
using test::FarEnd;
using test::hexadecimal;
using test::SerialInstrument;
using test::with_checksum;

constexpr std::size_t request_bytes = 8;
const RegisterRequest two_holding{0x11, RegisterKind::holding, 0x6B, 2};
const Bytes good_answer = with_checksum(bytes("11 03 04 12 34 56 78"));

std::unique_ptr<ModbusLink> link_to(const SerialInstrument& instrument, int baud = 115200) {
    return make_modbus_rtu_link({.device = instrument.device(), .baud = baud});
}

/// The first answer to one request on a fresh link.
Result<RegisterReply> first_answer(const Bytes& answer, std::chrono::milliseconds deadline = 30ms) {
    SerialInstrument instrument([&answer](FarEnd& end) {
        end.receive(request_bytes);
        end.send(answer);
    });
    return link_to(instrument)->read(two_holding, deadline);
}

Fault fault_after(const Bytes& answer, std::chrono::milliseconds deadline = 30ms) {
    const auto reply = first_answer(answer, deadline);
    EXPECT_TRUE(reply.has_error());
    return reply.has_error() ? reply.error().fault : Fault::link_down;
}

struct GoldenFrame {
    const char* what;
    const char* request;
    const char* answer;
    RegisterRequest asked;
    std::vector<std::uint16_t> registers;
};

// Worked examples of Modbus Application Protocol V1.1b3, 6.3 and 6.4, framed for server 11h as public test files have
// them (MB-03), and with a checksum computed by polynomial A001h (MB-03 with the specification's data, MB-04).
TEST(ModbusRtuGolden, RequestsAndAnswersOfTheSpecification) {
    const GoldenFrame frames[] = {
        {"MB-03",
         "11 03 00 6B 00 03 76 87",
         "11 03 06 AE 41 56 52 43 40 49 AD",
         {0x11, RegisterKind::holding, 0x6B, 3},
         {0xAE41, 0x5652, 0x4340}},
        {"MB-03, the specification's data",
         "11 03 00 6B 00 03 76 87",
         "11 03 06 02 2B 00 00 00 64 C8 BA",
         {0x11, RegisterKind::holding, 0x6B, 3},
         {0x022B, 0x0000, 0x0064}},
        {"MB-04", "11 04 00 08 00 01 B2 98", "11 04 02 00 0A F8 F4", {0x11, RegisterKind::input, 8, 1}, {0x000A}},
    };
    for (const auto& frame : frames) {
        std::string sent;
        Result<RegisterReply> reply = Failure{};
        {
            SerialInstrument instrument([&](FarEnd& end) {
                sent = hexadecimal(end.receive(request_bytes));
                end.send(bytes(frame.answer));
            });
            reply = link_to(instrument)->read(frame.asked, 500ms);
        }
        EXPECT_EQ(sent, frame.request) << frame.what;
        ASSERT_TRUE(reply.has_value()) << frame.what << ": " << reply.error().detail;
        EXPECT_EQ(reply->registers, frame.registers) << frame.what;
        EXPECT_LT(reply->before_us, reply->after_us);
    }
}

// Modbus Application Protocol V1.1b3, 7, framed for server 1: illegal data address (checksum computed).
TEST(ModbusRtuGolden, ExceptionFrameOfTheSpecification) {
    SerialInstrument instrument([](FarEnd& end) {
        end.receive(request_bytes);
        end.send(bytes("01 83 02 C0 F1"));
    });
    const auto reply = link_to(instrument)->read({1, RegisterKind::holding, 0, 1}, 500ms);
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, Fault::unsupported);
}

// Modbus over Serial Line V1.02, appendix B, example: 02 07 has the checksum bytes 41 12; and the check value of this
// polynomial for "123456789", 4B37h (both from memory and computed).
TEST(ModbusRtuGolden, TheChecksumThatTheseTestsPutBehindFramesIsTheStandards) {
    EXPECT_EQ(hexadecimal(with_checksum(bytes("02 07"))), "02 07 41 12");
    EXPECT_EQ(test::checksum("123456789"), 0x4B37);
}

TEST(ModbusRtuFaults, EachWrongAnswerIsNamed) {
    EXPECT_EQ(fault_after(""), Fault::silent);
    Bytes bad = good_answer;
    bad.back() = static_cast<char>(bad.back() ^ 1);
    EXPECT_EQ(fault_after(bad), Fault::bad_frame) << "checksum";
    EXPECT_EQ(fault_after(with_checksum(bytes("12 03 04 12 34 56 78"))), Fault::bad_frame) << "another server";
    EXPECT_EQ(fault_after(with_checksum(bytes("00 03 04 12 34 56 78"))), Fault::bad_frame) << "the broadcast address";
    EXPECT_EQ(fault_after(with_checksum(bytes("11 04 04 12 34 56 78"))), Fault::bad_frame) << "another function";
    EXPECT_EQ(fault_after(with_checksum(bytes("11 03 02 12 34"))), Fault::bad_frame) << "fewer registers";
    EXPECT_EQ(fault_after(with_checksum(bytes("11 03 06 12 34 56 78 9A BC"))), Fault::bad_frame) << "more registers";
    EXPECT_EQ(fault_after(bytes("11 03 04 12")), Fault::bad_frame) << "broken off";
    EXPECT_EQ(fault_after(bytes("11 03 FF 12 34")), Fault::bad_frame) << "longer than a frame can be";
    EXPECT_EQ(fault_after(Bytes(300, '\x55')), Fault::bad_frame) << "garbage";
}

TEST(ModbusRtuFaults, ExceptionsSayWhetherToAskAgain) {
    EXPECT_EQ(fault_after(with_checksum(bytes("11 83 01"))), Fault::unsupported);
    EXPECT_EQ(fault_after(with_checksum(bytes("11 83 02"))), Fault::unsupported);
    EXPECT_EQ(fault_after(with_checksum(bytes("11 83 03"))), Fault::refused);
    EXPECT_EQ(fault_after(with_checksum(bytes("11 83 04"))), Fault::refused);
    EXPECT_EQ(fault_after(with_checksum(bytes("11 83 06"))), Fault::refused);
}

TEST(ModbusRtuFaults, ALocalEchoIsNamed) {
    for (const std::uint16_t address : {std::uint16_t{0x6B}, std::uint16_t{0x1234}}) {
        SerialInstrument instrument([](FarEnd& end) {
            const Bytes request = end.receive(request_bytes);
            end.send(request + good_answer);
        });
        const auto reply = link_to(instrument)->read({0x11, RegisterKind::holding, address, 2}, 30ms);
        ASSERT_TRUE(reply.has_error());
        EXPECT_EQ(reply.error().fault, Fault::bad_frame);
        EXPECT_NE(reply.error().detail.find("echo"), std::string::npos) << reply.error().detail;
    }
}

TEST(ModbusRtuLink, AnAnswerMayComeByteByByteWithinTheDeadline) {
    SerialInstrument instrument([](FarEnd& end) {
        end.receive(request_bytes);
        for (const char byte : good_answer) {
            std::this_thread::sleep_for(3ms);
            end.send(Bytes(1, byte));
        }
    });
    const auto reply = link_to(instrument)->read(two_holding, 500ms);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->registers, (std::vector<std::uint16_t>{0x1234, 0x5678}));
    EXPECT_GE(reply->after_us - reply->before_us, 27'000);
}

// Each byte would begin a new wait in a library that has a time for each: the whole answer has one.
TEST(ModbusRtuLink, BytesThatDripDoNotStretchTheDeadline) {
    SerialInstrument instrument([](FarEnd& end) {
        end.receive(request_bytes);
        for (int i = 0; i < 40 && !end.gone; ++i) {
            std::this_thread::sleep_for(10ms);
            end.send(bytes(i == 0 ? "11" : i == 1 ? "03" : i == 2 ? "7D" : "00"));
        }
    });
    const auto link = make_modbus_rtu_link({.device = instrument.device(), .baud = 115200});
    const Micros before = now_us();
    const auto reply = link->read({0x11, RegisterKind::holding, 0, 125}, 60ms);
    const Micros took = now_us() - before;
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, Fault::bad_frame);
    EXPECT_GE(took, 60'000);
    EXPECT_LT(took, 150'000);
}

/// As many registers as are asked for; the first is the request's address, so that a stale one shows itself.
Bytes answer_with_its_address(const Bytes& request) {
    if (request.size() < request_bytes) return {};
    const auto count = static_cast<unsigned char>(request[5]);
    Bytes registers = request.substr(2, 2);
    registers.resize(2U * count, '\0');
    return with_checksum(request.substr(0, 2) + static_cast<char>(2 * count) + registers);
}

struct LateCount {
    int late = 0;
    int good = 0;
    int stale = 0;
};

LateCount poll_a_late_instrument(unsigned seed, int polls) {
    constexpr auto deadline = 20ms;
    std::atomic<int> late{0};
    LateCount count;
    {
        SerialInstrument instrument([&late, seed](FarEnd& end) {
            unsigned random = seed;
            for (;;) {
                const Bytes request = end.receive(request_bytes, 300ms);
                if (request.size() < request_bytes) return;
                random = random * 1664525U + 1013904223U;
                if ((random >> 16) % 2 == 0) {
                    ++late;
                    std::this_thread::sleep_for(std::chrono::microseconds(22'000 + (random >> 8) % 12'000));
                }
                end.send(answer_with_its_address(request));
            }
        });
        const auto link = link_to(instrument);
        for (int i = 0; i < polls; ++i) {
            const auto address = static_cast<std::uint16_t>(i);
            const auto reply = link->read({0x11, RegisterKind::holding, address, 1}, deadline);
            if (reply.has_error()) continue;
            ++count.good;
            if (reply->registers[0] != address) ++count.stale;
        }
    }
    count.late = late;
    return count;
}

// A library that keeps late answers returns the previous value from then on: 15 readings of 20.
TEST(ModbusRtuLink, NoLateAnswerOfAThousandIsTakenForTheNext) {
    constexpr int lines = 32;
    std::array<LateCount, lines> counts;
    {
        std::vector<std::jthread> threads;
        for (unsigned line = 0; line < lines; ++line) {
            threads.emplace_back([&counts, line] { counts[line] = poll_a_late_instrument(line + 1, 75); });
        }
    }
    LateCount sum;
    for (const auto& count : counts) {
        sum.late += count.late;
        sum.good += count.good;
        sum.stale += count.stale;
    }
    EXPECT_EQ(sum.stale, 0);
    EXPECT_GE(sum.late, 1000);
    EXPECT_GE(sum.good, 500) << "the link may not earn this by giving up";
}

// The far end is scripted: what it gets decides what it does, no instant does.
TEST(ModbusRtuLink, AfterASilenceARequestOfAnotherLengthPartsTheLateAnswerFromTheNext) {
    std::vector<std::string> asked;
    SerialInstrument instrument([&asked](FarEnd& end) {
        const Bytes first = end.receive(request_bytes);
        const Bytes probe = end.receive(request_bytes, 5s);
        // In order, as an instrument answers that was busy with the first.
        const auto answer = [](const Bytes& request, char number) {
            if (request.size() < request_bytes) return Bytes();
            const auto count = static_cast<unsigned char>(request[5]);
            Bytes registers(2U * count, '\0');
            registers.back() = number;
            return with_checksum(request.substr(0, 2) + static_cast<char>(2 * count) + registers);
        };
        end.send(answer(first, 1));
        end.send(answer(probe, 2));
        const Bytes third = end.receive(request_bytes, 5s);
        end.send(answer(third, 3));
        for (const Bytes& request : {first, probe, third})
            asked.push_back(hexadecimal(request.substr(0, 6)));
    });
    {
        const auto link = link_to(instrument);
        EXPECT_EQ(link->read({0x11, RegisterKind::holding, 1, 2}, 20ms).error().fault, Fault::silent);
        const auto reply = link->read({0x11, RegisterKind::holding, 1, 2}, 5000ms);
        ASSERT_TRUE(reply.has_value()) << reply.error().detail;
        EXPECT_EQ(reply->registers[1], 3) << "the third request's";
        EXPECT_EQ(link->doubts(0x11), 0U);
    }
    instrument.pull_out();
    const std::vector<std::string> wanted{"11 03 00 01 00 02", "11 03 00 01 00 01", "11 03 00 01 00 02"};
    EXPECT_EQ(asked, wanted);
}

// The usual RS-485 instrument: while it is busy with one request it hears no other.
TEST(ModbusRtuLink, AnInstrumentThatLosesRequestsWhileBusyGivesNoStaleReading) {
    SerialInstrument instrument([](FarEnd& end) {
        const Bytes first = end.receive(request_bytes);
        (void)end.receive(request_bytes, 5s); // lost
        end.send(answer_with_its_address(first));
        for (;;) {
            const Bytes request = end.receive(request_bytes, 500ms);
            if (request.size() < request_bytes) return;
            end.send(answer_with_its_address(request));
        }
    });
    const auto link = link_to(instrument);
    EXPECT_EQ(link->read({0x11, RegisterKind::holding, 1, 2}, 20ms).error().fault, Fault::silent);
    const auto late = link->read({0x11, RegisterKind::holding, 2, 2}, 100ms);
    ASSERT_TRUE(late.has_error()) << "the answer to 1 came, to 2 none did: " << late->registers[0];
    EXPECT_NE(late.error().detail.find("late answer"), std::string::npos) << late.error().detail;
    const auto reply = link->read({0x11, RegisterKind::holding, 3, 2}, 2000ms);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->registers[0], 3);
}

TEST(ModbusRtuLink, ADeviceThatStaysOneAnswerBehindIsNamedAndGivesNoReading) {
    SerialInstrument instrument([](FarEnd& end) {
        Bytes before;
        for (;;) {
            const Bytes request = end.receive(request_bytes, 500ms);
            if (request.size() < request_bytes) return;
            if (!before.empty()) end.send(answer_with_its_address(before));
            before = request;
        }
    });
    const auto link = link_to(instrument);
    std::string said;
    for (std::uint16_t i = 0; i < 12; ++i) {
        const auto reply = link->read({0x11, RegisterKind::holding, i, 2}, 30ms);
        ASSERT_TRUE(reply.has_error()) << i << " was answered by " << reply->registers[0];
        said = reply.error().detail;
    }
    EXPECT_NE(said.find("one answer behind"), std::string::npos) << said;
}

// Answers to the one register must not fit the other.
TEST(ModbusRtuLink, TwoRegistersOfOneServerAreAskedForInDifferentLengths) {
    std::vector<int> counts;
    {
        SerialInstrument instrument([&counts](FarEnd& end) {
            for (;;) {
                const Bytes request = end.receive(request_bytes, 300ms);
                if (request.size() < request_bytes) return;
                counts.push_back(request[5]);
                end.send(answer_with_its_address(request));
            }
        });
        const auto link = link_to(instrument);
        for (int i = 0; i < 6; ++i) {
            const auto address = static_cast<std::uint16_t>(i % 2 == 0 ? 10 : 20);
            const auto reply = link->read({0x11, RegisterKind::holding, address, 2}, 2000ms);
            ASSERT_TRUE(reply.has_value()) << reply.error().detail;
            EXPECT_EQ(reply->registers.size(), 2U);
            EXPECT_EQ(reply->registers[0], address);
        }
    }
    ASSERT_EQ(counts.size(), 6U);
    for (std::size_t i = 1; i < counts.size(); ++i)
        EXPECT_NE(counts[i], counts[i - 1]) << i;
}

TEST(ModbusRtuLink, AServerThatRefusesOneRegisterMoreIsAskedAsTheProfileSays) {
    SerialInstrument instrument([](FarEnd& end) {
        for (;;) {
            const Bytes request = end.receive(request_bytes, 300ms);
            if (request.size() < request_bytes) return;
            end.send(request[5] == 2 ? answer_with_its_address(request) : with_checksum(bytes("11 83 02")));
        }
    });
    const auto link = link_to(instrument);
    for (int i = 0; i < 6; ++i) {
        const auto address = static_cast<std::uint16_t>(i % 2 == 0 ? 10 : 20);
        const auto reply = link->read({0x11, RegisterKind::holding, address, 2}, 2000ms);
        ASSERT_TRUE(reply.has_value()) << reply.error().detail;
        EXPECT_EQ(reply->registers[0], address);
    }
}

// The line cannot have carried so much in that time: 8 and 9 characters of 11 bits and 3.5 characters between them take
// 188 ms at 1200 baud.
TEST(ModbusRtuLink, AnAnswerThatCameSoonerThanTheLineCarriesIsNotItsOwn) {
    SerialInstrument instrument([](FarEnd& end) {
        for (;;) {
            const Bytes request = end.receive(request_bytes, 500ms);
            if (request.size() < request_bytes) return;
            end.send(answer_with_its_address(request));
        }
    });
    const auto link = make_modbus_rtu_link({.device = instrument.device(), .baud = 1200, .paced = true});
    const auto reply = link->read(two_holding, 10ms);
    EXPECT_TRUE(reply.has_error()) << "an answer at once over 1200 baud";
    EXPECT_EQ(soonest_answer({.device = "x", .baud = 1200}, 32ms, 8, 9),
              (line_time({.device = "x", .baud = 1200}, 17) + 32ms) * 19 / 20);
    EXPECT_EQ(soonest_answer({.device = instrument.device(), .baud = 1200}, 32ms, 8, 9), 0ns);
}

TEST(ModbusRtuLink, AFrameThatNothingAskedForMakesTheReadingBeforeDoubtful) {
    SerialInstrument instrument([](FarEnd& end) {
        for (int i = 0;; ++i) {
            const Bytes request = end.receive(request_bytes, 500ms);
            if (request.size() < request_bytes) return;
            const Bytes answer = answer_with_its_address(request);
            end.send(i == 1 ? answer + answer : answer);
        }
    });
    const auto link = link_to(instrument);
    for (std::uint16_t i = 1; i <= 4; ++i) {
        const auto reply = link->read({0x11, RegisterKind::holding, i, 2}, 2000ms);
        ASSERT_TRUE(reply.has_value()) << reply.error().detail;
        EXPECT_EQ(reply->registers[0], i);
        EXPECT_EQ(link->doubts(0x11), i < 3 ? 0U : 1U) << i;
    }
}

struct Silences {
    Micros shortest_us = std::numeric_limits<Micros>::max();
    int count = 0;
};

/// The silence between what the far end sent and the next request, as the far end sees it, over good answers, bad ones,
/// late ones and exceptions.
Silences silences_at(int baud) {
    Silences silences;
    SerialInstrument instrument([&silences](FarEnd& end) {
        bool overtaken = false;
        for (int i = 0; i < 30; ++i) {
            const Bytes request = end.receive(request_bytes);
            if (request.size() < request_bytes) return;
            if (i > 0 && !overtaken) {
                silences.shortest_us = std::min(silences.shortest_us, end.first_byte_us - end.sent_us);
                ++silences.count;
            }
            Bytes answer = answer_with_its_address(request);
            if (i % 5 == 1) answer.back() = static_cast<char>(answer.back() ^ 1);
            if (i % 5 == 2) answer = with_checksum(bytes("11 83 06"));
            if (i % 5 == 3) std::this_thread::sleep_for(45ms);
            // On a busy machine a late answer may come so late that the next request is out already, or goes out
            // between these lines.
            overtaken = end.something_waits();
            end.send(answer);
            overtaken = overtaken || end.something_waits();
        }
    });
    const auto link = link_to(instrument, baud);
    for (std::uint16_t address = 0; address < 30; ++address) {
        (void)link->read({0x11, RegisterKind::holding, address, 1}, 30ms);
    }
    return silences;
}

// Modbus over Serial Line V1.02, 2.5.1.1.
TEST(ModbusRtuLink, TheBusIsSilentBeforeEveryRequestAlsoAfterFailures) {
    const auto slow = silences_at(9600);
    EXPECT_GE(slow.count, 20);
    EXPECT_GE(slow.shortest_us, 4010);
    const auto fast = silences_at(115200);
    EXPECT_GE(fast.count, 20);
    EXPECT_GE(fast.shortest_us, 1750);
}

TEST(ModbusRtuLink, APulledAdapterIsTakenUpAgainUnderItsName) {
    const auto answers = [](FarEnd& end) {
        while (!end.gone) {
            const Bytes request = end.receive(request_bytes, 200ms);
            if (request.size() < request_bytes) return;
            end.send(answer_with_its_address(request));
        }
    };
    SerialInstrument instrument(answers);
    const auto link = link_to(instrument);
    ASSERT_TRUE(link->read({0x11, RegisterKind::holding, 1, 1}, 100ms).has_value());
    instrument.pull_out();
    EXPECT_EQ(link->read({0x11, RegisterKind::holding, 2, 1}, 100ms).error().fault, Fault::link_down);
    const Micros before = now_us();
    EXPECT_EQ(link->read({0x11, RegisterKind::holding, 2, 1}, 100ms).error().fault, Fault::link_down);
    EXPECT_LT(now_us() - before, 20'000) << "while the link is down the answer comes at once";

    instrument.plug_in(answers);
    Result<RegisterReply> reply = Failure{};
    for (int tries = 0; tries < 200 && reply.has_error(); ++tries) {
        std::this_thread::sleep_for(10ms);
        reply = link->read({0x11, RegisterKind::holding, 3, 1}, 100ms);
    }
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->registers[0], 3);
}

TEST(ModbusRtuLink, AnUnpluggedAdapterIsToldFromSilenceWithinAnExchange) {
    std::atomic<bool> asked{false};
    SerialInstrument instrument([&asked](FarEnd& end) {
        end.receive(request_bytes);
        asked = true;
    });
    const auto link = link_to(instrument);
    std::jthread puller([&] {
        for (int i = 0; i < 500 && !asked; ++i)
            std::this_thread::sleep_for(1ms);
        instrument.pull_out();
    });
    const auto reply = link->read(two_holding, 1000ms);
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, Fault::link_down) << reply.error().detail;
}

// What a killed service leaves behind: the C library refuses settings of which nothing changes but what a
// pseudo-terminal cannot keep.
TEST(ModbusRtuLink, ATerminalThatStillHasTheseSettingsIsOpenedAgain) {
    SerialInstrument instrument([](FarEnd& end) {
        for (int i = 0; i < 2; ++i)
            end.send(answer_with_its_address(end.receive(request_bytes)));
    });
    const SerialSettings settings{.device = instrument.device(), .baud = 9600, .parity = Parity::even};
    // What a killed program leaves: the settings, while the far end has the line open.
    const int held = open(instrument.device().c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC);
    ASSERT_TRUE(make_modbus_rtu_link(settings)->read({0x11, RegisterKind::holding, 1, 1}, 100ms).has_value());
    const auto reply = make_modbus_rtu_link(settings)->read({0x11, RegisterKind::holding, 2, 1}, 100ms);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->registers[0], 2);
    close(held);
}

TEST(ModbusRtuLink, ADeviceThatIsNotThereIsALinkThatIsDown) {
    const auto link = make_modbus_rtu_link({.device = "/dev/serial/by-id/invented-and-absent", .baud = 9600});
    const auto reply = link->read(two_holding, 20ms);
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, Fault::link_down);
    EXPECT_EQ(reply.error().detail, "/dev/serial/by-id/invented-and-absent: No such file or directory");
}

TEST(ModbusRtuLink, SettingsThatCannotBeUsedAreSaidAndNeverReplaced) {
    const auto link = make_modbus_rtu_link({.device = "/dev/null", .baud = 9601});
    const auto reply = link->read(two_holding, 20ms);
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, Fault::unsupported);
    EXPECT_EQ(reply.error().detail, "9601 is not a standard rate; use 9600");
}

// select() on a descriptor of 1024 or more ends the whole process.
TEST(ModbusRtuLink, ADescriptorThatSelectCannotWatchIsRefused) {
    SerialInstrument instrument([](FarEnd& end) { end.receive(request_bytes, 50ms); });
    rlimit limit{};
    getrlimit(RLIMIT_NOFILE, &limit);
    const rlimit before = limit;
    limit.rlim_cur = std::min<rlim_t>(limit.rlim_max, 4096);
    setrlimit(RLIMIT_NOFILE, &limit);
    std::vector<int> taken;
    for (int descriptor = 0; descriptor >= 0 && descriptor < FD_SETSIZE;) {
        descriptor = open("/dev/null", O_RDONLY | O_CLOEXEC);
        if (descriptor >= 0) taken.push_back(descriptor);
    }
    const bool reached = !taken.empty() && taken.back() >= FD_SETSIZE;
    const auto reply = link_to(instrument)->read(two_holding, 20ms);
    for (const int descriptor : taken)
        close(descriptor);
    setrlimit(RLIMIT_NOFILE, &before);
    ASSERT_TRUE(reached) << "this process may not open " << FD_SETSIZE << " files";
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, Fault::link_down);
    EXPECT_NE(reply.error().detail.find("select()"), std::string::npos) << reply.error().detail;
}

} // namespace
} // namespace stillmark::protocols
