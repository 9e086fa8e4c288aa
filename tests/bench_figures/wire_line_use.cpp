// How much of a serial line's time an RTU master uses: two registers again and again on a pseudo-terminal whose far end
// holds its answer back until the bits of request, silence and answer would have passed, beside the limit of the bit
// rate; and a bare libmodbus loop with a pause of 3.5 characters. Silences before a request that are too short are
// counted by the far end.
#include "protocols/modbus_link.hpp"
#include "wire_measure.hpp"

#include <fmt/format.h>
#include <modbus/modbus.h>

#include <atomic>
#include <new>
#include <sys/mman.h>

namespace {

using namespace stillmark;
using namespace stillmark::figures;

constexpr double turn_s = 2.0;
constexpr int turns = 3;
constexpr int bits = 11;
constexpr int request_characters = 8;
constexpr int answer_characters = 9;

/// Modbus over Serial Line V1.02, 2.5.1.1.
double silence_s(int baud) {
    return baud > 19200 ? 1.75e-3 : 3.5 * bits / baud;
}
double limit(int baud) {
    return 1 / ((request_characters + answer_characters) * static_cast<double>(bits) / baud + 2 * silence_s(baud));
}

/// Shared with the far process.
struct Count {
    std::atomic<int> exchanges{0};
    std::atomic<int> short_silences{0};
};

void answer_as_the_line_would(int master, int baud, Count& count) {
    double answer_ended_s = 0;
    for (;;) {
        std::uint8_t request[request_characters];
        if (!receive(master, request, 1)) return;
        const double began_s = seconds(CLOCK_MONOTONIC);
        if (!receive(master, request + 1, sizeof request - 1)) return;
        if (began_s - answer_ended_s < silence_s(baud)) ++count.short_silences;
        std::uint8_t answer[answer_characters] = {request[0], request[1], 4, 1, 2, 3, 4};
        const auto crc = checksum(answer, 7);
        answer[7] = static_cast<std::uint8_t>(crc & 0xFF);
        answer[8] = static_cast<std::uint8_t>(crc >> 8);
        sleep_until(began_s + (request_characters + answer_characters) * static_cast<double>(bits) / baud +
                    silence_s(baud));
        answer_ended_s = seconds(CLOCK_MONOTONIC);
        if (write(master, answer, sizeof answer) != sizeof answer) return;
        ++count.exchanges;
    }
}

[[noreturn]] void give_up(const std::string& why) {
    fmt::print(stderr, "no figure: {}\n", why);
    std::exit(1);
}

/// Exchanges a second over one turn, once the first has been answered.
template <class Exchange>
double rate(Exchange exchange) {
    exchange();
    const double before = seconds(CLOCK_MONOTONIC);
    int done = 0;
    while (seconds(CLOCK_MONOTONIC) - before < turn_s) {
        exchange();
        ++done;
    }
    return done / (seconds(CLOCK_MONOTONIC) - before);
}

double our_rate(const std::string& device, int baud) {
    const auto link = protocols::make_modbus_rtu_link({.device = device, .baud = baud});
    return rate([&link] {
        const auto reply = link->read({1, protocols::RegisterKind::holding, 0, 2}, std::chrono::milliseconds(500));
        if (reply.has_error()) give_up(reply.error().detail);
    });
}

double bare_rate(const std::string& device, int baud) {
    modbus_t* context = modbus_new_rtu(device.c_str(), baud, 'N', 8, 1); // a pseudo-terminal keeps no parity
    modbus_set_slave(context, 1);
    if (modbus_connect(context) != 0) give_up(modbus_strerror(errno));
    const double exchanges_s = rate([context, baud] {
        std::uint16_t registers[2];
        if (modbus_read_registers(context, 0, 2, registers) != 2) give_up(modbus_strerror(errno));
        sleep_until(seconds(CLOCK_MONOTONIC) + silence_s(baud));
    });
    modbus_close(context);
    modbus_free(context);
    return exchanges_s;
}

} // namespace

int main() {
    wake_on_time();
    void* shared = mmap(nullptr, sizeof(Count), PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (shared == MAP_FAILED) return 1;
    fmt::print("use of a serial line by an RTU master, two registers, {} turns of {} s\n", turns, turn_s);
    fmt::print(
        "   baud   limit/s   ours/s (least to greatest)      use   bare with pause   use   short silences of ours\n");
    for (const int baud : {9600, 19200, 38400, 115200}) {
        auto* count = new (shared) Count;
        const auto terminal = open_pseudo_terminal();
        const FarProcess instrument(
            [&terminal, baud, count] { answer_as_the_line_would(terminal.master, baud, *count); });
        std::vector<double> ours;
        std::vector<double> bare;
        int short_silences = 0;
        const auto our_turn = [&] {
            const int before = count->short_silences;
            const double exchanges_s = our_rate(terminal.device, baud);
            short_silences += count->short_silences - before;
            return exchanges_s;
        };
        take_turns(turns, {{our_turn, &ours}, {[&] { return bare_rate(terminal.device, baud); }, &bare}});
        const auto a = spread(ours);
        const auto b = spread(bare);
        fmt::print("{:7}  {:7.2f}   {:7.2f} ({:.2f} to {:.2f})        {:.3f}   {:7.2f}        {:.3f}   {}\n", baud,
                   limit(baud), a.middle, a.least, a.greatest, a.middle / limit(baud), b.middle, b.middle / limit(baud),
                   short_silences);
        close(terminal.master);
    }
    fmt::print("goal: 0.985 at 9600 and 19200, 0.965 at 115200, no short silence\n");
}
