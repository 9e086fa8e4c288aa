#pragma once

#include "daemon/bench/bench_file.hpp"
#include "daemon/bench/event.hpp"
#include "daemon/bench/gates.hpp"
#include "daemon/bench/overlap_finding.hpp"
#include "daemon/metrology/evaluation/conformity.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace stillmark::records {

// What one certificate says, complete and rounded, before it is a document. The printed and the digital certificate and
// the exported tables are all written from this structure, so that none can say a number that another does not. Words
// that are the same on every certificate stand in the files of words/, not here; what stands here as text was written
// by people, or is a name, or is a sentence of the evaluation.

/// A figure as every document shows it: rounded once (metrology/rounding.hpp), digits with a point.
struct Figure {
    double value = 0; ///< unrounded, in the unit that stands beside it
    std::string text; ///< empty: there is none
    bool there() const { return !text.empty(); }
};

struct Party {
    std::string name;
    std::vector<std::string> lines; ///< of the address
    std::string country;            ///< two letters, ISO 3166-1; empty: not stated
    std::string email;
};

/// A standard, or another instrument that the result rests on, with what it is traceable by.
struct StandardUsed {
    std::string what; ///< as the bench file says: "balance", "discs", "piston thermometer"
    std::string name;
    std::string serial;
    std::string certificate;
    std::string issued_by;
    std::string issued;      ///< a date, "2026-01-15"
    std::string valid_until; ///< likewise
    std::string traceable_to;
    std::string allowed_because; ///< it had expired and was used all the same: reason and name
};

/// The instrument that was calibrated.
struct Item {
    std::string name;
    std::string maker;
    std::string model;
    std::string serial;
    std::string asset;     ///< the customer's own mark
    std::string condition; ///< as it came, in words
    std::string mounting;  ///< "upright, connection below"
    std::string span_low;  ///< in the unit of the certificate
    std::string span_high;
    std::string resolution; ///< in the unit of the certificate; empty: not stated
    bool dial = false;      ///< read by a person, resolution estimated between divisions
    metrology::PressureKind counted_from = metrology::PressureKind::gauge;
    std::string reference_mark;   ///< what the pressure is stated at: the instrument's own mark or connection, in words
    std::string above_balance_mm; ///< the instrument's level above the balance's level mark (negative: below), in mm
    std::string balance_level_mark;
};

/// The unit of the certificate: the instrument's own.
struct Unit {
    std::string symbol;       ///< "bar"
    double pascals = 1;       ///< of one such unit, exact or as NIST SP 811 rounds it
    std::string pascals_text; ///< the same as printed: "100000"
};

/// One reading that counts, or one that is shown and does not.
struct Row {
    std::int64_t mark = 0;
    std::int64_t utc_us = 0;
    std::string target;      ///< as the sequence words it: "40 bar"
    Figure reference;        ///< at the instrument's level
    Figure indication;       ///< mean of the window; of a dial after tapping
    Figure untapped;         ///< dials only
    Figure deviation;        ///< indication - reference; its uncertainty stands at its point (Summary)
    bool zero = false;       ///< taken with the line open to air
    std::string status;      ///< "sighted", "vented", "unbracketed": bench::word(MarkStatus)
    std::string accepted_by; ///< of an unbracketed one: the reviewer who accepted it
    std::string accepted_because;
    std::vector<std::string> flags; ///< "approached from above"
};

/// The rows of one way up or down within one range.
struct Table {
    std::string range; ///< of the balance: "low", "high"; empty: the line open to air
    bench::Direction direction = bench::Direction::rising;
    int series = 1;
    std::vector<Row> rows;
};

/// How infinitely many degrees of freedom are written.
inline constexpr const char* infinite_dof = "infinite";

/// What the verdict at one point and in one direction rests on (metrology/evaluation/conformity_basis.hpp), so rounded
/// that the decision rule comes to the same verdict from these figures alone.
struct Basis {
    Figure deviation;
    Figure expanded; ///< U; empty: no uncertainty is known
    Figure k;        ///< for 95.45 %, Student's t
    Figure dof;      ///< effective degrees of freedom, or `infinite_dof`
    Figure permissible;
    Figure acceptance; ///< largest deviation that the rule accepts; not over zero: none
    Figure outside;    ///< probability that the deviation is in truth beyond the permissible error, in per cent
    bool at_capability = false;        ///< U is the stated capability, which is larger than what was worked out
    std::vector<std::string> contains; ///< what was combined into U
    std::optional<metrology::Verdict> verdict;
};

/// What the evaluation says at one point.
struct Summary {
    std::string target;
    metrology::Sentence shown_as; ///< the target on paper; empty: as it stands
    Figure reference;
    std::optional<Basis> rising;  ///< nothing where that direction was not taken
    std::optional<Basis> falling; ///< likewise
    std::optional<Basis> mean;    ///< of both, with the hysteresis in its U; it decides nothing
    Figure hysteresis;
    Figure repeatability;
    Figure reproducibility;
    Figure error_span;                         ///< |mean deviation| + U of the mean, added linearly
    std::optional<metrology::Verdict> verdict; ///< the worse of both directions
};

/// The bases of a point with their names, in the order in which documents show them: "rising", "falling" and, of both,
/// "mean".
std::vector<std::pair<const char*, const Basis*>> bases_of(const Summary& at);

