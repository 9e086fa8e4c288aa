#include "daemon/metrology/evaluation/allan_deviation.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace stillmark::metrology {

namespace {

using Long = long double;

/// Running sum of the values less their mean, which no difference of averages depends on.
std::vector<Long> phase_of(std::span<const double> values) {
    Long mean = 0;
    for (const double one : values)
        mean += (one - values.front()) / static_cast<Long>(values.size());
    std::vector<Long> phase{0};
    phase.reserve(values.size() + 1);
    for (const double one : values)
        phase.push_back(phase.back() + (one - values.front() - mean));
    return phase;
}

/// Root of half the mean square of `terms` differences over `scale`.
DeviationOfTerms deviation_of(Long squares, std::size_t terms, Long scale) {
    return {static_cast<double>(std::sqrt(squares / (2 * static_cast<Long>(terms))) / scale), terms};
}

class AtOneTime {
  public:
    AtOneTime(const std::vector<Long>& phase, std::size_t m) : phase_(phase), m_(m), scale_(static_cast<Long>(m)) {}

    StabilityAt find() const {
        StabilityAt out;
        out.intervals = m_;
        out.adev = by_steps_of(m_);
        out.overlapping = by_steps_of(1);
        out.modified = modified();
        if (out.modified) out.tdev = static_cast<double>(m_) * out.modified->deviation / std::numbers::sqrt3;
        return out;
    }

  private:
    /// Second difference of the phase: m times the difference of two adjacent averages.
    Long difference(std::size_t i) const { return phase_[i + 2 * m_] - 2 * phase_[i + m_] + phase_[i]; }
    std::size_t differences() const { return phase_.size() > 2 * m_ ? phase_.size() - 2 * m_ : 0; }

    /// Allan deviation over every `step`-th difference: m of them apart, or all, which overlap.
    std::optional<DeviationOfTerms> by_steps_of(std::size_t step) const {
        Long squares = 0;
        std::size_t terms = 0;
        for (std::size_t i = 0; i < differences(); i += step, ++terms)
            squares += difference(i) * difference(i);
        if (terms == 0) return std::nullopt;
        return deviation_of(squares, terms, scale_);
    }

    /// Over the means of m overlapping differences.
    std::optional<DeviationOfTerms> modified() const {
        if (differences() < m_) return std::nullopt;
        Long sum = 0, squares = 0;
        for (std::size_t i = 0; i < m_; ++i)
            sum += difference(i);
        const std::size_t terms = differences() - m_ + 1;
        for (std::size_t i = 0; i < terms; ++i) {
            squares += sum * sum;
            if (i + 1 < terms) sum += difference(i + m_) - difference(i);
        }
        return deviation_of(squares, terms, scale_ * scale_);
    }

    const std::vector<Long>& phase_;
    std::size_t m_;
    Long scale_;
};

} // namespace

std::vector<StabilityAt> allan_deviations(std::span<const double> values) {
    if (!std::all_of(values.begin(), values.end(), [](double one) { return std::isfinite(one); })) return {};
    std::vector<StabilityAt> out;
    if (values.size() < 2) return out;
    const auto phase = phase_of(values);
    for (std::size_t m = 1; m <= values.size() / 2; m *= 2)
        out.push_back(AtOneTime(phase, m).find());
    return out;
}

} // namespace stillmark::metrology
