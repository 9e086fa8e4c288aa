#pragma once

#include "daemon/acquisition/stillness.hpp"
#include "daemon/bench/capability.hpp"
#include "daemon/bench/standards.hpp"
#include "daemon/metrology/balance.hpp"
#include "daemon/metrology/evaluation/conformity.hpp"
#include "daemon/metrology/evaluation/method.hpp"
#include "daemon/metrology/evaluation/permissible_error.hpp"
#include "drivers/profile.hpp"
#include "protocols/modbus_link.hpp"

#include <cstddef>
#include <functional>
#include <limits>
#include <map>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace stillmark::bench {

/// One range of the balance as the bench file states it: the physics, and what a person must know to work it.
struct BalanceRange {
    metrology::Range physics;
    double lowest_pa = 0;
    double highest_pa = 0;
    double float_band_m = 0;
    double fall_rate_m_per_s = 0;      ///< at `highest_pa`; it falls with the pressure (flow through the gap)
    double spin_time_s = 0;            ///< how long the piston turns freely by itself
    std::optional<double> max_float_s; ///< where the laboratory wants less than the physics allows
    std::vector<std::string> valves;   ///< the laboratory's own words for turning to this range
};

struct Balance {
    std::string name;
    std::string serial;
    std::string level_mark;
    metrology::DualRange kind = metrology::DualRange::single;
    metrology::Liquid liquid;
    std::optional<metrology::Gas> gas; ///< in place of the liquid
    metrology::PressureKind mode =
        metrology::PressureKind::gauge;        ///< or absolute: the masses hang in an evacuated bell
    metrology::Uncertain residual_pressure_pa; ///< in the bell
    std::vector<BalanceRange> ranges;          ///< low first
    double stop_piston_mass_kg = 0;            ///< of the wide piston that the stop holds in the high range
    double settle_guard_s = 2;                 ///< after a confirmation nothing counts yet
    double loss_guard_s = 5;                   ///< a mark that ended less than this before a loss is void
};

struct Disc {
    metrology::MassPiece piece;
    bool two_hands = false;
    std::vector<std::size_t> ranges; ///< of the balance that it may be used in; empty: in all
};

/// A part of the rig that limits the pressure.
struct RatedPart {
    std::string part;
    double rating_pa = 0;
};

struct ModbusRtuBus {
    protocols::SerialSettings line;
};
struct ModbusTcpBus {
    protocols::TcpSettings to;
};
struct TextSerialBus {
    protocols::SerialSettings line;
};
struct TextTcpBus {
    protocols::TcpSettings to;
};
struct Bus {
    std::string name;
    std::variant<ModbusRtuBus, ModbusTcpBus, TextSerialBus, TextTcpBus> wire;
};

struct Instrument {
    std::string name;
    std::string serial;
    std::string maker;
    std::string asset;          ///< the customer's own mark on it
    std::string mounting;       ///< "upright, connection below"
    std::string reference_mark; ///< what its pressure is stated at, in words
    std::string profile_file;
    drivers::Profile profile;
    drivers::PressureUnit unit;     ///< of results: the profile's, or of an electrical output that of the span
    std::optional<std::size_t> bus; ///< none: read by a person
    int server = 1;
    double span_low_pa = 0;
    double span_high_pa = 0;
    double rating_pa = 0;
    std::optional<metrology::PermissibleError> permissible;
    std::optional<metrology::DecisionRule> decision;
    bool pointer_stop = false; ///< of a dial: no zero can be read
    double mpe_pa = 0;         ///< single figure of the permissible error, for stillness and approach; 0: none
    std::vector<metrology::HeadSegment> head;
    metrology::PressureKind counted_from = metrology::PressureKind::gauge; ///< what its readings are counted from
    metrology::Uncertain sealed_reference_pa;                              ///< absolute; of a sealed one
    double poll_s = 0;
    double latency_s = 0;
    double response_time_s = 0;
    double resolution_pa = 0;
    acquisition::StillnessLimits limits;
    bool manual() const { return !bus.has_value(); }
};

/// What the surroundings are until somebody states them, with their uncertainties, and what they may be.
struct StatedSurroundings {
    metrology::Surroundings air;
    metrology::Uncertain piston_temperature_c;
    double valid_s = 0;
    double lowest_c = 18; ///< DKD-R 6-1: 18 to 28 degC, stable to 1 K
    double highest_c = 28;
    double drift_k = 1;
    /// Of the ambient pressure, which absolute and sealed results rest on: how long a reading of the barometer counts,
    /// and how far it may have changed since the run began. The barometer's level stands in `air`.
    double air_pressure_valid_s = 0;
    double air_pressure_drift_pa = std::numeric_limits<double>::infinity();
};

struct SequencePoint {
    double target_pa = 0;
    std::string target; ///< as the file words it: "40 bar"
    std::size_t range = 0;
    std::vector<std::size_t> discs; ///< big below small
    bool overlap = false;
    bool zero = false; ///< no pressure: the line is vented, no piston floats and no disc is needed
};

