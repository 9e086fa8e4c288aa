#include "daemon/metrology/overlap.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace stillmark::metrology {

namespace {

constexpr std::array<std::string_view, 9> of_one_range{
    "effective area",         "drift of the area",  "thermal expansion",
    "distortion coefficient", "circumference",      "tilt (1 - cos)",
    "immersed volume",        "level of the range", "float height"};

} // namespace

bool belongs_to_one_range(std::string_view input) {
    return std::find(of_one_range.begin(), of_one_range.end(), input) != of_one_range.end();
}

double u_of_difference_pa(const std::vector<BudgetLine>& low, const std::vector<BudgetLine>& high) {
    double variance = 0;
    const auto partner = [](const BudgetLine& line, const std::vector<BudgetLine>& other) -> const BudgetLine* {
        if (belongs_to_one_range(line.input)) return nullptr;
        const auto found =
            std::find_if(other.begin(), other.end(), [&](const BudgetLine& one) { return one.input == line.input; });
        return found == other.end() ? nullptr : &*found;
    };
    for (const BudgetLine& line : low) {
        const BudgetLine* same = partner(line, high);
        const double left = line.contribution_pa - (same != nullptr ? same->contribution_pa : 0);
        variance += left * left;
    }
    for (const BudgetLine& line : high)
        if (partner(line, low) == nullptr) variance += line.contribution_pa * line.contribution_pa;
    return std::sqrt(variance);
}

} // namespace stillmark::metrology
