#pragma once

#include "daemon/journal/database.hpp"
#include "daemon/seal/digest.hpp"
#include "daemon/seal/key.hpp"

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::journal {

/// The first bytes of a row's SHA-256: they prove nothing, they name the row where its link does not fit.
using Tag = std::array<std::uint8_t, 4>;

/// One link of the chain: everything that stands in a journal up to number `last` and up to the row of the link before.
struct Link {
    std::int64_t link = 0;
    std::int64_t last = 0;
    std::int64_t unconfirmed = 0; ///< commits that the disk took without confirming them, so far
    seal::Digest digest{};
};

/// A link that was signed.
struct Checkpoint {
    std::int64_t link = 0;
    std::int64_t utc_us = 0;
    seal::RawPublicKey key{};
    seal::Signature signature{};
};

using JournalIdentity = std::array<std::uint8_t, 16>;

// The bytes that are digested and signed (FORMAT.md, "The chain"). Each function adds to the end of `bytes`.

void add_link_head(std::vector<std::uint8_t>& bytes, const seal::Digest& before);
void add_event(std::vector<std::uint8_t>& bytes, std::int64_t number, std::int64_t at_us, std::string_view body);
void add_block(std::vector<std::uint8_t>& bytes, std::int64_t first_number, std::int64_t channel,
               seal::BytesView columns);
/// The same without their content, which is to follow.
void add_event_head(std::vector<std::uint8_t>& bytes, std::int64_t number, std::int64_t at_us, std::size_t size);
void add_block_head(std::vector<std::uint8_t>& bytes, std::int64_t first_number, std::int64_t channel,
                    std::size_t size);
void add_tag(std::vector<std::uint8_t>& bytes, seal::BytesView tag);
void add_checkpoint(std::vector<std::uint8_t>& bytes, const Checkpoint& checkpoint);
void add_link_end(std::vector<std::uint8_t>& bytes, std::int64_t link, std::int64_t last, std::int64_t unconfirmed);

/// What a signature is over.
std::vector<std::uint8_t> checkpoint_message(const JournalIdentity& identity, const Link& link, std::int64_t utc_us);

/// Of an event or a block as add_event or add_block serialise it.
Tag tag_of(seal::Sha256& sha, seal::BytesView row);

/// The digest of link 0: everything in the table meta.
JournalResult<seal::Digest> digest_of_meta(const Database& database);

/// Makes the digest of one link row by row, in their canonical order, and gives each row its tag.
class LinkBeingMade {
  public:
    void begin(const Link& before);
    void take(const Checkpoint& checkpoint);
    Tag take_event(std::int64_t number, std::int64_t at_us, std::string_view body);
    Tag take_block(std::int64_t first_number, std::int64_t channel, seal::BytesView columns);
    Link finish(std::int64_t last, std::int64_t unconfirmed);

  private:
    Tag take_row();
    seal::Sha256 link_sha_;
    seal::Sha256 row_sha_;
    std::vector<std::uint8_t> row_; // kept for its memory
    std::int64_t link_ = 0;
};

/// A signature of that link.
JournalResult<Checkpoint> sign(const seal::PrivateKey& key, const JournalIdentity& identity, const Link& link,
                               std::int64_t utc_us);

/// The last link; an error where there is none.
JournalResult<Link> last_link_in(const Database& database);
JournalResult<JournalIdentity> identity_of(const Database& database);

} // namespace stillmark::journal
