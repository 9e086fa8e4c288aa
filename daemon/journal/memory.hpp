#pragma once

#include "daemon/journal/journal.hpp"

#include <cstdint>
#include <map>
#include <string>

namespace stillmark::journal {

// What is remembered of a journal outside of it: a small file beside the signing key, so that a journal that is older
// than it (a restored copy) gives nothing out again. It only ever rises. JSON:
//
//     {"version": 1, "certificates": {"highest": {"INV-2026-{count}": 5}}}
//
// Keys that this build does not know are kept as they are. A file with a higher version is refused.

/// The highest count that was given in each series of certificate numbers ("INV-2026-{count}").
using HighestNumbers = std::map<std::string, std::int64_t>;

/// Where the memory of the journals is that are signed with this key.
std::string memory_path(const std::string& key_path);

/// What is remembered; nothing where there is no such file yet. A file that cannot be read, or that holds something
/// else, is an error: without it a number could be given again.
JournalResult<HighestNumbers> remembered_numbers(const std::string& path);

/// Remembers these too: each count that is higher than the one remembered. Written whole and forced to the disk, with
/// mode 0600, and only where something rises.
JournalResult<void> remember_numbers(const std::string& path, const HighestNumbers& numbers);

/// Takes up what another memory file holds: the higher count of each series, and keys that `path` lacks. A missing
/// `path` becomes a copy; nothing in it is ever lowered.
JournalResult<void> remember_all_of(const std::string& path, const std::string& other);

} // namespace stillmark::journal
