#pragma once

#include "daemon/cli/checked_json.hpp"
#include "daemon/cli/line_socket.hpp"

#include <optional>
#include <string>
#include <vector>

namespace stillmark::cli {

/// What the service tells of its bench, read from one message. DEVELOPERS.md "The local socket" gives every key;
/// texts that do not apply are empty. Instants in microseconds of CLOCK_BOOTTIME.

struct RunState {
    std::string id, sequence, condition, state;
    std::optional<std::int64_t> step, steps;
};

/// A check before the run, as its step tells it.
struct Check {
    std::string name, by, unit, channel, limit, words;
    bool measuring = false, failed = false;
};

struct Step {
    std::int64_t number = 0; ///< as the service counts, from 0; people count from 1
    std::string kind, title, range, wants, waits_for;
    std::vector<std::string> say, caution, discs;
    std::optional<double> left_s;
    std::optional<Check> check;
};

struct Load {
    std::string range;
    std::vector<std::string> discs;
};

struct FloatState {
    std::string state = "none", range;
    std::optional<std::int64_t> since_us, expires_us;
};

struct Channel {
    std::string name, unit, shown, status, stillness, why, mark;
    std::optional<double> value, progress, expected_s;
    std::optional<std::int64_t> age_us;
    std::optional<std::int64_t> poll_us; ///< polling period, where the service tells it
    std::optional<double> division;      ///< of a dial, in its unit, where the service tells it
    std::int64_t parts = 10;             ///< a division is estimated to 1/parts
    bool manual = false;
    /// The latest reading without a value, also where the channel reads again.
    struct Fault {
        std::string kind, detail;
        std::optional<std::int64_t> at_us, count;
    };
    std::optional<Fault> fault;
};

/// One mark as a result gives it; SI.
struct Mark {
    std::string run, channel, target, range, direction, status, why, unit;
    std::vector<std::string> flags;
    std::optional<std::int64_t> mark, point, series;
    std::optional<double> reference_pa, mean_pa, deviation_pa, expanded_pa, expanded_reference_pa;
    std::optional<std::int64_t> float_number, float_from_us, float_to_us, window_from_us, window_to_us;
};

struct Frame {
    Micros at_us = 0;
    std::string bench, journal;
    std::optional<RunState> run;
    std::optional<Step> step;
    std::optional<Load> load;
    FloatState floating;
    std::vector<Channel> channels;
    std::vector<Mark> marks;
    /// What a person is told beside the step; the view acts on codes and alarms, and shows the text.
    struct Advice {
        std::string code, text, channel;
        bool alarm = false;
        std::vector<std::string> ranked; ///< explanations, the likely first
        bool is_over_pressure() const { return code == "over_pressure"; }
    };
    std::vector<Advice> advice;
    /// Whether an instrument reads above the lowest rating on the bench: that takes the whole top until it is over.
    bool is_over_pressure() const;
    struct PoorRange {
        std::string range, words;
    };
    std::vector<PoorRange> poor_ranges;  ///< a run of them starts with an override only
    std::optional<Micros> undo_until_us; ///< the last press can be taken back
};

/// Reads a frame; the trouble names the first place that is not as the contract says.
Outcome<Frame> read_frame(const Json& message);

RunState read_run(const Json& value, const std::string& place, std::string& objection);
Mark read_mark(const Json& value, const std::string& place, std::string& objection);
/// The marks of a run, and the points that it left without one.
struct Results {
    std::optional<RunState> run;
    std::vector<Mark> marks;
    std::vector<Mark> missing; ///< only channel, target, direction and point tell something
};
/// Reads results: a list of marks, or an object of run, marks and missing points. The trouble names the first place
/// that is not as agreed.
Outcome<Results> read_results(const Json& value);

} // namespace stillmark::cli
