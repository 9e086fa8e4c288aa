#include "daemon/journal/stretch.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::journal {

namespace {

/// Small rows are digested together; a large one where it lies, which spares a copy of nearly everything stored.
constexpr std::size_t large_row = 2048;
constexpr std::size_t large_gathering = std::size_t{1} << 15U;

/// How many readings a block says that it holds: the integer at its front. Where the chain holds, it is what the writer
/// wrote, so that nothing more of it need be read.
std::uint64_t readings_in(seal::BytesView columns) {
    if (columns.empty()) return 0;
    const std::uint64_t low = columns[0] & 0x7FU;
    return columns[0] < 0x80 || columns.size() < 2 ? low : low | (std::uint64_t{columns[1]} << 7U);
}

class Pass {
  public:
    Pass(const Database& database, const Anchors& anchors, const Stretch& stretch, StretchRead& read)
        : database_(database), anchors_(anchors), stretch_(stretch), read_(read), told_(read.told) {
        read.seen.assign(anchors.printed.size(), false);
    }

    JournalResult<void> go() {
        const std::int64_t from = stretch_.after ? stretch_.after->link.link + 1 : INT64_MIN;
        const std::int64_t to = stretch_.to ? stretch_.to->link : INT64_MAX;
        auto links =
            database_.prepare("SELECT link, last, unconfirmed, digest FROM links WHERE link >= ? AND link <= ? "
                              "ORDER BY link");
        if (!links) return links.error();
        links->bind(1, from);
        links->bind(2, to);
        // A checkpoint stands in the link after the one that it signs.
        auto checkpoints = database_.prepare("SELECT link, utc_us, key, signature FROM checkpoints WHERE link >= ? AND "
                                             "(link < ? OR ?) ORDER BY link");
        if (!checkpoints) return checkpoints.error();
        checkpoints->bind(1, stretch_.after ? stretch_.after->link.link : INT64_MIN);
        checkpoints->bind(2, to);
        checkpoints->bind(3, std::int64_t{stretch_.to ? 0 : 1});
        auto rows = RowsInOrder::of(database_, {}, stretch_.after ? stretch_.after->link.last + 1 : INT64_MIN,
                                    stretch_.to ? stretch_.to->last : INT64_MAX);
        if (!rows) return rows.error();
        const auto identity = identity_of(database_);
        if (identity) identity_ = *identity;
        if (stretch_.after) {
            before_ = *stretch_.after;
            last_number_ = before_.link.last;
        } else if (auto begun = begin(*links); !begun) {
            return begun;
        }
        if (auto next = next_checkpoint(*checkpoints); !next) return next;
        for (;;) {
            const auto more = links->step();
            if (!more) return more.error();
            if (!*more) break;
            if (auto done = take_link(link_in(*links), *checkpoints, *rows); !done) return done;
        }
        return what_is_left(*checkpoints, *rows);
    }

  private:
    JournalResult<void> begin(Statement& links) {
        const auto meta = digest_of_meta(database_);
        if (!meta) return meta.error();
        const auto first = links.step();
        if (!first) return first.error();
        if (*first) before_ = link_in(links);
        if (!*first || before_.link.link != 0)
            tell(told_, "link 0: it is missing, with which the chain begins");
        else if (!before_.is_sound || before_.link.last != 0 || before_.link.unconfirmed != 0 ||
                 before_.link.digest != *meta)
            tell(told_, "table meta, or link 0: they are not what the journal was made with (format, created, "
                        "identity)");
        go_on_after(before_);
        ++told_.links;
        return {};
    }

    JournalResult<void> next_checkpoint(Statement& checkpoints) {
        const auto more = checkpoints.step();
        if (!more) return more.error();
        more_checkpoints_ = *more;
        if (more_checkpoints_) checkpoint_ = checkpoint_in(checkpoints);
        return {};
    }

    JournalResult<void> take_link(const StoredLink& stored, Statement& checkpoints, RowsInOrder& rows) {
        const Link& link = stored.link;
        ++told_.links;
        const bool follows = link.link == before_.link.link + 1;
        if (!follows)
            tell(told_, link.link == before_.link.link + 2
                            ? fmt::format("link {} is missing", link.link - 1)
                            : fmt::format("links {} to {} are missing", before_.link.link + 1, link.link - 1));
        if (!stored.is_sound) tell(told_, fmt::format("link {}: it is not of the kind that a link is", link.link));

        add_link_head(bytes_, before_.link.digest);
        for (; more_checkpoints_ && checkpoint_.checkpoint.link < link.link;) {
            // One that signs another link than the last would be nobody's.
            if (checkpoint_.checkpoint.link != before_.link.link)
                tell(told_, fmt::format("the checkpoint of link {}: there is no such link before it",
                                        checkpoint_.checkpoint.link));
            take_checkpoint();
            if (auto next = next_checkpoint(checkpoints); !next) return next;
        }
        for (;;) {
            const auto row = rows.peek();
            if (!row) return row.error();
            if (*row == nullptr || (*row)->number > link.last) break;
            take_row(**row);
            if (auto popped = rows.pop(); !popped) return broken_after(popped.error());
        }
        add_link_end(bytes_, link.link, link.last, link.unconfirmed);
        digest_bytes();
        if (sha_.finish() != link.digest) read_.differing.push_back(link.link);

        go_on_after(stored);
        return {};
    }

    void go_on_after(const StoredLink& stored) {
        const Link& link = stored.link;
        for (std::size_t i = 0; i < read_.seen.size(); ++i)
            if (anchors_.printed[i].number == link.last && anchors_.printed[i].digest == link.digest)
                read_.seen[i] = true;
        before_ = stored;
        told_.head = link;
        told_.unconfirmed = link.unconfirmed;
    }

