#pragma once

#include "daemon/seal/digest.hpp"
#include "daemon/seal/key.hpp"

#include <cstdint>
#include <string>

namespace stillmark::seal {

/// What a file holds, however large it is.
struct FileContent {
    std::uint64_t bytes = 0;
    Digest sha256{};
    bool operator==(const FileContent&) const = default;
};

/// Reads a file once, from its begin to its end. An error names the file and says why.
SealResult<FileContent> content_of(const std::string& path);

/// Copies a file to a path where nothing is, with that mode, and forces it to the disk. What could be written only in
/// part is taken away again. The folder's list of names is not forced: see keep_names_of.
SealResult<FileContent> copy_file(const std::string& from, const std::string& to, unsigned mode);

} // namespace stillmark::seal
