#include "daemon/metrology/loads/wrong_load.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace stillmark::metrology {

namespace {

// How often such a thing happens, relative to each other: judgement, not statistics. What was just handled is where
// hands err.
constexpr double moved_disc = 3, other_disc = 0.3;
constexpr double moved_swap = 1, other_swap = 0.03;
constexpr double part_at_first = 1, part_later = 0.1;
constexpr double valves_due = 3, valves_else = 0.3;
constexpr double nothing_of_this = 1;

double normal_density(double misfit, double u_pa) {
    return std::exp(-misfit * misfit / 2) / (u_pa * std::sqrt(2 * std::numbers::pi));
}

class Ranking {
  public:
    explicit Ranking(const CommonOffset& offset) : offset_(offset) {}

    void offer(LoadFault fault, std::size_t disc, std::size_t other, double predicted_pa, double prior) {
        if (!std::isfinite(predicted_pa)) return;
        LoadExplanation one{fault, disc, other, predicted_pa, std::abs(predicted_pa - offset_.off_pa) / offset_.u_pa,
                            0};
        one.probability = prior * normal_density(one.misfit, offset_.u_pa);
        add(one);
    }
    /// Any offset between the two, each as likely.
    void offer_interval(LoadFault fault, std::size_t disc, double from_pa, double to_pa, double prior) {
        if (!(to_pa > from_pa)) return;
        const double nearest_pa = std::clamp(offset_.off_pa, from_pa, to_pa);
        LoadExplanation one{fault, disc, 0, nearest_pa, std::abs(nearest_pa - offset_.off_pa) / offset_.u_pa, 0};
        const double within =
            cumulative((to_pa - offset_.off_pa) / offset_.u_pa) - cumulative((from_pa - offset_.off_pa) / offset_.u_pa);
        one.probability = prior * within / (to_pa - from_pa);
        add(one);
    }

    std::vector<LoadExplanation> best(std::size_t most) {
        std::stable_sort(all_.begin(), all_.end(), [](const LoadExplanation& a, const LoadExplanation& b) {
            return a.probability > b.probability;
        });
        std::vector<LoadExplanation> kept;
        double sum = 0;
        for (const LoadExplanation& one : all_) {
            // Equal discs explain equally well.
            const bool told = std::any_of(kept.begin(), kept.end(), [&](const LoadExplanation& before) {
                return before.fault == one.fault && one.fault != LoadFault::other_range &&
                       std::abs(before.predicted_pa - one.predicted_pa) <= 0.05 * offset_.u_pa;
            });
            if (told) continue;
            sum += one.probability;
            kept.push_back(one);
        }
        for (LoadExplanation& one : kept)
            one.probability = sum > 0 ? one.probability / sum : 0;
        // What hardly can be is not worth a person's time, but something is always said.
        constexpr double hardly = 0.005;
        while (kept.size() > 1 && (kept.size() > most || kept.back().probability < hardly))
            kept.pop_back();
        return kept;
    }

  private:
    static double cumulative(double x) { return 0.5 * std::erfc(-x / std::numbers::sqrt2); }
    void add(const LoadExplanation& one) { all_.push_back(one); }

    CommonOffset offset_;
    std::vector<LoadExplanation> all_;
};

} // namespace

std::optional<CommonOffset> common_offset(std::span<const ChannelOffset> channels) {
    if (channels.empty()) return std::nullopt;
    std::vector<ChannelOffset> sorted(channels.begin(), channels.end());
    std::stable_sort(sorted.begin(), sorted.end(),
                     [](const ChannelOffset& a, const ChannelOffset& b) { return a.off_pa < b.off_pa; });
    double whole = 0;
    for (const ChannelOffset& one : sorted)
        whole += 1 / (one.u_pa * one.u_pa);
    double median_pa = 0, so_far = 0;
    for (const ChannelOffset& one : sorted) {
        so_far += 1 / (one.u_pa * one.u_pa);
        median_pa = one.off_pa;
        if (so_far >= whole / 2) break;
    }
    CommonOffset common;
    double weights = 0;
    for (const ChannelOffset& one : sorted) {
        if (!(std::abs(one.off_pa - median_pa) <= 3 * one.u_pa)) continue;
        const double weight = 1 / (one.u_pa * one.u_pa);
        common.off_pa += weight * one.off_pa;
        weights += weight;
        ++common.agreeing;
    }
    if (3 * common.agreeing < 2 * channels.size() || !(weights > 0)) return std::nullopt;
    common.off_pa /= weights;
    common.u_pa = 1 / std::sqrt(weights);
    if (!(std::abs(common.off_pa) > 4 * common.u_pa)) return std::nullopt;
    return common;
}

std::vector<LoadExplanation> explain(const LoadCase& load, const CommonOffset& offset, std::size_t most) {
    Ranking ranking(offset);
    double stated_kg = 0;
    for (std::size_t i = 0; i < load.discs_kg.size(); ++i)
        if (load.stated[i]) stated_kg += load.discs_kg[i];
    const auto with = [&](double added_kg) { return load.pressure_pa(stated_kg + added_kg) - load.reference_pa; };
    for (std::size_t i = 0; i < load.discs_kg.size(); ++i) {
        const double prior = load.moved[i] ? moved_disc : other_disc;
        if (load.stated[i]) {
            ranking.offer(LoadFault::missing_disc, i, 0, with(-load.discs_kg[i]), prior);
        } else {
            ranking.offer(LoadFault::extra_disc, i, 0, with(load.discs_kg[i]), prior);
            continue;
        }
        for (std::size_t k = 0; k < load.discs_kg.size(); ++k)
            if (!load.stated[k])
                ranking.offer(LoadFault::swapped_disc, i, k, with(load.discs_kg[k] - load.discs_kg[i]),
                              (load.moved[i] ? moved_swap : other_swap) * (load.usable[k] ? 1 : 0.3));
    }
    for (std::size_t i = 0; i < load.parts_kg.size(); ++i)
        ranking.offer(LoadFault::forgotten_part, i, 0, with(-load.parts_kg[i]),
                      load.first_load ? part_at_first : part_later);
    const double valves = load.range_changed ? valves_due : valves_else;
    for (const auto& other : load.others) {
        const double off_pa = other.pressure_pa - load.reference_pa;
        ranking.offer(LoadFault::other_range, other.range, 0, off_pa, valves);
        ranking.offer_interval(LoadFault::between_ranges, other.range, std::min(off_pa, 0.0), std::max(off_pa, 0.0),
                               valves);
    }
    const double wide_pa = std::max(std::abs(load.reference_pa) / 2, 2 * std::abs(offset.off_pa));
    ranking.offer_interval(LoadFault::none, 0, -wide_pa, wide_pa, nothing_of_this);
    return ranking.best(most);
}

} // namespace stillmark::metrology
