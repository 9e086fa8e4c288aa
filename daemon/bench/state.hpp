#pragma once

#include "daemon/bench/bench_file.hpp"
#include "daemon/bench/event.hpp"
#include "daemon/bench/steps.hpp"

#include <cstdint>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

namespace stillmark::bench {

struct StatedLoad {
    std::size_t range = 0;
    std::vector<std::size_t> discs; ///< big below small
    Micros pressed_us = 0;
};

/// The line is open to air, as a person said.
struct VentedLine {
    Micros from_us = 0;
    std::string by;
};

enum class IntervalEnd : std::uint8_t { open, sighted, moved_on, expired, lost, unknown };
const char* word(IntervalEnd end);

/// The time between a confirmation and its loss or expiry.
struct FloatInterval {
    std::int64_t number = 0;
    std::size_t range = 0;
    std::string range_name; ///< outlives the bench file that the number belongs to
    std::vector<std::size_t> discs;
    Micros from_us = 0; ///< when the confirmation arrived: the later of its two instants, to be sure
    Micros to_us = 0;   ///< for a closing sighting and a loss when it was pressed: the earlier, to be sure
    Micros expires_us = 0;
    Micros confirmed_us = 0;    ///< when the confirmation was pressed
    Micros last_sighted_us = 0; ///< the confirmation, or the latest renewal
    IntervalEnd end = IntervalEnd::open;
    std::string by;
};

/// A zero is `vented`: it rests on the statement that the line is open, and needs no second sighting.
enum class MarkStatus : std::uint8_t { provisional, sighted, unbracketed, voided, vented };
const char* word(MarkStatus status);

struct Mark {
    MarkTaken taken;
    MarkStatus status = MarkStatus::provisional;
    std::string why;              ///< of a void
    Micros utc_us = 0;            ///< UTC when it was taken
    std::string accepted_by = {}; ///< the reviewer who lets it count though it is unbracketed; empty: nobody
    std::string accepted_because = {};
    metrology::Sentence void_because = {}; ///< where the service made it void: `why` as data
    bool counts() const {
        return status == MarkStatus::sighted || status == MarkStatus::vented ||
               (status == MarkStatus::unbracketed && !accepted_by.empty());
    }
};

struct ChannelState {
    acquisition::Stillness stillness = acquisition::Stillness::silent;
    Micros since_us = 0;
    Micros window_not_before_us = 0; ///< after a failed window: not the same readings again
    std::optional<double> beyond_pa; ///< a reading beyond the point in the direction of the series, until it came back
    bool above_rating = false;
    std::optional<ReadingEntered> entered;
};

/// Surroundings as they were stated for a run.
struct StatedAir {
    double air_temperature_c = 0;
    double air_pressure_pa = 0;
    double humidity = 0;
    double piston_temperature_c = 0;
    bool by_person = false; ///< false: the bench file's usual ones
};

/// A check of a run with its result, and why somebody went on all the same where it failed.
struct CheckResult {
    CheckRecorded recorded;
    Micros at_us = 0;
    std::string waived_because; ///< empty: nobody did
    std::string waived_by;
};

enum class RunEnd : std::uint8_t { running, finished, stopped };
const char* word(RunEnd end);

struct Run {
    std::string id;
    std::shared_ptr<const BenchFile> bench; ///< the revision that the run began with
    std::size_t sequence = 0;
    std::string condition;
    std::string by;
    std::vector<bool> takes_part; ///< by channel
    Plan plan;
    std::size_t step = 0;
    Micros step_since_us = 0;
    Micros started_us = 0;
    Micros ended_us = 0;
    Micros started_utc_us = 0;
    Micros ended_utc_us = 0;
    RunEnd end = RunEnd::running;
    std::string reason;
    bool stopped_by_service = false; ///< because the bench file was changed
    std::int64_t approach_from = 0;  ///< number of the first event of this approach to a point
    std::int64_t load_from = 0;      ///< number at which the load step of this approach began; 0: it has none
    /// When the pressure of the present point was reached: its first confirmed float. An expiry does not end it, a loss
    /// does. A wait counts from here.
    std::optional<Micros> reached_us;
    std::optional<double> air_at_start_c;
    std::optional<double> ambient_at_start_pa; ///< by the first reading of the barometer that counts for it
    std::vector<StatedAir> air;                ///< in force at its start, and stated since
    std::set<std::string> hands;               ///< everybody who pressed anything for it
    std::vector<CheckResult> checks;           ///< in order; of one step the latest counts
    std::string override_health;               ///< why it was started on a range in poor health; empty: none was
    std::vector<std::size_t> poor_at_start;    ///< the entries of State::health that were overridden so
    std::optional<Micros> check_from_us;       ///< since when the readings of the present check are watched

