#pragma once

#include "daemon/metrology/propagation/expression.hpp"
#include "daemon/metrology/propagation/lanes.hpp"

#include <cmath>
#include <type_traits>

namespace stillmark::metrology {

/// a^n by repeated squaring: defined and with all its derivatives for negative and zero bases too.
template <class Scalar>
Scalar whole_power(Scalar base, unsigned n) {
    Scalar out(1.0);
    for (; n != 0; n >>= 1U) {
        if ((n & 1U) != 0) out = out * base;
        if (n > 1) base = base * base;
    }
    return out;
}

template <class Scalar>
Scalar power_of(const Scalar& base, double exponent) {
    using std::pow;
    constexpr double most = 64;
    if (std::abs(exponent) <= most && std::trunc(exponent) == exponent) {
        const Scalar whole = whole_power(base, static_cast<unsigned>(std::abs(exponent)));
        return exponent < 0 ? Scalar(1.0 / whole) : whole;
    }
    if constexpr (std::is_same_v<Scalar, Lanes>) {
        return pow(base, Lanes(exponent));
    } else {
        return pow(base, exponent);
    }
}

inline Lanes least(const Lanes& a, const Lanes& b) {
    return each(a, b, [](double x, double y) { return y < x || std::isnan(y) ? y : x; });
}
inline Lanes greatest(const Lanes& a, const Lanes& b) {
    return each(a, b, [](double x, double y) { return y > x || std::isnan(y) ? y : x; });
}
template <class Scalar>
Scalar least(const Scalar& a, const Scalar& b) {
    if (!(a <= b || b <= a)) return a + b; // one of them is no number
    return b < a ? b : a;
}
template <class Scalar>
Scalar greatest(const Scalar& a, const Scalar& b) {
    if (!(a <= b || b <= a)) return a + b;
    return b > a ? b : a;
}

/// The result of one step from its operands; a function of one argument does not look at `b`.
template <class Scalar>
Scalar apply(const ExpressionStep& step, const Scalar& a, const Scalar& b) {
    using std::abs, std::sqrt, std::exp, std::log, std::log10, std::sin, std::cos, std::tan;
    using std::asin, std::acos, std::atan, std::pow;
    switch (step.operation) {
    case Operation::number:
    case Operation::input:
        return a;
    case Operation::add:
        return a + b;
    case Operation::subtract:
        return a - b;
    case Operation::multiply:
        return a * b;
    case Operation::divide:
        return a / b;
    case Operation::power:
        return pow(a, b);
    case Operation::plain_power:
        return power_of(a, step.number);
    case Operation::negate:
        return -a;
    case Operation::sqrt:
        if constexpr (std::is_same_v<Scalar, Lanes> || std::is_same_v<Scalar, double>) {
            return sqrt(a);
        } else {
            return pow(a, 0.5); // the same derivatives; clang's analyzer misreads Boost's own square root
        }
    case Operation::exp:
        return exp(a);
    case Operation::log:
        return log(a);
    case Operation::log10:
        return log(a) * (1 / std::log(10.0));
    case Operation::sin:
        return sin(a);
    case Operation::cos:
        return cos(a);
    case Operation::tan:
        return tan(a);
    case Operation::asin:
        return asin(a);
    case Operation::acos:
        return acos(a);
    case Operation::atan:
        return atan(a);
    case Operation::abs:
        return abs(a);
    case Operation::min:
        return least(a, b);
    case Operation::max:
        return greatest(a, b);
    }
    return a;
}

inline bool takes_two(Operation operation) {
    switch (operation) {
    case Operation::add:
    case Operation::subtract:
    case Operation::multiply:
    case Operation::divide:
    case Operation::power:
    case Operation::min:
    case Operation::max:
        return true;
    default:
        return false;
    }
}

/// The value of postfix steps, with a stack that the caller may keep: no memory is asked for once it is large enough.
template <class Scalar>
Scalar value_of(std::span<const ExpressionStep> steps, std::span<const Scalar> inputs, std::vector<Scalar>& stack) {
    stack.clear();
    for (const ExpressionStep& step : steps) {
        if (step.operation == Operation::number) {
            stack.push_back(Scalar(step.number));
        } else if (step.operation == Operation::input) {
            stack.push_back(inputs[step.input]);
        } else if (takes_two(step.operation)) {
            const Scalar second = stack.back();
            stack.pop_back();
            stack.back() = apply(step, stack.back(), second);
        } else {
            stack.back() = apply(step, stack.back(), stack.back());
        }
    }
    return stack.back();
}

} // namespace stillmark::metrology
