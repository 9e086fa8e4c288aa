#pragma once

#include "simulator/instant.hpp"
#include "simulator/json_place.hpp"

#include <optional>
#include <string>
#include <vector>

namespace stillmark::simulator {

/// What can go wrong, by the plain words of a scenario file.
enum class FaultKind {
    silence,          ///< no answer
    late,             ///< the answer comes `by` later
    byte_by_byte,     ///< the answer dribbles, `by` between its bytes
    garbage,          ///< as many bytes, none of them right
    bad_checksum,     ///< serial Modbus only
    wrong_address,    ///< the answer names another server
    wrong_count,      ///< the answer holds one register fewer (or one more where one was asked)
    exception,        ///< Modbus exception `code`
    disconnect,       ///< the connection or adapter is gone for the while
    wrong_word_order, ///< words travel in the other order than the profile says
    stuck_value,      ///< the number no longer follows the pressure
    noise,            ///< conversions scatter by `size` more
    own_report,       ///< the instrument reports `means` of itself
    leak,             ///< the oil circuit seeps by `rate`
};
const char* word(FaultKind kind);

/// One fault of a scenario: what, whose, when.
struct Fault {
    FaultKind kind = FaultKind::silence;
    std::string instrument; ///< empty: every instrument of `bus`, or the rig's own
    std::string bus;
    double from_s = 0; ///< after the start, or after the operator reached what `at_point` names
    double for_s = 1e9;
    int every = 1; ///< touches each n-th answer only
    // a trigger: the operator has reached this point (from 1), direction and kind of step
    std::optional<int> at_point;
    std::string at_direction; ///< empty: any
    std::string at_step;      ///< empty: any
    double by_s = 0;
    double size_pa = 0;
    double rate_m3_per_s = 0;
    int code = 4;
    std::string means;
};

/// Throws Mistake.
Fault read_fault(const JsonPlace& place);

/// How the next answer of an instrument is to be spoilt.
struct Misbehaviour {
    bool silence = false;
    double late_s = 0;
    double byte_gap_s = 0;
    bool garbage = false;
    bool bad_checksum = false;
    bool wrong_address = false;
    bool wrong_count = false;
    int exception_code = 0;
};

/// Which faults hold now.
class FaultBoard {
  public:
    FaultBoard(std::vector<Fault> faults, Micros start_us);

    void reached(int point, const std::string& direction, const std::string& step, Micros at_us);
    /// A fault that holds now for this instrument, or for its whole bus.
    const Fault* holding(FaultKind kind, const std::string& instrument, const std::string& bus, Micros at_us) const;
    /// Faults of the next answer; counts it.
    Misbehaviour next_answer(const std::string& instrument, const std::string& bus, Micros at_us);

  private:
    struct Entry {
        Fault fault;
        std::optional<Micros> begins_us;
        long answers = 0;
    };
    static bool holds(const Entry& entry, Micros at_us);
    static bool concerns(const Entry& entry, const std::string& instrument, const std::string& bus);
    std::vector<Entry> entries_;
};

} // namespace stillmark::simulator
