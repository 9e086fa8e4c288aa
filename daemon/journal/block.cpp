#include "daemon/journal/block.hpp"

#include <bit>
#include <limits>

namespace stillmark::journal {
namespace {

// Signed differences are taken modulo 2^64, so that every pair of instants has one and cannot overflow; zigzag puts
// small ones of either sign into few bytes.
std::uint64_t zigzag(std::uint64_t difference) {
    return (difference << 1U) ^ (0 - (difference >> 63U));
}
std::uint64_t unzigzag(std::uint64_t folded) {
    return (folded >> 1U) ^ (0 - (folded & 1U));
}

// The most bytes that one reading can take: number 2, stamp 10, timing 5, value 8, its own run of status 3.
constexpr std::size_t longest_reading = 28;
constexpr std::size_t longest_count = 2;

class Pen {
  public:
    explicit Pen(std::uint8_t* at) : at_(at) {}

    void varint(std::uint64_t value) {
        while (value >= 0x80) {
            *at_++ = static_cast<std::uint8_t>(value | 0x80U);
            value >>= 7U;
        }
        *at_++ = static_cast<std::uint8_t>(value);
    }
    void byte(std::uint8_t value) { *at_++ = value; }
    void double_le(double value) {
        const auto bits = std::bit_cast<std::uint64_t>(value);
        for (unsigned shift = 0; shift < 64; shift += 8)
            *at_++ = static_cast<std::uint8_t>(bits >> shift);
    }
    const std::uint8_t* at() const { return at_; }

  private:
    std::uint8_t* at_;
};

// Remembers the first rule that was broken; everything read after it is zero.
class Cursor {
  public:
    explicit Cursor(std::span<const std::uint8_t> bytes) : left_(bytes) {}

    std::uint64_t varint() {
        std::uint64_t value = 0;
        for (unsigned shift = 0; shift < 64; shift += 7) {
            const std::uint8_t next = byte();
            if (shift == 63 && next > 1) return refuse("an integer of more than 64 bits");
            value |= static_cast<std::uint64_t>(next & 0x7FU) << shift;
            if (next < 0x80) {
                if (next == 0 && shift > 0) return refuse("an integer longer than it need be");
                return value;
            }
        }
        return refuse("an integer of more than 64 bits");
    }
    std::uint8_t byte() {
        if (left_.empty()) return refuse("it ends too early");
        const std::uint8_t value = left_.front();
        left_ = left_.subspan(1);
        return value;
    }
    double double_le() {
        std::uint64_t bits = 0;
        for (unsigned shift = 0; shift < 64; shift += 8)
            bits |= static_cast<std::uint64_t>(byte()) << shift;
        return std::bit_cast<double>(bits);
    }
    std::uint8_t refuse(const char* why) {
        if (wrong_ == nullptr) wrong_ = why;
        left_ = {};
        return 0;
    }
    const char* wrong() const { return wrong_; }
    bool at_end() const { return left_.empty(); }

  private:
    std::span<const std::uint8_t> left_;
    const char* wrong_ = nullptr;
};

void decode_numbers(Cursor& cursor, std::uint64_t first_number, std::vector<ReadingRecord>& readings) {
    std::uint64_t number = first_number;
    for (std::size_t i = 0; i < readings.size(); ++i) {
        const std::uint64_t step = i == 0 ? 0 : cursor.varint();
        if (i > 0 && step == 0) cursor.refuse("numbers that do not rise");
        if (step >= block_span || number + step - first_number >= block_span)
            cursor.refuse("numbers too far apart for one block");
        if (cursor.wrong() != nullptr) return;
        number += step;
        readings[i].number = number;
    }
    if (number > largest_number) cursor.refuse("a number over 2^63 - 1");
}

void decode_stamps(Cursor& cursor, std::vector<ReadingRecord>& readings) {
    std::uint64_t stamp = 0;
    std::uint64_t step = 0;
    for (std::size_t i = 0; i < readings.size(); ++i) {
        const std::uint64_t change = unzigzag(cursor.varint());
        step = i < 2 ? change : step + change;
        stamp += step;
        readings[i].at_us = static_cast<std::int64_t>(stamp);
    }
}

void decode_timing(Cursor& cursor, std::vector<ReadingRecord>& readings) {
    std::uint64_t timing = 0;
    for (ReadingRecord& reading : readings) {
        timing += unzigzag(cursor.varint());
        if (timing > std::numeric_limits<std::uint32_t>::max()) timing = cursor.refuse("a timing outside 32 bits");
        reading.timing_us = static_cast<std::uint32_t>(timing);
    }
}

void decode_status(Cursor& cursor, std::vector<ReadingRecord>& readings) {
    for (std::size_t i = 0; i < readings.size();) {
        const std::uint64_t run = cursor.varint();
        const std::uint8_t status = cursor.byte();
        if (run == 0 || run > readings.size() - i) cursor.refuse("a run of status that does not fit");
        if (i > 0 && readings[i - 1].status == status) cursor.refuse("two runs of one status");
        if (cursor.wrong() != nullptr) return;
        for (const std::size_t end = i + run; i < end; ++i)
            readings[i].status = status;
    }
}

} // namespace

void encode_block(std::span<const ReadingRecord> readings, std::vector<std::uint8_t>& bytes) {
    bytes.resize(longest_count + longest_reading * readings.size());
    Pen pen(bytes.data());
    pen.varint(readings.size());
    for (std::size_t i = 1; i < readings.size(); ++i)
        pen.varint(readings[i].number - readings[i - 1].number);
    std::uint64_t stamp = 0;
    std::uint64_t step = 0;
    for (std::size_t i = 0; i < readings.size(); ++i) {
        const auto at = static_cast<std::uint64_t>(readings[i].at_us);
        pen.varint(zigzag(i < 2 ? at - stamp : at - stamp - step));
        step = i == 0 ? 0 : at - stamp;
        stamp = at;
    }
    std::uint64_t timing = 0;
    for (const ReadingRecord& reading : readings) {
        pen.varint(zigzag(reading.timing_us - timing));
        timing = reading.timing_us;
    }
    for (const ReadingRecord& reading : readings)
        pen.double_le(reading.value);
    for (std::size_t i = 0; i < readings.size();) {
        const std::size_t begin = i;
        while (i < readings.size() && readings[i].status == readings[begin].status)
            ++i;
        pen.varint(i - begin);
        pen.byte(readings[begin].status);
    }
    bytes.resize(static_cast<std::size_t>(pen.at() - bytes.data()));
}

const char* decode_block(std::uint64_t first_number, std::uint32_t channel, std::span<const std::uint8_t> bytes,
                         std::vector<ReadingRecord>& readings) {
    readings.clear();
    if (first_number == 0 || first_number > largest_number) return "a first number outside 1 to 2^63 - 1";
    Cursor cursor(bytes);
    const std::uint64_t count = cursor.varint();
    if (cursor.wrong() != nullptr) return cursor.wrong();
    if (count == 0) return "no readings";
    if (count > block_span) return "more readings than one block holds";
    readings.resize(count);
    for (ReadingRecord& reading : readings)
        reading.channel = channel;
    decode_numbers(cursor, first_number, readings);
    decode_stamps(cursor, readings);
    decode_timing(cursor, readings);
    for (ReadingRecord& reading : readings)
        reading.value = cursor.double_le();
    decode_status(cursor, readings);
    if (cursor.wrong() == nullptr && !cursor.at_end()) cursor.refuse("bytes after its end");
    return cursor.wrong();
}

} // namespace stillmark::journal
