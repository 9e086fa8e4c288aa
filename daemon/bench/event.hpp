#pragma once

#include "daemon/acquisition/stillness.hpp"
#include "protocols/instant.hpp"

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace stillmark::bench {

// Each event is a fact in the past tense. Its place in the one order and its instant stand in the Event around it.
// Names and keys are written into journals: an old one is never given a new meaning.

struct ServiceStarted {
    std::string boot_id;
    Micros utc_us = 0; ///< UTC at the event's own instant
    std::string build;
    std::string compiler;
    std::string libm;
    std::string processor;
};
struct ServiceStopped {
    std::string why;
};
/// The wall clock against the steady one, again: it stepped, or a day has passed.
struct ClockAnchored {
    Micros utc_us = 0;
};
/// The bench as its files say it, whole, so that the journal explains itself.
struct BenchTaken {
    std::string path;
    std::string revision;
    std::string text;
    std::map<std::string, std::string> profiles;
    /// Loads planned for sequences whose points state no discs, by sequence and point.
    std::map<std::string, std::vector<std::vector<std::string>>> loads;
};
/// The journal could not take readings for a while.
struct ReadingsRefused {
    std::int64_t waiting = 0;
};
struct SurroundingsStated {
    std::optional<double> air_temperature_c;
    std::optional<double> air_pressure_pa;
    std::optional<double> humidity;
    std::optional<double> piston_temperature_c;
    std::string by;
};

/// What a person found of the balance's health. `sign` is "fall rate" (m/s), "spin time" (s) or "smallest disc" (kg).
struct HealthStated {
    std::string range;
    std::string sign;
    double value = 0;
    double pressure_pa = 0; ///< at which it was found; 0: not stated
    std::string by;
    Micros pressed_us = 0;
    Micros utc_us = 0; ///< history outlives a boot
};

struct RunStarted {
    std::string run;
    std::string sequence;
    std::string condition;
    std::vector<std::string> instruments;
    std::string by;
    /// Why it was started on a range in poor health; nothing where none is, and in journals of older builds.
    std::optional<std::string> override_health = {};
};
/// Who stops a run that the bench file no longer fits.
inline constexpr const char* by_service = "service";
struct RunStopped {
    std::string run;
    std::string reason;
    std::string by;
};
struct RunFinished {
    std::string run;
};
struct StepDone {
    std::int64_t step = 0;
    std::string by;
};
struct WaitElapsed {
    std::int64_t step = 0;
};

/// A visit to a point is done again, because the instruments have not passed it yet.
struct VisitReopened {
    std::int64_t visit = 0;
    std::string by;
};

/// A check that readings tell was begun: the line is as its step asks, and nobody touches the press.
struct CheckBegun {
    std::int64_t step = 0;
    std::string by;
    Micros pressed_us = 0;
};
/// A check before a run with its limit and its result. It may be done again; the latest result of its step counts.
struct CheckRecorded {
    std::string run;
    std::int64_t step = 0;
    std::string check;   ///< "warm-up", "level", "purge", "leak", "zero", "preload"
    std::string channel; ///< empty where the check is of the whole bench
    std::optional<double> value;
    std::optional<double> limit;
    std::string unit; ///< of both: "s", "rad", "turns" or "Pa"
    bool passed = false;
    std::string words;
    std::int64_t first = 0; ///< number of the first reading that it rests on; 0: a person said it
    std::int64_t last = 0;
    std::string by;
};
/// Somebody goes on after a check that failed.
struct CheckWaived {
    std::string run;
    std::int64_t step = 0;
    std::string check;
    std::string reason;
    std::string by;
};

struct LoadStated {
    std::string range;
    std::vector<std::string> discs;
    std::string by;
    Micros pressed_us = 0;
};
/// The line is open to air at the balance's level: the instruments see no pressure but their head.
struct LineVented {
    std::string by;
    Micros pressed_us = 0;
};
struct FloatConfirmed {
    std::string range;
    std::string by;
    Micros pressed_us = 0;
};
struct FloatSighted {
    bool close = true;
    std::string by;
    Micros pressed_us = 0;
};
struct FloatLost {
    std::string by;
    Micros pressed_us = 0;
};
struct FloatExpired {
    std::int64_t interval = 0;
};
/// The service was not there to see whether the piston went on floating.
struct FloatUnknown {
    std::int64_t interval = 0;
};
/// What a press states, as it is written in ReadingsOverruled.
inline constexpr const char* press_step_done = "step_done";
inline constexpr const char* press_vented = "vented";
inline constexpr const char* press_check = "check";
inline constexpr const char* press_confirm = "confirm";
inline constexpr const char* press_sighted = "sighted";
inline constexpr const char* press_enter = "enter";
/// A press stood although the readings contradict it, and why (bench/contradiction.hpp). It follows the facts of the
/// press. One entry of each list for each instrument that contradicts.
struct ReadingsOverruled {
    std::string run;        ///< empty: none was going on
    std::int64_t step = -1; ///< at which it was pressed; -1: none
    std::string press;
    std::string words; ///< what the instruments said
    std::vector<std::string> channels;
    std::vector<double> shows_pa;
    std::vector<double> expected_pa;
    std::vector<double> far_pa;
    std::string reason;
    std::string by;
};
struct PressUndone {
    std::string by;
};

struct StillnessChanged {
    std::int64_t channel = 0;
    acquisition::Stillness to = acquisition::Stillness::moving;
    std::int64_t reading = 0; ///< number of the reading that changed it; 0: time alone
};
struct WindowFailed {
    std::int64_t channel = 0;
    std::int64_t first = 0;
    std::int64_t last = 0;
    std::string why;
};
struct ReadingEntered {
    std::int64_t channel = 0;
    double untapped_pa = 0;
    double tapped_pa = 0;
    std::string by;
    Micros started_us = 0; ///< when the person began to read
    Micros pressed_us = 0; ///< when the entry was complete
};
struct OvershootSeen {
    std::int64_t channel = 0;
    std::int64_t reading = 0;
    double value_pa = 0;
    double limit_pa = 0;
};
struct RatingExceeded {
    std::int64_t channel = 0;
    std::int64_t reading = 0;
    double value_pa = 0;
};
struct RatingRestored {
    std::int64_t channel = 0;
};
/// All channels drift together at constant load: perhaps the piston no longer floats. Advice only.
struct LossSuspected {
    std::int64_t interval = 0;
    std::optional<double> drift_pa_per_s;            ///< of the readings together; journals of older builds lack it
    std::optional<std::vector<std::string>> reasons; ///< in words, the likely first
};
/// All channels are off by about the same pressure: perhaps the load is another than was stated. Advice only.
struct WrongLoadSuspected {
    std::int64_t interval = 0;
    double offset_pa = 0; ///< readings less what the stated load makes and the instruments are expected to be off
    double u_pa = 0;
    std::int64_t channels = 0;             ///< how many agree
    std::vector<std::string> explanations; ///< in words, the best first
};

/// The accepted result at one point for one channel, with every number that it rests on.
struct MarkTaken {
    std::int64_t mark = 0;
    std::string run;
    std::int64_t channel = 0;
    std::int64_t visit = 0;    ///< which visit to a point within the run, from 0
    std::int64_t interval = 0; ///< the float interval around it
    std::int64_t first = 0;    ///< number of the first reading of the window; 0 for an entered one
    std::int64_t last = 0;
    Micros from_us = 0;
    Micros to_us = 0;
    Micros timing_us = 0; ///< largest timing uncertainty in the window
    std::int64_t count = 0;
    double mean_pa = 0;
    double slope_pa_per_s = 0;
    double scatter_pa = 0;
    double effective_count = 0;
    double u_mean_pa = 0;
    double u_mean_dof = 0;
    double resolution_pa = 0;
    double untapped_pa = 0; ///< entered readings only
    double tapped_pa = 0;
    double reference_pa = 0; ///< at the instrument's level
    double at_balance_pa = 0;
    double u_reference_pa = 0;
    double u_reference_dof = 0;
    double u_pa = 0; ///< standard uncertainty of the deviation
    double u_dof = 0;
    double deviation_pa = 0;
    std::int64_t approach_from = 0; ///< readings from this number on tell how the pressure was reached
    double approach_pa = 0;         ///< the farthest reading beyond, in the direction of the series
    std::vector<std::string> flags;
    std::optional<bool> vented; ///< true: a zero, taken with the line open to air; no float is behind it
};
struct MarkVoided {
    std::int64_t mark = 0;
    std::string reason;
    std::string by;
};

/// What a certificate says of a run beyond its readings. What is absent stays as it was.
struct ParticularsStated {
    std::string run;
    std::string instrument; ///< empty: of all of the run
    std::optional<std::string> customer;
    std::optional<std::vector<std::string>> customer_address;
    std::optional<std::string> customer_country;
    std::optional<std::string> customer_email;
    std::optional<std::string> order;
    std::optional<std::string> received;  ///< a date
    std::optional<std::string> place;     ///< of the work, where it is not the laboratory
    std::optional<std::string> condition; ///< of the instrument as it came
    std::optional<std::string> mounting;
    std::optional<std::string> remark;
    std::optional<std::string> worked_by; ///< who worked the balance, where presses carry no name
    std::string by;
};
/// A reviewer lets an unbracketed mark count.
struct MarkAccepted {
    std::int64_t mark = 0;
    std::string reason;
    std::string by;
    bool logged_in = false;
};
/// A standard whose certificate had expired may stand behind certificates of a run.
struct ExpiryAllowed {
    std::string run;
    std::string certificate; ///< of the standard
    std::string reason;
    std::string by;
    bool logged_in = false;
};
/// A reviewer lets a certificate be signed in spite of one finding (bench/gates.hpp).
struct GateOverridden {
    std::string run; ///< empty: a finding about the laboratory
    std::string instrument;
    std::string code;
    std::string subject;
    std::string reason;
    std::string by;
    bool logged_in = false;
    Micros utc_us = 0;
};
struct CertificateDrafted {
    std::string certificate; ///< its number
    std::int64_t edition = 1;
    std::vector<std::string> runs; ///< as found first
    std::string instrument;
    std::string language;
    std::string replaces; ///< number of the certificate that it amends; empty: none
    std::string amended_because;
    std::string content_sha256; ///< of what it says, without signatures and proof
    std::string by;
    bool logged_in = false; ///< the service checked a password
    Micros utc_us = 0;
};
struct CertificateSigned {
    std::string certificate;
    std::int64_t edition = 1;
    std::string by;
    bool logged_in = false;
    Micros utc_us = 0;
    std::string pdf_sha256;
    std::string xml_sha256;
    std::int64_t journal_number = 0; ///< the outside anchor that is printed in it: number ...
    std::string journal_digest;      ///< ... and digest of the journal's chain
    std::string key;                 ///< fingerprint of the key that signed the documents
};

using Fact = std::variant<ServiceStarted, ServiceStopped, ClockAnchored, BenchTaken, ReadingsRefused,
                          SurroundingsStated, RunStarted, RunStopped, RunFinished, StepDone, WaitElapsed, VisitReopened,
                          LoadStated, FloatConfirmed, FloatSighted, FloatLost, FloatExpired, FloatUnknown, PressUndone,
                          StillnessChanged, WindowFailed, ReadingEntered, OvershootSeen, RatingExceeded, RatingRestored,
                          LossSuspected, WrongLoadSuspected, HealthStated, MarkTaken, MarkVoided, LineVented,
                          CheckBegun, CheckRecorded, CheckWaived, ParticularsStated, MarkAccepted, ExpiryAllowed,
                          CertificateDrafted, CertificateSigned, GateOverridden, ReadingsOverruled>;

/// A fact at its place in the one order.
struct Event {
    std::uint64_t number = 0;
    Micros at_us = 0;
    Fact fact;
};

/// The canonical text of a fact: JSON with sorted keys and shortest exact numbers.
std::string to_text(const Fact& fact);
/// Whether some fact is called so.
bool names_a_fact(std::string_view name);
/// The fact in a text, or nothing where the text is none of ours; `why` then says what was found.
std::optional<Fact> fact_from_text(const std::string& text, std::string& why);

} // namespace stillmark::bench