    /// Whether this channel owes a mark at this visit: a pointer on its stop shows no zero.
    bool owes_mark(std::size_t channel, std::size_t visit) const {
        return channel < takes_part.size() && takes_part[channel] &&
               !(plan.visits[visit].vented && bench->instruments[channel].pointer_stop);
    }
    const Step* now() const { return end == RunEnd::running && step < plan.steps.size() ? &plan.steps[step] : nullptr; }
};

/// Surroundings as last stated, with the uncertainties that the bench file gives to such statements.
struct Conditions {
    metrology::Surroundings air;
    metrology::Uncertain piston_temperature_c;
    Micros stated_us = 0;
    bool stated = false;
    bool by_person = false; ///< false: the bench file's usual ones
    /// When the barometer was read last. The bench file's usual pressure is no reading of it.
    std::optional<Micros> pressure_read_us;
};

/// A press that stood against the readings, with the reason.
struct Overruling {
    ReadingsOverruled fact;
    Micros at_us = 0;
    Micros utc_us = 0;
    std::optional<std::size_t> visit; ///< of its step
    std::int64_t interval = 0;        ///< of a confirmation or a sighting; 0: it states no float
};

/// What one press can take back.
struct UndoPoint {
    std::string what;
    Micros at_us = 0;
    std::optional<StatedLoad> load;
    std::optional<VentedLine> vented;
    std::vector<FloatInterval> intervals;
    std::vector<Mark> marks;
    std::vector<Overruling> overruled;
    std::optional<Run> run;
};

/// Advice from readings that contradict a stated load or a float; it changes no mark.
struct Suspicion {
    bool of_load = false; ///< else of the float
    std::string run;
    std::optional<std::size_t> visit;
    std::int64_t interval = 0;
    Micros at_us = 0;
    double offset_pa = 0;      ///< of a load
    double drift_pa_per_s = 0; ///< of a float
    std::string words;
    std::vector<std::string> ranked; ///< explanations or reasons, the best first
};

/// A certificate on record: a draft until it is signed.
struct RecordedCertificate {
    CertificateDrafted draft; ///< the latest edition
    std::optional<CertificateSigned> signature;
};

/// Everything that is known of the bench, as a fold over the journalled events. Readings live elsewhere.
struct State {
    std::shared_ptr<const BenchFile> bench;
    std::vector<ChannelState> channels;
    std::optional<StatedLoad> load;
    std::optional<VentedLine> vented; ///< only at the steps of a zero
    std::vector<FloatInterval> intervals;
    std::vector<Mark> marks;
    std::vector<Run> runs;
    Conditions conditions;
    std::optional<UndoPoint> undo;
    bool loss_suspected = false;
    std::vector<Suspicion> suspicions;
    std::vector<Overruling> overruled;          ///< in order
    std::vector<HealthStated> health;           ///< in order; outlives bench files, by the ranges' names
    std::vector<ParticularsStated> particulars; ///< in order; of one thing the latest counts
    std::vector<ExpiryAllowed> allowed;
    std::vector<GateOverridden> overridden;
    std::vector<RecordedCertificate> certificates;
    bool was_away = false; ///< the service was restarted with a float open; a person has to look again
    std::string boot_id;
    std::size_t intervals_of_former_boots = 0; ///< their instants cannot be compared with those of this one
    Micros utc_offset_us = 0;                  ///< UTC less CLOCK_BOOTTIME

    FloatInterval* open_interval();
    const FloatInterval* open_interval() const;
    Run* running();
    const Run* running() const;
    /// Marks of the current visit that stand: provisional, sighted or vented.
    const Mark* standing_mark(std::size_t channel, std::size_t visit) const;
};

/// Something that people must be told once the event is on disk.
struct Tell {
    bool alarm = false;
    std::string words;
};

/// Folds one event into the state; what must be told comes back. Total: an event that does not fit changes nothing.
std::vector<Tell> apply(State& state, const Event& event);

} // namespace stillmark::bench
