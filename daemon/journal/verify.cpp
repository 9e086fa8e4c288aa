#include "daemon/journal/verify.hpp"

#include "daemon/journal/layout.hpp"
#include "daemon/journal/link_check.hpp"
#include "daemon/journal/rows.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <fstream>

namespace stillmark::journal {

namespace {

std::string name_of(const Row& row) {
    if (row.kind == Row::Kind::event) return fmt::format("event {}", row.number);
    return fmt::format("block {} of channel {}", row.number, row.detail);
}

void tell(Verification& told, const std::string& words) {
    ++told.found;
    if (told.findings.size() < Verification::most_told) told.findings.push_back(words);
}

/// A link as it is stored, with what is wrong with its row.
struct StoredLink {
    Link link;
    bool is_sound = false;
};

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

/// A checkpoint as it is stored; not sound where a part is of another kind or length.
struct StoredCheckpoint {
    Checkpoint checkpoint;
    bool is_sound = false;
};

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

/// How many readings a block says that it holds: the integer at its front. Where the chain holds, it is what the writer
/// wrote, so that nothing more of it need be read.
std::uint64_t readings_in(seal::BytesView columns) {
    if (columns.empty()) return 0;
    const std::uint64_t low = columns[0] & 0x7FU;
    return columns[0] < 0x80 || columns.size() < 2 ? low : low | (std::uint64_t{columns[1]} << 7U);
}

/// One pass over everything stored.
class Pass {
  public:
    Pass(const Database& database, const Anchors& anchors, Verification& told)
        : database_(database), anchors_(anchors), told_(told), seen_(anchors.printed.size(), false) {}

    /// An error where the file cannot be read on.
    JournalResult<void> go() {
        auto links = database_.prepare("SELECT link, last, unconfirmed, digest FROM links ORDER BY link");
        if (!links) return links.error();
        auto checkpoints = database_.prepare("SELECT link, utc_us, key, signature FROM checkpoints ORDER BY link");
        if (!checkpoints) return checkpoints.error();
        auto rows = RowsInOrder::of(database_, {});
        if (!rows) return rows.error();
        if (auto begun = begin(*links, *checkpoints); !begun) return begun;
        for (;;) {
            const auto more = links->step();
            if (!more) return more.error();
            if (!*more) break;
            if (auto done = take_link(link_in(*links), *checkpoints, *rows); !done) return done;
        }
        return what_is_left(*checkpoints, *rows);
    }

    /// Names what is behind the links that do not fit. The file was read to its end.
    JournalResult<void> name_differences() {
        const auto differing = check_.differing();
        std::int64_t explained = -1;
        for (const std::int64_t link : differing) {
            if (link == explained) continue;
            // The rest is only counted: each would take another look at its rows.
            if (told_.findings.size() >= Verification::most_told) {
                ++told_.found;
                continue;
            }
            const auto own = name(link);
            if (!own) return own.error();
            if (*own) explained = link + 1;
        }
        return {};
    }

    void judge_anchors() {
        for (std::size_t i = 0; i < seen_.size(); ++i) {
            if (seen_[i]) continue;
            const auto& printed = anchors_.printed[i];
            if (printed.number > told_.head.last)
                tell(told_, fmt::format("it ends at number {}, before the printed number {}: what followed is missing",
                                        told_.head.last, printed.number));
            else
                tell(told_, fmt::format("the digest printed for number {} is not the one that its contents have: they "
                                        "are not those that it was printed from, or it was copied wrongly",
                                        printed.number));
        }
        if (!anchors_.keys.empty() && told_.checkpoints == 0) tell(told_, "nothing in it is signed, with no key");
    }

  private:
    JournalResult<void> begin(Statement& links, Statement& checkpoints) {
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
        const auto identity = identity_of(database_);
        if (identity) identity_ = *identity;
        return next_checkpoint(checkpoints);
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

        auto& bytes = check_.bytes();
        add_link_head(bytes, before_.link.digest);
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
        add_link_end(check_.bytes(), link.link, link.last, link.unconfirmed);
        check_.end(link.link, link.digest);

        go_on_after(stored);
        return {};
    }

    void go_on_after(const StoredLink& stored) {
        const Link& link = stored.link;
        for (std::size_t i = 0; i < seen_.size(); ++i)
            if (anchors_.printed[i].number == link.last && anchors_.printed[i].digest == link.digest) seen_[i] = true;
        before_ = stored;
        told_.head = link;
        told_.unconfirmed = link.unconfirmed;
    }

