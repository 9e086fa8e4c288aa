#include "drivers/register_words.hpp"

#include <limits>

namespace stillmark::drivers {
namespace {

template <class T>
std::pair<std::int64_t, std::int64_t> limits_of() {
    return {std::numeric_limits<T>::min(), std::numeric_limits<T>::max()};
}

} // namespace

int words_of(NumberType type) {
    switch (type) {
    case NumberType::int16:
    case NumberType::uint16:
        return 1;
    case NumberType::int32:
    case NumberType::uint32:
    case NumberType::float32:
        return 2;
    case NumberType::int64:
    case NumberType::uint64:
    case NumberType::float64:
        return 4;
    }
    return 1;
}

std::uint64_t bits_in(std::span<const std::uint16_t> registers, ByteOrder order) {
    const bool words_swapped = order == ByteOrder::cdab || order == ByteOrder::dcba;
    const bool bytes_swapped = order == ByteOrder::badc || order == ByteOrder::dcba;
    std::uint64_t bits = 0;
    for (std::size_t i = 0; i < registers.size(); ++i) {
        const std::uint16_t word = registers[words_swapped ? registers.size() - 1 - i : i];
        const auto right = bytes_swapped ? static_cast<std::uint16_t>(word << 8 | word >> 8) : word;
        bits = bits << 16 | right;
    }
    return bits;
}

std::pair<std::int64_t, std::int64_t> raw_limits(NumberType type) {
    constexpr std::int64_t exact_in_float = std::int64_t{1} << 24;
    constexpr std::int64_t exact_in_double = std::int64_t{1} << 53;
    switch (type) {
    case NumberType::int16:
        return limits_of<std::int16_t>();
    case NumberType::uint16:
        return limits_of<std::uint16_t>();
    case NumberType::int32:
        return limits_of<std::int32_t>();
    case NumberType::uint32:
        return limits_of<std::uint32_t>();
    case NumberType::int64:
        return limits_of<std::int64_t>();
    case NumberType::uint64:
        return {0, std::numeric_limits<std::int64_t>::max()};
    case NumberType::float32:
        return {-exact_in_float, exact_in_float};
    case NumberType::float64:
        return {-exact_in_double, exact_in_double};
    }
    return {0, 0};
}

} // namespace stillmark::drivers
