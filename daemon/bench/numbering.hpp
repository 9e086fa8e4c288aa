#pragma once

#include "daemon/bench/standards.hpp"
#include "daemon/bench/state.hpp"

#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>

namespace stillmark::bench {

// A certificate number is given once, also where the journal that gave it was lost: after the restore of an older
// journal the numbers that it does not know are known from elsewhere. They are handed in, because the fold reads no
// file.

/// Certificate numbers that are known outside the journal: from the memory file and from the folder of the documents.
struct NumbersOutside {
    std::set<std::string> taken;                  ///< every one of them
    std::set<std::string> issued;                 ///< signed documents stand under them that the journal does not know
    std::map<std::string, std::int64_t> editions; ///< the highest edition of a draft that stands under them
};

/// The largest count of a series; a number with a larger one was not given by the service.
inline constexpr std::int64_t most_in_series = 999'999'999;

/// What the numbers of one year share: the pattern of the bench file with the year in it, "INV-2026-{count}".
std::string numbering_series(const RecordSettings& records, Micros utc_us);

/// The number with this count, four digits at least: "INV-2026-0005".
std::string number_in(const std::string& series, std::int64_t count);

/// The count of a number, 1 to most_in_series; nothing where the number is not of this series.
std::optional<std::int64_t> count_in(const std::string& series, const std::string& number);

/// The least number above all of its series that the journal or `outside` knows; nothing where none is left.
std::optional<std::string> next_number(const State& state, Micros utc_us, const NumbersOutside& outside);

} // namespace stillmark::bench
