#include "simulator/judge.hpp"

#include "simulator/answer_reading.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace stillmark::simulator {

namespace {

constexpr double most_u = 3.5;
constexpr double usual_u = 2;
constexpr double usual_part = 0.9;

std::string naming(const nlohmann::json& mark) {
    return fmt::format("mark {} ({}, {}, {}, {} range)", whole_in(mark, "mark"), text_in(mark, "channel"),
                       text_in(mark, "target"), text_in(mark, "direction"), text_in(mark, "range"));
}

bool meets(const nlohmann::json& mark, const Expectation& expected) {
    if (whole_in(mark, "point") != expected.point || text_in(mark, "direction") != expected.direction) return false;
    if (!expected.status.empty() && text_in(mark, "status") != expected.status) return false;
    const auto flags = texts_in(mark, "flags");
    return expected.flag.empty() || std::find(flags.begin(), flags.end(), expected.flag) != flags.end();
}

void judge_mark(const nlohmann::json& mark, const TrueCourse& course, Judgement& to) {
    const auto& window = object_in(mark, "window");
    const Micros from_us = whole_in(window, "from_us");
    const Micros to_us = whole_in(window, "to_us");
    const double u_pa = number_in(mark, "u_pa", -1);
    const auto truth = course.true_deviation_pa(text_in(mark, "channel"), from_us, to_us);
    if (!truth || !(u_pa > 0) || !object_in(mark, "window").contains("from_us")) {
        to.faults.push_back(naming(mark) + " has no window in the truth log, or no uncertainty");
        return;
    }
    ++to.marks;
    const double in_u = (number_in(mark, "mean_pa") - number_in(mark, "reference_pa") - *truth) / u_pa;
    if (std::abs(in_u) <= usual_u) ++to.within_2u;
    if (!(std::abs(in_u) <= to.worst_in_u)) {
        to.worst_in_u = std::abs(in_u);
        to.worst = naming(mark);
    }
    if (!(std::abs(in_u) <= most_u))
        to.faults.push_back(
            fmt::format("{} is {:+.2f} u from the truth: it says {:+.4f} bar, the truth is {:+.4f} bar, u = {:.4f} bar",
                        naming(mark), in_u, number_in(mark, "deviation_pa") / 1e5, *truth / 1e5, u_pa / 1e5));
    const bool zero = text_in(mark, "status") == "vented";
    if (zero && !course.was_open(from_us, to_us))
        to.faults.push_back(naming(mark) + " is a zero and was taken while the line was not open");
    if (!zero && !course.floated(from_us, to_us))
        to.faults.push_back(naming(mark) + " was taken while the piston did not float in its band");
}

} // namespace

Judgement judge(const nlohmann::json& results, const TrueCourse& course, const std::vector<Expectation>& expectations,
                int least_marks) {
    Judgement judgement;
    for (const auto& mark : results)
        if (text_in(mark, "status") != "void") judge_mark(mark, course, judgement);
    if (judgement.marks < least_marks)
        judgement.faults.push_back(
            fmt::format("only {} marks stand; {} belong to this run", judgement.marks, least_marks));
    if (judgement.within_2u < usual_part * judgement.marks)
        judgement.faults.push_back(fmt::format("only {} of {} marks are within 2 u of the truth; nine tenths should be",
                                               judgement.within_2u, judgement.marks));
    for (const auto& expected : expectations)
        if (std::none_of(results.begin(), results.end(),
                         [&](const nlohmann::json& mark) { return meets(mark, expected); }))
            judgement.faults.push_back(fmt::format(
                "point {} {}: no mark is {}, as the mistake made there asks for", expected.point, expected.direction,
                expected.flag.empty() ? expected.status : fmt::format("flagged \"{}\"", expected.flag)));
    return judgement;
}

} // namespace stillmark::simulator
