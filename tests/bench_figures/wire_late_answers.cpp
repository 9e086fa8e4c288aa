// Late answers taken for the next reading: on every wire without numbered answers, in every way of being late, under
// threefold load. A value names the request that it answers; it is stale where that request was whole before the
// exchange began. Takes the readings wanted of each wire and way, 4 800 where not given: 10^5 in all.
#include "late_instrument.hpp"
#include "protocols/modbus_link.hpp"
#include "protocols/text_link.hpp"

#include <modbus/modbus.h>

#include <cstdlib>
#include <memory>
#include <thread>

namespace {

using namespace stillmark;
using namespace stillmark::figures;

constexpr unsigned lines = 40; ///< at once
constexpr double deadline_s = 0.040;
constexpr double poll_s = 0.050;
constexpr double longest_s = 240; ///< of one wire and way
constexpr int load = 3;           ///< busy processes for each processor
constexpr std::chrono::milliseconds deadline(static_cast<int>(deadline_s * 1000));

struct Way {
    Wire wire;
    bool identifies;
    const char* name;
};
constexpr Way ways[] = {{Wire::rtu, false, "RTU"},
                        {Wire::text_serial, false, "text serial"},
                        {Wire::text_serial, true, "text serial, with identification"},
                        {Wire::text_terminal_server, false, "text over a terminal server"},
                        {Wire::text_terminal_server, true, "text over a terminal server, with identification"}};
constexpr Lateness kinds[] = {
    {"one in three late by 0.5 to 6 deadlines, in order", 3, 0.5 * deadline_s, 6 * deadline_s},
    {"the same, requests lost while busy", 3, 0.5 * deadline_s, 6 * deadline_s, true},
    {"the same, two registers in turn", 3, 0.5 * deadline_s, 6 * deadline_s, false, true},
    {"one in a hundred 2.8 to 4.6 s late", 100, 2.8, 4.6},
    {"one in a hundred 2.8 to 4.6 s late, requests lost while busy", 100, 2.8, 4.6, true},
};

struct Tally {
    std::atomic<long> late{0};
    std::atomic<long> polls{0};
    std::atomic<long> good{0};
    std::atomic<long> stale{0};
    std::atomic<long> foreign{0}; ///< of the other register
    std::atomic<long> doubts{0};
};

/// One poll on a link: whether a reading came, the number that it names and when its exchange began.
struct Polled {
    bool good = false;
    bool foreign = false;
    std::size_t number = 0;
    Micros before_us = 0;
};

class Poller {
  public:
    Poller(const LateInstrument& instrument, const Way& way, const Lateness& how) : two_(how.two_registers) {
        if (way.wire == Wire::rtu)
            modbus_ = protocols::make_modbus_rtu_link({.device = instrument.device(), .baud = 115200});
        else if (way.wire == Wire::text_serial)
            text_ = protocols::make_text_serial_link({.device = instrument.device(), .baud = 115200}, "\r\n");
        else
            text_ = protocols::make_text_tcp_link({"127.0.0.1", instrument.port()}, "\r\n");
        if (text_ && way.identifies)
            text_->synchronise_by({"ID?", [](const std::string& line) { return line.starts_with("Invented"); }});
    }

    Polled poll() {
        if (text_) {
            const auto reply = text_->ask("P", deadline);
            if (reply.has_error()) return {};
            return {true, false, std::strtoull(reply->line.c_str(), nullptr, 10), reply->before_us};
        }
        const auto address = static_cast<std::uint16_t>(two_ && ++polls_ % 2 == 0 ? 20 : 10);
        const auto reply = modbus_->read({1, protocols::RegisterKind::holding, address, 2}, deadline);
        if (reply.has_error()) return {};
        const std::size_t named = std::size_t{reply->registers[0]} << 16 | reply->registers[1];
        return {true, named % 256 != address, named / 256, reply->before_us};
    }
    std::uint64_t doubts() const { return text_ ? text_->doubts() : modbus_->doubts(1); }

