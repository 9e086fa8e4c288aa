#include "drivers/driver.hpp"
#include "drivers/reading_status.hpp"
#include "drivers/register_words.hpp"

#include <bit>
#include <cmath>
#include <limits>

namespace stillmark::drivers {
namespace {

struct Raw {
    double value;
    bool exact;         ///< `whole` is the value
    std::int64_t whole; ///< of uint64 its bits
};

Raw raw_number(std::uint64_t bits, NumberType type) {
    const auto whole = [](auto number) {
        return Raw{static_cast<double>(number), true, static_cast<std::int64_t>(number)};
    };
    switch (type) {
    case NumberType::int16:
        return whole(static_cast<std::int16_t>(bits));
    case NumberType::uint16:
        return whole(static_cast<std::uint16_t>(bits));
    case NumberType::int32:
        return whole(static_cast<std::int32_t>(bits));
    case NumberType::uint32:
        return whole(static_cast<std::uint32_t>(bits));
    case NumberType::int64:
        return whole(static_cast<std::int64_t>(bits));
    case NumberType::uint64:
        return whole(bits);
    case NumberType::float32:
        return {std::bit_cast<float>(static_cast<std::uint32_t>(bits)), false, 0};
    case NumberType::float64:
        return {std::bit_cast<double>(bits), false, 0};
    }
    return {0, false, 0};
}

/// A number of less than the least normal one: no instrument measures so little, but the words of a usual number in the
/// wrong order often read so.
bool is_denormal(const Raw& raw, NumberType type) {
    const double least = type == NumberType::float32 ? static_cast<double>(std::numeric_limits<float>::min())
                                                     : std::numeric_limits<double>::min();
    return !raw.exact && raw.value != 0 && std::abs(raw.value) < least;
}

bool is(const Raw& raw, const Sentinel& sentinel) {
    return raw.exact ? raw.whole == sentinel.raw : raw.value == static_cast<double>(sentinel.raw);
}

} // namespace

Decoded decode(const ModbusReading& how, std::span<const std::uint16_t> registers) {
    const auto words = static_cast<std::size_t>(words_of(how.type));
    if (registers.size() < words) return {0, ReadingStatus::bad_frame};
    const Raw raw = raw_number(bits_in(registers.first(words), how.order), how.type);
    for (const auto& sentinel : how.sentinels) {
        if (is(raw, sentinel)) return {0, status_named(sentinel.meaning)};
    }
    if (is_denormal(raw, how.type)) return {0, ReadingStatus::not_a_number, true};
    const double value = raw.value * how.scale + how.offset;
    if (!std::isfinite(value)) return {0, ReadingStatus::not_a_number};
    return {value, ReadingStatus::good};
}

} // namespace stillmark::drivers
