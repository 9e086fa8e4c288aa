#include "daemon/journal/chain.hpp"

#include <algorithm>

namespace stillmark::journal {

namespace {

constexpr std::string_view meta_domain = "stillmark journal 2 meta\n";
constexpr std::string_view link_domain = "stillmark journal 2 link\n";
constexpr std::string_view checkpoint_domain = "stillmark journal 2 checkpoint\n";

void add(std::vector<std::uint8_t>& bytes, seal::BytesView more) {
    bytes.insert(bytes.end(), more.begin(), more.end());
}

void add(std::vector<std::uint8_t>& bytes, std::string_view text) {
    add(bytes, seal::bytes_of(text));
}

void put_little(std::uint8_t* at, std::int64_t number) {
    for (unsigned i = 0; i < 8; ++i)
        at[i] = static_cast<std::uint8_t>(static_cast<std::uint64_t>(number) >> (8 * i));
}

void add(std::vector<std::uint8_t>& bytes, std::int64_t number) {
    std::array<std::uint8_t, 8> little{};
    put_little(little.data(), number);
    add(bytes, little);
}

void add_with_length(std::vector<std::uint8_t>& bytes, seal::BytesView more) {
    add(bytes, static_cast<std::int64_t>(more.size()));
    add(bytes, more);
}

// In one piece, because rows come by the million.
void add_row_head(std::vector<std::uint8_t>& bytes, char kind, std::int64_t number, std::int64_t detail,
                  std::size_t size) {
    std::array<std::uint8_t, 25> head{};
    head[0] = static_cast<std::uint8_t>(kind);
    put_little(head.data() + 1, number);
    put_little(head.data() + 9, detail);
    put_little(head.data() + 17, static_cast<std::int64_t>(size));
    add(bytes, head);
}

} // namespace

void add_link_head(std::vector<std::uint8_t>& bytes, const seal::Digest& before) {
    add(bytes, link_domain);
    add(bytes, before);
}

void add_link_end(std::vector<std::uint8_t>& bytes, std::int64_t link, std::int64_t last, std::int64_t unconfirmed) {
    bytes.push_back('L');
    add(bytes, link);
    add(bytes, last);
    add(bytes, unconfirmed);
}

void add_event(std::vector<std::uint8_t>& bytes, std::int64_t number, std::int64_t at_us, std::string_view body) {
    add_event_head(bytes, number, at_us, body.size());
    add(bytes, seal::bytes_of(body));
}

void add_event_head(std::vector<std::uint8_t>& bytes, std::int64_t number, std::int64_t at_us, std::size_t size) {
    add_row_head(bytes, 'E', number, at_us, size);
}

void add_block(std::vector<std::uint8_t>& bytes, std::int64_t first_number, std::int64_t channel,
               seal::BytesView columns) {
    add_block_head(bytes, first_number, channel, columns.size());
    add(bytes, columns);
}

void add_block_head(std::vector<std::uint8_t>& bytes, std::int64_t first_number, std::int64_t channel,
                    std::size_t size) {
    add_row_head(bytes, 'B', first_number, channel, size);
}

void add_tag(std::vector<std::uint8_t>& bytes, seal::BytesView tag) {
    // A tag that is too long to be one is a change like any other; its length alone must not repeat.
    bytes.push_back(static_cast<std::uint8_t>(std::min<std::size_t>(tag.size(), 255)));
    add(bytes, tag);
}

void add_checkpoint(std::vector<std::uint8_t>& bytes, const Checkpoint& checkpoint) {
    bytes.push_back('C');
    add(bytes, checkpoint.link);
    add(bytes, checkpoint.utc_us);
    add(bytes, checkpoint.key);
    add(bytes, checkpoint.signature);
}

std::vector<std::uint8_t> checkpoint_message(const JournalIdentity& identity, const Link& link, std::int64_t utc_us) {
    std::vector<std::uint8_t> bytes;
    add(bytes, checkpoint_domain);
    add(bytes, identity);
    add(bytes, link.link);
    add(bytes, link.last);
    add(bytes, link.digest);
    add(bytes, utc_us);
    return bytes;
}

Tag tag_of(seal::Sha256& sha, seal::BytesView row) {
    const auto digest = sha.add(row).finish();
    Tag tag{};
    std::copy_n(digest.begin(), tag.size(), tag.begin());
    return tag;
}

JournalResult<seal::Digest> digest_of_meta(const Database& database) {
    auto rows = database.prepare("SELECT key, value FROM meta ORDER BY key");
    if (!rows) return rows.error();
    std::vector<std::uint8_t> bytes;
    add(bytes, meta_domain);
    for (;;) {
        const auto row = rows->step();
        if (!row) return row.error();
        if (!*row) return seal::sha256(bytes);
        // No writer writes another kind of value there, which SQLite would give out alike.
        using Stored = Statement::Stored;
        if (rows->stored(0) != Stored::text || rows->stored(1) != Stored::text) bytes.push_back('X');
        add_with_length(bytes, seal::bytes_of(rows->text(0)));
        add_with_length(bytes, seal::bytes_of(rows->text(1)));
    }
}

void LinkBeingMade::begin(const Link& before) {
    (void)link_sha_.finish(); // what a commit that failed left behind
    link_ = before.link + 1;
    row_.clear();
    add_link_head(row_, before.digest);
    link_sha_.add(row_);
}

void LinkBeingMade::take(const Checkpoint& checkpoint) {
    row_.clear();
    add_checkpoint(row_, checkpoint);
    link_sha_.add(row_);
}

Tag LinkBeingMade::take_event(std::int64_t number, std::int64_t at_us, std::string_view body) {
    row_.clear();
    add_event(row_, number, at_us, body);
    return take_row();
}

Tag LinkBeingMade::take_block(std::int64_t first_number, std::int64_t channel, seal::BytesView columns) {
    row_.clear();
    add_block(row_, first_number, channel, columns);
    return take_row();
}

Tag LinkBeingMade::take_row() {
    const Tag tag = tag_of(row_sha_, row_);
    add_tag(row_, tag);
    link_sha_.add(row_);
    return tag;
}

Link LinkBeingMade::finish(std::int64_t last, std::int64_t unconfirmed) {
    row_.clear();
    add_link_end(row_, link_, last, unconfirmed);
    return {link_, last, unconfirmed, link_sha_.add(row_).finish()};
}

JournalResult<Checkpoint> sign(const seal::PrivateKey& key, const JournalIdentity& identity, const Link& link,
                               std::int64_t utc_us) {
    const auto signature = key.sign(checkpoint_message(identity, link, utc_us));
    if (!signature) return JournalError{signature.error().message};
    return Checkpoint{link.link, utc_us, key.public_key().raw(), *signature};
}

JournalResult<Link> last_link_in(const Database& database) {
    auto rows = database.prepare("SELECT link, last, unconfirmed, digest FROM links ORDER BY link DESC LIMIT 1");
    if (!rows) return rows.error();
    const auto row = rows->step();
    if (!row) return row.error();
    const auto damaged = [&database] {
        return database.error("the last link of its chain is missing or damaged; see what `stillmark verify` says of "
                              "it, keep a copy, and go on with an undamaged copy or a new journal");
    };
    if (!*row) return damaged();
    Link link{rows->integer(0), rows->integer(1), rows->integer(2), {}};
    const auto digest = rows->blob(3);
    if (digest.size() != link.digest.size()) return damaged();
    std::ranges::copy(digest, link.digest.begin());
    return link;
}

JournalResult<JournalIdentity> identity_of(const Database& database) {
    auto rows = database.prepare("SELECT value FROM meta WHERE key = 'identity'");
    if (!rows) return rows.error();
    const auto row = rows->step();
    if (!row) return row.error();
    JournalIdentity identity{};
    const auto bytes = *row ? seal::from_hex(rows->text(0)) : std::nullopt;
    if (!bytes || bytes->size() != identity.size())
        return database.error("has no identity in its table meta; see what `stillmark verify` says of it, and go on "
                              "with an undamaged copy or a new journal");
    std::ranges::copy(*bytes, identity.begin());
    return identity;
}

} // namespace stillmark::journal
