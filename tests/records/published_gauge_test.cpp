#include "daemon/metrology/rounding.hpp"
#include "daemon/records/certificate.hpp"
#include "records/published_gauge.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <string>

// The published figures went through rounding once; ours has to leave them as they are.

namespace stillmark::metrology {
namespace {

double value(const char* text) {
    return std::strtod(text, nullptr);
}
int last_place(const std::string& text) {
    const auto point = text.find('.');
    return point == std::string::npos ? 0 : -static_cast<int>(text.size() - point - 1);
}

TEST(PublishedGauge, UncertaintiesOfTwoDigitsStayAsTheyArePrinted) {
    for (const auto& point : sample::published_gauge)
        for (const char* u : {point.u_cal, point.u_corr, point.u_e, point.u_factor})
            EXPECT_EQ(rounded_uncertainty(value(u)), u);
}

TEST(PublishedGauge, ValuesAreRoundedToThePlaceOfTheirUncertainty) {
    int at_that_place = 0;
    const auto check = [&](const char* text, const char* u) {
        const int place = place_of(value(u));
        const std::string ours = rounded(value(text), place);
        // Some pressures are printed with a digit more than their uncertainty has; none with fewer.
        EXPECT_LE(last_place(text), place) << text;
        EXPECT_LE(std::abs(value(ours.c_str()) - value(text)), 0.5 * std::pow(10, place) * (1 + 1e-9)) << text;
        if (last_place(text) != place) return;
        EXPECT_EQ(ours, text);
        ++at_that_place;
    };
    for (const auto& point : sample::published_gauge) {
        check(point.e, point.u_e);
        check(point.factor, point.u_factor);
        check(point.p_cal, point.u_cal);
    }
    EXPECT_EQ(at_that_place, 2 * 14 + 4); // every ratio, and four of the pressures
}

TEST(PublishedGauge, ErrorAndCorrectionFactorFollowWithinOneUnitOfTheLastDigit) {
    for (const auto& point : sample::published_gauge) {
        const double cal = value(point.p_cal), corr = value(point.p_corr);
        const auto agrees = [](double ours, const char* printed, const char* u) {
            const int place = place_of(value(u));
            const double unit = std::pow(10, place);
            EXPECT_LE(std::abs(value(rounded(ours, place).c_str()) - value(printed)), unit * (1 + 1e-9))
                << printed << ": " << ours;
        };
        agrees(corr / cal - 1, point.e, point.u_e);
        agrees(cal / corr, point.factor, point.u_factor);
    }
}

// U(e) = p_corr/p_cal sqrt((U(p_cal)/p_cal)^2 + (U(p_corr)/p_corr)^2). The inputs are printed rounded to two digits: up
// to 5 % of each.
TEST(PublishedGauge, TheUncertaintyOfTheErrorFollowsFromBoth) {
    for (const auto& point : sample::published_gauge) {
        const double cal = value(point.p_cal), corr = value(point.p_corr);
        const double u = corr / cal * std::hypot(value(point.u_cal) / cal, value(point.u_corr) / corr);
        EXPECT_NEAR(u, value(point.u_e), 0.05 * value(point.u_e));
    }
}

} // namespace
} // namespace stillmark::metrology
