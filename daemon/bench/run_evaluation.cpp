#include "daemon/bench/run_evaluation.hpp"

#include "daemon/bench/reference.hpp"
#include "daemon/bench/run_marks.hpp"
#include "daemon/metrology/effective_dof.hpp"
#include "daemon/metrology/mark_uncertainty.hpp"
#include "daemon/metrology/overlap.hpp"
#include "daemon/metrology/propagation/coverage_factor.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace stillmark::bench {

using metrology::Observation;
using metrology::Sentence;
using metrology::sentence;

namespace {

/// Two realisations of one nominal are two points.
std::string point_name(const Run& run, const SequencePoint& point) {
    const auto& ranges = run.bench->balance.ranges;
    return point.overlap && ranges.size() > 1
               ? fmt::format("{}, {} range", point.target, ranges[point.range].physics.name)
               : point.target;
}

/// The same as a sentence shows it.
Sentence point_words(const Run& run, const SequencePoint& point) {
    const auto& ranges = run.bench->balance.ranges;
    const Sentence target = metrology::as_written(point.target);
    if (!point.overlap || ranges.size() < 2) return target;
    return sentence("{target}, {range}",
                    {metrology::words_value("target", target),
                     metrology::words_value("range", range_words(ranges[point.range].physics.name))});
}

std::string why_left_out(const Mark& mark) {
    switch (mark.status) {
    case MarkStatus::sighted:
    case MarkStatus::vented:
        return {};
    case MarkStatus::provisional:
        return "provisional: the float has no second sighting yet";
    case MarkStatus::unbracketed:
        return mark.counts() ? "" : "unbracketed: the float was not sighted again; a reviewer has to accept it first";
    case MarkStatus::voided:
        return "void: " + mark.why;
    }
    return {};
}

std::string superseded_words(std::int64_t by) {
    return fmt::format("superseded by mark {}", by);
}

class RunReader {
  public:
    RunReader(const State& state, const Run& run, std::size_t channel)
        : run_(run), instrument_(run.bench->instruments[channel]), points_(run.bench->sequences[run.sequence].points),
          marks_(state, run, channel) {}

    std::vector<Observation> observations() const {
        std::vector<Observation> all;
        for (const Mark* mark : marks_.all())
            all.push_back(observation(*mark));
        for (std::size_t visit = 0; visit < run_.plan.visits.size(); ++visit)
            if (run_.end != RunEnd::running && marks_.standing(visit) == nullptr) all.push_back(missing(visit));
        return all;
    }

    metrology::EvaluationSettings settings() const {
        metrology::EvaluationSettings settings;
        if (instrument_.resolution_pa > 0) settings.resolution = instrument_.resolution_pa;
        settings.span_low = instrument_.span_low_pa;
        settings.span_high = instrument_.span_high_pa;
        settings.written_unit = instrument_.unit.pascals;
        settings.written_symbol = instrument_.unit.symbol;
        settings.zeros_are_marked = true; // the lowest point of a run may be a pressure of its own
        settings.permissible = instrument_.permissible;
        settings.decision = instrument_.decision;
        if (!run_.bench->capability.empty())
            settings.capability = [bench = run_.bench](double pressure_pa) {
                return capability_floor_pa(*bench, pressure_pa);
            };
        const Sequence& sequence = run_.bench->sequences[run_.sequence];
        settings.method = metrology::method_named(sequence.method);
        settings.method_confirmed = !sequence.method_confirmed.empty();
        settings.method_low = 0; // a sequence lays a method's points from zero to its own top, whatever the span
        settings.method_high = sequence.points.back().target_pa;
        if (run_.end == RunEnd::running) settings.unfinished = sentence("the run is not finished");
        for (const SequenceSeries& series : sequence.series)
            settings.roles.push_back(series.role);
        if (const auto* dial = std::get_if<drivers::ManualReading>(&instrument_.profile.how))
            settings.dial = metrology::Dial{dial->division_si, dial->parts, instrument_.pointer_stop};
        return settings;
    }

    std::vector<OverlapProof> overlaps() const {
        std::vector<OverlapProof> proofs;
        for (std::size_t visit = 0; visit < run_.plan.visits.size(); ++visit) {
            const Visit& at = run_.plan.visits[visit];
            const SequencePoint& point = points_[at.point];
            if (!point.overlap || point.range != 0) continue;
            const auto twin = twin_of(visit);
            const Mark* low = marks_.standing(visit);
            const Mark* high = twin ? marks_.standing(*twin) : nullptr;
            if (low != nullptr && high != nullptr) proofs.push_back(proof(at, point, *low, *high));
        }
        return proofs;
    }

