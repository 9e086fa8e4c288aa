#include "daemon/decider/evaluation_json.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace stillmark::decider {
namespace {

using nlohmann::json;

/// Two rising series of five points on a curve, in a unit that is `one` pascals.
metrology::Evaluation bent(double one) {
    std::vector<metrology::Observation> rows;
    for (int series = 1; series <= 2; ++series)
        for (int i = 0; i < 5; ++i) {
            metrology::Observation row;
            row.series = series;
            row.reference = i / one;
            row.reading = (0.1 + 1.01 * i + 0.002 * i * i + 0.003 * std::sin(7.0 * i + series)) / one;
            rows.push_back(row);
        }
    return metrology::evaluate(rows, {});
}

void expect_equal(const json& a, const json& b, const std::string& place) {
    ASSERT_EQ(a.type(), b.type()) << place;
    if (a.is_number_float())
        EXPECT_NEAR(a.get<double>(), b.get<double>(), 1e-6 * std::abs(b.get<double>()) + 1e-18) << place;
    else if (a.is_structured())
        for (auto one = a.begin(); one != a.end(); ++one)
            expect_equal(*one, a.is_object() ? b.at(one.key()) : b.at(static_cast<std::size_t>(one - a.begin())),
                         a.is_object() ? place + "." + one.key() : place + "[]");
    else
        EXPECT_EQ(a, b) << place;
}

// What was evaluated in pascals and written in kilopascals is what is evaluated in kilopascals.
TEST(EvaluationJson, FitsInOneUnitAreThoseOfAnotherAfterScaling) {
    const json scaled = evaluation_json(bent(1), 1e-3), own = evaluation_json(bent(1e3));
    for (const char* key : {"line", "polynomials"})
        expect_equal(scaled.at(key), own.at(key), key);
    const json& parabola = own.at("polynomials").at(0);
    ASSERT_EQ(parabola.at("covariance").size(), 3U);
    for (std::size_t i = 0; i < 3; ++i) {
        const double u = parabola.at("u").at(i);
        EXPECT_NEAR(parabola.at("covariance").at(i).at(i).get<double>(), u * u, 1e-9 * u * u);
    }
    EXPECT_GT(parabola.at("lack_of_fit").at("pure_error").get<double>(), 0);
}

} // namespace
} // namespace stillmark::decider
