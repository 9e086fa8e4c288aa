#include "daemon/metrology/evaluation/least_squares.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace stillmark::metrology {

namespace {

using Long = long double;

/// Upper triangle and transformed values of a design whose columns were scaled to unit length.
struct Triangle {
    std::size_t rows, columns;
    std::vector<Long> a; ///< row by row
    std::vector<Long> b;
    std::vector<Long> scale; ///< length that each column had

    Long& at(std::size_t i, std::size_t j) { return a[i * columns + j]; }
    Long at(std::size_t i, std::size_t j) const { return a[i * columns + j]; }
};

Triangle weighted(const LeastSquaresProblem& problem) {
    Triangle t{problem.values.size(), problem.columns, {}, {}, {}};
    t.a.assign(problem.design.begin(), problem.design.end());
    t.b.assign(problem.values.begin(), problem.values.end());
    for (std::size_t i = 0; i < t.rows && !problem.u.empty(); ++i) {
        for (std::size_t j = 0; j < t.columns; ++j)
            t.at(i, j) /= problem.u[i];
        t.b[i] /= problem.u[i];
    }
    for (std::size_t j = 0; j < t.columns; ++j) {
        Long length = 0;
        for (std::size_t i = 0; i < t.rows; ++i)
            length = std::hypot(length, t.at(i, j));
        t.scale.push_back(length);
        for (std::size_t i = 0; i < t.rows && length > 0; ++i)
            t.at(i, j) /= length;
    }
    return t;
}

/// False where a column is made up of those before it.
bool triangulate(Triangle& t) {
    for (std::size_t k = 0; k < t.columns; ++k) {
        Long length = 0;
        for (std::size_t i = k; i < t.rows; ++i)
            length = std::hypot(length, t.at(i, k));
        if (!(length > 16 * std::numeric_limits<Long>::epsilon())) return false;
        const Long head = t.at(k, k) > 0 ? -length : length;
        std::vector<Long> mirror(t.rows, 0);
        mirror[k] = t.at(k, k) - head;
        for (std::size_t i = k + 1; i < t.rows; ++i)
            mirror[i] = t.at(i, k);
        Long square = 0;
        for (std::size_t i = k; i < t.rows; ++i)
            square += mirror[i] * mirror[i];
        const auto reflect = [&](auto&& place) {
            Long along = 0;
            for (std::size_t i = k; i < t.rows; ++i)
                along += mirror[i] * place(i);
            along *= 2 / square;
            for (std::size_t i = k; i < t.rows; ++i)
                place(i) -= along * mirror[i];
        };
        for (std::size_t j = k; j < t.columns; ++j)
            reflect([&](std::size_t i) -> Long& { return t.at(i, j); });
        reflect([&](std::size_t i) -> Long& { return t.b[i]; });
    }
    return true;
}

/// Inverse of the triangle, row by row, in the scaled columns.
std::vector<Long> inverse(const Triangle& t) {
    const std::size_t n = t.columns;
    std::vector<Long> out(n * n, 0);
    for (std::size_t j = 0; j < n; ++j) {
        out[j * n + j] = 1 / t.at(j, j);
        for (std::size_t i = j; i-- > 0;) {
            Long sum = 0;
            for (std::size_t k = i + 1; k <= j; ++k)
                sum += t.at(i, k) * out[k * n + j];
            out[i * n + j] = -sum / t.at(i, i);
        }
    }
    return out;
}

/// What the design explains of the values, `left` being the sum of squares that it does not.
void add_explained(LeastSquares& fit, const LeastSquaresProblem& problem, Long left) {
    const auto weight = [&](std::size_t i) {
        return problem.u.empty() ? Long{1} : 1 / (static_cast<Long>(problem.u[i]) * problem.u[i]);
    };
    Long mean = 0, weights = 0, whole = 0;
    for (std::size_t i = 0; i < problem.values.size() && problem.about_mean; ++i) {
        mean += weight(i) * problem.values[i];
        weights += weight(i);
    }
    if (problem.about_mean) mean /= weights;
    for (std::size_t i = 0; i < problem.values.size(); ++i)
        whole += weight(i) * (problem.values[i] - mean) * (problem.values[i] - mean);
    const auto columns = static_cast<Long>(problem.columns - (problem.about_mean ? 1 : 0));
    fit.explained = static_cast<double>(whole - left);
    fit.r_squared = static_cast<double>(1 - left / whole);
    fit.f = static_cast<double>((whole - left) / columns / (left / fit.dof));
}

} // namespace

