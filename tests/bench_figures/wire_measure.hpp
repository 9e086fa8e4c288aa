// What the wire's figures share: medians, processor time, and far ends that are processes of their own, so that only
// the near end's time is counted.
#pragma once

#include <algorithm>
#include <csignal>
#include <cstdint>
#include <fcntl.h>
#include <functional>
#include <string>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>
#include <vector>

namespace stillmark::figures {

inline double seconds(clockid_t clock) {
    timespec now{};
    clock_gettime(clock, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

/// Sleeps to an instant of CLOCK_MONOTONIC, in seconds.
inline void sleep_until(double instant_s) {
    timespec until{};
    until.tv_sec = static_cast<time_t>(instant_s);
    until.tv_nsec = static_cast<long>((instant_s - static_cast<double>(until.tv_sec)) * 1e9);
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, nullptr) != 0) {
    }
}

inline double median(std::vector<double> values) {
    std::sort(values.begin(), values.end());
    return values[values.size() / 2];
}

struct Spread {
    double least, middle, greatest;
};
inline Spread spread(const std::vector<double>& values) {
    const auto [least, greatest] = std::minmax_element(values.begin(), values.end());
    return {*least, median(values), *greatest};
}

/// Sleeps end within microseconds of their instant, as on the service's bus threads.
inline void wake_on_time() {
    prctl(PR_SET_TIMERSLACK, 1);
}

/// A child process that ends with this one at the latest.
class FarProcess {
  public:
    explicit FarProcess(const std::function<void()>& work) : process_(fork()) {
        if (process_ != 0) return;
        prctl(PR_SET_PDEATHSIG, SIGKILL);
        wake_on_time();
        work();
        _exit(0);
    }
    ~FarProcess() {
        kill(process_, SIGKILL);
        waitpid(process_, nullptr, 0);
    }
    FarProcess(const FarProcess&) = delete;
    FarProcess& operator=(const FarProcess&) = delete;

  private:
    pid_t process_;
};

/// A pseudo-terminal without any processing of bytes.
struct PseudoTerminal {
    int master = -1;
    std::string device;
};
inline PseudoTerminal open_pseudo_terminal() {
    PseudoTerminal made{posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC), {}};
    grantpt(made.master);
    unlockpt(made.master);
    termios raw{};
    tcgetattr(made.master, &raw);
    cfmakeraw(&raw);
    tcsetattr(made.master, TCSANOW, &raw);
    char name[64] = {};
    ptsname_r(made.master, name, sizeof name);
    made.device = name;
    return made;
}

inline std::uint16_t checksum(const std::uint8_t* frame, std::size_t size) {
    unsigned crc = 0xFFFF;
    for (std::size_t i = 0; i < size; ++i) {
        crc ^= frame[i];
        for (int bit = 0; bit < 8; ++bit)
            crc = (crc & 1U) != 0 ? crc >> 1 ^ 0xA001U : crc >> 1;
    }
    return static_cast<std::uint16_t>(crc);
}

/// Exactly `size` bytes, or false where the near end is gone. A terminal whose near end is closed is waited for.
inline bool receive(int descriptor, std::uint8_t* into, std::size_t size) {
    for (std::size_t got = 0; got < size;) {
        const ssize_t count = read(descriptor, into + got, size - got);
        if (count > 0)
            got += static_cast<std::size_t>(count);
        else if (count == 0 || errno != EIO)
            return false;
        else
            usleep(1000);
    }
    return true;
}

/// Processor time of every loop that is compared, in turn: A B A B ... Each returns microseconds an exchange.
inline void take_turns(int turns, const std::vector<std::pair<std::function<double()>, std::vector<double>*>>& loops) {
    for (int turn = 0; turn < turns; ++turn) {
        for (const auto& [loop, figures] : loops)
            figures->push_back(loop());
    }
}

} // namespace stillmark::figures