  private:
    std::unique_ptr<protocols::ModbusLink> modbus_;
    std::unique_ptr<protocols::TextLink> text_;
    bool two_;
    unsigned polls_ = 0;
};

void poll_one_line(const Way& way, const Lateness& how, unsigned seed, long wanted, Tally& tally) {
    LateInstrument instrument(way.wire, how, deadline_s, seed, way.identifies);
    std::atomic<bool> stop{false};
    std::jthread far([&] {
        wake_on_time();
        instrument.work(stop);
    });
    Poller poller(instrument, way, how);
    const double until_s = seconds(CLOCK_MONOTONIC) + longest_s;
    double next_s = seconds(CLOCK_MONOTONIC);
    for (long good = 0; good < wanted && seconds(CLOCK_MONOTONIC) < until_s;) {
        const Polled polled = poller.poll();
        ++tally.polls;
        if (polled.good) {
            ++good;
            ++tally.good;
            if (polled.foreign) ++tally.foreign;
            if (instrument.asked_us(polled.number) < polled.before_us) ++tally.stale;
        }
        next_s = std::max(next_s + poll_s, seconds(CLOCK_MONOTONIC));
        sleep_until(next_s);
    }
    stop = true;
    tally.late += instrument.late();
    tally.doubts += static_cast<long>(poller.doubts());
}

long wrong_of(const Way& way, const Lateness& how, long wanted) {
    Tally tally;
    const double began_s = seconds(CLOCK_MONOTONIC);
    {
        std::vector<std::jthread> threads;
        for (unsigned line = 0; line < lines; ++line)
            threads.emplace_back(
                [&, line] { poll_one_line(way, how, 77 * line + 1, wanted / static_cast<long>(lines) + 1, tally); });
    }
    fmt::print("  {}: {}\n    {} late answers, {} polls, {} readings in {:.0f} s: {} stale, {} of the other register   "
               "goal 0; {} doubts\n",
               way.name, how.name, tally.late.load(), tally.polls.load(), tally.good.load(),
               seconds(CLOCK_MONOTONIC) - began_s, tally.stale.load(), tally.foreign.load(), tally.doubts.load());
    (void)std::fflush(stdout);
    return tally.stale + tally.foreign + (tally.good == 0 ? 1 : 0);
}

/// How many of 20 polls a bare loop takes as good although they are another's, after one late answer.
int stale_of_twenty_bare() {
    const auto terminal = open_pseudo_terminal();
    const FarProcess instrument([&terminal] {
        for (int i = 0;; ++i) {
            std::uint8_t request[8];
            if (!receive(terminal.master, request, sizeof request)) return;
            if (i == 4) usleep(40'000);
            std::uint8_t answer[7] = {request[0], request[1], 2, request[2], request[3]};
            const auto crc = checksum(answer, 5);
            answer[5] = static_cast<std::uint8_t>(crc & 0xFF);
            answer[6] = static_cast<std::uint8_t>(crc >> 8);
            if (write(terminal.master, answer, sizeof answer) != sizeof answer) std::abort();
        }
    });
    modbus_t* context = modbus_new_rtu(terminal.device.c_str(), 115200, 'E', 8, 1);
    modbus_set_slave(context, 1);
    modbus_set_response_timeout(context, 0, 20'000);
    if (modbus_connect(context) != 0) std::abort();
    int stale = 0;
    for (int i = 0; i < 20; ++i) {
        std::uint16_t value = 0;
        if (modbus_read_registers(context, i, 1, &value) == 1 && value != i) ++stale;
        usleep(30'000);
    }
    modbus_close(context);
    modbus_free(context);
    close(terminal.master);
    return stale;
}

/// Counts until it is killed, or for half an hour.
void be_busy() {
    const double until_s = seconds(CLOCK_MONOTONIC) + 1800;
    volatile unsigned count = 0;
    while (seconds(CLOCK_MONOTONIC) < until_s)
        for (int i = 0; i < 1'000'000; ++i)
            count = count + 1;
}

} // namespace

int main(int argc, char** argv) {
    const long wanted = argc > 1 ? std::strtol(argv[1], nullptr, 10) : 4'800;
    wake_on_time();
    fmt::print("late answers taken for the next reading, deadline {:.0f} ms, a poll each {:.0f} ms\n",
               1000 * deadline_s, 1000 * poll_s);
    fmt::print("  bare libmodbus, one late answer in 20 polls: {} readings of another poll taken as good\n",
               stale_of_twenty_bare());
    const auto processors = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
    std::vector<std::unique_ptr<FarProcess>> busy;
    for (int i = 0; i < load * processors; ++i)
        busy.push_back(std::make_unique<FarProcess>(be_busy));
    fmt::print("  {} busy processes on {} processors\n", busy.size(), processors);
    long wrong = 0;
    for (const Way& way : ways)
        for (const Lateness& how : kinds)
            if (!how.two_registers || way.wire == Wire::rtu) wrong += wrong_of(way, how, wanted);
    fmt::print("  wrong in all: {}   goal 0\n", wrong);
    return wrong == 0 ? 0 : 1;
}