double LeastSquares::u(std::size_t i) const {
    return std::sqrt(covariance_of(i, i));
}

LeastSquares solve(const LeastSquaresProblem& problem) {
    LeastSquares out;
    const std::size_t n = problem.columns, rows = problem.values.size();
    const auto finite = [](const std::vector<double>& list) {
        return std::all_of(list.begin(), list.end(), [](double value) { return std::isfinite(value); });
    };
    if (n == 0 || rows < n || problem.design.size() != rows * n || !finite(problem.design) || !finite(problem.values))
        return out;
    const auto positive = [](double value) { return value > 0 && std::isfinite(value); };
    if (!problem.u.empty() && (problem.u.size() != rows || !std::all_of(problem.u.begin(), problem.u.end(), positive)))
        return out;
    Triangle t = weighted(problem);
    if (!triangulate(t)) return out;

    std::vector<Long> scaled(n);
    for (std::size_t i = n; i-- > 0;) {
        Long sum = t.b[i];
        for (std::size_t j = i + 1; j < n; ++j)
            sum -= t.at(i, j) * scaled[j];
        scaled[i] = sum / t.at(i, i);
    }
    std::vector<Long> solution(n);
    for (std::size_t i = 0; i < n; ++i) {
        solution[i] = scaled[i] / t.scale[i];
        out.coefficients.push_back(static_cast<double>(solution[i]));
    }

    Long chi = 0, square = 0;
    for (std::size_t i = 0; i < rows; ++i) {
        Long residual = problem.values[i];
        for (std::size_t j = 0; j < n; ++j)
            residual -= solution[j] * problem.design[i * n + j];
        out.residuals.push_back(static_cast<double>(residual));
        square += residual * residual;
        const Long weighted_residual = problem.u.empty() ? residual : residual / problem.u[i];
        chi += weighted_residual * weighted_residual;
    }
    out.chi_squared = static_cast<double>(chi);
    out.dof = static_cast<double>(rows - n);
    out.residual_sd = out.dof > 0 ? static_cast<double>(std::sqrt(square / out.dof)) : 0;

    add_explained(out, problem, chi);

    const Long variance = !problem.u.empty() ? 1 : out.dof > 0 ? square / out.dof : 0;
    const auto inverted = inverse(t);
    out.covariance.assign(n * n, 0);
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = 0; j < n; ++j) {
            Long sum = 0;
            for (std::size_t k = std::max(i, j); k < n; ++k)
                sum += inverted[i * n + k] * inverted[j * n + k];
            out.covariance[i * n + j] = static_cast<double>(sum * variance / (t.scale[i] * t.scale[j]));
        }
    out.solved = true;
    return out;
}

LeastSquares fit_polynomial(std::span<const double> x, std::span<const double> y, std::size_t degree,
                            std::span<const double> u_y) {
    LeastSquaresProblem problem;
    problem.columns = degree + 1;
    problem.about_mean = true;
    for (const double one : x) {
        double power = 1;
        for (std::size_t j = 0; j <= degree; ++j) {
            problem.design.push_back(power);
            power *= one;
        }
    }
    problem.values.assign(y.begin(), y.end());
    problem.u.assign(u_y.begin(), u_y.end());
    return x.size() == y.size() ? solve(problem) : LeastSquares{};
}

double polynomial(std::span<const double> coefficients, double x) {
    double value = 0;
    for (std::size_t i = coefficients.size(); i-- > 0;)
        value = value * x + coefficients[i];
    return value;
}

} // namespace stillmark::metrology
