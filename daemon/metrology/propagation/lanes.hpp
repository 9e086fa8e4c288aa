#pragma once

#include <array>
#include <cmath>
#include <cstddef>

namespace stillmark::metrology {

/// Eight values that go through an equation side by side, one trial each: a scalar for every template of the physics.
/// Each operation is that of the plain double in every lane, so a lane holds what the double would have held.
struct Lanes {
    static constexpr std::size_t width = 8;
    std::array<double, width> lane{};

    Lanes() = default;
    Lanes(double same) { lane.fill(same); } // NOLINT(google-explicit-constructor): a constant is a value of any scalar

    double& operator[](std::size_t i) { return lane[i]; }
    double operator[](std::size_t i) const { return lane[i]; }

    Lanes& operator+=(const Lanes& b) {
        for (std::size_t i = 0; i < width; ++i)
            lane[i] += b.lane[i];
        return *this;
    }
    Lanes& operator-=(const Lanes& b) {
        for (std::size_t i = 0; i < width; ++i)
            lane[i] -= b.lane[i];
        return *this;
    }
    Lanes& operator*=(const Lanes& b) {
        for (std::size_t i = 0; i < width; ++i)
            lane[i] *= b.lane[i];
        return *this;
    }
    Lanes& operator/=(const Lanes& b) {
        for (std::size_t i = 0; i < width; ++i)
            lane[i] /= b.lane[i];
        return *this;
    }

    // A plain number on one side is not spread over the lanes first: that would cost as much as the operation.
    friend Lanes operator+(const Lanes& a, const Lanes& b) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = a.lane[i] + b.lane[i];
        return out;
    }
    friend Lanes operator+(const Lanes& a, double b) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = a.lane[i] + b;
        return out;
    }
    friend Lanes operator+(double a, const Lanes& b) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = a + b.lane[i];
        return out;
    }
    friend Lanes operator-(const Lanes& a, const Lanes& b) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = a.lane[i] - b.lane[i];
        return out;
    }
    friend Lanes operator-(const Lanes& a, double b) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = a.lane[i] - b;
        return out;
    }
    friend Lanes operator-(double a, const Lanes& b) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = a - b.lane[i];
        return out;
    }
    friend Lanes operator*(const Lanes& a, const Lanes& b) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = a.lane[i] * b.lane[i];
        return out;
    }
    friend Lanes operator*(const Lanes& a, double b) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = a.lane[i] * b;
        return out;
    }
    friend Lanes operator*(double a, const Lanes& b) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = a * b.lane[i];
        return out;
    }
    friend Lanes operator/(const Lanes& a, const Lanes& b) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = a.lane[i] / b.lane[i];
        return out;
    }
    friend Lanes operator/(const Lanes& a, double b) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = a.lane[i] / b;
        return out;
    }
    friend Lanes operator/(double a, const Lanes& b) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = a / b.lane[i];
        return out;
    }
    friend Lanes operator-(const Lanes& a) {
        Lanes out;
        for (std::size_t i = 0; i < width; ++i)
            out.lane[i] = -a.lane[i];
        return out;
    }
};

/// The function of every lane.
template <class Function>
Lanes each(const Lanes& a, Function function) {
    Lanes out;
    for (std::size_t i = 0; i < Lanes::width; ++i)
        out.lane[i] = function(a.lane[i]);
    return out;
}
template <class Function>
Lanes each(const Lanes& a, const Lanes& b, Function function) {
    Lanes out;
    for (std::size_t i = 0; i < Lanes::width; ++i)
        out.lane[i] = function(a.lane[i], b.lane[i]);
    return out;
}

// Found by the templates of the physics and of expressions beside those of <cmath>.
inline Lanes sqrt(const Lanes& a) {
    return each(a, [](double x) { return std::sqrt(x); });
}
inline Lanes exp(const Lanes& a) {
    return each(a, [](double x) { return std::exp(x); });
}
inline Lanes log(const Lanes& a) {
    return each(a, [](double x) { return std::log(x); });
}
inline Lanes log10(const Lanes& a) {
    return each(a, [](double x) { return std::log10(x); });
}
inline Lanes sin(const Lanes& a) {
    return each(a, [](double x) { return std::sin(x); });
}
inline Lanes cos(const Lanes& a) {
    return each(a, [](double x) { return std::cos(x); });
}
inline Lanes tan(const Lanes& a) {
    return each(a, [](double x) { return std::tan(x); });
}
inline Lanes asin(const Lanes& a) {
    return each(a, [](double x) { return std::asin(x); });
}
inline Lanes acos(const Lanes& a) {
    return each(a, [](double x) { return std::acos(x); });
}
inline Lanes atan(const Lanes& a) {
    return each(a, [](double x) { return std::atan(x); });
}
inline Lanes abs(const Lanes& a) {
    return each(a, [](double x) { return std::abs(x); });
}
inline Lanes pow(const Lanes& a, const Lanes& b) {
    return each(a, b, [](double x, double y) { return std::pow(x, y); });
}

} // namespace stillmark::metrology
