#pragma once

#include "daemon/journal/database.hpp"

#include <string>
#include <vector>

namespace stillmark::journal {

/// The newest format that this build reads, and the one that it writes (FORMAT.md).
inline constexpr std::int64_t format_version = 2;

/// Makes the tables of a new journal in an empty file; recognises a journal that is there, and chains one of format 1.
/// From then on every commit is on disk when it returns.
JournalResult<void> make_ready_to_write(Database& database);

/// The format of a journal. Refuses a file that is no journal, and a journal of a newer format.
JournalResult<std::int64_t> recognise(const Database& database);

/// The tables of the present format, empty.
JournalResult<void> make_tables(Database& database);

/// What a file is made of: one line for every table, index, view and trigger, in a fixed order.
JournalResult<std::vector<std::string>> objects_in(const Database& database);

bool is_marked_as_journal(const Database& database);

/// The highest number in the journal, of an event or a reading; 0 for an empty one.
JournalResult<std::uint64_t> last_number_in(Database& database);

/// Takes readings out of the present row of a statement that gives first_number, channel, columns.
JournalResult<void> decode_row(const Database& database, const Statement& row, std::vector<ReadingRecord>& readings);

} // namespace stillmark::journal
