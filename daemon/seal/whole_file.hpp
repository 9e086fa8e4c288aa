#pragma once

#include "daemon/seal/key.hpp"

#include <cstdint>
#include <string>
#include <string_view>

namespace stillmark::seal {

enum class ReadableBy : std::uint8_t { its_owner, everybody };
/// What becomes of a file that has the name already.
enum class Present : std::uint8_t { is_kept, is_replaced };

/// A small file, of a key or of what is kept beside one: at most 64 KiB. Where it is its owner's, one that others may
/// read or write is refused.
SealResult<std::string> read_small_file(const std::string& path, ReadableBy readable);

/// Written beside it, forced to the disk and put in its place: whole or not at all. One that is kept makes this an
/// error.
SealResult<void> write_whole_file(const std::string& path, std::string_view text, ReadableBy readable, Present present);

/// Forces a folder's list of names to the disk, so that a file put there survives the loss of power.
SealResult<void> keep_names_of(const std::string& path_in_folder);

} // namespace stillmark::seal
