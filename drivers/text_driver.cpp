#include "drivers/driver.hpp"
#include "drivers/reading_status.hpp"

#include <fmt/format.h>

#include <utility>

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

constexpr std::size_t longest_identification = 512;

bool fits(const std::string& line, const std::regex& pattern) {
    try {
        return std::regex_match(line, pattern);
    } catch (const std::regex_error&) {
        return false;
    }
}

class TextDriver final : public Driver {
  public:
    TextDriver(const Profile& profile, protocols::TextLink& link)
        : how_(std::get_if<TextReading>(&profile.how) == nullptr ? TextReading{} : std::get<TextReading>(profile.how)),
          wired_(std::holds_alternative<TextReading>(profile.how)), unit_(profile.unit), deadline_(profile.deadline),
          link_(link) {
        if (!how_.identification) return;
        const auto pattern = how_.identification->pattern;
        link_.synchronise_by({how_.identification->request, [pattern](const std::string& line) {
                                  return line.size() <= longest_identification && fits(line, pattern);
                              }});
    }

    DriverReading read() override {
        const bool had_value = answered_;
        DriverReading now = answered();
        const std::uint64_t before = std::exchange(doubts_, link_.doubts());
        now.doubts_previous = doubts_ != before && had_value;
        answered_ = now.status == ReadingStatus::good;
        return now;
    }

  private:
    DriverReading answered() {
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

    TextReading how_;
    bool wired_;
    PressureUnit unit_;
    std::chrono::milliseconds deadline_;
    protocols::TextLink& link_;
    std::uint64_t doubts_ = 0;
    bool answered_ = false; ///< the reading before had a value
};

} // namespace

std::unique_ptr<Driver> make_text_driver(const Profile& profile, protocols::TextLink& link) {
    return std::make_unique<TextDriver>(profile, link);
}

} // namespace stillmark::drivers
