#pragma once

#include "simulator/answer_reading.hpp"
#include "simulator/hand.hpp"
#include "simulator/notes.hpp"
#include "simulator/progress.hpp"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::simulator {

/// A step of kind `check`, as a frame shows it.
struct CheckStep {
    long number = 0;
    std::vector<Instruction> say;
    std::string name;    ///< "warm-up", "level", "purge", "leak", "zero"
    std::string by;      ///< "value", "readings"
    std::string unit;    ///< of a value that is asked for
    std::string channel; ///< the instrument whose value is asked for, or empty
    double at_pa = 0;
    bool measuring = false;
    bool failed = false;
    std::string words; ///< what was found last

    std::string asked() const; ///< what it asks for now, to tell one question from the next
};
CheckStep read_check(const nlohmann::json& step);

/// The operator at the checks before a run: does what each asks for and states what is true. What failed he puts right
/// and does again; what failed twice he leaves, with a reason.
class CheckWork {
  public:
    /// Sends a command; whether the service took it.
    using Tell = std::function<bool(const std::string& what, nlohmann::json details)>;
    CheckWork(Rig& rig, Hand& hand, Notes& notes, Progress& progress, Tell tell);

    void work(const CheckStep& check);
    long told() const { return told_; } ///< answers that the service took: each is a step forward
    /// For how long nothing may happen while readings are watched, in wall time.
    double watching_s() const { return rig_.scenario().checks.leak_s; }
    /// Turns the valves that these words name; false where they name none.
    bool turn_valves(const std::vector<Instruction>& say);

  private:
    void prepare(const CheckStep& check);
    std::string true_value(const CheckStep& check);
    std::string dial_value(const CheckStep& check);
    void put_right(const CheckStep& check);
    bool answer(const CheckStep& check, const std::string& what, nlohmann::json details);

    Rig& rig_;
    Hand& hand_;
    Notes& notes_;
    Progress& progress_;
    Tell tell_;
    long told_ = 0;
    std::optional<long> step_;            ///< that the rest is about
    std::optional<std::string> answered_; ///< what the last `check` was asked by
    bool righted_ = false;                ///< done since that answer
    int failures_ = 0;
    bool opened_ = false; ///< the line, to air
    Micros ready_us_ = 0; ///< until then there is nothing to do but wait
};

} // namespace stillmark::simulator
