#pragma once

#include "daemon/cli/backup_manifest.hpp"
#include "daemon/journal/verify.hpp"

#include <string>
#include <vector>

namespace stillmark::cli {

/// What is backed up, and where to.
struct BackupRequest {
    std::string journal;
    std::string key;     ///< the private key, of which only the public half beside it is taken
    std::string records; ///< the folder of the certificates
    std::string users;   ///< the users file; empty: none is stated
    std::string to;      ///< the folder to be made
};

struct BackupMade {
    BackupManifest manifest;
    std::string manifest_sha256;
    journal::Verification told; ///< of the journal in it
};

/// Copies everything that a restore needs into a new folder, also while the service works: first the journal as it
/// stands at one instant, then the documents, the memory file last, so that nothing in the journal lacks what it
/// names. The folder gets its name when all of it is on disk, or not at all.
journal::JournalResult<BackupMade> make_backup(const BackupRequest& request);

/// What a restore did.
struct Restored {
    BackupManifest manifest;
    std::size_t written = 0;    ///< documents
    std::size_t kept = 0;       ///< documents that were there already, the same
    std::string old_public_key; ///< where the back-up's public key was put; empty: it had none
};

/// Where a back-up is restored to.
struct RestoreRequest {
    std::string from;
    std::string journal;
    std::string key;
    std::string records;
};

/// Why a back-up is not restored, all of it at once; nothing was changed then.
struct RestoreRefused {
    std::vector<std::string> reasons;
    bool is_damaged = false; ///< the back-up is not what was written; otherwise something stands in its way
};
[[noreturn]] void throw_exception_from_error(const RestoreRefused& error, const boost::source_location& at);

/// Checks each file against the manifest and the journal against its chain, then puts documents, memory and public key
/// in their places and the journal last. Nothing that is there is written over; a memory file is never lowered.
boost::system::result<Restored, RestoreRefused> restore_backup(const RestoreRequest& request);

} // namespace stillmark::cli
