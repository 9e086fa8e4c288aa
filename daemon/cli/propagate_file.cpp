#include "daemon/cli/propagate_file.hpp"

#include "daemon/metrology/propagation/evaluate_expression.hpp"
#include "drivers/strict_json.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <set>
#include <utility>

namespace stillmark::cli {

namespace {

using drivers::JsonObject;
using drivers::Mistake;
using metrology::Distribution;
using nlohmann::json;

constexpr std::size_t longest_file = 4'000'000;
constexpr std::size_t most_inputs = 500;
constexpr std::size_t most_models = 200;
constexpr std::int64_t least_trials = 10'000;
constexpr std::int64_t most_trials = 10'000'000;
constexpr double infinite = std::numeric_limits<double>::infinity();

const std::vector<std::string> distribution_words{"normal", "rectangular", "triangular", "arcsine"};

/// A list of finite numbers, at least `least` of them.
std::vector<double> numbers(JsonObject& in, const std::string& key, std::size_t least) {
    std::vector<double> all;
    const auto found = in.list(key);
    for (std::size_t i = 0; i < found.size(); ++i) {
        if (!found[i]->is_number()) {
            in.note(fmt::format("{}[{}]", key, i), "a number belongs here");
            return {};
        }
        all.push_back(found[i]->get<double>());
    }
    if (all.size() < least) in.note(key, fmt::format("{} numbers stand here; it takes at least {}", all.size(), least));
    return all;
}

/// A number that is not negative.
std::optional<double> size_of(JsonObject& in, const std::string& key) {
    const auto found = in.number(key);
    if (found && !(*found >= 0)) {
        in.note(key, fmt::format("{:g} is negative; an uncertainty is not", *found));
        return std::nullopt;
    }
    return found;
}

struct Observed {
    std::vector<double> values;
    double mean = 0;
    double sum_of_squares = 0;
};

struct ReadInput {
    metrology::Uncertain known;
    std::string unit;
    Observed observed;
};

/// Mean, s/sqrt(n) and n - 1 (JCGM 100:2008, 4.2).
void take_observations(JsonObject& in, ReadInput& out) {
    Observed& seen = out.observed;
    seen.values = numbers(in, "observations", 2);
    if (seen.values.size() < 2) return;
    const auto n = static_cast<double>(seen.values.size());
    double sum = 0;
    for (const double x : seen.values)
        sum += x - seen.values.front();
    seen.mean = seen.values.front() + sum / n;
    for (const double x : seen.values)
        seen.sum_of_squares += (x - seen.mean) * (x - seen.mean);
    out.known = {.value = seen.mean, .u = std::sqrt(seen.sum_of_squares / (n - 1) / n), .dof = n - 1};
}

void take_limits(JsonObject& in, const json& limits, std::optional<double> value, ReadInput& out) {
    double half_width = 0;
    if (limits.is_array()) {
        const auto ends = numbers(in, "limits", 2);
        if (ends.size() != 2)
            return in.note("limits",
                           fmt::format("{} numbers stand here; give the half width, or [low, high]", ends.size()));
        if (!(ends[0] <= ends[1]))
            return in.note("limits", fmt::format("[{:g}, {:g}] begins above its end; give [low, high], [{:g}, {:g}]",
                                                 ends[0], ends[1], ends[1], ends[0]));
        const double middle = ends[0] + (ends[1] - ends[0]) / 2;
        half_width = (ends[1] - ends[0]) / 2;
        if (value && std::abs(*value - middle) > 1e-9 * std::max(half_width, std::abs(middle)))
            return in.note("value",
                           fmt::format("{:g} is not the middle of the limits, {:g}; leave it out", *value, middle));
        out.known.value = middle;
    } else {
        half_width = size_of(in, "limits").value_or(0);
        if (!value) return in.note("value", "this key is missing; a half width stands about an estimate");
        out.known.value = *value;
    }
    out.known.u = metrology::standard_uncertainty(half_width, out.known.distribution);
}

double dof(JsonObject& in, const json& found, Distribution distribution) {
    if (found.is_string() && found == "infinite") return infinite;
    if (!found.is_number() || !(found.get<double>() > 0)) {
        in.note("dof", "degrees of freedom are a number over 0, or \"infinite\"");
        return infinite;
    }
    const double value = found.get<double>();
    if (distribution != Distribution::normal && value < 0.5)
        in.note("dof", fmt::format("{:g}: limits that are known worse than to themselves; give at least 0.5", value));
    return value;
}

/// How wide: one of u, U with k, limits, observations, or nothing for an exact number.
void take_spread(JsonObject& in, ReadInput& out) {
    const std::array<const char*, 4> ways{"u", "U", "limits", "observations"};
    std::vector<const json*> found;
    std::string named;
    for (const char* way : ways) {
        const json* one = in.find(way);
        found.push_back(one);
        if (one != nullptr) named += (named.empty() ? "" : " and ") + std::string(way);
    }
    if (std::count(found.begin(), found.end(), nullptr) < 3)
        return in.note(ways.front(), named + " stand together; one of them says how uncertain the input is");
    const auto value = in.number("value");
    if (found[3] != nullptr) {
        if (value) return in.note("value", "the observations give the value; leave it out");
        return take_observations(in, out);
    }
    if (found[2] != nullptr) return take_limits(in, *found[2], value, out);
    if (!value) return in.note("value", "this key is missing; add it");
    out.known.value = *value;
    if (found[0] != nullptr) out.known.u = size_of(in, "u").value_or(0);
    if (found[1] != nullptr) {
        const double expanded = size_of(in, "U").value_or(0);
        const auto k = in.number("k");
        if (!k) return in.note("k", "an expanded uncertainty U wants its coverage factor k");
        if (!(*k > 0)) return in.note("k", fmt::format("{:g}: a coverage factor is over 0", *k));
        out.known.u = expanded / *k;
    }
}

ReadInput read_input(const json& node, const std::string& place, Mistake& mistake) {
    ReadInput out;
    if (node.is_number()) {
        out.known.value = node.get<double>();
        return out;
    }
    JsonObject in(node, place, mistake);
    if (in.find("unit") != nullptr) out.unit = in.text("unit");
    const bool shaped = in.find("distribution") != nullptr;
    if (shaped)
        out.known.distribution =
            static_cast<Distribution>(in.choice("distribution", "distribution", distribution_words));
    else if (in.find("limits") != nullptr)
        out.known.distribution = Distribution::rectangular;
    take_spread(in, out);
    if (const json* found = in.find("dof")) {
        if (!out.observed.values.empty())
            in.note("dof", "the observations give the degrees of freedom; leave it out");
        else
            out.known.dof = dof(in, *found, out.known.distribution);
    }
    if (!out.observed.values.empty() && out.known.distribution != Distribution::normal)
        in.note("distribution", "a mean of observations is normal; leave it out");
    if (in.find("k") != nullptr && in.find("U") == nullptr) in.note("k", "k belongs to an expanded uncertainty U");
    in.refuse_unknown_keys();
    return out;
}

/// Pairs of inputs that an expression adds, subtracts or compares as they stand. A product or function is a quantity of
/// its own, also one with a plain number, which may be there to convert a unit.
std::vector<std::pair<std::size_t, std::size_t>> added_inputs(const metrology::Expression& expression) {
    using metrology::Operation;
    std::vector<std::pair<std::size_t, std::size_t>> pairs;
    std::vector<std::optional<std::size_t>> stack; // the input that a value is of the kind of
    for (const auto& step : expression.steps()) {
        if (step.operation == Operation::number || step.operation == Operation::input) {
            stack.push_back(step.operation == Operation::input ? std::optional(step.input) : std::nullopt);
            continue;
        }
        const auto second = stack.back();
        if (metrology::takes_two(step.operation)) stack.pop_back();
        auto& first = stack.back();
        switch (step.operation) {
        case Operation::add:
        case Operation::subtract:
        case Operation::min:
        case Operation::max:
            if (first && second) pairs.emplace_back(*first, *second);
            if (!first) first = second;
            break;
        case Operation::negate:
        case Operation::abs:
            break;
        default:
            first.reset();
        }
    }
    return pairs;
}

class Reader {
  public:
    explicit Reader(Mistake& mistake) : mistake_(mistake) {}

