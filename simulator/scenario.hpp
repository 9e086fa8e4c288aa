#pragma once

#include "simulator/fault.hpp"
#include "simulator/force_balance.hpp"
#include "simulator/gauge.hpp"
#include "simulator/hydraulics.hpp"
#include "simulator/profile.hpp"
#include "simulator/truth.hpp"

#include <optional>
#include <string>
#include <vector>

namespace stillmark::simulator {

/// A serial line or a listening socket, as the bench file states it.
struct BusEntry {
    std::string name;
    std::string kind;   ///< modbus_rtu, modbus_tcp, text_serial, text_tcp
    std::string device; ///< absolute, where the pseudo-terminal's link will stand
    int baud = 0;
    int bits_per_character = 11;
    std::string host;
    int port = 0;
    bool serial() const { return kind == "modbus_rtu" || kind == "text_serial"; }
    bool modbus() const { return kind == "modbus_rtu" || kind == "modbus_tcp"; }
};

struct InstrumentEntry {
    std::string name;
    std::string bus; ///< empty: a person reads it
    int server = 1;
    double level_m = 0; ///< true height above the balance's level mark
    Counting counting;
    Profile profile;
    GaugeCharacter character;
    double turn_round_s = 0; ///< between the end of a request and the first bit of the answer
    std::string reply;       ///< of text: what comes before and after {value}
    int decimals = 2;
    double talks_every_s = 0.1; ///< of an instrument that talks by itself
};

/// What the operator gets wrong, each once.
struct OperatorMistake {
    std::string what; ///< "confirms too early", "forgets a disc", "takes a wrong disc", "leaves the valves",
                      ///< "lets it sink", "overshoots"
    int point = 0;    ///< from 1, as frames name them
    std::string direction;
    double notices_after_s = 3; ///< in operator's time
    double size = 0;            ///< of an overshoot: part of the target
};

/// What must be in the results of a run with mistakes.
struct Expectation {
    int point = 0;
    std::string direction;
    std::string status; ///< "void": at least one mark with this status
    std::string flag;   ///< or this flag
};

struct OperatorPlan {
    bool works = false; ///< false: wires and log only, nobody at the bench
    std::string sequence;
    std::string condition = "as found";
    // delays in operator's time; the time factor divides them
    double instruction_s = 8; ///< to read an instruction and do it
    double first_disc_s = 3;  ///< to begin with discs
    double each_disc_s = 1.2;
    double look_s = 2;      ///< to look and press a key
    double dial_s = 5;      ///< to read a dial, tap, and read again
    double patience_s = 40; ///< in wall time: how long nothing may happen before giving up
    std::vector<OperatorMistake> mistakes;
};

/// What a person knows from the bench file of the checks before a run.
struct BenchChecks {
    double warm_up_s = 0;
    double purge_to_pa = 0;
    double leak_at_pa = 0;
    double leak_s = 0;                       ///< to settle and to be watched, together
    std::vector<std::string> shut_off_words; ///< the valves that shut the line off from the pistons
};

struct Scenario {
    std::string bench_path;
    std::string bench_name;
    std::uint64_t seed = 1;
    double time_factor = 1;
    double powered_s = 0; ///< how long the instruments have been on at the start, in operator's time
    BenchChecks checks;
    OilCircuit oil;
    Truth truth;
    std::vector<BusEntry> buses;
    std::vector<InstrumentEntry> instruments;
    std::vector<Fault> faults;
    OperatorPlan plan;
    std::vector<Expectation> expectations;
    double settle_guard_s = 0; ///< as the bench file states it: nothing counts so soon after a confirmation
    /// What the operator states of the surroundings: texts as the bench file has them.
    nlohmann::json surroundings;
};

/// What the command line puts in the scenario's place.
struct ScenarioChanges {
    std::string bench;
    std::string profiles;
    std::optional<std::uint64_t> seed;
    std::optional<double> time_factor;
    std::vector<std::string> wrong_word_order; ///< names of instruments
    bool no_operator = false;
};

/// Reads a scenario and the bench that it names, and draws the truth. Throws Mistake.
Scenario read_scenario(const std::string& path, const ScenarioChanges& changes);

} // namespace stillmark::simulator
