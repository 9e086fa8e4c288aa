#pragma once

#include "simulator/modbus_frames.hpp"
#include "simulator/rig.hpp"

#include <boost/asio.hpp>

#include <atomic>
#include <memory>
#include <string>
#include <thread>
#include <vector>

namespace stillmark::simulator {

/// What a bus has seen; read by the summary and by tests.
struct BusCounters {
    std::atomic<long> requests{0}; ///< whole requests to a server that stands on this bus
    std::atomic<long> answers{0};
    std::atomic<long> bad_requests{0};   ///< wrong checksum, header or words: not answered
    std::atomic<long> strangers{0};      ///< requests to a server that does not stand here
    std::atomic<long> short_silences{0}; ///< serial: a request less than 3.5 characters after the answer before it
    std::atomic<long> opened{0};         ///< connections accepted, or pseudo-terminals made
};

/// One bus with the instruments that stand on it.
struct ServedBus {
    const BusEntry& entry;
    std::vector<std::size_t> instruments;
    BusCounters counters;

    /// The instrument with this server address, or nothing.
    const std::size_t* with_server(const Scenario& scenario, int server) const;
};

/// What goes back for one request, and how.
struct Outgoing {
    Bytes bytes; ///< empty: silence
    double late_s = 0;
    double byte_gap_s = 0; ///< over 0: one byte at a time
};

/// The answer of one instrument to a Modbus request, spoilt as the faults of the moment say. `framed` puts address,
/// checksum or header around a PDU for the server that the answer names.
Outgoing modbus_answer(Rig& rig, std::size_t instrument, std::uint8_t server, const Bytes& pdu, Micros at_us,
                       const std::function<Bytes(std::uint8_t server, const Bytes& pdu)>& framed, bool checksum);
/// The line of a text instrument.
Outgoing text_answer(Rig& rig, std::size_t instrument, const std::string& request, Micros at_us);

/// Serves every bus of the scenario on one thread until destroyed.
class Wires {
  public:
    /// Opens all of them before it returns. Throws Mistake where a port or device cannot be had.
    Wires(Rig& rig);
    ~Wires();
    Wires(const Wires&) = delete;
    Wires& operator=(const Wires&) = delete;

    nlohmann::json counts() const;

  private:
    std::vector<std::unique_ptr<ServedBus>> buses_; ///< outlive the coroutines that die with io_
    boost::asio::io_context io_;
    std::jthread thread_;
};

/// Serves one listening socket. The acceptor is open when this returns; the coroutines live in `io`.
void serve_socket(boost::asio::io_context& io, Rig& rig, ServedBus& bus);
/// Serves one pseudo-terminal at the pace of its rate.
void serve_line(boost::asio::io_context& io, Rig& rig, ServedBus& bus);

} // namespace stillmark::simulator
