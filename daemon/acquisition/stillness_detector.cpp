#include "daemon/acquisition/line_judgement.hpp"
#include "daemon/acquisition/student_t.hpp"

#include <algorithm>
#include <cmath>

namespace stillmark::acquisition {

namespace {

/// How far over its limit a drift is called moving.
constexpr double clearly = 10;
/// Normal one-sided 95 % point: the lower bound only names a state, so that its exact confidence decides nothing.
constexpr double lower_95 = 1.645;
/// Where the limit is this many standard errors of the slope, at least three windows in four of a resting reading pass.
constexpr double errors_in_limit = 5;
/// Beyond a day nobody waits for it.
constexpr double longest_told_s = 86'400;

std::size_t readings_in(const StillnessLimits& limits, double times) {
    const double n = times * limits.window_s / limits.poll_interval_s;
    return static_cast<std::size_t>(std::clamp(n, 0.0, 1e7)) + 16;
}

} // namespace

StillnessDetector::StillnessDetector(const StillnessLimits& limits)
    : limits_(limits), allowed_(limits), t_95_(&StudentT95::table()),
      window_(readings_in(limits, 1.25), readings_in(limits, 8)), window_us_(micros(limits.window_s)),
      hold_us_(micros(limits.hold_s)),
      // Five response times, but not fewer readings than a window needs.
      trend_us_(micros(std::min(limits.window_s,
                                std::max(5 * limits.response_time_s, limits.least_readings * limits.poll_interval_s)))),
      longest_gap_us_(micros(3 * limits.poll_interval_s)),
      longest_silence_us_(longest_silence_us(limits.poll_interval_s)), per_response_time_(1 / limits.response_time_s) {}

void StillnessDetector::begin_again(Criterion why, std::size_t keep) {
    window_.keep_last(keep);
    passing_since_us_.reset();
    earlier_slope_.reset();
    later_slope_.reset();
    expectation_ = {};
    moving_until_us_ = 0;
    failing_ = began_again_for_ = why;
}

Stillness StillnessDetector::push(const TimedValue& reading) {
    const bool in_order = !last_us_ || window_.count() == 0 || reading.at_us >= window_.last_at_us();
    if (!reading.good || !std::isfinite(reading.value_pa) || !in_order) {
        begin_again(Criterion::readings, 0);
        last_us_ = std::max(reading.at_us, last_us_.value_or(reading.at_us));
        return now_ = Stillness::faulty;
    }
    if (window_.count() > 0 && reading.at_us - window_.last_at_us() > longest_gap_us_) begin_again(Criterion::gap, 0);
    const bool step = leaves_the_line(reading);
    window_.push(reading.at_us, reading.value_pa);
    last_us_ = reading.at_us;
    if (step) {
        begin_again(Criterion::count, 2);
        now_ = Stillness::moving;
        moving_until_us_ = reading.at_us + trend_us_;
    }
    window_.reach_back_to(reading.at_us - (now_ == Stillness::moving ? trend_us_ : window_us_));
    judge(reading.at_us);
    return now_;
}

bool StillnessDetector::leaves_the_line(const TimedValue& reading) {
    if (!expectation_.known) return false;
    const double expected =
        expectation_.at_origin_pa +
        expectation_.slope_pa_per_s * (1e-6 * static_cast<double>(reading.at_us - expectation_.origin_us));
    const double off = reading.value_pa - expected;
    if (off * off <= expectation_.far_pa2) {
        expectation_.beyond = 0;
        return false;
    }
    expectation_.beyond = off > 0 ? std::max(expectation_.beyond, 0) + 1 : std::min(expectation_.beyond, 0) - 1;
    return std::abs(expectation_.beyond) >= 2;
}

void StillnessDetector::judge(Micros at_us) {
    bool moving = at_us < moving_until_us_;
    if (window_.count() < 3) {
        now_ = moving ? Stillness::moving : Stillness::settling;
        failing_ = moving ? Criterion::drift : began_again_for_;
        return;
    }
    const LineFit& fit = window_.fit();
    const Micros span_us = window_.span_us();
    moving = moving || (span_us >= trend_us_ && drifts_clearly(fit));
    if (moving) {
        now_ = Stillness::moving;
        failing_ = Criterion::drift;
        began_again_for_ = Criterion::count;
        passing_since_us_.reset();
        earlier_slope_.reset();
        later_slope_.reset();
        expectation_ = {};
        return;
    }
    now_ = Stillness::settling;
    if (expectation_.beyond == 0) expect(fit);
    if (span_us >= window_us_)
        judge_full_window(fit, at_us);
    else
        failing_ = began_again_for_;
}

void StillnessDetector::judge_full_window(const LineFit& fit, Micros at_us) {
    const double correlation = least_correlation(fit);
    const std::optional<Criterion> plain = plain_verdict(fit, allowed_, correlation);
    failing_ = plain ? *plain : judge_line(fit, allowed_, correlation, *t_95_).failing;
    remember_slope(fit, at_us);
    if (failing_ != Criterion::none) {
        passing_since_us_.reset();
        return;
    }
    if (!passing_since_us_) passing_since_us_ = at_us;
    if (at_us - *passing_since_us_ >= hold_us_) now_ = Stillness::still;
}

bool StillnessDetector::drifts_clearly(const LineFit& fit) {
    const double excess_pa_per_s = std::abs(fit.slope_pa_per_s) - clearly * allowed_.most_bound_pa_per_s;
    if (excess_pa_per_s <= 0) return false;
    // Only the correlation that the response time gives: that of the residuals would be high just because the pressure
    // moves along a curve.
    const double r = least_correlation(fit);
    const double variance = fit.residual_pa2 * fit.per_freedom / fit.sxx_s2 * (1 + r) / (1 - r);
    return excess_pa_per_s * excess_pa_per_s > lower_95 * lower_95 * variance;
}

void StillnessDetector::expect(const LineFit& fit) {
    expectation_.known = fit.count >= allowed_.least_readings;
    expectation_.origin_us = window_.origin_us();
    expectation_.at_origin_pa = fit.mean_pa - fit.slope_pa_per_s * fit.mean_time_s;
    expectation_.slope_pa_per_s = fit.slope_pa_per_s;
    expectation_.far_pa2 =
        clearly * clearly *
        std::max(limits_.drift_limit_pa * limits_.drift_limit_pa, fit.residual_pa2 * fit.per_freedom);
}

double StillnessDetector::least_correlation(const LineFit& fit) {
    const double exponent = fit.span_s * fit.per_interval * per_response_time_;
    const double d = exponent - floor_exponent_;
    // Four terms of the series are right to 4e-14 here, at a tenth of the cost.
    if (std::abs(d) < 1e-3) return floor_ * (1 - d * (1 - d / 2 * (1 - d / 3)));
    floor_exponent_ = exponent;
    floor_ = std::exp(-exponent);
    return floor_;
}

/// The latest full window in figures, for those who ask.
LineJudgement StillnessDetector::judged() const {
    const LineFit& fit = window_.latest_fit();
    return judge_line(fit, allowed_, std::exp(-fit.span_s * fit.per_interval * per_response_time_), *t_95_);
}

void StillnessDetector::remember_slope(const LineFit& fit, Micros at_us) {
    if (later_slope_ && at_us - later_slope_->at_us < window_us_ / 2) return;
    earlier_slope_ = later_slope_;
    later_slope_ = Slope{at_us, std::abs(fit.slope_pa_per_s)};
}

std::optional<double> StillnessDetector::expected_until_passing_s() const {
    if (!earlier_slope_) return std::nullopt;
    // An exponential decay through both slopes, half a window to a whole one apart: no response time is assumed, heat
    // in the oil has another one. What the bound adds for noise stays.
    const double slope = std::abs(window_.latest_fit().slope_pa_per_s);
    const double noise =
        failing_ == Criterion::drift ? judged().slope_bound_pa_per_s - slope : allowed_.least_bound_pa_per_s;
    const double wanted = allowed_.most_bound_pa_per_s - noise;
    const bool tells = wanted > 0 && slope > wanted && earlier_slope_->pa_per_s > slope;
    if (!tells || failing_ == Criterion::scatter) return std::nullopt;
    const double since_s = 1e-6 * static_cast<double>(*last_us_ - earlier_slope_->at_us);
    const double expected_s = since_s * std::log(slope / wanted) / std::log(earlier_slope_->pa_per_s / slope);
    return expected_s < longest_told_s ? std::optional(expected_s) : std::nullopt;
}

Stillness StillnessDetector::tick(Micros now_us) {
    if (!last_us_) last_us_ = now_us;
    if (now_us - *last_us_ > longest_silence_us_) {
        begin_again(Criterion::gap, 0);
        now_ = Stillness::silent;
    }
    return now_;
}

double StillnessDetector::progress() const {
    if (now_ == Stillness::still) return 1;
    if (now_ != Stillness::settling) return 0;
    const auto whole_us = static_cast<double>(window_us_ + hold_us_);
    if (window_.span_us() < window_us_) return static_cast<double>(window_.span_us()) / whole_us;
    const auto window_share = static_cast<double>(window_us_) / whole_us;
    switch (failing_) {
    case Criterion::none:
        return window_share + static_cast<double>(*last_us_ - *passing_since_us_) / whole_us;
    case Criterion::independence:
        return window_share * judged().effective_count / least_independent;
    case Criterion::drift:
        return window_share * allowed_.most_bound_pa_per_s / judged().slope_bound_pa_per_s;
    case Criterion::scatter:
        return window_share * limits_.scatter_limit_pa / judged().scatter_pa;
    default:
        return 0;
    }
}

std::optional<double> StillnessDetector::expected_s() const {
    if (now_ == Stillness::still) return 0;
    if (now_ != Stillness::settling) return std::nullopt;
    if (passing_since_us_) return 1e-6 * static_cast<double>(*passing_since_us_ + hold_us_ - *last_us_);
    if (window_.span_us() < window_us_) return 1e-6 * static_cast<double>(window_us_ - window_.span_us() + hold_us_);
    const std::optional<double> passing_s = expected_until_passing_s();
    return passing_s ? std::optional(*passing_s + 1e-6 * static_cast<double>(hold_us_)) : std::nullopt;
}

std::optional<double> StillnessDetector::window_that_would_do_s() const {
    if (now_ != Stillness::settling || failing_ != Criterion::drift || window_.span_us() < window_us_)
        return std::nullopt;
    // A slope over twice its own standard error is a drift, and no window helps against it.
    const double slope_error = judged().slope_error_pa_per_s;
    if (!(std::abs(window_.latest_fit().slope_pa_per_s) <= 2 * slope_error)) return std::nullopt;
    const double errors = errors_in_limit * slope_error / allowed_.most_bound_pa_per_s;
    // The error of the slope falls with the power 3/2 of the window, the allowed slope with its first.
    return errors > 1 ? std::optional(limits_.window_s * errors * errors) : std::nullopt;
}

Stillness StillnessDetector::now() const {
    return now_;
}
Criterion StillnessDetector::failing() const {
    return failing_;
}

} // namespace stillmark::acquisition
