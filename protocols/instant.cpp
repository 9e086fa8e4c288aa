#include "protocols/instant.hpp"

#include <ctime>

namespace stillmark::protocols {

Micros now_us() {
    timespec now{};
    clock_gettime(CLOCK_BOOTTIME, &now);
    return static_cast<Micros>(now.tv_sec) * 1'000'000 + now.tv_nsec / 1'000;
}

} // namespace stillmark::protocols
