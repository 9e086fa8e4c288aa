#pragma once

#include "simulator/scenario.hpp"
#include "simulator/true_course.hpp"

#include <nlohmann/json.hpp>

#include <string>
#include <vector>

namespace stillmark::simulator {

/// How the marks of a run stand against the hidden truth.
struct Judgement {
    int marks = 0; ///< that stand
    int within_2u = 0;
    double worst_in_u = 0;           ///< largest |error| / u
    std::string worst;               ///< whose
    std::vector<std::string> faults; ///< sentences; empty: all is well
    bool good() const { return faults.empty(); }
};

/// A mark's error is its deviation minus the true deviation over its own window, in units of its stated u. Every one
/// must be within 3.5 u and nine tenths of them within 2 u; the piston must have floated in every window, at a zero the
/// line have been open to air; and what a scenario expects of its mistakes must be there. `least_marks`: a run that
/// marked less than this proves nothing.
Judgement judge(const nlohmann::json& results, const TrueCourse& course, const std::vector<Expectation>& expectations,
                int least_marks);

/// The results as a table of at most 100 columns: point, range, reference pressure and its standard uncertainty at the
/// balance, each instrument's deviation, and the float interval of the marks; below it, what is void or flagged.
std::string results_table(const nlohmann::json& results);

} // namespace stillmark::simulator