    void take_row(const Row& row) {
        if (row.kind == Row::Kind::event) {
            ++told_.events;
            add_event_head(bytes_, row.number, row.detail, row.content.size());
        } else {
            ++told_.blocks;
            told_.readings += readings_in(row.content);
            add_block_head(bytes_, row.number, row.detail, row.content.size());
        }
        if (row.content.size() >= large_row) {
            digest_bytes();
            sha_.add(row.content);
        } else {
            bytes_.insert(bytes_.end(), row.content.begin(), row.content.end());
        }
        add_tag(bytes_, row.tag);
        // What no writer writes fits no link: a column of another kind could be read as the same value.
        if (!row.is_sound || row.number <= last_number_) bytes_.push_back('X');
        last_number_ = row.number;
        if (bytes_.size() >= large_gathering) digest_bytes();
    }

    void digest_bytes() {
        sha_.add(bytes_);
        bytes_.clear();
    }

    void take_checkpoint() {
        const Checkpoint& one = checkpoint_.checkpoint;
        add_checkpoint(bytes_, one);
        ++told_.checkpoints;
        const auto key = checkpoint_.is_sound ? seal::PublicKey::from_raw(one.key) : std::nullopt;
        const auto message = checkpoint_message(identity_, before_.link, one.utc_us);
        if (!key || one.link != before_.link.link || !key->accepts(message, one.signature))
            return tell(told_, fmt::format("the checkpoint of link {} (number {}): its signature does not fit",
                                           one.link, before_.link.last));
        const std::string fingerprint = key->fingerprint();
        if (!anchors_.keys.empty() && std::ranges::none_of(anchors_.keys, [&key](const seal::PublicKey& given) {
                return given.raw() == key->raw();
            }))
            return tell(told_, fmt::format("the checkpoint of link {} (number {}): it is signed with another key "
                                           "(fingerprint {})",
                                           one.link, before_.link.last, fingerprint));
        if (std::ranges::find(told_.signed_by, fingerprint) == told_.signed_by.end())
            told_.signed_by.push_back(fingerprint);
        told_.signed_up_to = before_.link.last;
        told_.signed_utc_us = one.utc_us;
    }

    JournalResult<void> what_is_left(Statement& checkpoints, RowsInOrder& rows) {
        while (more_checkpoints_) {
            tell(told_, fmt::format("the checkpoint of link {}: the link after it is missing, or it was added",
                                    checkpoint_.checkpoint.link));
            if (auto next = next_checkpoint(checkpoints); !next) return next;
        }
        for (;;) {
            const auto row = rows.peek();
            if (!row) return row.error();
            if (*row == nullptr) return {};
            tell(told_, fmt::format("{}: it stands after the last link: it was added, or its link is missing",
                                    name_of(**row)));
            last_number_ = (*row)->number;
            if (auto popped = rows.pop(); !popped) return broken_after(popped.error());
        }
    }

    JournalError broken_after(const JournalError& error) const {
        return {fmt::format("{}; the last that could be read is number {}", error.message, last_number_)};
    }

    const Database& database_;
    const Anchors& anchors_;
    const Stretch& stretch_;
    StretchRead& read_;
    Verification& told_;
    JournalIdentity identity_{};
    StoredLink before_;
    StoredCheckpoint checkpoint_;
    bool more_checkpoints_ = false;
    std::int64_t last_number_ = 0;
    seal::Sha256 sha_;
    std::vector<std::uint8_t> bytes_; // of the present link, not digested yet
};

} // namespace

StoredLink link_in(const Statement& row) {
    using Stored = Statement::Stored;
    StoredLink found;
    found.is_sound = row.stored(0) == Stored::integer && row.stored(1) == Stored::integer &&
                     row.stored(2) == Stored::integer && row.stored(3) == Stored::blob;
    found.link = {row.integer(0), row.integer(1), row.integer(2), {}};
    const auto digest = row.blob(3);
    found.is_sound = found.is_sound && digest.size() == found.link.digest.size();
    if (found.is_sound) std::ranges::copy(digest, found.link.digest.begin());
    return found;
}

StoredCheckpoint checkpoint_in(const Statement& row) {
    using Stored = Statement::Stored;
    StoredCheckpoint found;
    found.checkpoint.link = row.integer(0);
    found.checkpoint.utc_us = row.integer(1);
    const auto key = row.blob(2), signature = row.blob(3);
    found.is_sound = row.stored(0) == Stored::integer && row.stored(1) == Stored::integer &&
                     row.stored(2) == Stored::blob && row.stored(3) == Stored::blob &&
                     key.size() == found.checkpoint.key.size() && signature.size() == found.checkpoint.signature.size();
    if (!found.is_sound) return found;
    std::ranges::copy(key, found.checkpoint.key.begin());
    std::ranges::copy(signature, found.checkpoint.signature.begin());
    return found;
}

std::string name_of(const Row& row) {
    if (row.kind == Row::Kind::event) return fmt::format("event {}", row.number);
    return fmt::format("block {} of channel {}", row.number, row.detail);
}

void tell(Verification& told, const std::string& words) {
    ++told.found;
    if (told.findings.size() < Verification::most_told) told.findings.push_back(words);
}

JournalResult<void> read_stretch(const Database& database, const Anchors& anchors, const Stretch& stretch,
                                 StretchRead& read) {
    return Pass(database, anchors, stretch, read).go();
}

} // namespace stillmark::journal
