#include "daemon/metrology/propagation/monte_carlo.hpp"

#include "daemon/metrology/propagation/trial_figures.hpp"

#include <algorithm>
#include <cmath>

namespace stillmark::metrology {

namespace {

// JCGM 101:2008, 7.9.4: a block is 10^4 trials, or 100/(1 - p) where that is more.
constexpr std::size_t least_block = 10'000;
constexpr double undefined_allowed = 1e-4;
// Clause 8 compares the interval's ends at the tolerance itself, so a fifth of it is aimed at for as long as that is
// cheap; the ends of a shortest interval settle only with the cube root of the number of trials.
constexpr double part_aimed_at = 5;
constexpr std::size_t cheap_trials = 2'000'000;
constexpr std::size_t most_values = 20'000'000; ///< that are kept at once: 160 MB

std::size_t trials_a_block(double coverage) {
    const auto wanted = static_cast<std::size_t>(std::ceil(100 / (1 - coverage)));
    return (std::max(least_block, wanted) + Lanes::width - 1) / Lanes::width * Lanes::width;
}

/// First and second moments of several outputs, exact to combine.
struct Moments {
    explicit Moments(std::size_t outputs) : mean(outputs, 0.0), products(outputs * outputs, 0.0) {}
    double count = 0;
    std::vector<double> mean;
    std::vector<double> products; ///< sums of products of deviations, lower triangle

    /// T. F. Chan, G. H. Golub, R. J. LeVeque, Am. Stat. 37 (1983) 242.
    void add(const Moments& more) {
        if (more.count == 0) return;
        const std::size_t outputs = mean.size();
        const double together = count + more.count;
        std::vector<double> apart(outputs);
        for (std::size_t i = 0; i < outputs; ++i)
            apart[i] = more.mean[i] - mean[i];
        for (std::size_t i = 0; i < outputs; ++i)
            for (std::size_t j = 0; j <= i; ++j)
                products[i * outputs + j] +=
                    more.products[i * outputs + j] + apart[i] * apart[j] * (count * more.count / together);
        for (std::size_t i = 0; i < outputs; ++i)
            mean[i] += apart[i] * (more.count / together);
        count = together;
    }
    double deviation(std::size_t i) const {
        return count > 1 ? std::sqrt(products[i * mean.size() + i] / (count - 1)) : 0;
    }
};

struct Block {
    std::size_t count = 0; ///< trials that are defined
    Moments moments{0};
    std::vector<Interval> shortest;
};

/// All the trials so far.
class Campaign {
  public:
    Campaign(const MonteCarloModel& model, const MonteCarloSettings& settings)
        : model_(model), settings_(settings), size_(trials_a_block(settings.coverage)), next_start_(settings.seed),
          values_(model.outputs) {}

    std::size_t block_size() const { return size_; }
    std::size_t blocks() const { return blocks_.size(); }

    void run(std::size_t more, const BlockRunner& runner) {
        const std::size_t before = blocks_.size();
        blocks_.resize(before + more);
        std::vector<RandomStream> starts;
        starts.reserve(more);
        for (std::size_t i = 0; i < more; ++i) {
            starts.push_back(next_start_);
            next_start_.long_jump();
        }
        for (std::vector<double>& output : values_)
            output.resize(blocks_.size() * size_);
        runner(more, [this, before, &starts](std::size_t i) { run_block(before + i, starts[i]); });
    }

    std::size_t undefined() const {
        std::size_t defined = 0;
        for (const Block& block : blocks_)
            defined += block.count;
        return blocks_.size() * size_ - defined;
    }
    bool too_often_undefined() const {
        return static_cast<double>(undefined()) > undefined_allowed * static_cast<double>(blocks_.size() * size_);
    }

    Moments moments() const {
        Moments all(model_.outputs);
        for (const Block& block : blocks_)
            all.add(block.moments);
        return all;
    }

