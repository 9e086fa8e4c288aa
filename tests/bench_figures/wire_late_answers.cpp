// Late answers taken for the next reading: 10^5 of them injected on many serial lines at once, each up to one response
// time later than its deadline; and what a bare libmodbus loop makes of one. An answer carries the address that it was
// asked for, so that a stale one shows itself.
#include "protocols/modbus_link.hpp"
#include "wire_measure.hpp"

#include <fmt/format.h>
#include <modbus/modbus.h>

#include <atomic>
#include <thread>

namespace {

using namespace stillmark;
using namespace stillmark::figures;

constexpr int lines = 64;
constexpr int late_a_line = 1'563;
constexpr double deadline_s = 0.020;
constexpr double request_s = 8 * 11 / 115200.0; ///< the deadline begins when the line has carried the request

struct Tally {
    std::atomic<int> late{0};
    std::atomic<int> good{0};
    std::atomic<int> stale{0};
};

void send_answer(int master, const std::uint8_t* request) {
    std::uint8_t answer[7] = {request[0], request[1], 2, request[2], request[3]};
    const auto crc = checksum(answer, 5);
    answer[5] = static_cast<std::uint8_t>(crc & 0xFF);
    answer[6] = static_cast<std::uint8_t>(crc >> 8);
    if (write(master, answer, sizeof answer) != sizeof answer) std::abort();
}

/// Every second request or so is answered late.
void be_late(int master, unsigned seed, std::atomic<int>& late, const std::atomic<bool>& stop) {
    unsigned random = seed;
    while (!stop) {
        std::uint8_t request[8];
        if (!receive(master, request, sizeof request)) return;
        random = random * 1664525U + 1013904223U;
        if ((random >> 16) % 2 == 0) {
            ++late;
            const double beyond = 0.05 + 0.85 * static_cast<double>((random >> 8) % 256) / 256;
            sleep_until(seconds(CLOCK_MONOTONIC) + request_s + deadline_s * (1 + beyond));
        }
        send_answer(master, request);
    }
}

void poll_one_line(unsigned seed, Tally& tally) {
    const auto terminal = open_pseudo_terminal();
    std::atomic<int> late{0};
    std::atomic<bool> stop{false};
    std::jthread instrument([&] { be_late(terminal.master, seed, late, stop); });
    const auto link = protocols::make_modbus_rtu_link({.device = terminal.device, .baud = 115200});
    for (unsigned i = 0; late < late_a_line; ++i) {
        const auto address = static_cast<std::uint16_t>(i);
        const auto reply = link->read({1, protocols::RegisterKind::holding, address, 1},
                                      std::chrono::milliseconds(static_cast<int>(deadline_s * 1000)));
        if (reply.has_error()) continue;
        ++tally.good;
        if (reply->registers[0] != address) ++tally.stale;
    }
    tally.late += late;
    // The far end waits for a request; one more lets it see that it may stop.
    stop = true;
    (void)link->read({1, protocols::RegisterKind::holding, 0, 1}, std::chrono::milliseconds(100));
    instrument.join();
    close(terminal.master);
}

/// How many of 20 polls a bare loop takes as good although they are another's, after one late answer.
int stale_of_twenty_bare() {
    const auto terminal = open_pseudo_terminal();
    const FarProcess instrument([&terminal] {
        for (int i = 0;; ++i) {
            std::uint8_t request[8];
            if (!receive(terminal.master, request, sizeof request)) return;
            if (i == 4) usleep(40'000);
            send_answer(terminal.master, request);
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

} // namespace

int main() {
    wake_on_time();
    fmt::print("late answers taken for the next reading\n");
    fmt::print("  bare libmodbus, one late answer in 20 polls: {} readings of another poll taken as good\n",
               stale_of_twenty_bare());
    Tally tally;
    {
        std::vector<std::jthread> threads;
        for (unsigned line = 0; line < lines; ++line)
            threads.emplace_back([&tally, line] { poll_one_line(line + 1, tally); });
    }
    fmt::print("  ours, {} serial lines: {} late answers injected, {} readings good, {} of them stale   goal 0\n",
               lines, tally.late.load(), tally.good.load(), tally.stale.load());
    return tally.stale == 0 ? 0 : 1;
}
