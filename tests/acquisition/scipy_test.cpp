#include "daemon/acquisition/stillness.hpp"
#include "daemon/acquisition/student_t.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <array>
#include <cstdio>
#include <fstream>
#include <random>
#include <unistd.h>

namespace stillmark::acquisition {
namespace {

using nlohmann::json;

/// What the script makes of `input`; its complaint stands in the test's own output.
json by_scipy(const json& input) {
    const std::string path = testing::TempDir() + "window_for_scipy_" + std::to_string(getpid()) + ".json";
    std::ofstream(path) << input.dump();
    const std::string command =
        "/usr/bin/python3 " STILLMARK_SOURCE_DIR "/tests/acquisition/line_by_scipy.py < '" + path + "'";
    std::string output;
    FILE* const pipe = popen(command.c_str(), "r"); // NOLINT(cert-env33-c): a test's own fixed command
    if (pipe == nullptr) return nullptr;
    std::array<char, 4096> part{};
    while (const std::size_t got = std::fread(part.data(), 1, part.size(), pipe))
        output.append(part.data(), got);
    const int ended = pclose(pipe);
    std::remove(path.c_str());
    return ended == 0 ? json::parse(output, nullptr, false) : json(nullptr);
}

// Windows of many kinds, correlated and coarse, with stamps that jitter: slope and bound as scipy has them.
TEST(AgainstScipy, SlopeScatterAndOneSidedBound) {
    std::mt19937_64 random(2024);
    std::normal_distribution<double> normal;
    std::uniform_real_distribution<double> uniform;
    json input = json::array();
    std::vector<WindowStatistics> measured;
    for (int k = 0; k < 60; ++k) {
        const double interval_s = 0.02 + 0.2 * uniform(random);
        StillnessLimits limits = default_limits((0.2 + 2 * uniform(random)) * interval_s, interval_s, 0, 1e4);
        limits.window_s = interval_s * (30 + 200 * uniform(random));
        limits.resolution_pa = k % 3 == 0 ? 10 : 0;
        const double correlation = 0.5 * uniform(random);
        const double drift = 30 * normal(random);
        std::vector<TimedValue> readings;
        json at_us = json::array();
        json value_pa = json::array();
        double noise = 0;
        for (double time_s = 0; time_s < limits.window_s; time_s += interval_s * (0.7 + 0.6 * uniform(random))) {
            noise = correlation * noise + 20 * normal(random);
            double value = 4e6 + drift * time_s + noise;
            if (limits.resolution_pa > 0) value = limits.resolution_pa * std::round(value / limits.resolution_pa);
            readings.push_back({1'700'000'000'000 + std::llround(1e6 * time_s), value, true});
            at_us.push_back(readings.back().at_us);
            value_pa.push_back(value);
        }
        measured.push_back(measure_window(readings, limits));
        input.push_back({{"at_us", at_us},
                         {"value_pa", value_pa},
                         {"response_time_s", limits.response_time_s},
                         {"resolution_pa", limits.resolution_pa},
                         {"window_s", limits.window_s}});
    }
    const json scipy = by_scipy(input);
    ASSERT_TRUE(scipy.is_array() && scipy.size() == measured.size())
        << "scipy gave no answer; see the complaint above. Install python3-scipy, or set PYTHONPATH to where it is";
    int with_bound = 0;
    for (std::size_t k = 0; k < measured.size(); ++k) {
        const WindowStatistics& ours = measured[k];
        const json& theirs = scipy[k];
        const double n = static_cast<double>(ours.count);
        const double slope_error = ours.scatter_pa / input[k]["window_s"].get<double>() / std::sqrt(n / 12);
        EXPECT_NEAR(ours.slope_pa_per_s, theirs["slope"].get<double>(), 1e-9 * slope_error) << k;
        EXPECT_NEAR(ours.scatter_pa, theirs["scatter"].get<double>(), 1e-9 * ours.scatter_pa) << k;
        EXPECT_NEAR(ours.autocorrelation, theirs["autocorrelation"].get<double>(), 1e-8) << k;
        EXPECT_NEAR(ours.effective_count, theirs["effective_count"].get<double>(), 1e-8 * n) << k;
        EXPECT_NEAR(ours.u_mean_pa, theirs["u_mean"].get<double>(), 1e-8 * ours.u_mean_pa) << k;
        if (ours.effective_count < 5) continue;
        ++with_bound;
        EXPECT_NEAR(ours.slope_bound_pa_per_s, theirs["bound"].get<double>(), 1e-8 * ours.slope_bound_pa_per_s) << k;
    }
    EXPECT_GE(with_bound, 40);
}

// JCGM 100:2008, table G.2, has the two-sided 90 % points, which are the one-sided 95 % ones; values from memory of
// that table, to its two decimals.
TEST(StudentT, OneSidedPointsOfTheTable) {
    EXPECT_NEAR(t_95(3), 2.35, 0.005);
    EXPECT_NEAR(t_95(4), 2.13, 0.005);
    EXPECT_NEAR(t_95(10), 1.81, 0.005);
    EXPECT_NEAR(t_95(20), 1.72, 0.005);
    EXPECT_NEAR(t_95(1e9), 1.645, 0.0005);
}

TEST(StudentT, InterpolationHoldsItsStatedError) {
    const StudentT95& fast = StudentT95::table();
    double worst = 0;
    for (double dof = 3; dof < 1e7; dof *= 1.00137)
        worst = std::max(worst, std::abs(fast(dof) - t_95(dof)));
    EXPECT_LT(worst, 2e-9);
    EXPECT_TRUE(std::isnan(fast(2.99)));
    EXPECT_TRUE(std::isnan(fast(0)));
    EXPECT_TRUE(std::isnan(fast(-1)));
    EXPECT_TRUE(std::isnan(fast(std::nan(""))));
}

} // namespace
} // namespace stillmark::acquisition
