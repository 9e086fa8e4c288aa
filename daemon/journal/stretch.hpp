#pragma once

#include "daemon/journal/chain.hpp"
#include "daemon/journal/rows.hpp"
#include "daemon/journal/verify.hpp"

#include <optional>
#include <string>
#include <vector>

namespace stillmark::journal {

/// A link as it is stored, with what is wrong with its row.
struct StoredLink {
    Link link;
    bool is_sound = false;
};

StoredLink link_in(const Statement& row);

/// A checkpoint as it is stored; not sound where a part is of another kind or length.
struct StoredCheckpoint {
    Checkpoint checkpoint;
    bool is_sound = false;
};

StoredCheckpoint checkpoint_in(const Statement& row);

/// How people are told of a row: "event 12".
std::string name_of(const Row& row);
void tell(Verification& told, const std::string& words);

/// A stretch of the chain that is read by itself, because each link begins with the stored digest of the one before.
struct Stretch {
    std::optional<StoredLink> after; ///< the link before its first; nothing where the chain begins
    std::optional<Link> to;          ///< its last link; nothing where it goes on to the end of everything stored
};

/// What a stretch gave.
struct StretchRead {
    Verification told;
    std::vector<std::int64_t> differing; ///< links that do not have the digest that is stored, in order
    std::vector<bool> seen;              ///< which of the printed digests were met
};

/// Reads a stretch once, in bounded memory. An error where the file cannot be read on; what was read stands in `read`.
JournalResult<void> read_stretch(const Database& database, const Anchors& anchors, const Stretch& stretch,
                                 StretchRead& read);

} // namespace stillmark::journal