    PropagateTask read(const json& root) {
        JsonObject in(root, "", mistake_);
        if (in.find("title") != nullptr) task_.title = in.text("title");
        if (in.find("source") != nullptr) in.text("source");
        inputs(in);
        if (!mistake_.found()) models(in);
        if (!mistake_.found()) observed_together(in);
        if (!mistake_.found()) correlations(in);
        settings(in);
        in.refuse_unknown_keys();
        if (!mistake_.found()) judge();
        return std::move(task_);
    }

  private:
    void inputs(JsonObject& in) {
        const json* found = in.require("inputs");
        if (found == nullptr) return;
        if (!found->is_object() || found->size() > most_inputs)
            return in.note("inputs", fmt::format("give an object {{name: ...}} of at most {} inputs", most_inputs));
        for (const auto& [name, node] : found->items()) {
            if (!metrology::Expression::is_name(name))
                return in.note("inputs",
                               fmt::format("\"{}\" can name no input; a name is letters, digits and _, begins "
                                           "with a letter, and is neither a function nor pi",
                                           name));
            ReadInput one = read_input(node, "inputs." + name, mistake_);
            names_.push_back(name);
            task_.model.inputs.push_back({name, one.known});
            task_.input_units.push_back(std::move(one.unit));
            observed_.push_back(std::move(one.observed));
        }
    }

