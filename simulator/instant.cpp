#include "simulator/instant.hpp"

#include <ctime>

namespace stillmark::simulator {

Micros now_us() {
    timespec now{};
    clock_gettime(CLOCK_BOOTTIME, &now);
    return Micros{now.tv_sec} * 1000000 + now.tv_nsec / 1000;
}

} // namespace stillmark::simulator
