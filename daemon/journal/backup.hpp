#pragma once

#include "daemon/journal/journal.hpp"

#include <cstdint>
#include <string>

namespace stillmark::journal {

struct Backup {
    std::uint64_t last_number = 0;
    std::uint64_t bytes = 0;
};

/// Copies a journal as it stands at one instant, also while a service writes it, to `to`: beside it under another name,
/// forced to the disk, and put in its place, whole or not at all. A file that is there is replaced only where `replace`
/// says so. The copy needs no other file beside it.
JournalResult<Backup> back_up(const std::string& path, const std::string& to, bool replace);

} // namespace stillmark::journal