    void models(JsonObject& in) {
        const json* one = in.find("model");
        const json* several = in.find("models");
        if ((one != nullptr) == (several != nullptr))
            return in.note("model", "give either model, an expression, or models, an object of named expressions");
        if (one != nullptr) return add_model("", *one, "model");
        if (!several->is_object() || several->empty() || several->size() > most_models)
            return in.note("models", fmt::format("give an object {{name: expression}} of 1 to {} models", most_models));
        for (const auto& [name, node] : several->items())
            add_model(name, node, "models." + name);
    }

    void add_model(const std::string& name, const json& node, const std::string& place) {
        if (mistake_.found()) return;
        const auto* text = node.get_ptr<const std::string*>();
        if (text == nullptr) return mistake_.note(place, "an expression as a text belongs here, such as \"V / I\"");
        metrology::ExpressionFault fault;
        auto expression = metrology::Expression::parse(*text, names_, fault);
        if (!expression) return mistake_.note(place, fmt::format("column {}: {}", fault.column, fault.words));
        task_.model.outputs.push_back(std::move(*expression));
        task_.output_names.push_back(name);
        task_.formulas.push_back(*text);
    }

    /// The number of a named input; a mistake where there is none.
    std::optional<std::size_t> input_named(const json& node, const std::string& place) {
        const auto* name = node.get_ptr<const std::string*>();
        const auto found = name == nullptr ? names_.end() : std::find(names_.begin(), names_.end(), *name);
        if (found == names_.end()) {
            mistake_.note(place, name == nullptr ? std::string("the name of an input belongs here")
                                                 : fmt::format("\"{}\" is no input", *name));
            return std::nullopt;
        }
        return static_cast<std::size_t>(found - names_.begin());
    }

    void correlate(std::size_t a, std::size_t b, double r, const std::string& place) {
        if (!paired_.insert(std::minmax(a, b)).second)
            return mistake_.note(place, fmt::format("{} and {} are correlated twice; keep one", names_[a], names_[b]));
        task_.model.correlations.push_back({a, b, r});
    }

    /// Correlation of the means of quantities that were observed at the same times (JCGM 100:2008, 5.2.3).
    void observed_together(JsonObject& in) {
        const auto sets = in.list("observed_together");
        for (std::size_t s = 0; s < sets.size() && !mistake_.found(); ++s) {
            const std::string place = fmt::format("observed_together[{}]", s);
            if (!sets[s]->is_array() || sets[s]->size() < 2)
                return mistake_.note(place, "a list of two or more inputs with observations belongs here");
            std::vector<std::size_t> members;
            for (const json& node : *sets[s])
                if (const auto input = input_named(node, place)) members.push_back(*input);
            for (std::size_t i = 0; i < members.size() && !mistake_.found(); ++i)
                for (std::size_t j = 0; j < i && !mistake_.found(); ++j)
                    correlate_observed(members[j], members[i], place);
        }
    }

    void correlate_observed(std::size_t a, std::size_t b, const std::string& place) {
        const Observed& x = observed_[a];
        const Observed& y = observed_[b];
        if (a == b) return mistake_.note(place, fmt::format("{} stands twice", names_[a]));
        if (x.values.empty() || x.values.size() != y.values.size())
            return mistake_.note(place, fmt::format("{} has {} observations and {} has {}; together they have as many",
                                                    names_[a], x.values.size(), names_[b], y.values.size()));
        if (x.sum_of_squares == 0 || y.sum_of_squares == 0) return;
        double products = 0;
        for (std::size_t i = 0; i < x.values.size(); ++i)
            products += (x.values[i] - x.mean) * (y.values[i] - y.mean);
        correlate(a, b, std::clamp(products / std::sqrt(x.sum_of_squares * y.sum_of_squares), -1.0, 1.0), place);
    }

    void correlations(JsonObject& in) {
        const auto all = in.list("correlations");
        for (std::size_t i = 0; i < all.size() && !mistake_.found(); ++i) {
            JsonObject one(*all[i], fmt::format("correlations[{}]", i), mistake_);
            const auto between = one.list("between");
            const auto r = one.number("r");
            one.refuse_unknown_keys();
            if (between.size() != 2) return one.note("between", "the names of two inputs belong here");
            if (!r) return one.note("r", "the correlation coefficient is missing; add it");
            if (!(std::abs(*r) <= 1)) return one.note("r", fmt::format("{:g} is outside -1 to 1", *r));
            const auto a = input_named(*between[0], one.place_of("between"));
            const auto b = input_named(*between[1], one.place_of("between"));
            if (!a || !b) return;
            if (*a == *b) return one.note("between", "an input is not correlated with itself");
            for (const std::size_t input : {*a, *b})
                if (!(task_.model.inputs[input].known.u > 0))
                    return one.note("between",
                                    fmt::format("{} has no uncertainty, and so no correlation", names_[input]));
            correlate(*a, *b, *r, one.place_of("between"));
        }
    }

