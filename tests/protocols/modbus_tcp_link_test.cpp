#include "protocols/modbus_link.hpp"
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
using test::TcpInstrument;

constexpr std::size_t request_bytes = 12;
const RegisterRequest two_holding{0x11, RegisterKind::holding, 0x6B, 2};

std::unique_ptr<ModbusLink> link_to(const TcpInstrument& instrument) {
    return make_modbus_tcp_link({"127.0.0.1", instrument.port()});
}

/// An answer with the request's transaction and unit, and this PDU.
Bytes framed(const Bytes& request, const Bytes& pdu) {
    return request.substr(0, 4) + '\0' + static_cast<char>(pdu.size() + 1) + request[6] + pdu;
}

Bytes answer_with_its_address(const Bytes& request) {
    return framed(request, request.substr(7, 1) + '\x02' + request.substr(8, 2));
}

void answer_all(FarEnd& end) {
    for (;;) {
        const Bytes request = end.receive(request_bytes, 300ms);
        if (request.size() < request_bytes) return;
        end.send(answer_with_its_address(request));
    }
}

Result<RegisterReply> first_answer(const std::function<Bytes(const Bytes& request)>& answer) {
    TcpInstrument instrument([&answer](FarEnd& end) {
        end.send(answer(end.receive(request_bytes)));
        end.receive(1, 60ms);
    });
    return link_to(instrument)->read(two_holding, 40ms);
}

Fault fault_after(const std::function<Bytes(const Bytes& request)>& answer) {
    const auto reply = first_answer(answer);
    EXPECT_TRUE(reply.has_error());
    return reply.has_error() ? reply.error().fault : Fault::link_down;
}

// Modbus Application Protocol V1.1b3, 6.3, example: holding registers 108 to 110, behind the header of the Messaging on
// TCP/IP Implementation Guide V1.0b, 3.1.3 (transaction, protocol 0, length, unit).
TEST(ModbusTcpGolden, HoldingRegisters108To110OfTheSpecification) {
    std::string sent;
    Result<RegisterReply> reply = Failure{};
    {
        TcpInstrument instrument([&sent](FarEnd& end) {
            const Bytes request = end.receive(request_bytes);
            sent = hexadecimal(request);
            end.send(framed(request, bytes("03 06 02 2B 00 00 00 64")));
            end.receive(1, 50ms);
        });
        reply = link_to(instrument)->read({0x11, RegisterKind::holding, 0x6B, 3}, 500ms);
    }
    EXPECT_EQ(sent.substr(6), "00 00 00 06 11 03 00 6B 00 03");
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->registers, (std::vector<std::uint16_t>{0x022B, 0x0000, 0x0064}));
    EXPECT_LE(reply->before_us, reply->after_us);
}

TEST(ModbusTcpFaults, EachWrongAnswerIsNamed) {
    const Bytes good = bytes("03 04 12 34 56 78");
    EXPECT_TRUE(first_answer([&](const Bytes& request) { return framed(request, good); }).has_value());
    EXPECT_EQ(fault_after([](const Bytes&) { return Bytes(); }), Fault::silent);
    EXPECT_EQ(fault_after([&](const Bytes& request) {
                  Bytes answer = framed(request, good);
                  answer[1] = static_cast<char>(answer[1] + 1); // one that was never sent
                  return answer;
              }),
              Fault::bad_frame)
        << "another transaction";
    EXPECT_EQ(fault_after([&](const Bytes& request) {
                  Bytes answer = framed(request, good);
                  answer[3] = 1;
                  return answer;
              }),
              Fault::bad_frame)
        << "another protocol";
    EXPECT_EQ(fault_after([&](const Bytes& request) {
                  Bytes answer = framed(request, good);
                  answer[5] = 9;
                  return answer;
              }),
              Fault::bad_frame)
        << "a length that is not its own";
    EXPECT_EQ(fault_after([&](const Bytes& request) {
                  Bytes answer = framed(request, good);
                  answer[6] = 0x12;
                  return answer;
              }),
              Fault::bad_frame)
        << "another unit";
    EXPECT_EQ(fault_after([](const Bytes& request) { return framed(request, bytes("04 04 12 34 56 78")); }),
              Fault::bad_frame)
        << "another function";
    EXPECT_EQ(fault_after([](const Bytes& request) { return framed(request, bytes("03 02 12 34")); }), Fault::bad_frame)
        << "fewer registers";
    EXPECT_EQ(fault_after([](const Bytes& request) { return framed(request, bytes("03 06 12 34 56 78 9A BC")); }),
              Fault::bad_frame)
        << "more registers";
    EXPECT_EQ(fault_after([&](const Bytes& request) { return framed(request, good).substr(0, 9); }), Fault::bad_frame)
        << "broken off";
    EXPECT_EQ(fault_after([](const Bytes& request) { return framed(request, bytes("83 02")); }), Fault::unsupported);
    EXPECT_EQ(fault_after([](const Bytes& request) { return framed(request, bytes("83 06")); }), Fault::refused);
}

