#include "drivers/driver.hpp"
#include "drivers/reading_status.hpp"

#include <fmt/format.h>

namespace stillmark::drivers {
namespace {

/// A reply as a log can show it: at most 60 bytes, those that do not print as \xNN.
std::string printable(const std::string& line) {
    constexpr std::size_t longest = 60;
    std::string shown;
    for (const char byte : line.substr(0, longest)) {
        if (byte >= ' ' && byte <= '~')
            shown += byte;
        else
            shown += fmt::format("\\x{:02X}", static_cast<unsigned char>(byte));
    }
    return line.size() > longest ? shown + "..." : shown;
}

class TextDriver final : public Driver {
  public:
    TextDriver(const Profile& profile, protocols::TextLink& link)
        : how_(std::get_if<TextReading>(&profile.how) == nullptr ? TextReading{} : std::get<TextReading>(profile.how)),
          wired_(std::holds_alternative<TextReading>(profile.how)), unit_(profile.unit), deadline_(profile.deadline),
          link_(link) {}

    DriverReading read() override {
        const Micros began_us = protocols::now_us();
        if (!wired_) {
            return reading_without_value(ReadingStatus::unsupported, "the profile is not for lines of text", began_us,
                                         began_us);
        }
        auto reply = link_.ask(how_.request, deadline_);
        if (reply.has_error()) {
            return reading_without_value(status_of(reply.error().fault), reply.error().detail, began_us,
                                         protocols::now_us());
        }
        const Decoded decoded = decode(how_, unit_, reply->line);
        if (decoded.status != ReadingStatus::good) {
            return reading_without_value(decoded.status, fmt::format("the reply was \"{}\"", printable(reply->line)),
                                         reply->before_us, reply->after_us);
        }
        return reading_of(decoded.value, reply->before_us, reply->after_us);
    }

  private:
    TextReading how_;
    bool wired_;
    PressureUnit unit_;
    std::chrono::milliseconds deadline_;
    protocols::TextLink& link_;
};

} // namespace

std::unique_ptr<Driver> make_text_driver(const Profile& profile, protocols::TextLink& link) {
    return std::make_unique<TextDriver>(profile, link);
}

} // namespace stillmark::drivers