    /// JCGM 101:2008, 7.9.4, steps f to j, for every output.
    bool stable() const {
        if (blocks_.size() < 2) return false;
        const double part = blocks_.size() * size_ < cheap_trials ? part_aimed_at : 1;
        const Moments all = moments();
        for (std::size_t i = 0; i < model_.outputs; ++i) {
            const double tolerance = numerical_tolerance(all.deviation(i), settings_.digits);
            const auto settled = [&](double limit, auto figure) { return 2 * spread(figure) <= limit; };
            const double closely = tolerance / part;
            if (!(settled(closely, [i](const Block& b) { return b.moments.mean[i]; }) &&
                  settled(tolerance, [i](const Block& b) { return b.moments.deviation(i); }) &&
                  settled(closely, [i](const Block& b) { return b.shortest[i].low; }) &&
                  settled(closely, [i](const Block& b) { return b.shortest[i].high; })))
                return false;
        }
        return true;
    }

    std::vector<MonteCarloOutput> figures(const BlockRunner& runner) {
        close_gaps();
        const Moments all = moments();
        std::vector<MonteCarloOutput> out(model_.outputs);
        runner(model_.outputs, [&](std::size_t i) {
            std::vector<double> scratch;
            const Tails tails = tails_of(values_[i], tail_size(values_[i].size(), settings_.coverage), scratch);
            out[i] = {all.mean[i], all.deviation(i), shortest_interval(tails), symmetric_interval(tails),
                      numerical_tolerance(all.deviation(i), settings_.digits)};
        });
        return out;
    }

  private:
    void run_block(std::size_t number, const RandomStream& start) {
        Draws draws(model_.plan, start);
        const Trials trials = model_.begin();
        std::vector<Lanes> deviations(model_.plan.inputs());
        std::vector<Lanes> outputs(model_.outputs);
        Block& block = blocks_[number];
        const std::size_t first = number * size_;
        for (std::size_t done = 0; done < size_; done += Lanes::width) {
            draws.next(deviations);
            trials(deviations, outputs);
            keep(outputs, first, block);
        }
        judge(block, first);
    }

    void keep(std::span<const Lanes> outputs, std::size_t first, Block& block) {
        // What is no finite number stays so when multiplied by nothing; finite numbers become 0.
        Lanes nothing(0.0);
        for (const Lanes& output : outputs)
            nothing += 0.0 * output;
        bool all_defined = true;
        for (const double x : nothing.lane)
            all_defined = all_defined && x == 0;
        if (all_defined) {
            for (std::size_t i = 0; i < outputs.size(); ++i)
                std::copy(outputs[i].lane.begin(), outputs[i].lane.end(), &values_[i][first + block.count]);
            block.count += Lanes::width;
            return;
        }
        for (std::size_t lane = 0; lane < Lanes::width; ++lane) {
            if (nothing[lane] != 0 || std::isnan(nothing[lane])) continue;
            for (std::size_t i = 0; i < outputs.size(); ++i)
                values_[i][first + block.count] = outputs[i][lane];
            ++block.count;
        }
    }

    void judge(Block& block, std::size_t first) const {
        const std::size_t outputs = model_.outputs;
        block.moments = Moments(outputs);
        if (block.count == 0) return;
        Moments& m = block.moments;
        m.count = static_cast<double>(block.count);
        for (std::size_t i = 0; i < outputs; ++i) {
            // About the first value, so that a large estimate costs no digits; in lanes, for speed.
            const double* x = &values_[i][first];
            m.mean[i] = x[0] + sum(block.count, [x](std::size_t k) { return x[k] - x[0]; }) / m.count;
        }
        for (std::size_t i = 0; i < outputs; ++i) {
            for (std::size_t j = 0; j <= i; ++j) {
                const double* x = &values_[i][first];
                const double* y = &values_[j][first];
                const double mean_x = m.mean[i], mean_y = m.mean[j];
                m.products[i * outputs + j] =
                    sum(block.count, [=](std::size_t k) { return (x[k] - mean_x) * (y[k] - mean_y); });
            }
        }
        if (settings_.trials != 0) return;
        std::vector<double> scratch;
        for (std::size_t i = 0; i < outputs; ++i)
            block.shortest.push_back(shortest_interval(
                tails_of({&values_[i][first], block.count}, tail_size(block.count, settings_.coverage), scratch)));
    }

    template <class Term>
    static double sum(std::size_t count, Term term) {
        std::array<double, Lanes::width> parts{};
        std::size_t k = 0;
        for (; k + Lanes::width <= count; k += Lanes::width)
            for (std::size_t lane = 0; lane < Lanes::width; ++lane)
                parts[lane] += term(k + lane);
        double total = 0;
        for (; k < count; ++k)
            total += term(k);
        for (const double part : parts)
            total += part;
        return total;
    }