// Each answer carries the number of the request before: that was called silence.
TEST(ModbusTcpFaults, AnAnswerUnderAnEarlierNumberIsNamedAndKeepsTheConnection) {
    TcpInstrument instrument([](FarEnd& end) {
        for (;;) {
            const Bytes request = end.receive(request_bytes, 300ms);
            if (request.size() < request_bytes) return;
            Bytes answer = answer_with_its_address(request);
            answer[1] = static_cast<char>(answer[1] - 1);
            end.send(answer);
        }
    });
    const auto link = link_to(instrument);
    for (const char* wanted : {"an answer to request 0 instead of 1", "an answer to request 1 instead of 2"}) {
        const auto reply = link->read({1, RegisterKind::holding, 7, 1}, 30ms);
        ASSERT_TRUE(reply.has_error());
        EXPECT_EQ(reply.error().fault, Fault::bad_frame);
        EXPECT_NE(reply.error().detail.find(wanted), std::string::npos) << reply.error().detail;
    }
    EXPECT_EQ(instrument.connections(), 1);
}

TEST(ModbusTcpLink, BytesThatDripDoNotStretchTheDeadline) {
    TcpInstrument instrument([](FarEnd& end) {
        const Bytes answer = framed(end.receive(request_bytes), bytes("03 04 12 34 56 78"));
        for (const char byte : answer) {
            std::this_thread::sleep_for(10ms);
            end.send(Bytes(1, byte));
            if (end.gone) return;
        }
    });
    const Micros before = now_us();
    const auto reply = link_to(instrument)->read(two_holding, 50ms);
    EXPECT_LT(now_us() - before, 120'000);
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, Fault::bad_frame);
}

struct LateCount {
    std::atomic<int> late{0};
    std::atomic<int> good{0};
    std::atomic<int> stale{0};
};

/// Every second answer or so comes after its deadline.
void poll_a_late_server(unsigned seed, LateCount& count) {
    constexpr auto deadline = 3ms;
    TcpInstrument instrument([&count, seed](FarEnd& end) {
        unsigned random = seed;
        for (;;) {
            const Bytes request = end.receive(request_bytes, 300ms);
            if (request.size() < request_bytes) return;
            random = random * 1664525U + 1013904223U;
            if ((random >> 16) % 2 == 0) {
                ++count.late;
                std::this_thread::sleep_for(std::chrono::microseconds(3500 + (random >> 8) % 3000));
            }
            end.send(answer_with_its_address(request));
        }
    });
    const auto link = link_to(instrument);
    for (std::uint16_t address = 0; address < 350; ++address) {
        const auto reply = link->read({1, RegisterKind::holding, address, 1}, deadline);
        if (reply.has_error()) continue;
        ++count.good;
        if (reply->registers[0] != address) ++count.stale;
    }
}

TEST(ModbusTcpLink, NoLateAnswerOfAThousandIsTakenForTheNext) {
    LateCount count;
    {
        std::vector<std::jthread> threads;
        for (unsigned server = 0; server < 8; ++server) {
            threads.emplace_back([&count, server] { poll_a_late_server(server + 1, count); });
        }
    }
    EXPECT_EQ(count.stale, 0);
    EXPECT_GE(count.late, 1000);
    EXPECT_GE(count.good, 200) << "the link may not earn this by giving up";
}

TEST(ModbusTcpLink, AConnectionThatTheServerClosedCostsNoReading) {
    TcpInstrument instrument([](FarEnd& end) { end.send(answer_with_its_address(end.receive(request_bytes))); });
    const auto link = link_to(instrument);
    for (std::uint16_t address = 0; address < 5; ++address) {
        const auto reply = link->read({1, RegisterKind::holding, address, 1}, 200ms);
        ASSERT_TRUE(reply.has_value()) << reply.error().detail;
        EXPECT_EQ(reply->registers[0], address);
        std::this_thread::sleep_for(5ms);
    }
    EXPECT_EQ(instrument.connections(), 5);
}

