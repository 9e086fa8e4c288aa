#include "drivers/driver.hpp"
#include "drivers/reading_status.hpp"
#include "drivers/register_words.hpp"
#include "drivers/request_plan.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <utility>

namespace stillmark::drivers {
namespace {

using protocols::Fault;
using protocols::RegisterReply;

class ModbusDriver final : public Driver {
  public:
    ModbusDriver(const Profile& profile, const ModbusReading& how, protocols::ModbusLink& link, int server)
        : how_(how), unit_(profile.unit), deadline_(profile.deadline), link_(link), server_(server),
          plan_(plan_requests(how, server, true)), replies_(plan_.requests.size()) {}

    DriverReading read() override;

  private:
    std::optional<protocols::Failure> ask();
    DriverReading answered();
    DriverReading reading() const;
    bool new_doubts();

    ModbusReading how_;
    PressureUnit unit_;
    std::chrono::milliseconds deadline_;
    protocols::ModbusLink& link_;
    int server_;
    RequestPlan plan_;
    std::vector<RegisterReply> replies_;
    std::uint64_t doubts_ = 0;
    bool answered_ = false; ///< the reading before had a value
};

std::optional<protocols::Failure> ModbusDriver::ask() {
    for (std::size_t i = 0; i < plan_.requests.size(); ++i) {
        auto reply = link_.read(plan_.requests[i], deadline_);
        if (reply.has_error()) return std::move(reply).error();
        replies_[i] = std::move(*reply);
    }
    return std::nullopt;
}

DriverReading ModbusDriver::reading() const {
    const RegisterReply& reply = replies_[plan_.value.request];
    const auto without_value = [&reply](ReadingStatus status, std::string detail) {
        return reading_without_value(status, std::move(detail), reply.before_us, reply.after_us);
    };
    for (std::size_t i = 0; i < how_.status.size(); ++i) {
        const auto& bits = how_.status[i];
        const auto found = replies_[plan_.status[i].request].registers[plan_.status[i].offset];
        if ((found & bits.mask) == 0) continue;
        return without_value(status_named(bits.meaning),
                             fmt::format("status register {} reads 0x{:04X}", bits.address, found));
    }
    const auto registers =
        std::span(reply.registers).subspan(plan_.value.offset, static_cast<std::size_t>(words_of(how_.type)));
    const Decoded decoded = decode(how_, registers);
    if (decoded.status != ReadingStatus::good) {
        const char* hint = decoded.other_order ? "; see that the byte order is right" : "";
        return without_value(decoded.status,
                             fmt::format("the registers hold {:04X}{}", fmt::join(registers, " "), hint));
    }
    return reading_of(unit_.to_pa(decoded.value), reply.before_us, reply.after_us);
}

bool ModbusDriver::new_doubts() {
    const std::uint64_t before = std::exchange(doubts_, link_.doubts(server_));
    return doubts_ != before;
}

DriverReading ModbusDriver::read() {
    const bool had_value = answered_;
    DriverReading now = answered();
    now.doubts_previous = new_doubts() && had_value;
    answered_ = now.status == ReadingStatus::good;
    return now;
}

DriverReading ModbusDriver::answered() {
    const Micros began_us = protocols::now_us();
    auto failure = ask();
    if (failure && failure->fault == Fault::unsupported && plan_.over_gaps) {
        // It may know its registers and refuse only those between them.
        plan_ = plan_requests(how_, server_, false);
        replies_.resize(plan_.requests.size());
        failure = ask();
    }
    if (!failure) return reading();
    return reading_without_value(status_of(failure->fault), std::move(failure->detail), began_us, protocols::now_us());
}

/// A profile that is not for this kind of wire.
class NoDriver final : public Driver {
  public:
    DriverReading read() override {
        const Micros now = protocols::now_us();
        return reading_without_value(ReadingStatus::unsupported, "the profile is not for Modbus", now, now);
    }
};

} // namespace

std::unique_ptr<Driver> make_modbus_driver(const Profile& profile, protocols::ModbusLink& link, int server) {
    const auto* how = std::get_if<ModbusReading>(&profile.how);
    if (how == nullptr) return std::make_unique<NoDriver>();
    return std::make_unique<ModbusDriver>(profile, *how, link, server);
}

} // namespace stillmark::drivers
