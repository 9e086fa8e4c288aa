#include "daemon/metrology/evaluation/evaluation_fits.hpp"

#include "daemon/metrology/mark_uncertainty.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

namespace stillmark::metrology {

namespace {

/// To four digits.
std::string short_number(double value) {
    constexpr int digits = 4;
    std::array<char, 32> text{};
    const auto end = std::to_chars(text.begin(), text.end(), value, std::chars_format::general, digits).ptr;
    return {text.begin(), end};
}

class Fitter {
  public:
    Fitter(const PassTable& table, const EvaluationSettings& settings, std::optional<double> resolution, Evaluation& to,
           UnsaidList& unsaid)
        : table_(table), settings_(settings), to_(to), unsaid_(unsaid) {
        if (resolution) u_resolution_ = resolution_uncertainty_pa(*resolution);
    }

    void find() {
        collect();
        ReadingFit line = fit_readings(readings_, 1);
        if (line.curve.solved && (line.curve.dof > 0 || line.weighted)) {
            tell_enlarged(line, "the transfer line");
            to_.line = std::move(line);
        } else {
            cannot_say("the transfer line", "it takes three readings at two different points at least");
        }
        for (const std::size_t degree : {std::size_t{2}, std::size_t{3}}) {
            if (table_.points.size() < degree + 2) continue; // as many points as coefficients prove nothing
            ReadingFit curve = fit_readings(readings_, degree);
            if (!curve.curve.solved) continue;
            tell_enlarged(curve, "the polynomial of degree " + std::to_string(degree));
            to_.polynomials.push_back(std::move(curve));
        }
        find_linearity();
    }

  private:
    /// Fits are printed on no certificate, so these sentences are in English alone.
    void cannot_say(std::string what, std::string why) {
        unsaid_.add(Topic::fits, as_it_is(std::move(what)), as_it_is(std::move(why)));
    }

    /// Zero or nothing where neither the reading nor anybody else says it.
    double own(const Observation& one) const { return one.u_mean ? std::hypot(*one.u_mean, u_resolution_) : 0; }

    std::optional<double> of_reference(const Observation& one) const {
        auto u = one.u_reference;
        if (!u && settings_.u_reference) u = settings_.u_reference(one.reference);
        return u && std::isfinite(*u) && *u >= 0 ? u : std::nullopt;
    }

    void collect() {
        for (std::size_t j = 0; j < table_.points.size(); ++j)
            for (const auto* one : table_.points[j].readings) {
                readings_.point.push_back(j);
                readings_.reference.push_back(one->reference);
                readings_.reading.push_back(one->reading);
                if (const double u = own(*one); u > 0 && std::isfinite(u)) readings_.u_own.push_back(u);
                if (const auto u = of_reference(*one)) readings_.u_reference.push_back(*u);
                if (settings_.u_meter) readings_.u_meter.push_back(settings_.u_meter(one->reference));
            }
        const std::size_t all = readings_.reading.size();
        const auto lacking = [all](const std::vector<double>& known) {
            return std::to_string(all - known.size()) + " of " + std::to_string(all) + " readings ";
        };
        if (readings_.u_own.empty()) {
            to_.weighting = "every reading counts alike: none carries the uncertainty of its mean";
        } else if (readings_.u_own.size() < all) {
            const std::string why = lacking(readings_.u_own) + "have no uncertainty of their own";
            to_.weighting = "every reading counts alike: " + why;
            cannot_say("the weights of the fits", why + "; every reading counts alike");
            readings_.u_own.clear();
        } else {
            to_.weighting = "by the scatter and the resolution of each reading";
        }
        if (readings_.u_reference.size() < all) {
            cannot_say("the reference's part in the uncertainty of the fits",
                       readings_.u_reference.empty()
                           ? "no uncertainty of the reference is given"
                           : lacking(readings_.u_reference) + "have no uncertainty of the reference");
            readings_.u_reference.clear();
        }
        if (settings_.zeroed) readings_.u_offset = u_resolution_; // of the zero that was taken off
    }

    /// In full for the first fit that needs it.
    void tell_enlarged(const ReadingFit& fit, const std::string& name) {
        if (fit.enlarged <= 1) return;
        std::string why = "chi-squared is " + short_number(fit.curve.chi_squared) + ", over " +
                          short_number(*fit.chi_squared_limit) + ", its 95 % quantile for " + number(fit.curve.dof) +
                          " degrees of freedom";
        if (!std::exchange(explained_, true))
            why += " (ISO/TS 28037:2010, 6.3): the readings lie farther from the curve than their scatter and "
                   "resolution explain, as with hysteresis, another shape or a step of the reference between ranges";
        cannot_say("the uncertainty of " + name,
                   why + "; their part of it is enlarged " + short_number(fit.enlarged) + " times");
    }

    void find_linearity() {
        std::vector<double> at, mean;
        for (const PointEvaluation& point : to_.points)
            if (point.mean && (at.empty() || point.reference > at.back())) {
                at.push_back(point.reference);
                mean.push_back(point.reference + point.mean->deviation);
            }
        if (at.size() > 2)
            to_.linearity = linearity(at, mean);
        else
            cannot_say("linearity", "it takes three points at least");
    }

    const PassTable& table_;
    const EvaluationSettings& settings_;
    Evaluation& to_;
    UnsaidList& unsaid_;
    double u_resolution_ = 0;
    bool explained_ = false; ///< what chi-squared is held against
    FitReadings readings_;
};

} // namespace

void find_fits(const PassTable& table, const EvaluationSettings& settings, std::optional<double> resolution,
               Evaluation& to, UnsaidList& unsaid) {
    Fitter(table, settings, resolution, to, unsaid).find();
}

} // namespace stillmark::metrology
