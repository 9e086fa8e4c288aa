#include "simulator/wires.hpp"

#include <fmt/format.h>

#include <sys/prctl.h>

namespace stillmark::simulator {

namespace {

Bytes noise_instead_of(const Bytes& bytes, Micros at_us) {
    // Any bytes will do that are not the right ones; they differ from instant to instant.
    Stream stream(static_cast<std::uint64_t>(at_us), "garbage");
    Bytes garbage;
    for (const auto byte : bytes)
        garbage.push_back(static_cast<std::uint8_t>(byte ^ (1U + stream.bits() % 255U)));
    return garbage;
}

void change_count(Bytes& pdu) {
    if (pdu.size() < 4 || (pdu[0] & 0x80U) != 0) return;
    if (pdu[1] > 2) {
        pdu.resize(pdu.size() - 2);
        pdu[1] = static_cast<std::uint8_t>(pdu[1] - 2);
    } else {
        pdu.insert(pdu.end(), {0, 0});
        pdu[1] = 4;
    }
}

} // namespace

const std::size_t* ServedBus::with_server(const Scenario& scenario, int server) const {
    for (const auto& index : instruments)
        if (scenario.instruments[index].server == server) return &index;
    return nullptr;
}

Outgoing modbus_answer(Rig& rig, std::size_t instrument, std::uint8_t server, const Bytes& pdu, Micros at_us,
                       const std::function<Bytes(std::uint8_t server, const Bytes& pdu)>& framed, bool checksum) {
    const auto view = rig.wire_view(instrument, at_us);
    if (view.how.silence) return {};
    Bytes answer =
        answer_of(pdu, registers_of(rig.scenario().instruments[instrument].profile, view.shown_pa, view.report));
    if (view.how.exception_code > 0)
        answer = exception_answer(pdu.empty() ? 0 : pdu[0], static_cast<std::uint8_t>(view.how.exception_code));
    if (view.how.wrong_count) change_count(answer);
    Outgoing out;
    out.bytes = framed(view.how.wrong_address ? static_cast<std::uint8_t>(server + 1) : server, answer);
    if (view.how.bad_checksum && checksum) out.bytes.back() ^= 0xffU;
    if (view.how.garbage) out.bytes = noise_instead_of(out.bytes, at_us);
    out.late_s = view.how.late_s;
    out.byte_gap_s = view.how.byte_gap_s;
    return out;
}

Outgoing text_answer(Rig& rig, std::size_t instrument, const std::string& request, Micros at_us) {
    const auto& entry = rig.scenario().instruments[instrument];
    const auto view = rig.wire_view(instrument, at_us);
    if (view.how.silence) return {};
    std::string line = entry.reply;
    line.replace(line.find("{value}"), 7,
                 fmt::format("{:.{}f}", view.shown_pa / entry.profile.unit_pa, entry.decimals));
    // Asked for something else, or in trouble of its own, it says so in the words that its maker gave it, if any.
    const bool known = request == entry.profile.request;
    if (!known || !view.report.means.empty()) line = entry.profile.bad.empty() ? "ERR" : entry.profile.bad.front();
    if (!entry.profile.identification.empty() && request == entry.profile.identification) line = entry.profile.model;
    line += entry.profile.terminator;
    Outgoing out;
    out.bytes.assign(line.begin(), line.end());
    if (view.how.garbage) {
        const auto end = out.bytes.size() - entry.profile.terminator.size();
        const auto garbage = noise_instead_of(out.bytes, at_us);
        std::copy(garbage.begin(), garbage.begin() + static_cast<std::ptrdiff_t>(end), out.bytes.begin());
    }
    out.late_s = view.how.late_s;
    out.byte_gap_s = view.how.byte_gap_s;
    return out;
}

Wires::Wires(Rig& rig) {
    const auto& scenario = rig.scenario();
    for (const auto& entry : scenario.buses) {
        auto& bus = buses_.emplace_back(new ServedBus{entry, {}, {}});
        for (std::size_t i = 0; i < scenario.instruments.size(); ++i)
            if (scenario.instruments[i].bus == entry.name) bus->instruments.push_back(i);
    }
    // Ports first: where another simulator has them, its terminals are not touched.
    for (const auto& bus : buses_)
        if (!bus->entry.serial()) serve_socket(io_, rig, *bus);
    for (const auto& bus : buses_)
        if (bus->entry.serial()) serve_line(io_, rig, *bus);
    thread_ = std::jthread([this] {
        // The pace of a line is kept to some microseconds only with the least timer slack.
        prctl(PR_SET_TIMERSLACK, 1UL);
        const auto forever = boost::asio::make_work_guard(io_);
        io_.run();
    });
}

Wires::~Wires() {
    io_.stop();
    thread_.join();
    // Coroutines that still wait are destroyed with the io_context, and with them sockets and links.
}

nlohmann::json Wires::counts() const {
    auto all = nlohmann::json::object();
    for (const auto& bus : buses_) {
        const auto& c = bus->counters;
        all[bus->entry.name] = {{"requests", c.requests.load()},
                                {"answers", c.answers.load()},
                                {"bad_requests", c.bad_requests.load()},
                                {"strangers", c.strangers.load()},
                                {"short_silences", c.short_silences.load()},
                                {"opened", c.opened.load()}};
    }
    return all;
}

} // namespace stillmark::simulator
