#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

struct evp_md_ctx_st;

namespace stillmark::seal {

using Bytes = std::vector<std::uint8_t>;
using BytesView = std::span<const std::uint8_t>;
using Digest = std::array<std::uint8_t, 32>;

/// SHA-256 (FIPS 180-4) of what is added piece by piece. Throws std::bad_alloc where the library has no memory, and
/// nothing else.
class Sha256 {
  public:
    Sha256();
    Sha256& add(BytesView bytes);
    Sha256& add(std::string_view text);
    /// The digest of everything added since the last one; begins anew.
    Digest finish();

  private:
    struct Freed {
        void operator()(evp_md_ctx_st* context) const;
    };
    std::unique_ptr<evp_md_ctx_st, Freed> context_;
};

Digest sha256(BytesView bytes);
Digest sha256(std::string_view text);

/// A text's bytes, as they stand in memory.
BytesView bytes_of(std::string_view text);

/// Lower case, two digits a byte.
std::string hex(BytesView bytes);
/// Either case. Nothing where the text is something else, or ends in half a byte.
std::optional<Bytes> from_hex(std::string_view text);
/// A digest that a person copied: 64 hex digits, either case.
std::optional<Digest> digest_from_hex(std::string_view text);

/// RFC 4648, section 4: the standard alphabet, padded, without line breaks.
std::string base64(BytesView bytes);
/// Nothing where the text is not the one that base64() gives for some bytes.
std::optional<Bytes> from_base64(std::string_view text);

/// Bytes that nobody can guess; nothing where the system has none.
std::optional<Bytes> random_bytes(std::size_t count);

} // namespace stillmark::seal
