#include "daemon/metrology/evaluation/method.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace stillmark::metrology {
namespace {

const Method& method(const char* name) {
    const Method* found = method_named(name);
    EXPECT_NE(found, nullptr) << name;
    return *found;
}

int series_of(const Method& one, bool rising, SeriesRole role) {
    return static_cast<int>(std::count_if(one.series.begin(), one.series.end(), [&](const MethodSeries& series) {
        return series.rising == rising && series.role == role;
    }));
}

// EURAMET cg-17 v4.1, 5.2.1: one cycle of six points from 0 to 100 %, zero among them; an up series measured three
// times at two points, preferably 0 % and one near mid range; U not below 0.2 % of the full scale.
TEST(Methods, Cg17Basic) {
    const Method& basic = method("EURAMET cg-17 basic");
    ASSERT_EQ(basic.points.size(), 6U);
    EXPECT_EQ(basic.points.front(), 0);
    EXPECT_EQ(basic.points.back(), 1);
    EXPECT_EQ(series_of(basic, true, SeriesRole::cycle), 1);
    EXPECT_EQ(series_of(basic, false, SeriesRole::cycle), 1);
    EXPECT_EQ(1 + series_of(basic, true, SeriesRole::repeatability), 3);
    EXPECT_EQ(basic.series.back().at, (std::vector<double>{0, 0.4}));
    EXPECT_DOUBLE_EQ(basic.least_u_of_span, 0.002);
}

// EURAMET cg-17, 5.2.2 (from memory): 11 points, repeatability from three up series at 0, 20, 50 and 80 %.
TEST(Methods, Cg17Standard) {
    const Method& standard = method("EURAMET cg-17 standard");
    EXPECT_EQ(standard.points.size(), 11U);
    EXPECT_EQ(1 + series_of(standard, true, SeriesRole::repeatability), 3);
    EXPECT_EQ(standard.series.back().at, (std::vector<double>{0, 0.2, 0.5, 0.8}));
    EXPECT_DOUBLE_EQ(standard.least_u_of_span, 0.0005);
}

// EURAMET cg-17, 5.2.3 (from memory): three cycles at 11 points up and down.
TEST(Methods, Cg17Comprehensive) {
    const Method& comprehensive = method("EURAMET cg-17 comprehensive");
    EXPECT_EQ(comprehensive.points.size(), 11U);
    EXPECT_EQ(series_of(comprehensive, true, SeriesRole::cycle), 3);
    EXPECT_EQ(series_of(comprehensive, false, SeriesRole::cycle), 3);
}

// DKD-R 6-1 (03/2014), points, preloads and waits second hand (an accredited laboratory's public table), series from
// memory. Bourdon gauges wait five minutes at the upper limit.
TEST(Methods, DkdSequences) {
    const struct {
        const char* name;
        std::size_t points, series;
        int preloads;
    } rows[] = {{"DKD-R 6-1 A", 9, 6, 3}, {"DKD-R 6-1 B", 9, 3, 2}, {"DKD-R 6-1 C", 5, 2, 1}};
    for (const auto& row : rows) {
        const Method& one = method(row.name);
        EXPECT_EQ(one.points.size(), row.points) << row.name;
        EXPECT_EQ(one.series.size(), row.series) << row.name;
        EXPECT_EQ(one.preloads, row.preloads) << row.name;
        EXPECT_GE(one.wait_s, 30) << row.name;
        EXPECT_EQ(one.wait_at_top_s, 120) << row.name;
        EXPECT_EQ(one.wait_at_top_dial_s, 300) << row.name;
    }
    const Method& a = method("DKD-R 6-1 A");
    EXPECT_EQ(series_of(a, true, SeriesRole::reproducibility), 1);
    EXPECT_TRUE(a.series[4].reclamp_before);
    EXPECT_FALSE(a.series[5].reclamp_before);
}

// EN 837-1 (second hand): at least ten points for classes 0.1 to 0.6, five for classes 1 to 4.
TEST(Methods, PointsByClass) {
    for (const double one : {0.1, 0.25, 0.3, 0.6})
        EXPECT_EQ(least_points_en_837_1(one), 10) << one;
    for (const double one : {1.0, 1.6, 2.5, 4.0})
        EXPECT_EQ(least_points_en_837_1(one), 5) << one;
}

TEST(Methods, WhatIsFromMemorySaysSo) {
    for (const Method& one : methods()) {
        EXPECT_FALSE(one.sources.empty()) << one.name;
        EXPECT_TRUE(one.from_memory()) << one.name; // at least the formulas are, for all of them
        EXPECT_EQ(method_named(one.name), &one);
    }
    EXPECT_EQ(method_named("dkd"), nullptr);
    EXPECT_EQ(method_named(""), nullptr);
}

} // namespace
} // namespace stillmark::metrology