/// One nominal pressure realised in both ranges.
struct Overlap {
    std::string target;
    bench::Direction direction = bench::Direction::rising;
    int series = 1;
    Figure deviation_low;
    Figure deviation_high;
    Figure expanded; ///< U of their difference
    double k = 2;    ///< for 95.45 %, Student's t
    Figure en;       ///< |difference|/U
    bench::OverlapFinding finding = bench::OverlapFinding::agree;
};

/// Something that was looked at before the run.
struct CheckDone {
    std::string check; ///< "leak"
    metrology::Sentence words;
    bool passed = false;
    std::string waived_because;
    std::string waived_by;
};

/// The results of one run: the instrument as found, or as left.
struct Results {
    std::string run;
    std::string condition; ///< "as found", "as left", "after adjustment"
    std::int64_t begin_utc_us = 0;
    std::int64_t end_utc_us = 0;
    std::string sequence;       ///< title
    std::string method;         ///< a standard's own name for the sequence; empty: the laboratory's own
    std::string method_edition; ///< who compared it with which edition; empty: nobody
    bool not_compared = false;  ///< the laboratory has not compared the method's data with the edition
    std::vector<metrology::Sentence> departures;
    int preloads = 0;
    double wait_s = 0;
    std::string window_s; ///< how long each reading was averaged; empty for a dial
    bool hold_shortened = false;
    std::vector<Table> tables;
    std::vector<Summary> points;
    std::vector<Overlap> overlaps;
    std::vector<CheckDone> checks;
    Figure zero_deviation;
    Figure largest_hysteresis;
    Figure largest_repeatability;
    Figure largest_deviation;
    metrology::Sentence specification;               ///< the permissible error in words; empty: none
    std::optional<metrology::DecisionRule> decision; ///< behind the verdicts; a process in the unit of the certificate
    std::string decision_words;                      ///< the same in words, English
    std::optional<metrology::Verdict> verdict;
    metrology::Sentence verdict_covers;
    std::vector<metrology::Sentence> unsaid;   ///< "what: why" of what is printed
    std::vector<metrology::Sentence> findings; ///< rules of the method that were not met
    /// Readings on record that do not count: "mark 12, 40 bar rising: void: wrong disc".
    std::vector<metrology::Sentence> left_out;
};

/// Surroundings over the time of the results: from the least to the greatest that was stated, with U (k = 2).
struct SurroundingsSpan {
    std::string what; ///< "air temperature", "air pressure", "humidity", "piston temperature"
    std::string unit; ///< "degC", "hPa", "%"
    Figure least;
    Figure greatest;
    Figure expanded;
    bool stated = true; ///< false: nobody stated it; the bench file's usual value was taken
};

/// Somebody whose name stands under the certificate.
struct Signatory {
    std::string role; ///< "operator", "reviewer"
    std::string name;
    bool logged_in = false; ///< true: the service checked a password; false: the name is as it was stated
    std::int64_t utc_us = 0;
};

/// A finding in spite of which a reviewer let the certificate be signed, or a person went on at the bench.
struct Overridden {
    bench::Gate gate;
    std::string because;
    std::string by;
    std::int64_t utc_us = 0;
    bool at_bench = false; ///< said by who worked there; what a reviewer has to say of it is a finding of its own
};

/// What ties a document to its evidence.
struct Proof {
    std::uint64_t journal_number = 0; ///< everything up to this number ...
    std::string journal_digest;       ///< ... has this digest in the journal's chain, hexadecimal
    std::string bench_revision;
    std::string build;
    std::string key_fingerprint; ///< of the laboratory's key; empty: the document is not signed
    std::string xml_sha256; ///< of the digital certificate, hexadecimal; printed, empty within the digital one itself
    std::string code_signature; ///< base64, of what the code for cameras says before it (print/qr.hpp)
};

enum class Language : std::uint8_t { english, german };
/// "en", "de": ISO 639-1.
const char* code(Language language);
std::optional<Language> language_of(const std::string& code);

struct Certificate {
    std::string number;
    int edition = 1; ///< of the draft; 1 unless it was drafted again
    Language language = Language::english;
    bool draft = true;              ///< until a reviewer has signed: then `reviewer` is among the signatories
    std::int64_t issued_utc_us = 0; ///< when it was drafted, or signed
    std::string replaces;           ///< the number of the certificate that this one amends; empty: none
    std::string amended_because;

    Party laboratory;
    std::string time_zone;     ///< IANA name of where paper's times are local; empty: UTC
    std::string accreditation; ///< words; empty: none is claimed
    std::string logo;          ///< path of a PNG; empty: none
    Party customer;
    std::string order;
    std::string received;  ///< a date
    std::string place;     ///< of the work, where it is not the laboratory's
    std::string procedure; ///< the laboratory's own, by its name
    std::string remark;

    Item item;
    Unit unit;
    std::string balance;             ///< name and serial number
    std::vector<std::string> ranges; ///< of the balance, by name, low first
    std::string fluid;               ///< of the balance
    std::vector<StandardUsed> standards;
    std::vector<SurroundingsSpan> surroundings;
    std::vector<Results> results; ///< as found first
    std::vector<Signatory> signatories;
    std::vector<bench::Gate> lacking; ///< why the draft cannot be signed yet
    std::vector<Overridden> overridden;
    Proof proof;
};

} // namespace stillmark::records
