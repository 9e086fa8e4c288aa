// How long a plan takes: 2 x 21 points with 40 discs, beside trying everything on a set so small that it can be tried.
#include "daemon/metrology/loads/load_plan.hpp"
#include "loads/exhaustive.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <ctime>
#include <vector>

namespace {

using stillmark::metrology::LoadDisc;
using stillmark::metrology::LoadPlan;
using stillmark::metrology::LoadPoint;

double seconds_of(const auto& work) {
    // Of the processor: other programs are no part of the figure.
    const auto from = std::clock();
    work();
    return static_cast<double>(std::clock() - from) / CLOCKS_PER_SEC;
}

LoadDisc disc(double kg) {
    return {kg * (1 - 1.2 / 8000), kg, {}};
}

/// 40 discs as a set of a large balance has them.
std::vector<LoadDisc> usual_set() {
    std::vector<LoadDisc> discs;
    const auto add = [&discs](int count, double kg) {
        for (int i = 0; i < count; ++i)
            discs.push_back(disc(kg * (1 + 3e-6 * i)));
    };
    add(18, 5);
    add(6, 2);
    add(4, 1);
    add(4, 0.5);
    add(4, 0.2);
    add(2, 0.1);
    add(1, 0.05);
    add(1, 0.02);
    return discs;
}
/// 40 discs of which no two are alike: the worst case.
std::vector<LoadDisc> odd_set() {
    std::vector<LoadDisc> discs;
    for (int i = 0; i < 40; ++i)
        discs.push_back(disc(0.1 * (1 + 0.37 * i + 0.013 * i * i)));
    return discs;
}

std::vector<LoadPoint> up_and_down(const std::vector<LoadDisc>& discs, int points, double tolerance) {
    double whole = 0;
    for (const LoadDisc& one : discs)
        whole += one.effective_kg;
    std::vector<LoadPoint> list;
    for (int i = 0; i < 2 * points; ++i) {
        const int step = i < points ? i : 2 * points - 1 - i;
        const double kg = 0.97 * whole * step / (points - 1);
        list.push_back({kg, tolerance * (kg + 2), 0});
    }
    return list;
}

void show(const char* what, const std::vector<LoadDisc>& discs, double goal_s) {
    const auto points = up_and_down(discs, 21, 1e-4);
    std::vector<double> times;
    LoadPlan plan;
    for (int i = 0; i < 5; ++i)
        times.push_back(seconds_of([&] { plan = stillmark::metrology::plan_stacks(discs, points); }));
    std::sort(times.begin(), times.end());
    fmt::print("{:<44} {:>9.1f} ms (fastest {:.1f}, slowest {:.1f}), {} lifts, {:.1f} kg, {}: goal {:g} ms, {}\n", what,
               1e3 * times[2], 1e3 * times.front(), 1e3 * times.back(), plan.lifts, plan.lifted_kg,
               plan.proven ? "proven" : "not proven", 1e3 * goal_s, times[2] < goal_s ? "met" : "MISSED");
}

} // namespace

int main() {
    show("2 x 21 points, 40 discs of a usual set", usual_set(), 1);
    show("2 x 21 points, 40 discs, no two alike", odd_set(), 1);
    const auto whole_set = usual_set();
    std::vector<LoadDisc> sixteen(whole_set.begin() + 12, whole_set.begin() + 28);
    show("2 x 21 points, 16 discs", sixteen, 1);

    std::vector<LoadDisc> small;
    for (const double kg : {5.0, 5.0, 2.0, 2.0, 1.0, 0.5, 0.2, 0.2, 0.1, 0.05})
        small.push_back(disc(kg));
    const auto points = up_and_down(small, 21, 2e-3);
    LoadPlan plan;
    stillmark::metrology::testing::Effort least;
    const double ours_s = seconds_of([&] { plan = stillmark::metrology::plan_stacks(small, points); });
    const double all_s = seconds_of([&] { least = stillmark::metrology::testing::least_effort(small, points, {}); });
    fmt::print("{:<44} {:>9.1f} ms; everything tried {:.1f} ms ({:.0f} times); {} and {} lifts, {}\n",
               "2 x 21 points, 10 discs", 1e3 * ours_s, 1e3 * all_s, all_s / ours_s, plan.lifts, least.lifts,
               plan.lifts == least.lifts ? "equal" : "DIFFERENT");
    return plan.lifts == least.lifts ? 0 : 1;
}
