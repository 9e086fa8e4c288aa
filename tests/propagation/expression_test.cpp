#include "daemon/metrology/propagation/evaluate_expression.hpp"
#include "daemon/metrology/propagation/expression.hpp"

#include <boost/math/differentiation/autodiff.hpp>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

namespace stillmark::metrology {
namespace {

const std::vector<std::string> names{"a", "b", "V_1", "\xCF\x86"};

double value(const std::string& text, const std::vector<double>& at = {2, 3, -0.5, 0.25}) {
    ExpressionFault fault;
    const auto expression = Expression::parse(text, names, fault);
    if (!expression) {
        ADD_FAILURE() << text << ": column " << fault.column << ": " << fault.words;
        return std::nan("");
    }
    std::vector<double> stack;
    const double found = value_of<double>(expression->steps(), at, stack);
    std::vector<Lanes> lanes(at.begin(), at.end());
    std::vector<Lanes> lane_stack;
    const Lanes same = value_of<Lanes>(expression->steps(), lanes, lane_stack);
    for (const double one : same.lane)
        EXPECT_TRUE(one == found || (std::isnan(one) && std::isnan(found))) << text;
    return found;
}

std::string fault(const std::string& text) {
    ExpressionFault found;
    if (Expression::parse(text, names, found)) return "none";
    return std::to_string(found.column) + ": " + found.words;
}

TEST(Expression, Arithmetic) {
    EXPECT_EQ(value("1 + 2 * 3"), 7);
    EXPECT_EQ(value("(1 + 2) * 3"), 9);
    EXPECT_EQ(value("7 - 2 - 1"), 4);
    EXPECT_EQ(value("8 / 4 / 2"), 1);
    EXPECT_EQ(value("2 ^ 3 ^ 2"), 512);
    EXPECT_EQ(value("-2 ^ 2"), -4);
    EXPECT_EQ(value("2 ^ -1"), 0.5);
    EXPECT_EQ(value("--2"), 2);
    EXPECT_EQ(value("3 - -2"), 5);
    EXPECT_EQ(value("-a * b"), -6);
    EXPECT_EQ(value("a ^ b"), 8);
    EXPECT_EQ(value("V_1 ^ 2"), 0.25);
    EXPECT_EQ(value("V_1 ^ -3"), -8);
    EXPECT_EQ(value("1.5e-3 + .5 + 2."), 2.5015);
    EXPECT_EQ(value("\xCF\x86 * 4"), 1);
    EXPECT_EQ(value("  a\t+\nb "), 5);
}

TEST(Expression, Functions) {
    EXPECT_EQ(value("sqrt(b + 1)"), 2);
    EXPECT_EQ(value("exp(0) + log(1)"), 1);
    EXPECT_NEAR(value("log10(1000)"), 3, 1e-15);
    EXPECT_EQ(value("sin(a)"), std::sin(2.0));
    EXPECT_EQ(value("cos(a)"), std::cos(2.0));
    EXPECT_EQ(value("tan(a)"), std::tan(2.0));
    EXPECT_EQ(value("asin(V_1)"), std::asin(-0.5));
    EXPECT_EQ(value("acos(V_1)"), std::acos(-0.5));
    EXPECT_EQ(value("atan(b)"), std::atan(3.0));
    EXPECT_EQ(value("abs(V_1)"), 0.5);
    EXPECT_EQ(value("min(a, b) + 10 * max(a, b)"), 32);
    EXPECT_EQ(value("pow(b, 2)"), 9);
    EXPECT_EQ(value("pow(V_1, 3)"), -0.125);
    EXPECT_EQ(value("pow(b, a)"), 9);
    EXPECT_EQ(value("pi"), std::numbers::pi);
}

TEST(Expression, FaultsSayWhereWhatAndWhatWouldDo) {
    EXPECT_EQ(fault("a + c"), "5: \"c\" is no input; the inputs are a, b, V_1, \xCF\x86");
    EXPECT_EQ(fault("a ** 2"), "3: \"**\": a power is written with ^");
    EXPECT_EQ(fault("2a"), "1: a number runs into a name; write * between them");
    EXPECT_EQ(fault("(a + b"), "7: the ( of column 1 is never closed");
    EXPECT_EQ(fault("a + "), "5: the expression ends where a number, a name or ( belongs");
    EXPECT_EQ(fault(""), "1: the expression ends where a number, a name or ( belongs");
    EXPECT_EQ(fault("a b"), "3: \"b\" stands where it means nothing; operators are + - * / ^");
    EXPECT_EQ(fault("\xCF\x86 + $"), "5: \"$\" stands where it means nothing; operators are + - * / ^");
    EXPECT_EQ(fault("sin a"), "1: the function sin wants its argument in parentheses");
    EXPECT_EQ(fault("sin(a, b)"), "6: sin wants 1 argument");
    EXPECT_EQ(fault("min(a)"), "6: min wants two arguments, with a comma");
    EXPECT_EQ(
        fault("sinh(a)"),
        "1: there is no function \"sinh\"; there are sqrt exp log log10 sin cos tan asin acos atan abs min max pow");
    EXPECT_EQ(fault("a(b)"), "2: ( after a, which is no function; write * between them");
    EXPECT_EQ(fault("sin(a"), "6: the parenthesis of sin in column 1 is never closed");
    EXPECT_EQ(fault("1e999"), "1: a number beyond what can be computed with");
    EXPECT_NE(fault("1,5"), "none");
    EXPECT_NE(fault(")"), "none");
    EXPECT_NE(fault("."), "none");
    EXPECT_NE(fault("inf"), "none");
    EXPECT_NE(fault("nan"), "none");
}

TEST(Expression, DepthAndLengthAreBounded) {
    EXPECT_NE(fault(std::string(150, '(') + "a" + std::string(150, ')')).find("nested deeper"), std::string::npos);
    EXPECT_EQ(value(std::string(80, '(') + "a" + std::string(80, ')')), 2);
    EXPECT_NE(fault(std::string(5'000, '-') + "a").find("nested deeper"), std::string::npos);
    std::string powers = "a";
    for (int i = 0; i < 1'000; ++i)
        powers += "^a";
    EXPECT_NE(fault(powers).find("nested deeper"), std::string::npos);
    std::string sum = "a";
    while (sum.size() < 9'990)
        sum += " + a";
    EXPECT_GT(value(sum), 4'000);
    EXPECT_NE(fault(sum + " + a + a + a + a").find("longer than 10000"), std::string::npos);
}

TEST(Expression, WhereTheValueStopsBeingANumber) {
    const auto at = [](const std::string& text) {
        ExpressionFault parsed;
        const auto expression = Expression::parse(text, names, parsed);
        const std::vector<double> zero{0, 1, -1, 0};
        const auto found = expression->fault_at(zero);
        return found ? std::to_string(found->column) + ": " + found->words : std::string("none");
    };
    EXPECT_EQ(at("b + b / a"), "7: division by zero");
    EXPECT_EQ(at("sqrt(V_1)"), "1: the square root of a negative number");
    EXPECT_EQ(at("1 + log(a)"), "5: the logarithm of a number that is not positive");
    EXPECT_EQ(at("asin(b + b)"), "1: the arc of a number outside -1 to 1");
    EXPECT_EQ(at("V_1 ^ 0.5"), "5: a power that is no finite number");
    EXPECT_EQ(at("a ^ -2"), "3: a power that is no finite number");
    EXPECT_EQ(at("exp(1000 * b)"), "1: the value is no finite number");
    EXPECT_EQ(at("a + b"), "none");
}

TEST(Expression, PowersHaveTheirDerivativesAtZeroAndBelow) {
    using boost::math::differentiation::make_fvar;
    using Series = boost::math::differentiation::autodiff_fvar<double, 3>;
    ExpressionFault unused;
    std::vector<Series> stack;
    for (const char* text : {"a ^ 2", "pow(a, 2)", "a * a"}) {
        const auto square = Expression::parse(text, names, unused);
        for (const double x : {-2.0, 0.0, 3.0}) {
            const std::vector<Series> at{make_fvar<double, 3>(x), Series(1), Series(1), Series(1)};
            const Series y = value_of<Series>(square->steps(), at, stack);
            EXPECT_EQ(y.derivative(0), x * x) << text;
            EXPECT_EQ(y.derivative(1), 2 * x) << text;
            EXPECT_EQ(y.derivative(2), 2) << text;
            EXPECT_EQ(y.derivative(3), 0) << text;
        }
    }
}

TEST(Expression, NamesThatCanStandForInputs) {
    for (const char* good : {"a", "V_1", "_x", "R0", "\xCF\x86", "sine", "pip"})
        EXPECT_TRUE(Expression::is_name(good)) << good;
    for (const char* bad : {"", "1a", "a b", "a-b", "sin", "pi", "pow", "a.b"})
        EXPECT_FALSE(Expression::is_name(bad)) << bad;
}

// Whatever comes, it is an expression or a fault with a column inside the text (or just behind it).
TEST(Expression, RandomBytesAreSurvived) {
    std::mt19937_64 dice(1);
    const std::string likely = "ab+-*/^(),. 0123456789eE_sincostanlogexpqrtmaxwpi";
    std::size_t good = 0;
    for (int i = 0; i < 60'000; ++i) {
        std::string text(dice() % 40, ' ');
        for (char& c : text)
            c = dice() % 8 == 0 ? static_cast<char>(dice()) : likely[dice() % likely.size()];
        ExpressionFault found;
        const auto expression = Expression::parse(text, names, found);
        if (expression) {
            ++good;
            std::vector<double> stack;
            static_cast<void>(value_of<double>(expression->steps(), std::vector<double>{2, 3, -0.5, 0.25}, stack));
            EXPECT_EQ(stack.size(), 1U);
        } else {
            EXPECT_GE(found.column, 1U);
            EXPECT_LE(found.column, text.size() + 1);
            EXPECT_FALSE(found.words.empty());
        }
    }
    EXPECT_GT(good, 100U);
}

} // namespace
} // namespace stillmark::metrology
