#pragma once

#include "daemon/acquisition/sliding_window.hpp"
#include "protocols/instant.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace stillmark::acquisition {

class StudentT95;
struct LineJudgement;

/// What the detector says of a channel now.
///   moving    a step was just seen (two readings running on one side of the line so far, off by more than ten drift
///             limits and ten times the scatter), or the lower 95 % bound of the slope is over ten times its limit
///   settling  neither moving nor still: the window fills, or a criterion fails, or the hold is not over
///   still     the criterion held at every reading of one hold, and holds now
///   silent    no reading for three polling intervals (at least 0.5 s)
///   faulty    the latest reading was bad; the next good one begins a new window
enum class Stillness : std::uint8_t { moving, settling, still, silent, faulty };
const char* word(Stillness stillness);

/// How long after a reading the next one is missed: three polling intervals, at least 0.5 s. The one rule of freshness:
/// a reading that is older tells nothing of now.
constexpr Micros longest_silence_us(double poll_interval_s) {
    const auto three_us = static_cast<Micros>(3e6 * poll_interval_s);
    return three_us > 500'000 ? three_us : 500'000;
}

/// What a channel must hold to be still; SI. Source: the project's own rule, DEVELOPERS.md "Stillness".
struct StillnessLimits {
    double response_time_s = 0;  ///< tau, over 0
    double window_s = 0;         ///< W, at least 12 tau
    double hold_s = 0;           ///< how long the criterion must go on holding; W unless shortened on purpose
    double poll_interval_s = 0;  ///< over 0
    double resolution_pa = 0;    ///< q, 0 where the number has no visible step
    double drift_limit_pa = 0;   ///< limit of |slope| * max(W, 5 tau)
    double scatter_limit_pa = 0; ///< limit of the residual standard deviation
    int least_readings = 8;      ///< n_min
};

/// Limits from the permissible error: drift max(0.05 MPE, 2 q), scatter max(0.1 MPE, 2 q).
/// W defaults to the larger of 20 tau and 3 s; hold to W.
StillnessLimits default_limits(double response_time_s, double poll_interval_s, double resolution_pa, double mpe_pa);

/// Empty where some reading could meet the limits; otherwise what was found and the smallest that would do.
std::string objection_to(const StillnessLimits& limits);

/// The limits divided out once, as the judgement of a line needs them.
struct Allowed {
    explicit Allowed(const StillnessLimits& limits);
    std::size_t least_readings;
    double least_bound_pa_per_s; ///< q/W: a display that repeats itself may hide a drift of a digit
    double most_bound_pa_per_s;
    double most_scatter_pa;
};

struct TimedValue {
    Micros at_us;
    double value_pa;
    bool good;
};

enum class Criterion : std::uint8_t { none, readings, gap, count, independence, drift, scatter };
/// The failing criterion in words: "the drift bound", "too few independent readings", ...
const char* word(Criterion criterion);

/// A window measured freshly in two passes over its readings. u_mean is WITHOUT resolution.
struct WindowStatistics {
    std::size_t count = 0;
    double mean_pa = 0;
    double slope_pa_per_s = 0;
    double scatter_pa = 0;           ///< residual standard deviation about the line
    double autocorrelation = 0;      ///< r1 of the residuals
    double correlation = 0;          ///< r, after correction and floor
    double effective_count = 0;      ///< n_eff = n (1 - r)/(1 + r)
    double slope_bound_pa_per_s = 0; ///< one-sided 95 % bound, not below q/W
    double u_mean_pa = 0;
    double u_mean_dof = 0;               ///< n_eff - 1
    Criterion failing = Criterion::none; ///< first criterion that fails; none where the window passes
};

/// Judges readings as one window; `readings` in order of time. Used for every mark and by replay: pure.
WindowStatistics measure_window(std::span<const TimedValue> readings, const StillnessLimits& limits);

/// Watches one channel; O(1) a reading. It only proposes; a mark is always measured by measure_window.
class StillnessDetector {
  public:
    explicit StillnessDetector(const StillnessLimits& limits);

    /// Takes the next reading (in order of time) and says what the channel is now.
    Stillness push(const TimedValue& reading);
    /// Tells the detector that time has passed without a reading; silent after three polling intervals (at least 0.5
    /// s).
    Stillness tick(Micros now_us);

    Stillness now() const;
    /// 0 to 1: how much of first window and hold has been filled by readings that pass.
    double progress() const;
    /// Expected seconds until still, where the present trend tells it.
    std::optional<double> expected_s() const;
    /// Why it is not still yet.
    Criterion failing() const;
    /// A window (s) that would let noise of this size pass, where only noise keeps the bound out of reach.
    std::optional<double> window_that_would_do_s() const;

  private:
    void begin_again(Criterion why, std::size_t keep);
    bool leaves_the_line(const TimedValue& reading);
    void judge(Micros at_us);
    void judge_full_window(const LineFit& fit, Micros at_us);
    bool drifts_clearly(const LineFit& fit);
    void expect(const LineFit& fit);
    double least_correlation(const LineFit& fit);
    LineJudgement judged() const;
    void remember_slope(const LineFit& fit, Micros at_us);
    std::optional<double> expected_until_passing_s() const;

    StillnessLimits limits_;
    Allowed allowed_;
    const StudentT95* t_95_;
    SlidingWindow window_;
    Micros window_us_;
    Micros hold_us_;
    Micros trend_us_; ///< how far back is looked to see whether the pressure moves
    Micros longest_gap_us_;
    Micros longest_silence_us_;

    Stillness now_ = Stillness::settling;
    Criterion failing_ = Criterion::count;
    Criterion began_again_for_ = Criterion::count;
    std::optional<Micros> last_us_; ///< stamp of the latest reading, or of the first tick before any
    std::optional<Micros> passing_since_us_;
    Micros moving_until_us_ = 0; ///< after a step: until the trend can be seen again
    /// The line that the next reading is expected to continue, and how far off is a step.
    struct Expectation {
        bool known = false;
        Micros origin_us = 0;
        double at_origin_pa = 0;
        double slope_pa_per_s = 0;
        double far_pa2 = 0;
        int beyond = 0; ///< readings running that were far off, negative below the line
    } expectation_;

    /// Slopes half a window apart, for the time at which their decay will reach the limit.
    struct Slope {
        Micros at_us = 0;
        double pa_per_s = 0;
    };
    std::optional<Slope> earlier_slope_;
    std::optional<Slope> later_slope_;

    double per_response_time_;   ///< 1/tau
    double floor_exponent_ = -1; ///< dt/tau for which floor_ was computed exactly
    double floor_ = 0;
};

} // namespace stillmark::acquisition