    void take_row(const Row& row) {
        auto& bytes = check_.bytes();
        if (row.kind == Row::Kind::event) {
            ++told_.events;
            add_event(bytes, row.number, row.detail,
                      {reinterpret_cast<const char*>(row.content.data()), row.content.size()});
        } else {
            ++told_.blocks;
            told_.readings += readings_in(row.content);
            add_block(bytes, row.number, row.detail, row.content);
        }
        add_tag(bytes, row.tag);
        // What no writer writes fits no link: a column of another kind could be read as the same value.
        if (!row.is_sound || row.number <= last_number_) bytes.push_back('X');
        last_number_ = row.number;
        check_.hand_over_if_large();
    }

    void take_checkpoint() {
        const Checkpoint& one = checkpoint_.checkpoint;
        add_checkpoint(check_.bytes(), one);
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

    /// True: the link itself was changed, and what it covers was not, so that the next link need not fit either.
    JournalResult<bool> name(std::int64_t number) {
        auto links = database_.prepare(
            "SELECT link, last, unconfirmed, digest FROM links WHERE link BETWEEN ? AND ? ORDER BY link");
        if (!links) return links.error();
        links->bind(1, number - 1);
        links->bind(2, number + 1);
        std::vector<Link> near;
        for (;;) {
            const auto more = links->step();
            if (!more) return more.error();
            if (!*more) break;
            near.push_back(link_in(*links).link);
        }
        const auto here = std::ranges::find(near, number, &Link::link);
        if (here == near.end() || here == near.begin()) return false; // a missing link, which was told
        const Link before = *(here - 1);
        const auto rows_named = name_rows(before, *here);
        if (!rows_named) return rows_named.error();
        if (*rows_named) return false;
        if (here + 1 != near.end()) {
            const auto own = digest_again(before, *here);
            if (!own) return own.error();
            const auto next = digest_again({here->link, here->last, here->unconfirmed, *own}, *(here + 1));
            if (!next) return next.error();
            if (*next == (here + 1)->digest && *own != here->digest) {
                tell(told_, fmt::format("link {} (number {}): its digest was changed; what it covers is as it was",
                                        here->link, here->last));
                return true;
            }
        }
        tell(told_, fmt::format("numbers {} to {} (link {}): something was taken away, added or put elsewhere there, "
                                "or the link or its checkpoint was changed",
                                before.last + 1, here->last, here->link));
        return false;
    }

    JournalResult<bool> name_rows(const Link& before, const Link& link) {
        auto rows = RowsInOrder::of(database_, {}, first_of(before), link.last);
        if (!rows) return rows.error();
        seal::Sha256 sha;
        std::vector<std::uint8_t> bytes;
        bool named = false;
        for (;;) {
            const auto row = rows->peek();
            if (!row) return row.error();
            if (*row == nullptr) return named;
            bytes.clear();
            add(bytes, **row);
            if (!(*row)->is_sound || !std::ranges::equal(tag_of(sha, bytes), (*row)->tag)) {
                tell(told_, fmt::format("{}: it is not what was written", name_of(**row)));
                named = true;
            }
            if (auto popped = rows->pop(); !popped) return popped.error();
        }
    }

    /// What the stored contents of a link give, after a link with that digest.
    JournalResult<seal::Digest> digest_again(const Link& before, const Link& link) const {
        seal::Sha256 sha;
        std::vector<std::uint8_t> bytes;
        add_link_head(bytes, before.digest);
        auto checkpoints = database_.prepare("SELECT link, utc_us, key, signature FROM checkpoints WHERE link = ?");
        if (!checkpoints) return checkpoints.error();
        checkpoints->bind(1, before.link);
        const auto signed_here = checkpoints->step();
        if (!signed_here) return signed_here.error();
        if (*signed_here) add_checkpoint(bytes, checkpoint_in(*checkpoints).checkpoint);
        auto rows = RowsInOrder::of(database_, {}, first_of(before), link.last);
        if (!rows) return rows.error();
        for (;;) {
            const auto row = rows->peek();
            if (!row) return row.error();
            if (*row == nullptr) break;
            add(bytes, **row);
            add_tag(bytes, (*row)->tag);
            sha.add(bytes);
            bytes.clear();
            if (auto popped = rows->pop(); !popped) return popped.error();
        }
        add_link_end(bytes, link.link, link.last, link.unconfirmed);
        return sha.add(bytes).finish();
    }

    static std::int64_t first_of(const Link& before) { return before.link == 0 ? INT64_MIN : before.last + 1; }

    static void add(std::vector<std::uint8_t>& bytes, const Row& row) {
        if (row.kind == Row::Kind::block) return add_block(bytes, row.number, row.detail, row.content);
        add_event(bytes, row.number, row.detail,
                  {reinterpret_cast<const char*>(row.content.data()), row.content.size()});
    }

    const Database& database_;
    const Anchors& anchors_;
    Verification& told_;
    std::vector<bool> seen_;
    LinkCheck check_;
    JournalIdentity identity_{};
    StoredLink before_;
    StoredCheckpoint checkpoint_;
    bool more_checkpoints_ = false;
    std::int64_t last_number_ = 0;
};

/// The tables, and nothing beside them: an index, a trigger or a further column could make programs see something else.
JournalResult<void> judge_objects(const Database& database, Verification& told) {
    const auto found = objects_in(database);
    if (!found) return found.error();
    const auto model = Database::in_memory();
    if (!model) return model.error();
    if (auto made = make_tables(**model); !made) return made;
    const auto expected = objects_in(**model);
    if (!expected) return expected.error();
    const auto first_words = [](const std::string& object) { return object.substr(0, object.find(" of ")); };
    for (const auto& one : *found)
        if (std::ranges::find(*expected, one) == expected->end())
            tell(told, fmt::format("{}: it does not belong to a journal, or not so", first_words(one)));
    for (const auto& one : *expected)
        if (std::ranges::find(*found, one) == found->end() &&
            std::ranges::find(*found, first_words(one), first_words) == found->end())
            tell(told, fmt::format("{}: it is missing", first_words(one)));
    return {};
}

/// SQLite's own look at the pages of the file: it names those that do not hang together.
std::vector<std::string> look_at_pages(const Database& database) {
    std::vector<std::string> found;
    auto check = database.prepare("PRAGMA quick_check(20)");
    if (!check) return {check.error().message};
    for (;;) {
        const auto more = check->step();
        if (!more) {
            found.push_back(more.error().message);
            return found;
        }
        if (!*more) return found;
        if (check->text(0) != "ok") found.emplace_back(check->text(0));
    }
}

std::string meta_text(const Database& database, std::string_view key) {
    auto rows = database.prepare("SELECT value FROM meta WHERE key = ?");
    if (!rows) return {};
    rows->bind(1, key);
    const auto more = rows->step();
    return more && *more ? std::string(rows->text(0)) : std::string();
}

bool has_present_tables(const Database& database) {
    Verification trial;
    return judge_objects(database, trial) && trial.found == 0;
}

bool has_chain(const Database& database) {
    const auto tables = database.ask("SELECT count(*) FROM sqlite_schema WHERE name IN ('links', 'checkpoints')");
    return tables && *tables > 0;
}

/// Whether a file that SQLite refuses was a journal once: both of its marks would have to be gone before it is called
/// a file of another kind.
bool was_a_journal(const std::string& path) {
    std::array<char, 72> head{};
    std::ifstream file(path, std::ios::binary);
    if (!file.read(head.data(), head.size())) return false;
    const std::string_view bytes(head.data(), head.size());
    return bytes.substr(68, 4) == "stmk";
}

} // namespace

JournalResult<Verification> verify(const std::string& path, const Anchors& anchors, Pages pages) {
    Verification told;
    const auto damaged = [&](const JournalError& error) -> JournalResult<Verification> {
        if (!was_a_journal(path)) return error;
        tell(told, error.message);
        return told;
    };
    auto database = Database::open(path, Database::Access::read, std::chrono::seconds(5));
    if (!database) return damaged(database.error());
    const auto snapshot = Snapshot::of(**database);
    if (!snapshot) return damaged(snapshot.error());
    const auto format = recognise(**database);
    if (!has_chain(**database) && (!format || *format == 1)) {
        if (!format) return damaged(format.error());
        return (*database)->error("is a journal of format 1, which has no chain, so that nothing shows a change; a "
                                  "service that goes on with it chains it");
    }
    if (!is_marked_as_journal(**database))
        tell(told, "the header of the file: its application id is not that of a journal");
    // A newer format has other tables; in these, the chain itself tells that the word was changed.
    else if (!format && !meta_text(**database, "format").empty() && !has_present_tables(**database))
        return format.error();

    const auto read = [&]() -> JournalResult<void> {
        if (auto objects = judge_objects(**database, told); !objects) return objects;
        told.identity = meta_text(**database, "identity");
        told.created = meta_text(**database, "created");
        const std::string after = meta_text(**database, "chained_after");
        (void)std::from_chars(after.data(), after.data() + after.size(), told.chained_after);
        Pass pass(**database, anchors, told);
        if (auto gone = pass.go(); !gone) return gone;
        if (auto named = pass.name_differences(); !named) return named;
        pass.judge_anchors();
        return {};
    }();
    if (!read) {
        // What cannot be read is not as it was written; SQLite names the pages.
        tell(told, read.error().message);
        for (const auto& words : look_at_pages(**database))
            tell(told, words);
    } else if (pages == Pages::every_one)
        told.pages = look_at_pages(**database);
    return told;
}

} // namespace stillmark::journal
