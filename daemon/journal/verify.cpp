#include "daemon/journal/verify.hpp"

#include "daemon/journal/layout.hpp"
#include "daemon/journal/rows.hpp"
#include "daemon/journal/stretch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <fstream>
#include <future>
#include <thread>

namespace stillmark::journal {

namespace {

/// Two also where there is one processor: a machine then does not decide what is tested.
constexpr std::int64_t least_threads = 2;
constexpr std::int64_t most_threads = 4;

/// Names what is behind links that do not have their digest. The file could be read to its end.
class Namer {
  public:
    Namer(const Database& database, Verification& told) : database_(database), told_(told) {}

    JournalResult<void> name_all(const std::vector<std::int64_t>& differing) {
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

  private:
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
    Verification& told_;
};

void judge_anchors(const Anchors& anchors, const std::vector<bool>& seen, Verification& told) {
    for (std::size_t i = 0; i < seen.size(); ++i) {
        if (seen[i]) continue;
        const auto& printed = anchors.printed[i];
        const auto& certificate = printed.certificate;
        const bool is_beyond = printed.number > told.head.last;
        if (is_beyond && certificate.empty())
            tell(told, fmt::format("it ends at number {}, before the printed number {}: what followed is missing",
                                   told.head.last, printed.number));
        else if (is_beyond)
            tell(told,
                 fmt::format("certificate {} rests on number {}, the journal ends at {}: what followed is missing",
                             certificate, printed.number, told.head.last));
        else if (certificate.empty())
            tell(told, fmt::format("the digest printed for number {} is not the one that its contents have: they are "
                                   "not those that it was printed from, or it was copied wrongly",
                                   printed.number));
        else
            tell(told,
                 fmt::format("certificate {} rests on number {} with another digest than this journal has there: it "
                             "was issued from another journal, or from what followed a state that was put back",
                             certificate, printed.number));
    }
    if (!anchors.keys.empty() && told.checkpoints == 0) tell(told, "nothing in it is signed, with no key");
}

/// What a further stretch told.
void add(Verification& told, const Verification& more) {
    for (const auto& words : more.findings)
        if (told.findings.size() < Verification::most_told) told.findings.push_back(words);
    told.found += more.found;
    told.events += more.events;
    told.blocks += more.blocks;
    told.readings += more.readings;
    told.links += more.links;
    told.checkpoints += more.checkpoints;
    // A stretch that ended before its first link has none.
    if (more.links > 0) {
        told.head = more.head;
        told.unconfirmed = more.unconfirmed;
    }
    if (more.signed_by.empty()) return;
    told.signed_up_to = more.signed_up_to;
    told.signed_utc_us = more.signed_utc_us;
    for (const auto& fingerprint : more.signed_by)
        if (std::ranges::find(told.signed_by, fingerprint) == told.signed_by.end())
            told.signed_by.push_back(fingerprint);
}

/// The chain in as many stretches as there are threads to read them. One, where the links do not follow one another:
/// then only reading them in turn tells what belongs to which.
JournalResult<std::vector<Stretch>> stretches_of(const Database& database) {
    const auto last = database.ask("SELECT max(link) FROM links");
    if (!last) return last.error();
    const std::int64_t threads =
        std::clamp<std::int64_t>(std::thread::hardware_concurrency(), least_threads, most_threads);
    const std::int64_t count = std::clamp<std::int64_t>(*last / 2, 1, threads);
    auto at = database.prepare("SELECT link, last, unconfirmed, digest FROM links WHERE link = ?");
    if (!at) return at.error();
    std::vector<Stretch> stretches(1);
    for (std::int64_t i = 1; i < count; ++i) {
        at->bind(1, *last / count * i);
        const auto found = at->step();
        if (!found) return found.error();
        if (!*found) return std::vector<Stretch>(1);
        const StoredLink cut = link_in(*at);
        at->reset();
        const std::int64_t before = i == 1 ? 0 : stretches.back().after->link.last;
        if (!cut.is_sound || cut.link.last <= before || cut.link.last == INT64_MAX) return std::vector<Stretch>(1);
        stretches.back().to = cut.link;
        stretches.push_back({cut, {}});
    }
    return stretches;
}

/// Each stretch on a thread and a connection of its own, the last here: what another program adds meanwhile comes after
/// the snapshot of this connection, which alone goes on to the end.
JournalResult<void> read_all(const Database& database, const Anchors& anchors, Verification& told) {
    const auto stretches = stretches_of(database);
    if (!stretches) return stretches.error();
    std::vector<StretchRead> reads(stretches->size());
    std::vector<std::future<JournalResult<void>>> elsewhere;
    for (std::size_t i = 0; i + 1 < stretches->size(); ++i)
        elsewhere.push_back(std::async(std::launch::async, [&database, &anchors, &stretches, &reads, i] {
            auto own = Database::open(database.path(), Database::Access::read, std::chrono::seconds(5));
            if (!own) return JournalResult<void>(own.error());
            return read_stretch(**own, anchors, (*stretches)[i], reads[i]);
        }));
    const auto last = read_stretch(database, anchors, stretches->back(), reads.back());

    std::vector<std::int64_t> differing;
    std::vector<bool> seen(anchors.printed.size(), false);
    for (std::size_t i = 0; i < reads.size(); ++i) {
        const auto done = i + 1 < reads.size() ? elsewhere[i].get() : last;
        add(told, reads[i].told);
        differing.insert(differing.end(), reads[i].differing.begin(), reads[i].differing.end());
        for (std::size_t k = 0; k < seen.size(); ++k)
            if (reads[i].seen[k]) seen[k] = true;
        if (!done) return done.error();
    }
    if (auto named = Namer(database, told).name_all(differing); !named) return named.error();
    judge_anchors(anchors, seen, told);
    return {};
}

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
        return read_all(**database, anchors, told);
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

JournalResult<bool> holds_digest(const std::string& path, const PrintedDigest& printed) {
    const auto database = Database::open(path, Database::Access::read, std::chrono::seconds(5));
    if (!database) return database.error();
    if (const auto known = recognise(**database); !known) return known.error();
    if (!has_chain(**database)) return false;
    // Links without rows have the same last number as the one before.
    auto links = (*database)->prepare("SELECT link, last, unconfirmed, digest FROM links WHERE last = ?");
    if (!links) return links.error();
    links->bind(1, printed.number);
    for (;;) {
        const auto more = links->step();
        if (!more) return more.error();
        if (!*more) return false;
        if (link_in(*links).link.digest == printed.digest) return true;
    }
}

} // namespace stillmark::journal
