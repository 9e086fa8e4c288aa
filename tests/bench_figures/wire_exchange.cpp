// Processor time of one exchange on Modbus TCP: our link, driver and decoding beside a bare libmodbus loop, in turn,
// A B A B, against one and the same server process; client and server share one core.
#include "drivers/driver.hpp"
#include "wire_measure.hpp"

#include <fmt/format.h>
#include <modbus/modbus.h>

#include <arpa/inet.h>
#include <netinet/tcp.h>
#include <sched.h>
#include <sys/socket.h>

namespace {

using namespace stillmark;
using namespace stillmark::figures;

constexpr int exchanges = 20'000;
constexpr int turns = 11;

int listen_on_loopback(int& port) {
    const int listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof address;
    bind(listener, reinterpret_cast<sockaddr*>(&address), size);
    listen(listener, 8);
    getsockname(listener, reinterpret_cast<sockaddr*>(&address), &size);
    port = ntohs(address.sin_port);
    return listener;
}

/// Answers two registers, always the same, to whatever 12 bytes come; one connection after the other.
void serve(int listener) {
    for (;;) {
        const int connection = accept(listener, nullptr, nullptr);
        const int on = 1;
        setsockopt(connection, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
        std::uint8_t request[12];
        while (receive(connection, request, sizeof request)) {
            const std::uint8_t answer[13] = {request[0], request[1], 0,    0,    0,    7,   request[6],
                                             request[7], 4,          0x00, 0x01, 0xE2, 0x40};
            if (send(connection, answer, sizeof answer, MSG_NOSIGNAL) != sizeof answer) break;
        }
        close(connection);
    }
}

double our_loop(int port) {
    const auto profile = drivers::load_profile(STILLMARK_SOURCE_DIR "/drivers/profiles/invented-transmitter-tcp.json");
    const auto link = protocols::make_modbus_tcp_link({"127.0.0.1", port});
    const auto driver = drivers::make_modbus_driver(*profile, *link, 1);
    if (driver->read().value_pa != 12'345'600) std::abort();
    const double before = seconds(CLOCK_PROCESS_CPUTIME_ID);
    for (int i = 0; i < exchanges; ++i) {
        if (driver->read().status != drivers::ReadingStatus::good) std::abort();
    }
    return (seconds(CLOCK_PROCESS_CPUTIME_ID) - before) / exchanges * 1e6;
}

double bare_loop(int port) {
    modbus_t* context = modbus_new_tcp("127.0.0.1", port);
    modbus_set_slave(context, 1);
    if (modbus_connect(context) != 0) std::abort();
    std::uint16_t registers[2];
    if (modbus_read_registers(context, 100, 2, registers) != 2) std::abort();
    const double before = seconds(CLOCK_PROCESS_CPUTIME_ID);
    for (int i = 0; i < exchanges; ++i) {
        if (modbus_read_registers(context, 100, 2, registers) != 2) std::abort();
    }
    const double us = (seconds(CLOCK_PROCESS_CPUTIME_ID) - before) / exchanges * 1e6;
    modbus_close(context);
    modbus_free(context);
    return us;
}

} // namespace

int main() {
    cpu_set_t one_core;
    CPU_ZERO(&one_core);
    CPU_SET(0, &one_core);
    sched_setaffinity(0, sizeof one_core, &one_core);
    int port = 0;
    const int listener = listen_on_loopback(port);
    const FarProcess server([listener] { serve(listener); });
    std::vector<double> ours;
    std::vector<double> bare;
    take_turns(turns, {{[port] { return our_loop(port); }, &ours}, {[port] { return bare_loop(port); }, &bare}});
    std::vector<double> ratios;
    for (int i = 0; i < turns; ++i)
        ratios.push_back(ours[static_cast<std::size_t>(i)] / bare[static_cast<std::size_t>(i)]);
    const auto a = spread(ours);
    const auto b = spread(bare);
    const auto r = spread(ratios);
    fmt::print("processor time of one Modbus TCP exchange, {} turns of {}\n", turns, exchanges);
    fmt::print("  link, driver, decoding   {:6.2f} us  ({:.2f} to {:.2f})\n", a.middle, a.least, a.greatest);
    fmt::print("  bare libmodbus           {:6.2f} us  ({:.2f} to {:.2f})\n", b.middle, b.least, b.greatest);
    fmt::print("  ratio                    {:6.3f}     ({:.3f} to {:.3f})   goal 1.15 with stillness\n", r.middle,
               r.least, r.greatest);
}
