#pragma once

#include "daemon/bench/certificates.hpp"
#include "daemon/bench/checks.hpp"
#include "daemon/bench/commands.hpp"
#include "daemon/bench/mark.hpp"
#include "daemon/bench/state.hpp"

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

namespace stillmark::bench::testing {

using Edits = std::vector<std::pair<std::string, std::string>>;

/// The text of the small invented bench (tests/bad_bench/base.json) with some of it replaced; each old text stands
/// there once, or the test says so.
std::string small_bench_text(const Edits& edits = {});
/// The demo's bench file.
std::string demo_bench_text();
/// The texts of the profiles that the house delivers, by file name.
std::map<std::string, std::string> profile_texts();
/// A text read as a bench; what is wrong with it fails the test.
BenchFile bench_of(const std::string& text);

/// The words of instructions.
inline std::vector<std::string> texts(const std::vector<Instruction>& all) {
    std::vector<std::string> list;
    for (const auto& one : all)
        list.push_back(one.text);
    return list;
}

/// A bench and its people on invented time: every fact goes through its text and back, as it does in a journal.
class World {
  public:
    explicit World(const std::string& bench_text = small_bench_text());

    Micros now_us = 1'000'000'000;
    State state;
    std::uint64_t number = 0;
    std::vector<Tell> told;
    std::vector<SeenReading> seen; ///< what instruments show at every press and at the end of a wait; empty: nothing
    /// The journal: number, instant, text.
    struct Line {
        std::uint64_t number;
        Micros at_us;
        std::string text;
    };
    std::vector<Line> journal;

    void happen(const Fact& fact);
    /// Time passes; what time alone brings about is folded at its instant.
    void pass(double seconds);
    /// A key pressed `age_s` ago that arrives now.
    Press press(double age_s = 0) const {
        return {now_us - static_cast<Micros>(age_s * 1e6), now_us, "invented person", false, seen};
    }
    /// Folds what was decided; the refusal in words, or empty.
    std::string does(const Decision& decision);

    /// A certificate's draft on record; an empty one, and a failed test, where it was refused.
    CertificateDrafted drafted(const DraftRequest& request);
    /// Signs it by somebody who did not work at a run.
    std::string sign(const CertificateDrafted& draft);

    // What a person asks for, pressed just now unless said otherwise. Empty where it was granted.
    std::string start(const std::vector<std::string>& instruments = {}, const std::string& sequence = "");
    std::string step_done();
    std::string load_as_planned(double age_s = 0);
    std::string load(const std::string& range, const std::vector<std::string>& discs, double age_s = 0);
    std::string confirm(const std::string& range, double age_s = 0);
    std::string sighted(bool close = true, double age_s = 0);
    std::string lost(double age_s = 0);
    std::string undo(double age_s = 0);
    std::string enter(const std::string& channel, const std::string& untapped, const std::string& tapped,
                      double took_s = 1);
    std::string void_mark(std::int64_t mark, const std::string& reason = "invented reason");

    const Run& run() const { return state.runs.back(); }
    const Step& step() const { return *run().now(); }
    StepKind at() const { return step().kind; }
    const FloatInterval& interval() const { return state.intervals.back(); }
    const Mark& mark(std::int64_t number_of_mark) const {
        return state.marks.at(static_cast<std::size_t>(number_of_mark - 1));
    }
    std::string planned_range() const;

    /// A channel becomes still now.
    void still(std::size_t channel);
    /// Readings at the channel's own pace over one window from `from_us` on: what the load makes, and `off_pa` beside.
    std::vector<acquisition::TimedValue> readings(std::size_t channel, Micros from_us, double off_pa = 0) const;
    /// Judges one window from `from_us` on and folds what comes of it; time is then its end. Empty where a mark was
    /// taken, otherwise why not.
    std::string window(std::size_t channel, Micros from_us, double off_pa = 0, Micros timing_us = 500);
    /// The same at the earliest instant that the permit allows; or why there is no permit.
    std::string take_mark(std::size_t channel, double off_pa = 0);

    /// Answers the present check with a value.
    std::string state_check(const std::string& value, const std::string& channel = "");
    /// Watches the present check: every watched channel reads, at its own pace, what the check asks for and
    /// `off_pa + fall_pa_per_s` times the time since the watch began beside it; the last `missing` readings do not
    /// come.
    std::string watch_check(double off_pa = 0, double fall_pa_per_s = 0, std::size_t missing = 0, double noise_pa = 20);

    /// Does what is asked for until the run is at a step of this kind that belongs to a visit (or until it ends).
    void work_to(StepKind kind);
    /// Does what the present step asks for.
    void work_one_step();
    /// A run of the channels without a person's reading, at its first step of this kind within a visit.
    static World at_first(StepKind kind, const std::string& bench_text = small_bench_text());
};

/// Everything that a state holds, as text; equal states have equal dumps, to the last bit.
std::string dump(const State& state);

} // namespace stillmark::bench::testing
