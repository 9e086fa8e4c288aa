#pragma once

#include "daemon/journal/journal.hpp"
#include "daemon/seal/file_copy.hpp"

#include <cstdint>
#include <string>
#include <vector>

namespace stillmark::cli {

/// One file of a back-up.
struct BackedUpFile {
    std::string path; ///< below the folder of the back-up, parts separated by /
    seal::FileContent content;
};

/// What a back-up does not hold.
struct LeftOut {
    std::string what;
    std::string why;
    std::string remedy;
};

/// What a back-up consists of: manifest.json in its folder.
struct BackupManifest {
    std::string made_utc;
    std::int64_t journal_number = 0; ///< the journal in it ends at this number ...
    std::string journal_digest;      ///< ... with this digest, hexadecimal
    std::string key_fingerprint;     ///< of the public key in it; empty: there is none
    std::vector<BackedUpFile> files;
    std::vector<LeftOut> left_out;
};

/// Places in the folder of a back-up.
inline constexpr const char* manifest_name = "manifest.json";
inline constexpr const char* journal_in_backup = "journal";
inline constexpr const char* key_in_backup = "key.pub";
inline constexpr const char* memory_in_backup = "memory.json";
inline constexpr const char* records_in_backup = "records";
inline constexpr const char* bench_in_backup = "bench";
inline constexpr const char* users_in_backup = "users.json";

std::string manifest_text(const BackupManifest& manifest);

/// The manifest of a back-up. An error where there is none, where it is of another kind, or where it names a file
/// outside its folder.
journal::JournalResult<BackupManifest> manifest_in(const std::string& folder);

/// Whether a path leads to something below the folder that it is taken from.
bool stays_below(const std::string& path);

} // namespace stillmark::cli
