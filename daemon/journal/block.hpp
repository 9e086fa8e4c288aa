#pragma once

#include "daemon/journal/journal.hpp"

#include <cstdint>
#include <span>
#include <vector>

namespace stillmark::journal {

/// A block's numbers lie in first .. first + block_span - 1. So whoever looks for number n need look at no block that
/// begins before n - block_span + 1, and a walk in order of number never holds more than that many readings twice.
inline constexpr std::uint64_t block_span = 4096;

/// The largest number that a journal holds: SQLite's integers are signed.
inline constexpr std::uint64_t largest_number = INT64_MAX;

/// Replaces `bytes` by the canonical columns of `readings` (FORMAT.md, "Columns of a block").
/// Precondition: at least one reading, all of one channel, numbers rising and within block_span of the first.
void encode_block(std::span<const ReadingRecord> readings, std::vector<std::uint8_t>& bytes);

/// Replaces `readings` by those of a block. Returns nullptr, or says in a few words which rule of the format the bytes
/// break; only the one byte sequence that encode_block gives for some readings is accepted. Never reads outside
/// `bytes`.
const char* decode_block(std::uint64_t first_number, std::uint32_t channel, std::span<const std::uint8_t> bytes,
                         std::vector<ReadingRecord>& readings);

} // namespace stillmark::journal
