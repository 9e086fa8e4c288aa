#pragma once

#include "simulator/check_work.hpp"
#include "simulator/hand.hpp"
#include "simulator/notes.hpp"
#include "simulator/progress.hpp"
#include "simulator/service_client.hpp"

#include <atomic>
#include <optional>
#include <string>

namespace stillmark::simulator {

struct OperatorOutcome {
    bool finished = false;
    std::string words; ///< why not
    std::string run;
    nlohmann::json results; ///< as the service gave them
    std::size_t lifts = 0;  ///< of discs, onto the head and off it
};

/// A scripted person at the bench: follows the service's guidance, works the rig, and tells the service what it did.
class Operator {
  public:
    Operator(Rig& rig, const std::string& socket, Notes& notes, Progress& progress);
    OperatorOutcome work(const std::atomic<bool>& stopped);

  private:
    struct Step {
        long number = 0;
        std::string kind;
        std::string wants;
        std::string title;
        std::string range;
        std::string direction;
        double target_pa = 0;
        int point = 0;
        std::vector<Instruction> say;
        std::vector<std::string> discs;
        std::vector<std::string> put_on;
    };
    static Step read_step(const nlohmann::json& step);

    bool start(OperatorOutcome& outcome, const std::atomic<bool>& stopped);
    void follow(const nlohmann::json& frame, const Step& step);
    bool reads_surroundings(const nlohmann::json& frame);
    double above_air_pa(const Step& step) const;
    void do_instruction(const Step& step);
    void do_vent();
    void do_load(const Step& step);
    std::string disc_taken_for(const Step& step, const std::string& disc) const;
    void do_float(const Step& step);
    void do_entry(const nlohmann::json& frame, const Step& step);
    void do_sight(const Step& step);
    void watch(const nlohmann::json& frame, const Step& step);
    bool notices_forgotten_disc(const nlohmann::json& frame, const Step& step);
    void put_right_forgotten_disc(const nlohmann::json& frame, const Step& step);
    /// Marks of this point that still stand.
    std::vector<long> standing_marks(const nlohmann::json& frame, const Step& step) const;

    /// Sends a command with the instant of the key press. A refusal is noted and shown.
    bool tell(const std::string& what, nlohmann::json details = nlohmann::json::object());
    std::string reason_to_go_on(const std::string& what);
    OperatorMistake* mistake(const std::string& what, const Step& step);
    void made(OperatorMistake& mistake);
    static std::string why_stuck(const nlohmann::json& frame);

    Rig& rig_;
    const OperatorPlan& plan_;
    Hand hand_;
    Notes& notes_;
    Progress& progress_;
    ServiceCommands commands_;
    FrameStream frames_;
    CheckWork checks_;
    std::size_t lifts_ = 0;
    std::vector<OperatorMistake> mistakes_; ///< still to be made
    std::optional<std::string> forgotten_;  ///< the disc that is not on the head though it was stated
    std::string unturned_;                  ///< the range that the valves should have been turned to
    double forgotten_notices_after_s_ = 0;
    Micros forgotten_seen_us_ = 0;
    Micros told_us_ = 0; ///< when the last answer came
    Micros confirmed_us_ = 0;
    int refusals_ = 0;
    std::string last_refusal_;
};

} // namespace stillmark::simulator