    void settings(JsonObject& in) {
        if (const auto coverage = in.number("coverage")) {
            if (*coverage >= 0.5 && *coverage < 1)
                task_.coverage = *coverage;
            else
                in.note("coverage", fmt::format("{:g} is outside 0.5 to under 1; usual is 0.95", *coverage));
        }
        if (in.find("digits") != nullptr) task_.digits = static_cast<int>(in.integer("digits", 1, 2).value_or(2));
        const json* trials = in.find("trials");
        if (trials == nullptr || *trials == "adaptive") return;
        if (*trials == "none") {
            task_.trials_wanted = false;
        } else if (trials->is_number_integer()) {
            if (const auto number = in.integer("trials", least_trials, most_trials))
                task_.trials = static_cast<std::size_t>(*number);
        } else {
            in.note("trials", "give \"adaptive\", \"none\" or a whole number");
        }
    }

    /// What can only be said of the whole.
    void judge() {
        std::vector<double> at;
        std::vector<bool> used(names_.size(), false);
        for (const auto& input : task_.model.inputs)
            at.push_back(input.known.value);
        for (std::size_t i = 0; i < task_.model.outputs.size(); ++i) {
            const std::string place = task_.output_names[i].empty() ? "model" : "models." + task_.output_names[i];
            if (const auto fault = task_.model.outputs[i].fault_at(at))
                return mistake_.note(place, fmt::format("column {}: {} at the estimates of the inputs; correct the "
                                                        "expression or the values",
                                                        fault->column, fault->words));
            const auto here = task_.model.outputs[i].used(names_.size());
            for (std::size_t k = 0; k < used.size(); ++k)
                used[k] = used[k] || here[k];
        }
        for (const auto& group : metrology::groups_of(task_.model)) {
            if (group.inputs.size() < 2) continue;
            std::string names;
            for (const std::size_t input : group.inputs)
                names += (names.empty() ? "" : ", ") + names_[input];
            if (metrology::cholesky(group.correlation, group.inputs.size()).empty())
                return mistake_.note("correlations",
                                     fmt::format("those of {} cannot all hold at once (their matrix is not positive "
                                                 "semidefinite); correct the coefficients",
                                                 names));
            for (const std::size_t input : group.inputs)
                if (task_.model.inputs[input].known.distribution != Distribution::normal)
                    task_.notes.push_back(
                        fmt::format("{} is correlated: its trials are drawn as normal", names_[input]));
        }
        note_mixed_units();
        for (std::size_t i = 0; i < used.size(); ++i)
            if (!used[i]) task_.notes.push_back(fmt::format("no model uses the input {}", names_[i]));
    }

    /// Units are texts and nothing is converted: where two terms of a sum bear units of one quantity that differ, one
    /// is off by their ratio.
    void note_mixed_units() {
        for (std::size_t i = 0; i < task_.model.outputs.size(); ++i)
            for (const auto& [a, b] : added_inputs(task_.model.outputs[i])) {
                const std::string &one = task_.input_units[a], &other = task_.input_units[b];
                if (one.empty() || other.empty() || one == other) continue;
                task_.notes.push_back(
                    fmt::format("{}{} in {} and {} in {} are added as they stand; nothing is converted",
                                task_.output_names[i].empty() ? "" : task_.output_names[i] + ": ", names_[a], one,
                                names_[b], other));
            }
    }

    Mistake& mistake_;
    PropagateTask task_;
    std::vector<std::string> names_;
    std::vector<Observed> observed_;
    std::set<std::pair<std::size_t, std::size_t>> paired_;
};

} // namespace

boost::system::result<PropagateTask, PropagateMistake> read_propagate_file(std::string_view text) {
    if (text.size() > longest_file)
        return PropagateMistake{fmt::format("the file is longer than {} bytes", longest_file)};
    Mistake mistake;
    const json root = drivers::parse_strictly(std::string(text), mistake);
    if (mistake.found()) return PropagateMistake{mistake.message()};
    PropagateTask task = Reader(mistake).read(root);
    if (mistake.found()) return PropagateMistake{mistake.message()};
    return task;
}

} // namespace stillmark::cli
