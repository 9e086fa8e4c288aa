#include "simulator/register_map.hpp"

#include "simulator/mistake.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>

namespace stillmark::simulator {

namespace {

struct RawNumber {
    std::uint64_t bits = 0;
    int bytes = 4;
};

template <class Integer>
RawNumber whole(double raw) {
    // The ends are compared as doubles: the greatest 64-bit integer is none, the next one below it is.
    const auto least = static_cast<double>(std::numeric_limits<Integer>::min());
    const auto greatest = static_cast<double>(std::numeric_limits<Integer>::max());
    const double rounded = std::round(raw);
    Integer value{};
    if (!(rounded > least))
        value = std::numeric_limits<Integer>::min();
    else if (!(rounded < greatest))
        value = std::numeric_limits<Integer>::max();
    else
        value = static_cast<Integer>(rounded);
    return {static_cast<std::uint64_t>(static_cast<std::make_unsigned_t<Integer>>(value)), sizeof(Integer)};
}

RawNumber raw_number(const std::string& type, double raw) {
    if (type == "float32") return {std::bit_cast<std::uint32_t>(static_cast<float>(raw)), 4};
    if (type == "float64") return {std::bit_cast<std::uint64_t>(raw), 8};
    if (type == "int16") return whole<std::int16_t>(raw);
    if (type == "uint16") return whole<std::uint16_t>(raw);
    if (type == "int32") return whole<std::int32_t>(raw);
    if (type == "uint32") return whole<std::uint32_t>(raw);
    if (type == "int64") return whole<std::int64_t>(raw);
    if (type == "uint64") return whole<std::uint64_t>(raw);
    throw Mistake("the type \"" + type + "\" is not simulated");
}

/// Words as they stand on the wire, in ascending addresses.
std::vector<std::uint16_t> words_of(const RawNumber& number, const std::string& order, bool swapped) {
    std::vector<std::uint16_t> words;
    for (int shift = 8 * number.bytes - 16; shift >= 0; shift -= 16)
        words.push_back(static_cast<std::uint16_t>(number.bits >> static_cast<unsigned>(shift)));
    const bool low_word_first = order == "cdab" || order == "dcba";
    const bool low_byte_first = order == "badc" || order == "dcba";
    if (low_word_first != swapped) std::reverse(words.begin(), words.end());
    if (low_byte_first)
        for (auto& word : words)
            word = static_cast<std::uint16_t>(word << 8U | word >> 8U);
    return words;
}

} // namespace

bool RegisterMap::get(bool input, std::uint16_t address, std::uint16_t count, std::vector<std::uint16_t>& to) const {
    const auto& map = input ? input_ : holding_;
    to.clear();
    for (std::uint32_t at = address; at < std::uint32_t{address} + count; ++at) {
        const auto found = at > 65535 ? map.end() : map.find(static_cast<std::uint16_t>(at));
        if (found == map.end()) return false;
        to.push_back(found->second);
    }
    return true;
}

RegisterMap registers_of(const Profile& profile, double pressure_pa, const SelfReport& report) {
    RegisterMap map;
    std::uint16_t last_status = 0;
    for (const auto& bits : profile.status) {
        map.put(bits.input, bits.address, 0);
        const int gap = int{bits.address} - int{profile.address};
        if (bits.input == profile.input && gap > 0 && gap < 125) last_status = std::max(last_status, bits.address);
    }
    RawNumber number = raw_number(profile.type, (pressure_pa / profile.unit_pa - profile.offset) / profile.scale);
    for (const auto& sentinel : profile.sentinels)
        if (sentinel.means == report.means) number.bits = static_cast<std::uint64_t>(sentinel.raw);
    const auto words = words_of(number, profile.order, report.swapped_words);
    // Addresses between the number and its status exist on such instruments: masters read over them in one request.
    for (std::uint32_t at = profile.address; at <= last_status; ++at)
        map.put(profile.input, static_cast<std::uint16_t>(at), 0);
    for (std::size_t i = 0; i < words.size(); ++i)
        map.put(profile.input, static_cast<std::uint16_t>(profile.address + i), words[i]);
    for (const auto& bits : profile.status)
        if (bits.means == report.means) map.put(bits.input, bits.address, bits.mask);
    return map;
}

} // namespace stillmark::simulator
