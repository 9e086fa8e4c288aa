#pragma once

#include "daemon/bench/commands.hpp"
#include "daemon/bench/state.hpp"
#include "daemon/metrology/loads/balance_health.hpp"

#include <optional>
#include <set>
#include <string>
#include <vector>

namespace stillmark::bench {

/// What a person states of the balance's health: exactly one of the three, with its unit. `at` is the pressure at which
/// a fall rate was found; where it is empty, that of the float that is open now, or else the range's highest.
struct HealthTexts {
    std::string range, fall_rate, spin_time, smallest_disc, at;
};
Decision state_health(const State& state, const Press& press, const HealthTexts& texts);

std::vector<Tell> fold(State& state, Micros at_us, const HealthStated& fact);

/// One entry of the history, judged against the bench file and what was stated before it.
struct JudgedHealth {
    metrology::HealthJudgement judgement;
    std::optional<double>
        stated;            ///< the bench file's figure: fall rate at the range's highest pressure, m/s; spin time, s
    double comparable = 0; ///< the value; of a fall rate as it would be at the range's highest pressure
    double shown = 0;      ///< the value in `unit`
    const char* unit = "";
    std::string words; ///< for a person
};
JudgedHealth judge_health(const State& state, std::size_t entry);
/// The same against another bench file, for example that of a run; null: none is known.
JudgedHealth judge_health(const State& state, std::size_t entry, const BenchFile* bench);

/// What was stated last of each sign of these ranges and is poor, as entries of State::health, oldest first.
std::vector<std::size_t> poor_health(const State& state, const std::set<std::string>& ranges);
/// The ranges that a sequence needs, by name.
std::set<std::string> ranges_of(const BenchFile& bench, const Sequence& sequence);
/// Why a run of the sequence may not start: a range of it is in poor health and nobody says, by name, why it is used
/// all the same; or a reason is given for nothing. Nothing where it may.
std::optional<Refusal> objection_to_health(const State& state, const Press& press, const Sequence& sequence,
                                           const std::string& reason);

/// Which way to turn the discs at a visit: it alternates, so that what rotation does to the pressure shows as scatter
/// and not as a bias.
const char* rotation_word(std::size_t visit);

} // namespace stillmark::bench