TEST(ModbusTcpLink, AServerThatHangsUpUnansweredIsTriedEverMoreSlowly) {
    TcpInstrument instrument([](FarEnd& end) { end.receive(1, 5ms); });
    const auto link = link_to(instrument);
    const Micros before = now_us();
    while (now_us() - before < 600'000) {
        EXPECT_EQ(link->read(two_holding, 50ms).error().fault, Fault::link_down);
        std::this_thread::sleep_for(2ms);
    }
    EXPECT_LE(instrument.connections(), 3) << "at 0, 0.25 and not before 0.75 s";
}

TEST(ModbusTcpLink, AnAbsentServerIsALinkThatIsDownAndComesBack) {
    int port = 0;
    {
        TcpInstrument gone([](FarEnd&) {});
        port = gone.port();
    }
    const auto link = make_modbus_tcp_link({"127.0.0.1", port});
    const auto reply = link->read(two_holding, 50ms);
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, Fault::link_down);
    EXPECT_EQ(reply.error().detail, fmt::format("127.0.0.1:{}: Connection refused", port));
    const Micros before = now_us();
    EXPECT_EQ(link->read(two_holding, 50ms).error().fault, Fault::link_down);
    EXPECT_LT(now_us() - before, 20'000) << "while the link is down the answer comes at once";
}

TEST(ModbusTcpLink, AHostWithoutAddressIsALinkThatIsDown) {
    const auto link = make_modbus_tcp_link({"no host has blanks", 502});
    EXPECT_EQ(link->read(two_holding, 50ms).error().fault, Fault::link_down);
}

TEST(ModbusTcpLink, OneSilenceKeepsTheConnectionAndThreeGiveItUp) {
    std::atomic<int> connections{0};
    TcpInstrument instrument([&connections](FarEnd& end) {
        if (connections++ > 0) return answer_all(end);
        end.receive(request_bytes);
        end.send(answer_with_its_address(end.receive(request_bytes)));
        while (!end.gone)
            end.receive(1, 500ms);
    });
    const auto link = link_to(instrument);
    const auto ask = [&link](std::uint16_t address) {
        return link->read({1, RegisterKind::holding, address, 1}, 30ms);
    };
    EXPECT_EQ(ask(1).error().fault, Fault::silent);
    EXPECT_TRUE(ask(2).has_value()) << "on the same connection";
    EXPECT_EQ(connections, 1);
    for (std::uint16_t address = 3; address <= 5; ++address)
        EXPECT_EQ(ask(address).error().fault, Fault::silent);
    const auto reply = ask(6);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->registers[0], 6);
    EXPECT_EQ(connections, 2);
}

TEST(ModbusTcpLink, ALateAnswerIsPassedOverForTheOneBehindIt) {
    TcpInstrument instrument([](FarEnd& end) {
        const Bytes first = end.receive(request_bytes);
        const Bytes second = end.receive(request_bytes);
        end.send(answer_with_its_address(first) + answer_with_its_address(second));
        end.receive(1, 50ms);
    });
    const auto link = link_to(instrument);
    EXPECT_EQ(link->read({1, RegisterKind::holding, 1, 1}, 20ms).error().fault, Fault::silent);
    const auto reply = link->read({1, RegisterKind::holding, 2, 1}, 200ms);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->registers[0], 2);
}

// select() on a descriptor of 1024 or more ends the whole process.
TEST(ModbusTcpLink, ADescriptorThatSelectCannotWatchIsRefused) {
    rlimit limit{};
    getrlimit(RLIMIT_NOFILE, &limit);
    const rlimit before = limit;
    limit.rlim_cur = std::min<rlim_t>(limit.rlim_max, 4096);
    setrlimit(RLIMIT_NOFILE, &limit);
    TcpInstrument instrument(answer_all);
    const auto link = link_to(instrument);
    std::vector<int> taken;
    for (int descriptor = 0; descriptor >= 0 && descriptor < FD_SETSIZE;) {
        descriptor = open("/dev/null", O_RDONLY | O_CLOEXEC);
        if (descriptor >= 0) taken.push_back(descriptor);
    }
    const bool reached = !taken.empty() && taken.back() >= FD_SETSIZE;
    const auto refused = link->read(two_holding, 50ms);
    for (const int descriptor : taken)
        close(descriptor);
    setrlimit(RLIMIT_NOFILE, &before);
    ASSERT_TRUE(reached) << "this process may not open " << FD_SETSIZE << " files";
    ASSERT_TRUE(refused.has_error());
    EXPECT_EQ(refused.error().fault, Fault::link_down);
    EXPECT_NE(refused.error().detail.find("select()"), std::string::npos) << refused.error().detail;

    std::this_thread::sleep_for(300ms);
    EXPECT_TRUE(link->read({1, RegisterKind::holding, 2, 1}, 100ms).has_value())
        << "it comes back when files are closed";
}

} // namespace
} // namespace stillmark::protocols