  private:
    Observation observation(const Mark& mark) const {
        const auto& taken = mark.taken;
        const Visit& visit = run_.plan.visits[static_cast<std::size_t>(taken.visit)];
        Observation one;
        one.series = visit.series;
        one.rising = visit.direction == Direction::rising;
        one.reference = taken.reference_pa;
        one.reading = taken.mean_pa;
        if (instrument_.manual()) one.untapped = taken.untapped_pa;
        one.target = point_name(run_, points_[visit.point]);
        one.shown_as = point_words(run_, points_[visit.point]);
        one.u_reference = taken.u_reference_pa;
        one.dof_reference = taken.u_reference_dof;
        one.u_mean = taken.u_mean_pa;
        one.dof_mean = taken.u_mean_dof;
        one.vented = mark.status == MarkStatus::vented;
        one.left_out = why_left_out(mark);
        if (const auto other = marks_.superseded_by(mark)) one.left_out = superseded_words(*other);
        return one;
    }

    Observation missing(std::size_t visit) const {
        const Visit& at = run_.plan.visits[visit];
        Observation one;
        one.series = at.series;
        one.rising = at.direction == Direction::rising;
        one.target = point_name(run_, points_[at.point]);
        one.shown_as = point_words(run_, points_[at.point]);
        one.left_out = "missing: it has no mark that stands";
        return one;
    }

    /// The same nominal in the high range, in the same series.
    std::optional<std::size_t> twin_of(std::size_t visit) const {
        const Visit& at = run_.plan.visits[visit];
        for (std::size_t other = 0; other < run_.plan.visits.size(); ++other) {
            const Visit& one = run_.plan.visits[other];
            const SequencePoint& point = points_[one.point];
            if (one.series == at.series && one.direction == at.direction && point.overlap && point.range == 1 &&
                point.target_pa == points_[at.point].target_pa)
                return other;
        }
        return std::nullopt;
    }

    std::vector<metrology::BudgetLine> budget_of(const SequencePoint& point) const {
        const auto& usual = run_.bench->surroundings;
        return metrology::reference_pressure(reference_inputs(*run_.bench, point.range, point.discs, usual.air,
                                                              usual.piston_temperature_c, &instrument_))
            .budget;
    }

    OverlapProof proof(const Visit& at, const SequencePoint& point, const Mark& low, const Mark& high) const {
        const Visit& other = run_.plan.visits[static_cast<std::size_t>(high.taken.visit)];
        const double u_reference = metrology::u_of_difference_pa(budget_of(point), budget_of(points_[other.point]));
        // A display of three times what the two ranges may differ by still shows a disagreement that matters.
        constexpr double coarsest = 3;
        const double u_resolution = metrology::resolution_uncertainty_pa(instrument_.resolution_pa);
        OverlapProof out{point.target,
                         at.direction,
                         at.series,
                         low.taken.deviation_pa,
                         high.taken.deviation_pa,
                         0,
                         2,
                         0,
                         u_resolution <= coarsest * u_reference,
                         low.taken.mark,
                         high.taken.mark};
        const metrology::Share shares[] = {{u_reference, std::numeric_limits<double>::infinity()},
                                           {u_resolution * std::sqrt(2.0), std::numeric_limits<double>::infinity()},
                                           {low.taken.u_mean_pa, low.taken.u_mean_dof},
                                           {high.taken.u_mean_pa, high.taken.u_mean_dof}};
        out.k = metrology::usual_coverage_factor(metrology::effective_dof(shares));
        out.expanded_pa = out.k * std::hypot(std::hypot(u_reference, u_resolution * std::sqrt(2.0)),
                                             low.taken.u_mean_pa, high.taken.u_mean_pa);
        out.en = std::abs(out.deviation_low_pa - out.deviation_high_pa) / out.expanded_pa;
        return out;
    }

    const Run& run_;
    const Instrument& instrument_;
    const std::vector<SequencePoint>& points_;
    RunMarks marks_;
};

} // namespace

const char* word(OverlapFinding finding) {
    switch (finding) {
    case OverlapFinding::agree:
        return "agree";
    case OverlapFinding::differ:
        return "differ";
    case OverlapFinding::too_coarse:
        return "too_coarse";
    }
    return "";
}

Sentence direction_words(Direction direction) {
    switch (direction) {
    case Direction::rising:
        return sentence("rising");
    case Direction::falling:
        return sentence("falling");
    case Direction::preload:
        break;
    }
    return sentence("preload");
}

Sentence range_words(const std::string& name) {
    if (name == "low") return sentence("low range");
    if (name == "high") return sentence("high range");
    return sentence("{name} range", {metrology::text_value("name", name)});
}

std::vector<OverlapProof> overlap_proofs(const State& state, const Run& run, std::size_t channel) {
    return RunReader(state, run, channel).overlaps();
}

RunEvaluation evaluate_run(const State& state, const Run& run, std::size_t channel) {
    const RunReader reader(state, run, channel);
    RunEvaluation out;
    out.observations = reader.observations();
    out.evaluation = metrology::evaluate(out.observations, reader.settings());
    out.overlaps = reader.overlaps();
    return out;
}

} // namespace stillmark::bench