    /// Standard deviation of the mean of a figure over the blocks.
    template <class Figure>
    double spread(Figure figure) const {
        const auto h = static_cast<double>(blocks_.size());
        const double near = figure(blocks_.front());
        double sum = 0;
        double squares = 0;
        for (const Block& block : blocks_)
            sum += figure(block) - near;
        for (const Block& block : blocks_) {
            const double off = figure(block) - near - sum / h;
            squares += off * off;
        }
        return std::sqrt(squares / (h * (h - 1)));
    }

    void close_gaps() {
        if (undefined() == 0) return;
        for (std::vector<double>& output : values_) {
            std::size_t end = 0;
            for (std::size_t b = 0; b < blocks_.size(); ++b)
                for (std::size_t i = 0; i < blocks_[b].count; ++i)
                    output[end++] = output[b * size_ + i];
            output.resize(end);
        }
    }

    const MonteCarloModel& model_;
    const MonteCarloSettings& settings_;
    std::size_t size_;
    RandomStream next_start_;
    std::vector<Block> blocks_;
    std::vector<std::vector<double>> values_; ///< of each output, block after block
};

} // namespace

void one_after_the_other(std::size_t count, const std::function<void(std::size_t)>& job) {
    for (std::size_t i = 0; i < count; ++i)
        job(i);
}

double numerical_tolerance(double u, int digits) {
    if (!(u > 0) || std::isinf(u)) return 0;
    double exponent = std::floor(std::log10(u)) + 1 - digits;
    // Rounding to so many digits may make one digit more: 0.0996 is 10 10^-2.
    if (std::round(u / std::pow(10.0, exponent)) >= std::pow(10.0, digits)) ++exponent;
    return std::pow(10.0, exponent) / 2;
}

Validation validate(double y, double expanded_u, double u, const Interval& shortest, int digits) {
    Validation out;
    out.tolerance = numerical_tolerance(u, digits);
    out.off_low = std::abs(y - expanded_u - shortest.low);
    out.off_high = std::abs(y + expanded_u - shortest.high);
    out.validated = out.off_low <= out.tolerance && out.off_high <= out.tolerance;
    return out;
}

MonteCarloResult monte_carlo(const MonteCarloModel& model, const MonteCarloSettings& settings,
                             const BlockRunner& runner) {
    MonteCarloResult result;
    result.adaptive = settings.trials == 0;
    Campaign campaign(model, settings);
    const std::size_t kept_at_most = most_values / std::max<std::size_t>(model.outputs, 1);
    const std::size_t wanted = result.adaptive ? settings.most_trials : settings.trials;
    const std::size_t most_blocks =
        std::max<std::size_t>((std::min(wanted, kept_at_most) + campaign.block_size() - 1) / campaign.block_size(), 1);
    while (campaign.blocks() < most_blocks && !result.stable) {
        // Rounds grow with what was done, by a rule that does not know of threads.
        const std::size_t round = result.adaptive ? std::max<std::size_t>(10, campaign.blocks() / 4) : most_blocks;
        campaign.run(std::min(round, most_blocks - campaign.blocks()), runner);
        if (campaign.too_often_undefined()) break;
        result.stable = result.adaptive && campaign.stable();
    }
    result.trials = campaign.blocks() * campaign.block_size();
    result.undefined = campaign.undefined();
    if (campaign.too_often_undefined()) {
        result.trouble = "in " + std::to_string(result.undefined) + " of " + std::to_string(result.trials) +
                         " trials the model gives no finite number; nothing is concluded from the others";
        return result;
    }
    result.outputs = campaign.figures(runner);
    const Moments all = campaign.moments();
    result.correlation.assign(model.outputs * model.outputs, 1.0);
    for (std::size_t i = 0; i < model.outputs; ++i) {
        for (std::size_t j = 0; j < i; ++j) {
            const double scale = std::sqrt(all.products[i * model.outputs + i] * all.products[j * model.outputs + j]);
            const double r = scale > 0 ? all.products[i * model.outputs + j] / scale : 0;
            result.correlation[i * model.outputs + j] = result.correlation[j * model.outputs + i] = r;
        }
    }
    return result;
}

} // namespace stillmark::metrology
