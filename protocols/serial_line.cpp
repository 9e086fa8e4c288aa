#include "protocols/serial_line.hpp"

#include "protocols/descriptor.hpp"

#include <fmt/format.h>

#include <array>
#include <cstdlib>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <termios.h>

namespace stillmark::protocols {
namespace {

struct Rate {
    int baud;
    speed_t code;
};
constexpr std::array<Rate, 8> standard_rates{{{1200, B1200},
                                              {2400, B2400},
                                              {4800, B4800},
                                              {9600, B9600},
                                              {19200, B19200},
                                              {38400, B38400},
                                              {57600, B57600},
                                              {115200, B115200}}};

Rate nearest_rate(int baud) {
    Rate nearest = standard_rates.front();
    for (const Rate rate : standard_rates) {
        if (std::abs(static_cast<long>(rate.baud) - baud) < std::abs(static_cast<long>(nearest.baud) - baud)) {
            nearest = rate;
        }
    }
    return nearest;
}

} // namespace

// Their major numbers are fixed (Linux devices.txt).
bool is_pseudo_terminal(const struct stat& about) {
    return S_ISCHR(about.st_mode) && major(about.st_rdev) >= 136 && major(about.st_rdev) <= 143;
}

std::string objection_to(const SerialSettings& settings) {
    if (settings.device.empty()) return "the device is empty; give its path, best one below /dev/serial/by-id";
    if (const int nearest = nearest_rate(settings.baud).baud; nearest != settings.baud) {
        return fmt::format("{} is not a standard rate; use {}", settings.baud, nearest);
    }
    if (settings.stop_bits != 1 && settings.stop_bits != 2) {
        return fmt::format("{} stop bits cannot be set; use 1 or 2", settings.stop_bits);
    }
    if (settings.data_bits != 7 && settings.data_bits != 8) {
        return fmt::format("{} data bits cannot be set; use 7 or 8", settings.data_bits);
    }
    return {};
}

std::chrono::nanoseconds frame_silence(int baud) {
    if (baud > 19200) return std::chrono::microseconds(1750);
    return std::chrono::nanoseconds((38'500'000'000 + baud - 1) / baud);
}

std::chrono::nanoseconds line_time(const SerialSettings& settings, int characters) {
    const int bits = 1 + settings.data_bits + (settings.parity == Parity::none ? 0 : 1) + settings.stop_bits;
    return std::chrono::nanoseconds(1'000'000'000LL * bits * characters / settings.baud);
}

std::chrono::nanoseconds soonest_answer(const SerialSettings& settings, std::chrono::nanoseconds silence,
                                        std::size_t request_characters, std::size_t answer_characters) {
    struct stat about {};
    const bool has_wire = settings.paced || stat(settings.device.c_str(), &about) != 0 || !is_pseudo_terminal(about);
    if (!has_wire) return std::chrono::nanoseconds(0);
    const auto characters = static_cast<int>(request_characters + answer_characters);
    return (line_time(settings, characters) + silence) * 19 / 20;
}

SerialSettings as_taken_by_device(SerialSettings settings) {
    struct stat about {};
    if (stat(settings.device.c_str(), &about) == 0 && is_pseudo_terminal(about)) {
        settings.parity = Parity::none;
        settings.data_bits = 8;
    }
    return settings;
}

std::string setting_not_taken(int terminal, const SerialSettings& settings) {
    termios now{};
    if (tcgetattr(terminal, &now) != 0) return fmt::format("{} is not a terminal", settings.device);
    const speed_t wanted = nearest_rate(settings.baud).code;
    if (cfgetospeed(&now) != wanted || cfgetispeed(&now) != wanted) {
        return fmt::format("{} does not run at {} baud", settings.device, settings.baud);
    }
    if (((now.c_cflag & CSTOPB) != 0) != (settings.stop_bits == 2)) {
        return fmt::format("{} does not send {} stop bits", settings.device, settings.stop_bits);
    }
    if ((now.c_cflag & CSIZE) != (settings.data_bits == 7 ? CS7 : CS8)) {
        return fmt::format("{} does not send {} data bits", settings.device, settings.data_bits);
    }
    const bool parity = (now.c_cflag & PARENB) != 0;
    const bool odd = (now.c_cflag & PARODD) != 0;
    if (parity != (settings.parity != Parity::none) || (parity && odd != (settings.parity == Parity::odd))) {
        return fmt::format("{} does not send the parity that was set", settings.device);
    }
    return {};
}

bool unplugged(int terminal) {
    termios now{};
    return tcgetattr(terminal, &now) != 0 || wait_readable(terminal, {}) == Readable::gone;
}

} // namespace stillmark::protocols
