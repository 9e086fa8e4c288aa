#include "daemon/bench/digest.hpp"

#include <fmt/format.h>

#include <cstdint>

namespace stillmark::bench {

std::string digest(std::string_view text) {
    std::uint64_t hash = 0xcbf29ce484222325U;
    for (const char c : text) {
        hash ^= static_cast<unsigned char>(c);
        hash *= 0x100000001b3U;
    }
    return fmt::format("{:016x}", hash);
}

} // namespace stillmark::bench
