#pragma once

#include "daemon/metrology/sentence.hpp"

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::metrology {

/// Whose definitions of hysteresis, repeatability and the rest hold.
enum class Guide : std::uint8_t { free, cg17, dkd_r_6_1, en_837_1 };

/// What a series is for. A cycle is evaluated at every point; a repeatability series repeats some points of the first
/// rising series; a reproducibility series comes after the instrument was clamped anew.
enum class SeriesRole : std::uint8_t { cycle, repeatability, reproducibility };
const char* word(SeriesRole role);

struct MethodSeries {
    bool rising = true;
    SeriesRole role = SeriesRole::cycle;
    bool reclamp_before = false;
    std::vector<double> at; ///< parts of the span; empty: all points of the method
};

/// How a figure of a method is known.
enum class Provenance : std::uint8_t { read, second_hand, from_memory };
const char* word(Provenance provenance);

struct MethodSource {
    const char* what;
    Provenance provenance;
    const char* source;
};

/// A calibration method by its standard's own name.
struct Method {
    const char* name;
    Guide guide = Guide::free;
    std::vector<double> points; ///< parts of the span, zero first; empty: the laboratory's own
    int preloads = 0;
    double preload_hold_s = 0;
    double wait_s = 0;             ///< after a change of pressure
    double wait_at_top_s = 0;      ///< at the upper limit
    double wait_at_top_dial_s = 0; ///< the same for an elastic dial gauge (Bourdon)
    std::vector<MethodSeries> series;
    double least_u_of_span = 0; ///< expanded uncertainty (k = 2) below which the method is not to be reported; 0: none
    std::vector<MethodSource> sources;

    /// True where at least one figure could not be compared with the edition of the standard.
    bool from_memory() const;
};

/// The words that a result carries while figures of its method are not confirmed.
Sentence method_not_confirmed();

/// EURAMET cg-17 basic, standard, comprehensive; DKD-R 6-1 A, B, C; EN 837-1 (a rule for points, no series).
std::span<const Method> methods();
/// The method of that name, or nothing.
const Method* method_named(std::string_view name);
/// "a, b, c" for messages.
std::string method_names();

/// EN 837-1: at least this many points for a gauge of that accuracy class (second hand: a test instruction that quotes
/// the standard): 10 for classes up to 0.6, 5 for classes 1 to 4.
int least_points_en_837_1(double accuracy_class);

} // namespace stillmark::metrology
