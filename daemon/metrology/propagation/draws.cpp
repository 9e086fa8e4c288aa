#include "daemon/metrology/propagation/draws.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <numbers>
#include <utility>

namespace stillmark::metrology {

namespace {

/// Layers of equal area under exp(-x^2/2), x > 0 (G. Marsaglia, W. W. Tsang, J. Stat. Softw. 5 (2000) 8).
class Ziggurat {
  public:
    static constexpr std::size_t layers = 256;
    static constexpr double tail_begins = 3.6541528853610088;

    std::array<double, layers> edge{};   ///< right edge of each layer; of the lowest, as if it had no tail
    std::array<double, layers> inside{}; ///< part of the layer that lies under the curve all over
    std::array<double, layers + 1> height{};

    Ziggurat() {
        constexpr double area = 0.00492867323399; // of one layer; fixes the edges with the beginning of the tail
        const auto density = [](double x) { return std::exp(-x * x / 2); };
        std::array<double, layers + 1> x{};
        x[0] = area / density(tail_begins);
        x[1] = tail_begins;
        for (std::size_t i = 2; i < layers; ++i)
            x[i] = std::sqrt(-2 * std::log(density(x[i - 1]) + area / x[i - 1]));
        x[layers] = 0;
        for (std::size_t i = 0; i < layers; ++i) {
            edge[i] = x[i];
            inside[i] = x[i + 1] / x[i];
        }
        for (std::size_t i = 0; i <= layers; ++i)
            height[i] = density(x[i]);
    }
};

const Ziggurat& ziggurat() {
    static const Ziggurat the_one;
    return the_one;
}

} // namespace

std::vector<double> cholesky(std::span<const double> matrix, std::size_t size) {
    constexpr double nothing = 1e-10;
    std::vector<double> lower(size * size, 0.0);
    for (std::size_t column = 0; column < size; ++column) {
        double left = matrix[column * size + column];
        for (std::size_t k = 0; k < column; ++k)
            left -= lower[column * size + k] * lower[column * size + k];
        if (!(left >= -nothing)) return {};
        const double pivot = left > nothing ? std::sqrt(left) : 0;
        lower[column * size + column] = pivot;
        for (std::size_t row = column + 1; row < size; ++row) {
            double sum = matrix[row * size + column];
            for (std::size_t k = 0; k < column; ++k)
                sum -= lower[row * size + k] * lower[column * size + k];
            // Where nothing of this input is left, nothing may hang on it.
            if (pivot == 0 && !(std::abs(sum) <= std::sqrt(nothing))) return {};
            lower[row * size + column] = pivot > 0 ? sum / pivot : 0;
        }
    }
    return lower;
}

DrawPlan::DrawPlan(std::vector<Standardized> inputs, std::vector<CorrelatedGroup> groups) : inputs_(std::move(inputs)) {
    std::vector<bool> grouped(inputs_.size(), false);
    for (CorrelatedGroup& group : groups) {
        for (const std::size_t input : group.inputs)
            grouped[input] = true;
        std::vector<double> factor = cholesky(group.correlation, group.inputs.size());
        groups_.push_back({std::move(group.inputs), std::move(factor), group.dof});
    }
    for (std::size_t i = 0; i < inputs_.size(); ++i)
        if (!grouped[i]) independent_.push_back(i);
}

Draws::Draws(const DrawPlan& plan, const RandomStream& start) : plan_(&plan), rare_(start) {
    for (std::size_t lane = 0; lane < Lanes::width; ++lane) {
        for (std::size_t word = 0; word < state_.size(); ++word)
            state_[word][lane] = rare_.state()[word];
        rare_.jump();
    }
}

Draws::Bits Draws::bits() {
    Bits result;
    for (std::size_t i = 0; i < Lanes::width; ++i) {
        const std::uint64_t sum = state_[0][i] + state_[3][i];
        result[i] = (sum << 23U | sum >> 41U) + state_[0][i];
        const std::uint64_t shifted = state_[1][i] << 17U;
        state_[2][i] ^= state_[0][i];
        state_[3][i] ^= state_[1][i];
        state_[1][i] ^= state_[2][i];
        state_[0][i] ^= state_[3][i];
        state_[2][i] ^= shifted;
        state_[3][i] = state_[3][i] << 45U | state_[3][i] >> 19U;
    }
    return result;
}

Lanes Draws::uniform() {
    const Bits random = bits();
    Lanes out;
    for (std::size_t i = 0; i < Lanes::width; ++i)
        out[i] = unit_interval(random[i]);
    return out;
}

Lanes Draws::normal() {
    const Ziggurat& layers = ziggurat();
    const Bits random = bits();
    Lanes out;
    unsigned outside = 0;
    for (std::size_t i = 0; i < Lanes::width; ++i) {
        const std::size_t layer = random[i] & (Ziggurat::layers - 1);
        const double along = signed_interval(random[i]);
        out[i] = along * layers.edge[layer];
        outside |= static_cast<unsigned>(!(std::abs(along) < layers.inside[layer])) << i;
    }
    for (; outside != 0; outside &= outside - 1) {
        const auto i = static_cast<std::size_t>(std::countr_zero(outside));
        out[i] = slow_normal(random[i]);
    }
    return out;
}

/// The value of bits that fell outside the plain part of their layer, or of others if these are refused.
double Draws::slow_normal(std::uint64_t bits) {
    const Ziggurat& layers = ziggurat();
    while (true) {
        const std::size_t layer = bits & (Ziggurat::layers - 1);
        const double along = signed_interval(bits);
        const double x = along * layers.edge[layer];
        if (std::abs(along) < layers.inside[layer]) return x;
        if (layer == 0) {
            double beyond = 0;
            do {
                beyond = -std::log(unit_interval(rare_())) / Ziggurat::tail_begins;
            } while (-2 * std::log(unit_interval(rare_())) <= beyond * beyond);
            return std::copysign(Ziggurat::tail_begins + beyond, along);
        }
        const double low = layers.height[layer];
        const double high = layers.height[layer + 1];
        if (low + unit_interval(rare_()) * (high - low) < std::exp(-x * x / 2)) return x;
        bits = rare_();
    }
}

/// Twice a gamma variable of shape dof/2 (G. Marsaglia, W. W. Tsang, ACM Trans. Math. Softw. 26 (2000) 363).
double Draws::chi_square(double dof) {
    const double shape = dof / 2;
    const double raised = shape < 1 ? shape + 1 : shape;
    const double boost = shape < 1 ? std::pow(unit_interval(rare_()), 1 / shape) : 1;
    const double d = raised - 1.0 / 3;
    const double c = 1 / std::sqrt(9 * d);
    while (true) {
        const double x = slow_normal(rare_());
        const double root = 1 + c * x;
        if (!(root > 0)) continue;
        const double v = root * root * root;
        if (std::log(unit_interval(rare_())) < x * x / 2 + d * (1 - v + std::log(v))) return 2 * d * v * boost;
    }
}

/// What makes of a normal variable one of t.
Lanes Draws::t_scale(double dof) {
    Lanes scale;
    for (double& x : scale.lane)
        x = std::sqrt(dof / chi_square(dof));
    return scale;
}

Lanes Draws::of(const Standardized& what) {
    Lanes deviation;
    switch (what.distribution) {
    case Distribution::normal:
        deviation = normal();
        return std::isinf(what.dof) ? deviation : deviation * t_scale(what.dof);
    case Distribution::rectangular:
        deviation = std::sqrt(3.0) * (2.0 * uniform() - 1.0);
        break;
    case Distribution::triangular:
        deviation = uniform();
        deviation = std::sqrt(6.0) * (deviation + uniform() - 1.0);
        break;
    case Distribution::arcsine:
        deviation = std::sqrt(2.0) * sin(std::numbers::pi * (2.0 * uniform() - 1.0));
        break;
    }
    if (std::isinf(what.dof)) return deviation;
    const double part = std::min(1.0, 1 / std::sqrt(2 * what.dof));
    return deviation * (1.0 + part * (2.0 * uniform() - 1.0));
}

void Draws::next(std::span<Lanes> deviations) {
    for (const std::size_t input : plan_->independent_)
        deviations[input] = of(plan_->inputs_[input]);
    for (const DrawPlan::Group& group : plan_->groups_) {
        const std::size_t size = group.inputs.size();
        scratch_.resize(size);
        for (Lanes& one : scratch_)
            one = normal();
        const Lanes scale = std::isinf(group.dof) ? Lanes(1.0) : t_scale(group.dof);
        for (std::size_t row = 0; row < size; ++row) {
            Lanes sum(0.0);
            for (std::size_t column = 0; column <= row; ++column)
                sum += group.factor[row * size + column] * scratch_[column];
            deviations[group.inputs[row]] = sum * scale;
        }
    }
}

} // namespace stillmark::metrology
