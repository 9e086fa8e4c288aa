#include "daemon/acquisition/stillness.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

// The statistics of a window against the Statistical Reference Datasets of NIST (StRD).
namespace stillmark::acquisition {
namespace {

/// The numbers of a data file of StRD, line by line, below its heading "Data: y ...".
std::vector<std::vector<double>> rows_of(const std::string& name) {
    std::ifstream file(std::string(STILLMARK_SOURCE_DIR) + "/tests/checks/strd/" + name + ".dat");
    std::vector<std::vector<double>> rows;
    bool data = false;
    for (std::string line; std::getline(file, line);) {
        std::istringstream words(line);
        std::string first;
        std::string second;
        if (words >> first >> second && first == "Data:" && (second == "Y" || second == "y")) {
            data = true;
            continue;
        }
        if (!data) continue;
        std::istringstream numbers(line);
        std::vector<double> row;
        for (double number = 0; numbers >> number;)
            row.push_back(number);
        if (!row.empty()) rows.push_back(row);
    }
    return rows;
}

StillnessLimits any_limits() {
    StillnessLimits limits = default_limits(0.001, 1, 0, 1);
    limits.least_readings = 3;
    return limits;
}

// Certified: B1 1.00211681802045, residual standard deviation 0.884796396144373 (Norris, 36 observations).
TEST(ReferenceData, NorrisSlopeAndResidualDeviation) {
    std::vector<TimedValue> readings;
    for (const auto& row : rows_of("Norris"))
        readings.push_back({std::llround(1e6 * row[1]), row[0], true}); // one second for each unit of x
    ASSERT_EQ(readings.size(), 36U);
    std::stable_sort(readings.begin(), readings.end(),
                     [](const TimedValue& a, const TimedValue& b) { return a.at_us < b.at_us; });
    const WindowStatistics measured = measure_window(readings, any_limits());
    EXPECT_NEAR(measured.slope_pa_per_s, 1.00211681802045, 1e-13);
    EXPECT_NEAR(measured.scatter_pa, 0.884796396144373, 1e-12);
}

struct Univariate {
    const char* name;
    std::size_t count;
    double mean;
    double deviation;
    double autocorrelation;
    double tolerance; ///< relative; what the decimal-to-binary rounding of the data itself allows
};
void PrintTo(const Univariate& set, std::ostream* out) {
    *out << set.name;
}

class UnivariateReferenceData : public testing::TestWithParam<Univariate> {};

// The certified autocorrelation is about the mean, ours about the line. A series followed by its own mirror image has
// no slope, and its sums are twice the certified ones, but for the pair in the middle that meets itself.
TEST_P(UnivariateReferenceData, MeanDeviationAndAutocorrelation) {
    const Univariate& set = GetParam();
    std::vector<double> values;
    for (const auto& row : rows_of(set.name))
        values.push_back(row[0]);
    ASSERT_EQ(values.size(), set.count);
    std::vector<TimedValue> readings;
    for (std::size_t i = 0; i < 2 * set.count; ++i)
        readings.push_back(
            {static_cast<Micros>(i) * 1'000'000, i < set.count ? values[i] : values[2 * set.count - 1 - i], true});
    const WindowStatistics measured = measure_window(readings, any_limits());
    EXPECT_NEAR(measured.mean_pa, set.mean, 1e-15 * std::abs(set.mean) + 1e-15);
    EXPECT_NEAR(measured.scatter_pa, set.deviation, set.tolerance * set.deviation);
    const double last = values.back() - set.mean;
    const double squares = static_cast<double>(set.count - 1) * set.deviation * set.deviation;
    EXPECT_NEAR(measured.autocorrelation - last * last / (2 * squares), set.autocorrelation, set.tolerance);
}

INSTANTIATE_TEST_SUITE_P(
    StRD, UnivariateReferenceData,
    testing::Values(Univariate{"Mavro", 50, 2.001856, 0.000429123454003053, 0.937989183438248, 1e-12},
                    Univariate{"Lew", 200, -177.435, 277.332168044316, -0.307304800605679, 1e-14},
                    Univariate{"Michelso", 100, 299.8524, 0.0790105478190518, 0.535199668621283, 1e-12},
                    Univariate{"Lottery", 218, 518.958715596330, 291.699727470969, -0.120948622967393, 1e-13},
                    Univariate{"PiDigits", 5000, 4.53480000000000, 2.86733906028871, -0.00355099287237972, 1e-12},
                    Univariate{"NumAcc1", 3, 10000002, 1, -0.5, 1e-15},
                    Univariate{"NumAcc2", 1001, 1.2, 0.1, -0.999, 1e-14},
                    Univariate{"NumAcc3", 1001, 1000000.2, 0.1, -0.999, 1e-9},
                    Univariate{"NumAcc4", 1001, 10000000.2, 0.1, -0.999, 2e-8}));

} // namespace
} // namespace stillmark::acquisition
