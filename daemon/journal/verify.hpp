#pragma once

#include "daemon/journal/chain.hpp"
#include "daemon/journal/journal.hpp"

#include <cstdint>
#include <string>
#include <vector>

namespace stillmark::journal {

/// What a document says of a journal: everything up to this number has this digest.
struct PrintedDigest {
    std::int64_t number = 0;
    seal::Digest digest{};
    std::string certificate{}; ///< number of the certificate that says so; empty: a person gave it
};

/// What a journal is held against, beside itself.
struct Anchors {
    std::vector<seal::PublicKey> keys; ///< checkpoints count only where one of these signed them
    std::vector<PrintedDigest> printed;
};

struct Verification {
    static constexpr std::size_t most_told = 20;

    std::string identity;
    std::string created;
    std::uint64_t events = 0;
    std::uint64_t blocks = 0;
    std::uint64_t readings = 0;
    std::uint64_t links = 0;
    std::uint64_t checkpoints = 0;
    std::int64_t unconfirmed = 0;
    Link head;                          ///< the last link
    std::int64_t signed_up_to = 0;      ///< the last number that a checkpoint covers
    std::int64_t signed_utc_us = 0;     ///< when that one was made
    std::vector<std::string> signed_by; ///< fingerprints, each once
    std::int64_t chained_after = 0;     ///< numbers up to this one were written before there was a chain

    /// What is not as it was written: the first of it in words, and how much it is.
    std::vector<std::string> findings;
    std::uint64_t found = 0;
    /// Damage of the file's pages that does not touch its contents, in SQLite's words.
    std::vector<std::string> pages;

    bool content_is_as_stored() const { return found == 0; }
};

/// Whether SQLite also looks at each page of the file: by these it finds a row by its number, and what space is free.
/// It takes as long again.
enum class Pages : std::uint8_t { as_far_as_read, every_one };

/// Holds all that is stored in a journal against its chain, once, in bounded memory, beside a service that writes it.
/// An error where the file is no journal, or one without a chain.
JournalResult<Verification> verify(const std::string& path, const Anchors& anchors,
                                   Pages pages = Pages::as_far_as_read);

/// Whether the journal has this digest at this number, as it is stored; nothing is verified. A document with another
/// one comes from another journal, or from a later state of this one.
JournalResult<bool> holds_digest(const std::string& path, const PrintedDigest& printed);

} // namespace stillmark::journal
