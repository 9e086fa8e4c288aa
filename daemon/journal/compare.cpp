#include "daemon/journal/compare.hpp"

#include "daemon/journal/layout.hpp"
#include "daemon/journal/rows.hpp"
#include "daemon/journal/stretch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>

namespace stillmark::journal {

namespace {

using Outcome = Comparison::Outcome;

struct Side {
    std::unique_ptr<Database> database;
    std::int64_t format = 0;
};

JournalResult<Side> open(const std::string& path) {
    auto database = Database::open(path, Database::Access::read, std::chrono::seconds(5));
    if (!database) return database.error();
    const auto format = recognise(**database);
    if (!format) return format.error();
    return {boost::system::in_place_value, Side{std::move(*database), *format}};
}

bool same(const Row& one, const Row& other) {
    return one.kind == other.kind && one.number == other.number && one.detail == other.detail &&
           one.is_sound == other.is_sound && std::ranges::equal(one.content, other.content);
}

Comparison differ(const std::string& words, std::uint64_t alike = 0) {
    return {Outcome::different, alike, words};
}

JournalResult<Comparison> compare_rows(const Side& one, const Side& other) {
    const auto tables = [](const Side& side) { return RowsInOrder::Tables{"events", "blocks", side.format > 1}; };
    auto ours = RowsInOrder::of(*one.database, tables(one));
    if (!ours) return ours.error();
    auto theirs = RowsInOrder::of(*other.database, tables(other));
    if (!theirs) return theirs.error();
    Comparison told;
    std::int64_t last = 0;
    for (;; ++told.alike) {
        const auto a = ours->peek(), b = theirs->peek();
        if (!a) return a.error();
        if (!b) return b.error();
        if (*a == nullptr && *b == nullptr) return told;
        if (*a == nullptr || *b == nullptr) {
            told.outcome = *a == nullptr ? Outcome::this_is_beginning : Outcome::other_is_beginning;
            told.words = fmt::format("{} ends after number {}", *a == nullptr ? "this one" : "the other one", last);
            return told;
        }
        if (!same(**a, **b)) {
            if ((*a)->number == (*b)->number && (*a)->kind == (*b)->kind)
                return differ(name_of(**a) + " differs", told.alike);
            const bool only_here = (*a)->number <= (*b)->number;
            return differ(fmt::format("{} stands in {} only", name_of(only_here ? **a : **b),
                                      only_here ? "this one" : "the other one"),
                          told.alike);
        }
        last = (*a)->number;
        if (auto done = ours->pop(); !done) return done.error();
        if (auto done = theirs->pop(); !done) return done.error();
    }
}

/// Whole tables as text, row by row, of which one may be the beginning of the other.
JournalResult<Comparison> compare_tables(const Side& one, const Side& other, const char* sql, const char* name) {
    auto ours = one.database->prepare(sql);
    if (!ours) return ours.error();
    auto theirs = other.database->prepare(sql);
    if (!theirs) return theirs.error();
    for (;;) {
        const auto a = ours->step(), b = theirs->step();
        if (!a) return a.error();
        if (!b) return b.error();
        if (!*a && !*b) return Comparison{};
        if (!*a) return Comparison{Outcome::this_is_beginning, 0, {}};
        if (!*b) return Comparison{Outcome::other_is_beginning, 0, {}};
        if (ours->text(0) != theirs->text(0) || ours->text(1) != theirs->text(1))
            return differ(fmt::format("{} {} differs", name, ours->text(0)));
    }
}

constexpr const char* meta_rows = "SELECT key, value FROM meta ORDER BY key";
constexpr const char* link_rows =
    "SELECT CAST(link AS TEXT), last || ' ' || unconfirmed || ' ' || hex(digest) FROM links ORDER BY link";
constexpr const char* checkpoint_rows =
    "SELECT CAST(link AS TEXT), utc_us || ' ' || hex(key) || ' ' || hex(signature) FROM checkpoints ORDER BY link";

} // namespace

JournalResult<Comparison> compare(const std::string& path, const std::string& other_path) {
    const auto one = open(path);
    if (!one) return one.error();
    const auto other = open(other_path);
    if (!other) return other.error();
    const auto here = Snapshot::of(*one->database);
    if (!here) return here.error();
    const auto there = Snapshot::of(*other->database);
    if (!there) return there.error();
    auto told = compare_rows(*one, *other);
    if (!told || told->outcome == Outcome::different || one->format != other->format) return told;
    const auto meta = compare_tables(*one, *other, meta_rows, "meta");
    if (!meta) return meta.error();
    if (meta->outcome != Outcome::identical)
        return differ("meta differs: they were not made as one journal", told->alike);
    if (one->format < 2) return told;
    for (const auto& [sql, name] :
         {std::pair{link_rows, "link"}, std::pair{checkpoint_rows, "the checkpoint of link"}}) {
        const auto chain = compare_tables(*one, *other, sql, name);
        if (!chain) return chain.error();
        if (chain->outcome == Outcome::identical) continue;
        if (chain->outcome == Outcome::different) return differ(chain->words, told->alike);
        if (told->outcome == Outcome::identical) {
            told->outcome = chain->outcome;
            told->words = fmt::format("the chain of {} ends earlier, over the same events and readings",
                                      chain->outcome == Outcome::this_is_beginning ? "this one" : "the other one");
        } else if (told->outcome != chain->outcome)
            return differ(fmt::format("{}s go on where the events and readings do not", name), told->alike);
    }
    return told;
}

} // namespace stillmark::journal