enum class Direction : std::uint8_t { rising, falling, preload };
const char* word(Direction direction);

/// One series of a sequence: a way up or down, over all points or some of them.
struct SequenceSeries {
    Direction direction = Direction::rising;
    metrology::SeriesRole role = metrology::SeriesRole::cycle;
    bool reclamp_before = false;     ///< the instruments are clamped anew before it
    std::vector<std::size_t> points; ///< rising
};

struct Sequence {
    std::string name;
    std::string title;
    std::string method; ///< a standard's own name for the sequence (metrology::methods); empty: the laboratory's own
    std::string method_confirmed;                ///< who compared the method's data with which edition
    std::vector<metrology::Sentence> departures; ///< what the method asks and this sequence does otherwise
    std::vector<SequencePoint> points;           ///< rising
    std::vector<SequenceSeries> series;
    int preloads = 0;
    double preload_hold_s = 0;
    double wait_s = 0;
    double wait_at_top_s = 0;
    double wait_at_top_dial_s = 0; ///< for instruments that a person reads, where it is longer
};

/// What is looked at before the preloads of every run, with its limits. Only what the bench file states is asked for.
struct Checks {
    std::optional<double> warm_up_s; ///< every instrument has been powered for at least so long
    std::optional<double> level_rad; ///< what the balance's level may show at most
    /// A soft line means air: turns of the press from the first resistance to a pressure, at most.
    struct Purge {
        double to_pa = 0;
        std::string to; ///< as the file words it
        double most_turns = 0;
        std::vector<std::string> valves; ///< the laboratory's own words for shutting the balance off: a piston that
                                         ///< rises takes turns too
    };
    std::optional<Purge> purge;
    /// With the line shut and the press at rest the pressure may fall by so much within a time.
    struct Leak {
        double at_pa = 0;
        std::string at;                  ///< as the file words it
        double settle_s = 0;             ///< after the winding: oil that was pressed cools down
        double watch_s = 0;              ///< the readings of this time count
        double drop_pa = 0;              ///< at most, within `watch_s`
        std::size_t channel = 0;         ///< whose readings tell it
        std::vector<std::string> valves; ///< the laboratory's own words for shutting the line
    };
    std::optional<Leak> leak;
    /// What instruments show with the line open to air, less what their head lets expect.
    struct Zero {
        std::optional<double> limit_pa; ///< none: each instrument's permissible error
    };
    std::optional<Zero> zero;
};

/// Loads that were planned for the points of sequences, by sequence and point: ids of discs.
using LoadsBySequence = std::map<std::string, std::vector<std::vector<std::string>>>;

/// The whole bench as its file states it, in SI.
struct BenchFile {
    std::string path;
    std::string revision; ///< digest of the text of the file and of the profiles that it names
    std::string text;
    std::map<std::string, std::string> profile_texts;
    LoadsBySequence planned_loads; ///< of sequences whose points state no discs
    std::string name;
    std::string laboratory;
    std::string time_zone; ///< of the site, an IANA name; empty: paper shows UTC
    metrology::Site site;
    Balance balance;
    std::vector<Disc> discs;
    std::vector<RatedPart> rig;
    StatedSurroundings surroundings;
    std::vector<Bus> buses;
    std::vector<Instrument> instruments;
    std::vector<Sequence> sequences;
    Checks checks;
    std::vector<CapabilityRange> capability; ///< empty: the laboratory states none
    std::vector<StandardCertificate> standards;
    RecordSettings records;

    /// The weakest part: no pressure may go above its rating.
    const RatedPart& weakest() const { return rig.front(); }
};

/// What only the machine knows that a bench file is read on; where a function is absent, that is not checked: a
/// journalled bench is taken as it was.
struct MachineChecks {
    std::function<bool(const std::string& name)> is_time_zone;
};

/// Reads a bench file (JSON, comments allowed). A profile's file name is looked up beside the bench file, then in
/// `profile_folder`. Messages name the place, what was found, and what would do.
drivers::FileResult<BenchFile> load_bench(const std::string& path, const std::string& profile_folder,
                                          const MachineChecks& machine = {});

/// The bench as it was when its texts were journalled, for replay. `planned` are the loads that were planned then:
/// another build might plan otherwise. Where none are given, sequences without discs are planned now.
drivers::FileResult<BenchFile> bench_from_texts(const std::string& path, const std::string& text,
                                                const std::map<std::string, std::string>& profile_texts,
                                                const LoadsBySequence& planned = {}, const MachineChecks& machine = {});

/// The inputs of the reference pressure for a load on this bench, as seen by one instrument.
struct ReferenceConditions {
    metrology::Surroundings air;
    metrology::Uncertain piston_temperature_c;
};

} // namespace stillmark::bench
